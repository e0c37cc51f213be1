"""The page Rig in words: the answer, a path hop by hop, what arrives, what changes ask of hands, what failures cost."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from pydantic import BaseModel, Field

from rollsound.actions.rig import change_row, loss_row, path_row
from rollsound.actions.rig_model import ChangeRow, HopRow, LossRow, PathRow
from rollsound.actions.rig_page import State
from rollsound.finding import Finding, Weight
from rollsound.quantities import count, signed
from rollsound.review.ready import in_words as number_in_words
from rollsound.web.words import w

if TYPE_CHECKING:
    from rollsound.rig.combining import Combination
    from rollsound.rig.levels import Stage
    from rollsound.rig.paths import Path

_SAME = 0.005


class ArrivesRow(BaseModel):
    """A track or listener: what arrives, and what is to arrive and does not, in one combination."""

    id: str
    number: int | None = Field(description="of a track")
    name: str
    sources: list[str] = Field(description="names of what arrives that is to")
    also: list[str] = Field(description="names of what arrives besides")
    missing: list[str] = Field(description="names of what is to arrive and does not")
    delay: str
    gain: str
    peak: str = Field(description="at its loudest, where levels are known")


class HopView(BaseModel):
    """One step of a path, in words."""

    way: str
    id: str
    from_: str = Field(serialization_alias="from")
    to: str
    piece: str
    gain: str
    delay: str
    total: str
    conversions: str
    clock: str
    peak: str
    headroom: str


class PathView(BaseModel):
    """One way of a source, in words."""

    target: str = Field(description="track: or feed: and an id")
    target_name: str
    summary: str
    level_unknown: str = Field(description="why levels are not told any further; empty where they are")
    hops: list[HopView]


@dataclass(frozen=True)
class FindingRow:
    """A finding and the place in the plan where it is to be corrected."""

    finding: Finding
    at: str


def verdict_of(state: State) -> str:
    """The answer in one sentence; what is not proven yet is not claimed."""
    if not state.rig.pieces:
        return w("rig.verdict_empty")
    if not state.proven:
        return w("rig.verdict_checking")
    stops = sum(each.weight is Weight.STOP for each in state.findings)
    if stops:
        things = number_in_words(stops)
        return w("rig.verdict_stops", n=stops, things=f"{things[:1].upper()}{things[1:]}")
    if not state.rig.tracks and not state.rig.feeds:
        return w("rig.verdict_no_targets")
    return w("rig.verdict_holds", n=state.reaching.combinations)


def lede_of(state: State) -> str:
    """How large the rig is, and how much deserves a look."""
    rig = state.rig
    if not rig.pieces:
        return w("rig.empty")
    size = w(
        "rig.lede",
        pieces=count(len(rig.pieces), "piece"),
        links=count(len(rig.part.links), "link"),
        tracks=count(len(rig.tracks), "track"),
        listeners=count(len(rig.feeds), "listener"),
    )
    if not state.proven:
        return size
    watches = sum(each.weight is Weight.WATCH for each in state.findings)
    return f"{size} {w('rig.lede_watches', n=watches)}" if watches else f"{size} {w('rig.lede_fine')}"


def weighing(findings: Iterable[Finding]) -> list[FindingRow]:
    """What would stop the roll, then what deserves a look."""
    order = (Weight.STOP, Weight.WATCH)
    found = [each for weight in order for each in findings if each.weight is weight]
    return [FindingRow(each, _at(each)) for each in found]


def holding(findings: Iterable[Finding]) -> list[Finding]:
    """What holds."""
    return [each for each in findings if each.weight is Weight.FINE]


def _at(finding: Finding) -> str:
    return next((ref.path.removeprefix("plan#") for ref in finding.refs if ref.path.startswith("plan#/")), "")


def source_name(state: State, source: str) -> str:
    """What people call a source."""
    row = state.rig.source_rows[source]
    return row.name or row.id


def tracks_of(state: State, combination: Combination) -> list[ArrivesRow]:
    """Every track in the order of its number."""
    rig = state.rig
    ids = sorted(rig.tracks, key=lambda each: rig.track_rows[each].number)
    return state.remembered(
        ("tracks", *combination.values()),
        lambda: [
            _arrives(
                state, combination, f"track:{id}", rig.wanted(id), rig.track_rows[id].name, rig.track_rows[id].number
            )
            for id in ids
        ],
    )


def listeners_of(state: State, combination: Combination) -> list[ArrivesRow]:
    """Every listener in the order of the plan."""
    rig = state.rig
    rows = [rig.feed_rows[id] for id in rig.feeds]
    return state.remembered(
        ("listeners", *combination.values()),
        lambda: [_arrives(state, combination, f"feed:{row.id}", row.sources, row.listener, None) for row in rows],
    )


def _arrives(
    state: State, combination: Combination, target: str, wanted: Sequence[str], name: str, number: int | None
) -> ArrivesRow:
    found = {id: some[0] for id in state.rig.sources if (some := state.paths_to(id, target, combination))}
    asked = {id: path for id, path in found.items() if id in wanted} or found
    peaks = [stage for path in asked.values() if (stage := _end(state, path, combination)) is not None]
    return ArrivesRow(
        id=target.partition(":")[2],
        number=number,
        name=name,
        sources=[source_name(state, each) for each in wanted if each in found],
        also=[source_name(state, each) for each in found if each not in wanted],
        missing=[
            source_name(state, each) if each in state.rig.source_rows else each for each in wanted if each not in found
        ],
        delay=_span([path.latency_s * 1e3 for path in asked.values()], 1, sign=False),
        gain=_span([path.gain_db for path in asked.values()], 0, sign=True),
        peak=_span([each.peak_db for each in peaks], 0, sign=True) + (f" {peaks[0].unit}" if peaks else ""),
    )


def _end(state: State, path: Path, combination: Combination) -> Stage | None:
    along = state.levels_along(path, combination)
    return along.end if along.known and along.stages else None


def _span(values: Sequence[float], digits: int, *, sign: bool) -> str:
    if not values:
        return ""
    low, high = min(values), max(values)
    texts = [signed(each, digits) if sign else f"{each:.{digits}f}" for each in (low, high)]
    return texts[0] if texts[0] == texts[1] else w("rig.span", low=texts[0], high=texts[1])


def paths_of(state: State, source: str, combination: Combination) -> list[PathView]:
    """Every way of a source, hop by hop."""
    from rollsound.rig.clocks import clocks

    following = clocks(state.rig, combination)
    views = []
    for path in state.paths(source, combination):
        row = path_row(state.rig, path, following)
        along = state.levels_along(path, combination)
        stages = along.stages[1:]
        converts = ", ".join(row.conversions) or w("rig.no_conversion")
        views.append(
            PathView(
                target=row.target,
                target_name=_where(row),
                summary=w(
                    "rig.path_summary",
                    delay=f"{row.latency_ms:.2f}",
                    gain=signed(row.gain_db, 1),
                    conversions=converts,
                ),
                level_unknown=along.unknown,
                hops=[
                    _hop(hop, stages[at] if at < len(stages) else None, is_known=along.known)
                    for at, hop in enumerate(row.hops)
                ],
            )
        )
    return views


def _where(row: PathRow) -> str:
    """The track or listener; of a listener also where, since several may carry the same."""
    name = f"{row.target_name[:1].upper()}{row.target_name[1:]}"
    return w("rig.hears_at", name=name, at=row.hops[-1].to) if row.hops and row.target.startswith("feed:") else name


def _hop(hop: HopRow, stage: Stage | None, *, is_known: bool) -> HopView:
    has_limit = stage is not None and stage.headroom_db < 1e6
    return HopView(
        way=w(f"rig.way_{hop.way}"),
        id=hop.id,
        from_=hop.from_,
        to=hop.to,
        piece=hop.piece,
        gain=signed(hop.gain_db, 1) if abs(hop.gain_db) > _SAME else "0",
        delay=f"{hop.latency_ms:.3f}",
        total=f"{hop.total_ms:.3f}",
        conversions=", ".join(hop.conversions),
        clock=hop.clock,
        peak=f"{signed(stage.peak_db, 1)} {stage.unit}" if stage is not None else ("" if is_known else "?"),
        headroom=f"{stage.headroom_db:.1f}".replace("-", "−") if stage is not None and has_limit else "",
    )


def change_of(state: State, flip: str) -> ChangeRow | None:
    """The change that a flip asks for, written ``boom-1:cable:radio``; none where none is asked."""
    parts = flip.split(":")
    if len(parts) != 3:
        return None
    return change_to(state, *parts)


def changes_of(state: State) -> list[ChangeRow]:
    """Every changeover from each position to each later one."""
    return [change_row(state.rig, each) for each in state.changes]


def change_to(state: State, changeover: str, before: str, after: str) -> ChangeRow:
    """One changeover from one position to another, either way."""
    return change_row(state.rig, state.change(changeover, before, after))


def loss_of(state: State, element: str) -> LossRow:
    """What the failure of one thing costs."""
    return loss_row(state.rig, state.loss(element))


def losses_of(state: State) -> list[LossRow]:
    """Every single failure that costs something, dearest first."""
    return [loss_row(state.rig, each) for each in state.losses]
