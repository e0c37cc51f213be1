"""How proofs of the radio part are told: findings with their place, and relations between carriers in words."""

from __future__ import annotations

from collections.abc import Mapping

from rollsound.finding import AboutPlan, Area
from rollsound.radio.carriers.answer import Hold, Limit
from rollsound.radio.carriers.task import Product
from rollsound.radio.levels import SHAPES
from rollsound.radio.raster import khz, mhz, span

SOURCE = "the plan"
LICENCE = "Check your licence and local rules."
FORMS = {Limit(form.value): form for form in Product}


finding = AboutPlan(Area.RADIO, "radio", SOURCE)


def form_of(hold: Hold, names: Mapping[str, str]) -> str:
    """A product with its sources: ``2 × Pack 1 − Pack 3``."""
    parts: list[str] = []
    for n, source in zip(SHAPES[FORMS[hold.limit]], hold.sources, strict=True):
        times = f"{abs(n)} × " if abs(n) > 1 else ""
        sign = "" if not parts else " + " if n > 0 else " − "
        parts.append(f"{sign}{times}{names.get(source, source)}")
    return "".join(parts)


def hold_in_words(hold: Hold, names: Mapping[str, str]) -> str:
    """What holds a carrier, or breaks it, without a stop at the end."""
    hit = names.get(hold.hit, hold.hit)
    if hold.limit in FORMS:
        return (
            f"{hit} is hit by {form_of(hold, names)} at {mhz(hold.at_hz)}: {khz(hold.distance_hz)} away, where "
            f"{khz(hold.required_hz)} are asked for"
        )
    if hold.limit is Limit.SPACING:
        other = names.get(hold.sources[0], hold.sources[0]) if hold.sources else "another"
        return (
            f"{hit} lies {khz(hold.distance_hz)} from {other} at {mhz(hold.at_hz)}, where {khz(hold.required_hz)} "
            "are asked for"
        )
    if hold.limit is Limit.OCCUPIED:
        whose = f" ({hold.why})" if hold.why else ""
        if hold.distance_hz <= 0:
            return f"{hit} lies in occupied spectrum{whose}"
        return (
            f"{hit} lies {khz(hold.distance_hz)} from occupied spectrum at {mhz(hold.at_hz)}{whose}, where "
            f"{khz(hold.required_hz)} are asked for"
        )
    if hold.limit is Limit.RANGE:
        return f"{hit} leaves the range that it can tune to and may use, which ends at {mhz(hold.at_hz)}"
    if hold.limit is Limit.STEP:
        return f"{hit} lies {khz(hold.required_hz)} off its raster; the next place is {mhz(hold.at_hz)}"
    others = ", ".join(names.get(each, each) for each in hold.sources) or "the others"
    return (
        f"{hit} and {others} lie {khz(hold.required_hz)} apart, more than the window of {hold.why}, "
        f"{khz(hold.distance_hz)}"
    )


__all__ = ["FORMS", "LICENCE", "SOURCE", "finding", "form_of", "hold_in_words", "khz", "mhz", "span"]
