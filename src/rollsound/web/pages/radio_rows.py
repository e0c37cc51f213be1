"""The page Radio in words: the answer, and a line for every transmitter."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Literal

from pydantic import BaseModel, Field

from rollsound.actions.radio_page import NO_LIMIT_HZ, State
from rollsound.web.words import w

if TYPE_CHECKING:
    from rollsound.radio.carriers.answer import Audit, Hold
    from rollsound.radio.model import Transmitter

Weight = Literal["stop", "watch", "fine", ""]
FULL_BAR_HZ = 400_000
"""A margin that fills the bar; further away nothing is gained."""


class MarginRow(BaseModel):
    """What a carrier keeps, for programs and for people."""

    id: str
    freq_hz: int | None
    frequency: str
    margin_hz: int | None = Field(description="null without a carrier, or where nothing is near")
    margin: str
    says: str = Field(description="what sets the margin")
    weight: Weight
    bar: int = Field(ge=0, le=100)


class SpareState(BaseModel):
    """A frequency that is kept free."""

    hz: int
    text: str


class CarrierRow(MarginRow):
    """One transmitter of the plan."""

    name: str
    wearer: str
    use: str
    kind: str
    low_hz: int
    high_hz: int
    step_hz: int
    origin_hz: int
    width_hz: int
    power: str
    zone: str
    spares: list[SpareState]
    on_air: bool
    fixed: bool


def megahertz(hz: int) -> str:
    """A carrier in MHz without its unit: three digits behind the point, more where they say something."""
    whole, rest = divmod(hz, 1_000_000)
    digits = f"{rest:06d}"
    return f"{whole}.{digits[:3] + digits[3:].rstrip('0')}"


def margin_text(margin_hz: int | None) -> str:
    """A margin in kHz, or MHz where that is shorter."""
    if margin_hz is None or margin_hz >= NO_LIMIT_HZ:
        return w("radio.no_margin")
    if abs(margin_hz) >= 1_000_000:
        return w("radio.mhz", n=_plain(margin_hz / 1e6))
    return w("radio.khz", n=_plain(margin_hz / 1e3))


def rows_of(state: State) -> list[CarrierRow]:
    """A line for every transmitter, in the order of the plan."""
    question = state.question
    wanted = {each.id: each for each in question.task.wanted}
    margins = {each.id: each for each in margin_rows(state, state.audit, question.carriers_hz)}
    rows = []
    for each in question.transmitters:
        ask = wanted.get(each.id)
        low, high = (ask.low_hz, ask.high_hz) if ask else (0, 0)
        rows.append(
            CarrierRow(
                **margins[each.id].model_dump(),
                name=each.name,
                wearer=each.wearer,
                use=w(f"radio.use_{each.kind.replace(' ', '_')}"),
                kind=each.kind,
                low_hz=low,
                high_hz=high,
                step_hz=ask.step_hz if ask else 0,
                origin_hz=ask.origin_hz if ask else 0,
                width_hz=ask.width_hz if ask else 0,
                power=f"{each.power_mw:g} mW" if each.power_mw is not None else "",
                zone=each.zone,
                spares=[SpareState(hz=round(hz), text=megahertz(round(hz))) for hz in each.spare_frequencies],
                on_air=each.on_air,
                fixed=each.fixed,
            )
        )
    return rows


def margin_rows(state: State, audit: Audit | None, carriers_hz: Mapping[str, int]) -> list[MarginRow]:
    """What every transmitter keeps with these carriers."""
    names = {each.id: _short(each) for each in state.question.radio.transmitters}
    return [_margin_row(each.id, audit, carriers_hz.get(each.id), names) for each in state.question.transmitters]


def verdict_of(state: State, audit: Audit | None, tried: frozenset[str] | set[str] = frozenset()) -> str:
    """The answer in one sentence; ``tried`` are ids that would have a carrier as well."""
    every = state.question.transmitters
    waiting = len(set(state.waiting) - tried)
    placed = len(every) - waiting
    if not every:
        return w("radio.verdict_empty_site" if state.question.radio.transmitters else "radio.verdict_empty")
    if state.question.mistakes:
        return w("radio.verdict_trouble", n=len(state.question.mistakes))
    if not placed or audit is None:
        return w("radio.verdict_none", n=len(every))
    broken = len(_hit(audit))
    if broken and waiting:
        return w("radio.verdict_broken_waiting", n=broken, waiting=waiting)
    if broken:
        return w("radio.verdict_broken", n=broken)
    if waiting:
        return w("radio.verdict_waiting", n=waiting, placed=placed)
    if audit.margin_hz is None or audit.margin_hz >= NO_LIMIT_HZ:
        return w("radio.verdict_alone", n=placed) if placed > 1 else w("radio.verdict_holds", n=1)
    return w("radio.verdict_holds", n=placed, margin=margin_text(audit.margin_hz))


def lede_of(state: State) -> str:
    """What stands below the answer: who is closest and why, what cannot be helped, what no search could do."""
    parts = []
    audit = state.audit
    if state.bound is not None:
        parts.append(_sentence(state.bound.why))
    if audit is not None and audit.margins_hz:
        names = {each.id: _short(each) for each in state.question.radio.transmitters}
        first = min(audit.margins_hz, key=lambda id: (audit.margins_hz[id], id))
        if audit.margins_hz[first] < NO_LIMIT_HZ and first in audit.set_by:
            says = says_of([audit.set_by[first]], names, first)
            parts.append(w("radio.lede_set", name=names.get(first, first), says=says))
    if audit is not None and audit.unavoidable:
        parts.append(w("radio.lede_fixed", n=len(audit.unavoidable)))
    return " ".join([*parts, w("radio.licence")])


def says_of(holds: list[Hold], names: Mapping[str, str], own: str) -> str:
    """What sets a margin, in the words of the trade; how many more there are is told by their number."""
    first = holds[0]
    others = [names.get(each, each) for each in (*first.sources, first.hit) if each != own]
    if first.limit.value in ("spacing",):
        says = w("radio.says_spacing", sources=", ".join(dict.fromkeys(others)))
    elif first.limit.value == "occupied":
        says = w("radio.says_occupied", why=first.why) if first.why else w("radio.says_occupied_plain")
    elif first.limit.value in ("range", "step", "window"):
        says = w(f"radio.says_{first.limit.value}")
    else:
        sources = ", ".join(names.get(each, each) for each in first.sources)
        key = first.limit.value.replace("-", "_").replace("+", "_")
        says = w(f"radio.says_{key}", sources=sources)
    return w("radio.says_more", says=says, n=len(holds) - 1) if len(holds) > 1 else says


def _margin_row(id: str, audit: Audit | None, freq_hz: int | None, names: Mapping[str, str]) -> MarginRow:
    if audit is None or freq_hz is None:
        text = megahertz(freq_hz) if freq_hz is not None else ""
        return MarginRow(id=id, freq_hz=freq_hz, frequency=text, margin_hz=None, margin="", says="", weight="", bar=0)
    broken = [each for each in audit.broken if _concerns(each, id)]
    margin = audit.margins_hz.get(id)
    if broken:
        worst = min(broken, key=lambda each: each.margin_hz)
        margin = min(margin, worst.margin_hz) if margin is not None else worst.margin_hz
    held = audit.set_by.get(id)
    far = margin is None or margin >= NO_LIMIT_HZ
    below = bool(broken) or (margin is not None and margin < 0)  # only the worst relations are listed
    if broken:
        says = says_of(broken, names, id)
    else:
        says = says_of([held], names, id) if held is not None and not far else w("radio.says_nothing")
    return MarginRow(
        id=id,
        freq_hz=freq_hz,
        frequency=megahertz(freq_hz),
        margin_hz=None if far else margin,
        margin=margin_text(margin),
        says=says,
        weight="stop" if below else "fine",
        bar=100 if margin is None else max(0, min(100, round(100 * margin / FULL_BAR_HZ))),
    )


def _hit(audit: Audit) -> set[str]:
    """The carriers that do not hold."""
    below = {id for id, margin in audit.margins_hz.items() if margin < 0}
    return below | {id for each in audit.broken for id in _concerned(each)}


def _concerned(hold: Hold) -> Iterable[str]:
    return (hold.hit, *hold.sources) if hold.limit.value == "spacing" else (hold.hit,)


def _concerns(hold: Hold, id: str) -> bool:
    return id in _concerned(hold)


def _short(transmitter: Transmitter) -> str:
    """What a transmitter is called on the floor."""
    return transmitter.wearer or transmitter.name


def _plain(number: float) -> str:
    return f"{number:.3f}".rstrip("0").rstrip(".").replace("-", "−")


def _sentence(text: str) -> str:
    text = text[:1].upper() + text[1:]
    return text if text.endswith(".") else f"{text}."
