"""The rig of a plan: its paths, its changeovers, what failures cost, and what is not kept."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from rollsound.actions.rig_model import (
    ArrivalRow,
    ChangeoversResult,
    ChangeRow,
    FalloutResult,
    HopRow,
    LossRow,
    PathRow,
    RigResult,
    TargetRow,
)
from rollsound.errors import InputError
from rollsound.facts import cautions
from rollsound.finding import Finding
from rollsound.rig.building import build
from rollsound.rig.built import Rig
from rollsound.rig.changeovers import Change, changes, gain_in_words, sentence
from rollsound.rig.clocks import Following, clocks
from rollsound.rig.combining import how_many, in_words, read_combination
from rollsound.rig.cures import cure
from rollsound.rig.fallout import Fallout, Loss, element_in_words
from rollsound.rig.paths import Path, Paths, all_paths
from rollsound.rig.proofs import changing, proofs, target_in_words
from rollsound.rig.reaching import Reaching
from rollsound.rig.state import State

if TYPE_CHECKING:
    from rollsound.actions.plan_read import PlanRead
    from rollsound.show.model import Plan

_CAUTIONS = ("hearing", "masts-cables")


def built(read: PlanRead) -> Rig:
    """The rig of a plan, put together.

    Raises
    ------
    MistakesError
        with every mistake of the rig and its line
    InputError
        when the plan has no rig
    """
    rig = rig_of(read.plan)
    read.refuse(rig.wrong)
    if not rig.pieces:
        raise InputError(
            f"{read.path} has no rig; write pieces, links and routes under 'rig', and the kit they come from",
            path=str(read.path),
        )
    return rig


def rig_of(plan: Plan) -> Rig:
    """The rig of a plan; what is wrong with it is in its ``wrong``."""
    return build(plan.rig, plan.kit, rate_hz=float(plan.show.sample_rate_hz))


def supplies_of(plan: Plan) -> dict[str, tuple[str, ...]]:
    """By a supply that runs on a battery, the pieces that go when it is empty."""
    below: dict[str, list[str]] = {}
    for supply in plan.power.supplies:
        below.setdefault(supply.from_supply, []).append(supply.id)
    fed = {supply.id: [each.piece for each in supply.feeds if each.piece] for supply in plan.power.supplies}
    found = {}
    for supply in plan.power.supplies:
        if not supply.battery or supply.each:  # where each has batteries of its own, one that is empty takes one piece
            continue
        under, waiting = dict.fromkeys([supply.id]), [supply.id]
        while waiting:
            further = [each for each in below.get(waiting.pop(), ()) if each not in under]
            under |= dict.fromkeys(further)
            waiting += further
        found[supply.id] = tuple(dict.fromkeys(piece for id in under for piece in fed[id]))
    return found


def show_rig(read: PlanRead, *, combination: str = "", source: str = "") -> RigResult:
    """The rig in one combination: what arrives where, the paths of one source, and every proof over all combinations.

    Parameters
    ----------
    combination
        ``boom-1=radio, receivers=cart``; changeovers that are not named stay in their first position
    source
        id of a source whose paths are told hop by hop

    Raises
    ------
    MistakesError, InputError
        for a rig that cannot be put together, a combination or a source that is not there
    """
    return rig_result(built(read), read.plan, combination=combination, source=source)


def rig_result(rig: Rig, plan: Plan, *, combination: str = "", source: str = "") -> RigResult:
    """As ``show_rig``, of a rig that was put together already."""
    changeovers = rig.part.changeovers
    chosen = read_combination(combination, changeovers)
    if source and source not in rig.source_rows:
        raise InputError(f"'{source}' is no source of the rig; there are: {', '.join(rig.source_rows) or 'none'}")
    state = State(rig, chosen)
    found = all_paths(state)
    following = clocks(rig, chosen)
    asked = [each for (id, _), some in found.items() if id == source for each in some.paths]
    return RigResult(
        name=plan.show.title,
        combination=chosen,
        combination_in_words=in_words(chosen, changeovers),
        combinations=how_many(changeovers),
        pieces=sum(rig.in_use(id, chosen) for id in rig.pieces),
        links=len(rig.part.links),
        channels=len(rig.spots),
        tracks=tuple(
            _target(rig, found, f"track:{id}", rig.wanted(id), rig.track_rows[id].name, rig.track_rows[id].number)
            for id in sorted(rig.tracks, key=lambda each: rig.track_rows[each].number)
        ),
        listeners=tuple(
            _target(rig, found, f"feed:{id}", rig.feed_rows[id].sources, rig.feed_rows[id].listener) for id in rig.feeds
        ),
        paths=tuple(path_row(rig, each, following) for each in asked),
        findings=tuple(all_proofs(rig, plan)),
        cautions=tuple(each.text for each in cautions(*_CAUTIONS)),
    )


def all_proofs(rig: Rig, plan: Plan) -> list[Finding]:
    """Every proof over the rig."""
    return proofs(rig, supplies_of(plan))


def _target(
    rig: Rig,
    found: Mapping[tuple[str, str], Paths],
    target: str,
    wanted: Sequence[str],
    name: str,
    number: int | None = None,
) -> TargetRow:
    arrives = {source: some.paths for (source, where), some in found.items() if where == target and some.paths}
    return TargetRow(
        id=target.partition(":")[2],
        number=number,
        name=name,
        arrives=tuple(
            ArrivalRow(
                id=source,
                name=rig.source_rows[source].name or source,
                gain_db=some[0].gain_db,
                latency_ms=some[0].latency_s * 1e3,
                ways=len(some),
            )
            for source, some in arrives.items()
        ),
        missing=tuple(each for each in wanted if each not in arrives),
    )


def path_row(rig: Rig, path: Path, following: Mapping[str, Following]) -> PathRow:
    """A path for people and programs."""
    return PathRow(
        source=path.source,
        target=path.target,
        target_name=target_in_words(rig, path.target),
        gain_db=path.gain_db,
        latency_ms=path.latency_s * 1e3,
        conversions=tuple(each.value for each in path.conversions),
        hops=tuple(
            HopRow(
                way=hop.way.value,
                id=hop.id,
                from_=rig.spot_in_words(hop.start),
                to=rig.spot_in_words(hop.end),
                piece=hop.end.piece,
                gain_db=hop.gain_db,
                latency_ms=hop.latency_s * 1e3,
                total_ms=hop.total_s * 1e3,
                conversions=tuple(each.value for each in hop.conversions),
                clock=_clock(rig, following.get(hop.end.piece)),
            )
            for hop in path.hops
        ),
    )


def _clock(rig: Rig, following: Following | None) -> str:
    if following is None:
        return ""
    if not following.master:
        return "none"
    return "its own" if following.master == following.piece else rig.name_of(following.master)


def changeovers(read: PlanRead) -> ChangeoversResult:
    """What every changeover asks of hands, and what it costs, in every combination of the rest.

    Raises
    ------
    MistakesError, InputError
        for a rig that cannot be put together
    """
    rig = built(read)
    reaching = Reaching(rig)
    return ChangeoversResult(
        name=read.plan.show.title,
        combinations=reaching.combinations,
        changes=tuple(change_row(rig, each) for each in changes(reaching)),
        findings=tuple(changing(reaching)),
    )


def change_row(rig: Rig, change: Change) -> ChangeRow:
    """A change for people and programs."""
    changeover = next(each for each in rig.part.changeovers if each.id == change.changeover)
    return ChangeRow(
        changeover=change.changeover,
        name=changeover.name or changeover.id,
        before=change.before,
        after=change.after,
        sentence=f"{sentence(rig, change)}.",
        tracks_kept=len(change.kept),
        lost=tuple(
            f"{rig.source_rows[each.source].name or each.source} from {target_in_words(rig, each.target)}, "
            f"in position {each.fails_in}"
            + (f"; it arrives on {target_in_words(rig, each.moved_to)}" if each.moved_to else "")
            for each in change.lost
        ),
        repatches=(*change.routes, *change.streams),
        unplug=change.unplug,
        plug=change.plug,
        faders=change.faders,
        switched_on=change.pieces_on,
        switched_off=change.pieces_off,
        carried=tuple(rig.name_of(each) for each in change.moved_pieces),
        gains=tuple(gain_in_words(rig, each) for each in change.gains),
        delay_ms=max((each.delay_s * 1e3 for each in change.differences), key=abs, default=0.0),
        combinations=change.combinations,
        covered=change.covered,
    )


def fallout(read: PlanRead, *, pairs: bool = False) -> FalloutResult:
    """What every failure costs, dearest first; of two at once as well when asked.

    Raises
    ------
    MistakesError, InputError
        for a rig that cannot be put together
    """
    rig = built(read)
    reaching = Reaching(rig)
    failing = Fallout(reaching, supplies_of(read.plan))
    return FalloutResult(
        name=read.plan.show.title,
        asked=len(failing.elements()),
        combinations=reaching.combinations,
        single=tuple(loss_row(rig, each) for each in failing.single()),
        pairs=tuple(loss_row(rig, each) for each in failing.pairs()) if pairs else (),
        complete=failing.complete,
        characters=len({row.character for row in rig.part.sources if row.character}),
    )


def loss_row(rig: Rig, loss: Loss) -> LossRow:
    """A loss for people and programs."""
    told = cure(rig, loss.failed[0]) if len(loss.failed) == 1 else None
    names = {id: f"{row.number} {row.name}" for id, row in rig.track_rows.items()}
    return LossRow(
        failed=loss.failed,
        in_words=" and ".join(element_in_words(rig, each) for each in loss.failed),
        uncovered=loss.uncovered,
        covered_by={name: tuple(names[each] for each in tracks) for name, tracks in loss.covered_by.items()},
        tracks=loss.tracks,
        mixes=loss.mixes,
        listeners=loss.listeners,
        at_risk=loss.at_risk,
        combination=in_words(loss.combination, rig.part.changeovers),
        cure=told.sentence if told else "",
        cure_removes=told.removes if told else False,
    )
