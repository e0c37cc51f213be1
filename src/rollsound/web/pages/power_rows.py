"""The page Power in words: the answer, a line for every battery, wire and charge, and what weighs."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING
from urllib.parse import quote, urlencode

from rollsound.finding import Finding, Weight
from rollsound.quantities import true_minus
from rollsound.review.arithmetic import arithmetic
from rollsound.web.pages.ready import Row
from rollsound.web.words import w

if TYPE_CHECKING:
    from rollsound.actions.power_model import BatteryRow, DayRow, FedRow, PowerResult

_SHORT_WH = 20.0
_NAMED = 3
_PLAN = "plan#"


@dataclass(frozen=True)
class Lane:
    """Batteries in use, in words."""

    id: str
    name: str
    others: str
    battery: str
    load: str
    hours: str
    dry: str
    is_flat: bool
    changes: tuple[tuple[str, bool], ...]
    left: str
    weight: str
    why: tuple[str, ...]


@dataclass(frozen=True)
class End:
    """The far end of a wire, in words."""

    name: str
    wire: str
    load: str
    most: str
    lost: str
    volts: str
    bears: str
    fuse: str
    better: str
    weight: str


@dataclass(frozen=True)
class Charge:
    """Batteries of one kind that are charged side by side."""

    number: int
    name: str
    of: str
    when: str
    where: str
    taken: str
    late: bool


def verdict_of(result: PowerResult | None) -> str:
    """The answer in one sentence."""
    if result is None:
        return w("power.verdict_empty")
    stops, watches = _number(result.findings, Weight.STOP), _number(result.findings, Weight.WATCH)
    if stops:
        return w("power.verdict_stop", n=stops)
    return w("power.verdict_watch", n=watches) if watches else w("power.verdict_fine")


def lede_of(result: PowerResult) -> str:
    """The day, and why it is this one."""
    named = _capital(result.day_name or w("power.a_day"))
    cold = "" if result.coldest_c is None else w("power.down_to", degrees=degrees(result.coldest_c))
    told = w("power.lede", day=named, call=result.call, wrap=result.wrap, cold=cold)
    if not result.day_chosen and len(result.days) > 1:
        told += " " + w("power.lede_hardest", n=len(result.days))
    return told


def day_words(day: DayRow) -> str:
    """One day of the list."""
    cold = "" if day.coldest_c is None else w("power.down_to", degrees=degrees(day.coldest_c))
    told = w("power.day_stops", n=day.stops) if day.stops else w("power.day_watches", n=day.watches)
    told = told if day.stops or day.watches else w("power.day_fine")
    return w("power.day_row", day=_capital(day.name), call=day.call, wrap=day.wrap, cold=cold, told=told)


def degrees(value_c: float) -> str:
    """A temperature."""
    return f"{true_minus(f'{value_c:g}')} °C"


def lanes_of(result: PowerResult) -> list[Lane]:
    """A line for every set of batteries in use."""
    return [_lane(row, result.reserve) for row in result.batteries]


def ends_of(result: PowerResult) -> list[End]:
    """A line for every wire that is written."""
    weights = {each.subject: each.weight.value for each in reversed(result.findings)}
    return [_end(each, weights.get(each.name, "fine")) for each in result.wires if each.wire]


def charges_of(result: PowerResult) -> list[Charge]:
    """What is charged overnight, those of one kind and time together, in the order of need."""
    keys = [
        (row.battery_name, row.of, row.start, row.end, row.socket, row.late, round(row.taken_wh, 1))
        for row in result.charging
    ]
    found = []
    for (name, of, start, end, socket, late, taken), number in Counter(keys).items():
        when = w("power.from_to", start=start, end=end) if start else w("power.no_turn")
        found.append(Charge(number, name, of, when, socket, f"{taken * number:.0f} Wh", late))
    return found


def weighing_of(findings: Iterable[Finding], kinds_apart: frozenset[str] = frozenset()) -> list[tuple[str, list[Row]]]:
    """What stops and what deserves a look, each with its place in the plan."""
    told = list(findings)
    groups = []
    for weight in (Weight.STOP, Weight.WATCH):
        rows = [row_of(each) for each in told if each.weight is weight and each.kind not in kinds_apart]
        if rows:
            groups.append((weight.value, rows))
    return groups


def row_of(finding: Finding) -> Row:
    """A finding as pages show it, with the way to its place in the plan."""
    path = next((ref.path.removeprefix(_PLAN) for ref in finding.refs if ref.path.startswith(_PLAN)), "")
    link = f"/plan?{urlencode({'at': path}, quote_via=quote, safe='/')}" if path else ""
    return Row(finding, "", link, w("ready.open_plan") if link else "", "", arithmetic(finding))


def finite(value: float) -> float | None:
    """A figure for programs; none where it has no end."""
    return round(value, 4) if math.isfinite(value) else None


def hours(value_h: float) -> str:
    """Hours to the tenth; what never ends says so."""
    return w("power.hours", n=f"{value_h:.1f}") if math.isfinite(value_h) else w("power.no_end")


def _number(findings: Iterable[Finding], weight: Weight) -> int:
    return sum(each.weight is weight for each in findings)


def _lane(row: BatteryRow, reserve: float) -> Lane:
    first, rest = ", ".join(row.names[:_NAMED]), row.names[_NAMED:]
    name = w("power.and_more", names=first, n=len(rest)) if rest else first
    if row.alike != len(row.names):
        name = w("power.times", name=name, n=row.alike)
    battery = w("power.of_them", n=row.in_set, name=row.battery_name) if row.in_set > 1 else row.battery_name
    if row.flat is not None:
        dry = w("power.flat", at=row.flat)
    else:
        dry = row.dry if row.dry is not None else w("power.lasts")
    cold = w(
        "power.why_set",
        label=_wh(row.label_wh),
        set=_wh(row.set_wh),
        share=f"{100 * row.cold_share:.0f}",
        degrees=degrees(row.temperature_c),
        status=row.cold_status,
        health=f"{100 * row.health:.0f}",
        reserve=f"{100 * reserve:.0f}",
    )
    return Lane(
        id=row.id,
        name=name,
        others=", ".join(row.names) if rest else "",
        battery=battery,
        load=f"{row.load_w:.1f} W",
        hours=hours(row.hours),
        dry=dry,
        is_flat=row.flat is not None,
        changes=tuple((each.at, each.in_break) for each in row.swaps),
        left="" if row.flat is not None else hours(row.left_h),
        weight=row.weight.value,
        why=(row.sentence, cold),
    )


def _end(each: FedRow, weight: str) -> End:
    length = w("power.metres", n=f"{each.length_m:g}")
    return End(
        name=each.name,
        wire=f"{length} {each.wire}",
        load=f"{each.load_w:.1f} W",
        most=f"{each.worst_a:.1f} A" if math.isfinite(each.worst_a) else w("power.collapses"),
        lost=f"{each.lost_percent:.1f} %" if math.isfinite(each.lost_percent) else "",
        volts=_volts(each.full_v, each.low_v),
        bears=each.input_v,
        fuse=_fuse(each),
        better=each.better,
        weight=weight,
    )


def _volts(full_v: float, low_v: float) -> str:
    if not math.isfinite(low_v):
        return w("power.collapses")
    return w("power.from_to", start=f"{full_v:.1f} V", end=f"{low_v:.1f} V")


def _fuse(each: FedRow) -> str:
    wanted = "" if each.fuse_wanted_a is None else w("power.amperes", n=f"{each.fuse_wanted_a:g}")
    if each.fuse_a is None:
        return w("power.fuse_none", wanted=wanted) if wanted else w("power.fuse_none_known")
    there = w("power.amperes", n=f"{each.fuse_a:g}")
    return there if each.fuse_fits else w("power.fuse_other", there=there, wanted=wanted or w("power.fuse_no_blade"))


def _wh(value_wh: float) -> str:
    return f"{value_wh:.1f} Wh" if value_wh < _SHORT_WH else f"{value_wh:.0f} Wh"


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
