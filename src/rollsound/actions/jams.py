"""The clocks of a day: how far every time code device drifts, when to jam it again, and what was learnt of it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

from rollsound.actions.jams_gather import ClocksOfDay, DayBreak, clocks_of
from rollsound.actions.jams_model import DeviceRow, DriftPoint, JamsResult, MeasuredRow, WishRow
from rollsound.finding import Area, Finding, Weight
from rollsound.power.day import clock
from rollsound.quantities import count, show_ppm, signed
from rollsound.timecode.jam_rates import ClockRates, RateMeasured
from rollsound.timecode.jams import COVER, DriftFrom, JamSeen, JamWish, jams_wanted, last_known
from rollsound.timecode.jams import rates_read as rates_of_log

if TYPE_CHECKING:
    from rollsound.actions.plan_read import PlanRead

_SOURCE = "JCGM 100:2008 for uncertainty; data sheets' limits and what was measured, two standard deviations"
_HOUR_S, _MINUTE_S = 3600.0, 60.0
_SUSPECT = 3.0
_MOST_BY_HAND = 6
"""Jams in a day; who needs more is fed time code."""


def jams(read: PlanRead, *, day: str = "") -> JamsResult:
    """Drift of a day's time code devices; of the day that matters now when none is named.

    Raises
    ------
    InputError
        when there is no such day
    """
    return jams_of(clocks_of(read, day), str(read.path))


def jams_of(seen: ClocksOfDay, path: str = "") -> JamsResult:
    """As ``jams``, of what was gathered."""
    day, rate = seen.day, seen.plan.show.rate
    from_conform, told = seen.conformed
    measured = (*from_conform, *rates_of_log(seen.seen, rate))
    today = [each for each in seen.seen if each.day == day.id]
    devices = dict.fromkeys((*(each.device for each in seen.seen), *seen.planned_devices))
    named = {*devices, seen.master, *(name for each in measured for name in (each.device, each.against))}
    rates = ClockRates(seen.limits(sorted(named | {each.source for each in seen.seen})), measured)
    rows, findings = [], []
    for device in devices:
        own = [each for each in today if each.device == device]
        row, found = _device(seen, rates, device, own)
        rows.append(row)
        findings += found
    findings += [each for one in measured if (each := _suspect(seen, rates, one)) is not None]
    if rows and not any(each.kind == "jam wanted" for each in findings):
        findings.append(_fine(len(rows), clock(day.wrap_min)))
    findings.sort(key=lambda each: list(Weight).index(each.weight))
    return JamsResult(
        path=path,
        name=seen.plan.show.title,
        day=day.id,
        day_name=day.name,
        call=clock(day.call_min),
        wrap=clock(day.wrap_min),
        frame_rate=str(rate),
        devices=tuple(rows),
        measured=tuple(_measured(seen, each, each in rates.used) for each in measured),
        findings=tuple(findings),
        notes=(*told, *_notes(seen, rows)),
    )


def _device(
    seen: ClocksOfDay, rates: ClockRates, device: str, own: Sequence[JamSeen]
) -> tuple[DeviceRow, list[Finding]]:
    day, rate = seen.day, seen.plan.show.rate
    jammed = [each for each in own if each.jammed]
    before = [each.source for each in seen.seen if each.device == device]
    source = jammed[-1].source if jammed else before[-1] if before else seen.master
    apart = rates.apart(device, source, day.id)
    drift = last_known(own, rate, apart) or DriftFrom(day.call_min * _MINUTE_S, rate, apart)
    until = day.wrap_min * _MINUTE_S
    breaks = seen.breaks
    wishes = jams_wanted(drift, until, [(each.start_s, each.end_s) for each in breaks], now_s=drift.at_s)
    past = drift.past()
    likeliest, sd = drift.offset(until)
    written = seen.limit_written(device)
    row = DeviceRow(
        device=device,
        name=seen.name(device),
        source=source,
        source_name=seen.name(source),
        from_log=bool(jammed),
        jammed=clock((jammed[-1].at_s if jammed else day.call_min * _MINUTE_S) / _MINUTE_S),
        known=clock(drift.at_s / _MINUTE_S),
        limit_ppm=rates.limits(device).limit_ppm,
        limit_written=written is not None,
        ppm=apart.ppm,
        give_or_take_ppm=COVER * apart.sd_ppm,
        measured=apart.measured,
        wrap_frames=likeliest,
        wrap_give_or_take_frames=COVER * sd,
        past=clock(past / _MINUTE_S) if past < until else "",
        past_min=past / _MINUTE_S,
        wishes=tuple(_wish(each, breaks, drift.at_s) for each in wishes),
        points=_points(drift, until),
        sentence="",
    )
    row = row.model_copy(update={"sentence": _sentence(row)})
    return row, [*_wanted(row), *_was_off(seen, row, own)]


def _points(drift: DriftFrom, until_s: float) -> tuple[DriftPoint, ...]:
    times = [drift.at_s]
    while times[-1] + _HOUR_S < until_s:
        times.append(times[-1] + _HOUR_S)
    found = []
    for at in (*times, until_s) if until_s > drift.at_s else times:
        likeliest, sd = drift.offset(at)
        told = clock(at / _MINUTE_S)
        found.append(DriftPoint(at=told, offset_frames=likeliest, give_or_take_frames=COVER * sd))
    return tuple(found)


def _wish(wish: JamWish, breaks: Sequence[DayBreak], known_s: float) -> WishRow:
    by = clock(wish.by_s / _MINUTE_S)
    if wish.at_s <= known_s:
        return WishRow(at=by, by=by, told="at once")
    if wish.break_s is None:
        return WishRow(at=by, by=by, told=f"before {by}")
    name = next(each.name for each in breaks if (each.start_s, each.end_s) == wish.break_s)
    start, end = (clock(each / _MINUTE_S) for each in wish.break_s)
    return WishRow(at=start, by=by, break_name=name, told=f"at {name} ({start} to {end})")


def _sentence(row: DeviceRow) -> str:
    basis = f"measured {count(row.measured, 'time')}" if row.measured else "by data sheets alone"
    if not row.limit_written and not row.measured:
        basis = f"no figure is written, ±{row.limit_ppm:g} ppm was taken"
    rate = f"{signed(row.ppm, 2)} ± {row.give_or_take_ppm:.2f} ppm against {row.source_name}, {basis}"
    since = f"jammed {row.jammed}" if row.from_log else f"if jammed at the call, {row.jammed}"
    if not row.past:
        return f"{row.name}, {since}: inside half a frame until wrap ({rate})."
    told = ", ".join(each.told for each in row.wishes[:3])
    more = f" and {len(row.wishes) - 3} times more" if len(row.wishes) > 3 else ""
    return f"{row.name}, {since}: past half a frame at {row.past}; jam it {told}{more} ({rate})."


def _finding(weight: Weight, row: DeviceRow, kind: str, what: str, **more: str) -> Finding:
    numbers = {"rate_ppm": row.ppm, "give_or_take_ppm": row.give_or_take_ppm}
    if not math.isinf(row.past_min):
        numbers["past_min"] = row.past_min
    return Finding(
        area=Area.SYNC, weight=weight, subject=row.name, kind=kind, what=what, source=_SOURCE, numbers=numbers, **more
    )


def _wanted(row: DeviceRow) -> list[Finding]:
    if not row.past:
        return []
    first = row.wishes[0]
    could = "will" if abs(row.ppm) > row.give_or_take_ppm else "may"
    after = f"jammed {row.jammed}" if row.from_log else f"jammed at the call ({row.jammed})"
    what = f"{row.name}, {after}, {could} be past half a frame at {row.past}."
    if len(row.wishes) > _MOST_BY_HAND:
        remedy = "Feed it time code all day, by cable or radio; its clock cannot hold on its own."
    else:
        later = ", then ".join(each.told for each in row.wishes[1:3])
        remedy = f"Jam it {first.told}{f', then {later}' if later else ''}."
    why = "From there on its label may be the next frame's, and sound lies a frame beside its picture."
    return [_finding(Weight.WATCH, row, "jam wanted", what, why=why, remedy=remedy)]


def _was_off(seen: ClocksOfDay, row: DeviceRow, own: Sequence[JamSeen]) -> list[Finding]:
    """Offsets that somebody read and that lie outside: what was taken since the jam before carries them."""
    found = []
    for number, each in enumerate(own):
        if each.offset_frames is None or abs(each.offset_frames) < 1.0:
            continue
        since = next((clock(one.at_s / _MINUTE_S) for one in reversed(own[:number]) if one.jammed), "the start")
        at = clock(each.at_s / _MINUTE_S)
        side = "ahead of" if each.offset_frames > 0 else "behind"
        what = f"{row.name} was {abs(each.offset_frames):g} frames {side} {seen.name(each.source)} at {at}."
        remedy = f"Tell post; what was taken between {since} and {at} is off by up to as much, least at the beginning."
        found.append(_finding(Weight.WATCH, row, "time code was off", what, remedy=remedy))
    return found


def _suspect(seen: ClocksOfDay, rates: ClockRates, one: RateMeasured) -> Finding | None:
    """A measurement that data sheets do not allow: a limit that is wrong, a wrong stamp, or a clock that fails."""
    if one in rates.used and rates.surprise(one) <= _SUSPECT:
        return None
    name, against = seen.name(one.device), seen.name(one.against)
    left = "" if one in rates.used else " It was left out, for no pair of crystals is so far apart."
    return Finding(
        area=Area.SYNC,
        weight=Weight.WATCH,
        subject=name,
        kind="clock outside its limits",
        what=f"{name} ran {show_ppm(one.ppm)} against {against} on {one.day} ({one.told}), more than the limits of "
        f"both allow.{left}",
        remedy="Correct the clock errors in the kit if they are wrong; else have it looked at, or check its stamp.",
        source=_SOURCE,
        numbers={"rate_ppm": one.ppm, "sd_ppm": one.sd_ppm},
    )


def _fine(number: int, wrap: str) -> Finding:
    held = "The one time code device stays" if number == 1 else f"All {number} time code devices stay"
    what = f"{held} inside half a frame until wrap at {wrap}."
    return Finding(area=Area.SYNC, weight=Weight.FINE, subject="day", kind="jams", what=what, source=_SOURCE)


def _measured(seen: ClocksOfDay, one: RateMeasured, used: bool) -> MeasuredRow:
    return MeasuredRow(
        device=seen.name(one.device),
        against=seen.name(one.against),
        day=one.day,
        ppm=one.ppm,
        sd_ppm=one.sd_ppm,
        told=one.told,
        used=used,
    )


def _notes(seen: ClocksOfDay, rows: Sequence[DeviceRow]) -> list[str]:
    notes = []
    if seen.day.assumed:
        notes.append(
            f"Call or wrap is not written; {clock(seen.day.call_min)} to {clock(seen.day.wrap_min)} was taken."
        )
    if not rows:
        notes.append(
            "No jam is logged and no item of the kit takes time code; log jams with 'rollsound log add', or write "
            "devices under 'kit'."
        )
    elif not any(row.from_log for row in rows):
        notes.append("No jam is logged on this day; a jam at the call is taken.")
    if rows and not seen.breaks:
        notes.append("No break is written for this day; write one under 'power', 'phases', with 'break: true'.")
    unknown = sorted({row.source for row in rows if seen.limit_written(row.source) is None})
    if unknown:
        notes.append(
            f"No clock error is written for {', '.join(unknown[:4])}, which others are jammed from; ±10 ppm was taken."
        )
    bare = [row.name for row in rows if not row.limit_written]
    if bare:
        shown = ", ".join(bare[:4])
        notes.append(f"No clock error is written for {shown}; ±10 ppm was taken. Write 'clock_error' at the item.")
    if rows:
        notes.append(
            "Each device is told against what it was jammed from; two that were jammed from one source may be apart by "
            "both their offsets."
        )
    return notes
