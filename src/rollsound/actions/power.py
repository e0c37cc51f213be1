"""Power of a day: every battery's hours, dry time and changes, spares, wires, fuses, charging, and what is not kept."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING

from rollsound.actions.power_gather import Gathered
from rollsound.actions.power_model import (
    BatteryRow,
    ChargeRow,
    DayRow,
    FedRow,
    PowerResult,
    StepRow,
    StockRow,
    SwapRow,
)
from rollsound.errors import InputError
from rollsound.finding import Finding, Weight, heaviest
from rollsound.kit.kinds import models_wrong
from rollsound.power.answer import PowerAnswer
from rollsound.power.chemistry import chemistry, pack_voltages, read_resting
from rollsound.power.day import Day, clock
from rollsound.power.peukert import both_forms
from rollsound.power.proofs import proofs
from rollsound.power.runs import Run
from rollsound.power.swaps import Swap
from rollsound.power.telling import hours, time_of_day, wh
from rollsound.power.wires import Fed
from rollsound.quantities import count, several

if TYPE_CHECKING:
    from rollsound.actions.plan_read import PlanRead
    from rollsound.report.charts import Chart

_MOST_A = 10_000.0
"""More than any battery gives: somebody has mistyped a draw, and no form of a law is told for it."""
_TEMPERATURES_NOTE = "Shares in the cold are planning figures from memory unless the plan has a data sheet's."


def power(read: PlanRead, *, day: str = "", strict: bool = True) -> PowerResult:
    """Power of one day of a plan; of the hardest one when none is named.

    Parameters
    ----------
    strict
        whether names that point at nothing are refused; else they are findings, and the rest is worked out

    Raises
    ------
    MistakesError
        with every mistake of the power part and its line
    InputError
        when there is no such day, or nothing about power
    """
    gathered = Gathered(read.plan)
    if strict:
        read.refuse([*gathered.wrong, *models_wrong(read.plan.kit)])
        if not (read.plan.power.supplies or read.plan.power.batteries or gathered.insides or gathered.unfed):
            raise InputError(
                f"{read.path} says nothing about power; write batteries and supplies under 'power'", path=str(read.path)
            )
    return of_plan(gathered, day, path=str(read.path))


def of_plan(gathered: Gathered, day: str = "", *, path: str = "") -> PowerResult:
    """As ``power``, of a plan that was gathered; mistakes are findings."""
    asked = [gathered.day(day)] if day else list(gathered.days)
    seen: list[tuple[Day, PowerAnswer, list[Finding]]] = []
    for each in asked:
        found = gathered.answer(each)
        seen.append((each, found, proofs(found, gathered.wrong)))
    chosen, found, findings = max(seen, key=lambda each: _hardness(each[1], each[2]))
    by_supply = _weights(findings)
    return PowerResult(
        path=path,
        name=gathered.plan.show.title,
        day=chosen.id,
        day_name=chosen.name,
        day_chosen=bool(day),
        call=clock(chosen.call_min),
        wrap=clock(chosen.wrap_min),
        call_min=chosen.call_min,
        wrap_min=chosen.wrap_min,
        coldest_c=chosen.coldest_c,
        reserve=gathered.plan.power.reserve,
        days=tuple(_day_row(each, told) for each, _, told in seen),
        batteries=tuple(_battery_row(run, by_supply) for run in found.runs),
        stock=tuple(
            StockRow(
                id=each.battery.id,
                name=each.battery.name,
                in_use=each.in_use,
                needed=each.needed,
                spares_needed=each.spares_needed,
                owned=each.owned,
                missing=each.missing,
            )
            for each in found.stock
        ),
        wires=tuple(_fed_row(each) for each in found.wires),
        charging=_charge_rows(found),
        findings=tuple(sorted(findings, key=lambda each: list(Weight).index(each.weight))),
        notes=_notes(gathered, chosen, found),
        cautions=_cautions(found),
    )


def _hardness(found: PowerAnswer, findings: Sequence[Finding]) -> tuple[int, int, float, float]:
    """How hard a day is: stops, watches, energy that it takes, cold."""
    stops = sum(each.weight is Weight.STOP for each in findings)
    watches = sum(each.weight is Weight.WATCH for each in findings)
    used = sum(run.day_wh * run.alike / max(run.usable_wh, 1e-9) for run in found.runs)
    return stops, watches, used, -(found.day.coldest_c if found.day.coldest_c is not None else 99.0)


def _day_row(day: Day, findings: Sequence[Finding]) -> DayRow:
    return DayRow(
        id=day.id,
        name=day.name,
        call=clock(day.call_min),
        wrap=clock(day.wrap_min),
        coldest_c=day.coldest_c,
        stops=sum(each.weight is Weight.STOP for each in findings),
        watches=sum(each.weight is Weight.WATCH for each in findings),
        weight=heaviest(findings),
    )


def _weights(findings: Sequence[Finding]) -> Mapping[str, Weight]:
    """The worst weight by what a finding is about."""
    found: dict[str, list[Finding]] = {}
    for each in findings:
        found.setdefault(each.subject, []).append(each)
    return {name: heaviest(each) for name, each in found.items()}


def _battery_row(run: Run, weights: Mapping[str, Weight]) -> BatteryRow:
    dry, flat = run.first_dry_min, run.flat_min
    if flat is not None and flat >= run.end_min - 0.5:
        flat = None
    return BatteryRow(
        id=run.id,
        name=run.name,
        supply=run.supply.id,
        battery=run.battery.id,
        battery_name=run.battery.name,
        names=run.names or (run.name,),
        in_set=run.in_set,
        alike=run.alike,
        load_w=run.working_w,
        label_wh=run.contents.nameplate_wh * run.in_set,
        set_wh=run.usable_wh,
        day_wh=run.day_wh,
        hours=run.hours,
        temperature_c=run.temperature_c,
        temperature_known=run.temperature_known,
        cold_share=run.cold.share,
        cold_status=run.cold.status,
        health=run.contents.health,
        dry=None if dry is None else time_of_day(dry),
        dry_min=dry,
        flat=None if flat is None else time_of_day(flat),
        flat_min=flat,
        end_min=run.end_min,
        left_h=run.left_h,
        sets_needed=run.sets_needed,
        sets_given=run.given,
        swaps=_swap_rows(run, run.plan.swaps),
        swaps_in_breaks=None if run.plan.all_in_breaks is None else _swap_rows(run, run.plan.all_in_breaks),
        steps=tuple(
            StepRow(start_min=each.start_min, end_min=each.end_min, power_w=each.power_w, is_break=each.is_break)
            for each in run.steps
        ),
        weight=weights.get(run.name, Weight.FINE),
        sentence=explained(run),
    )


def _swap_rows(run: Run, swaps: Sequence[Swap]) -> tuple[SwapRow, ...]:
    return tuple(
        SwapRow(
            at=time_of_day(each.at_min),
            at_min=each.at_min,
            in_break=each.in_break,
            told=each.told,
            batteries=run.in_set * run.alike,
        )
        for each in swaps
    )


def explained(run: Run) -> str:
    """Why batteries are changed as they are, in words."""
    swaps = run.plan.swaps
    if run.day_wh == 0:
        return "It takes nothing on this day."
    kept = f"before the reserve of {100 * run.reserve:.0f} % is begun" if run.reserve else "before it is empty"
    if not run.plan.fits:
        return f"No sensible number of changes carries it: one set lasts {60 * run.hours:.0f} min."
    if not swaps:
        return f"One set of {wh(run.planned_wh)} is enough for the day's {wh(run.day_wh)} {kept}."
    times = several([each.told for each in swaps], 8)
    fewest = (
        f"The day takes {wh(run.day_wh)} and a set gives {wh(run.planned_wh)} {kept}, so {len(swaps) + 1} sets "
        f"and {count(len(swaps), 'change')} are the fewest: {times}"
    )
    outside = len(run.plan.outside)
    if not outside:
        return f"{fewest}, all in breaks."
    more = run.plan.all_in_breaks
    also = (
        f"; {len(more)} changes would all lie in breaks: {several([each.told for each in more], 8)}"
        if more is not None
        else "; breaks are too far apart for all of them"
    )
    return f"{fewest}; {outside} of them in the middle of work{also}."


def _fed_row(end: Fed) -> FedRow:
    wire = end.wire
    better = end.better.name if end.better and end.conductor and end.better.mm2 > end.conductor.mm2 + 1e-9 else ""
    return FedRow(
        supply=end.supply,
        feeding=end.feeding,
        name=end.name,
        load_w=end.load_w,
        wire=end.conductor.name if end.conductor else "",
        length_m=wire.length_m if wire else 0.0,
        full_v=end.full_v,
        nominal_v=end.nominal_v,
        low_v=end.low_v,
        input_v=str(end.input_v) if end.input_v else "",
        lost_percent=100 * end.lost_share,
        worst_a=end.worst_a,
        fuse_a=wire.fuse_a if wire else None,
        fuse_wanted_a=end.fuse.fuse_a,
        fuse_fits=_fits(end),
        fuse_sentence=end.fuse.sentence,
        better=better,
        short_circuit_a=end.short_circuit_a,
        inrush_a=end.inrush.peak_a if end.inrush else None,
    )


def _fits(end: Fed) -> bool:
    fuse = end.wire.fuse_a if end.wire else None
    carries = end.fuse.most_a
    return fuse is not None and fuse >= end.fuse.least_a - 1e-6 and (carries is None or fuse <= carries)


def _charge_rows(found: PowerAnswer) -> tuple[ChargeRow, ...]:
    late = set(map(id, found.charging.late))
    return tuple(
        ChargeRow(
            battery=each.job.battery.id,
            battery_name=each.job.battery.name,
            of=each.job.run.name,
            number=each.job.number + 1,
            taken_wh=each.job.taken_wh,
            charge_w=each.job.charge_w,
            hours=each.job.hours,
            socket="" if each.socket is None else each.socket.name or each.socket.id,
            start="" if math.isnan(each.start_min) else clock(each.start_min),
            end="" if math.isnan(each.end_min) else clock(each.end_min),
            start_min=each.start_min,
            end_min=each.end_min,
            late=id(each) in late,
        )
        for each in found.charging.charges
    )


def _notes(gathered: Gathered, day: Day, found: PowerAnswer) -> tuple[str, ...]:
    notes = []
    if day.assumed:
        notes.append(f"Call or wrap is not written; {clock(day.call_min)} to {clock(day.wrap_min)} was taken.")
    if not gathered.plan.power.phases and gathered.plan.power.supplies:
        notes.append("No phases are written: everything works from call to wrap, and there are no breaks.")
    elif not any(phase.break_ for phase in gathered.plan.power.phases) and gathered.plan.power.supplies:
        notes.append("No phase is a break, so that no change of batteries can be put into one.")
    guessed = sorted({load.name for load in gathered.loads.values() if load.told})
    if guessed:
        first = next(load.told for load in gathered.loads.values() if load.name == guessed[0] and load.told)
        notes.append(f"The draw of {several(guessed)} is not written for its radio power: {first}.")
    if any(run.cold.share != 1 and run.cold.status != "own" for run in found.runs):
        notes.append(_TEMPERATURES_NOTE)
    notes += _of_chemistries(found.runs)
    if any(end.wire for end in found.wires):
        notes.append("Wires are worked out at 40 °C, without terminals and connectors, which lose more on top.")
    return tuple(notes)


def _of_chemistries(runs: Sequence[Run]) -> list[str]:
    """What is often mistaken about the batteries in use."""
    notes = []
    lead = next((run for run in runs if run.contents.exponent > 1 and not run.battery.cell), None)
    if lead is not None and lead.contents.voltage_v and lead.working_w > 0:
        rated_h = lead.battery.rated_hours or chemistry(lead.battery.chemistry).rated_hours
        volts = lead.contents.voltage_v
        current = lead.working_w / volts / max(1, lead.in_set // lead.supply.in_series)
        if current < _MOST_A:
            forms = both_forms(lead.contents.nameplate_wh / volts, rated_h, lead.contents.exponent, current)
            notes.append(f"{lead.battery.name}: {forms.sentence} The first is used.")
    flat = next((run for run in runs if run.battery.chemistry == "lifepo4" and run.contents.voltage_v), None)
    if flat is not None:
        volts = flat.contents.voltage_v or 0.0
        cells = pack_voltages(volts, "lifepo4").cells
        notes.append(f"{flat.battery.name}: {read_resting(volts, cells).sentence}")
    return notes


def _cautions(found: PowerAnswer) -> tuple[str, ...]:
    from rollsound.facts import cautions

    topics = []
    if any(chemistry(run.battery.chemistry).lithium for run in found.runs):
        topics.append("lithium")
    if found.wires:
        topics.append("dc-wiring")
    if found.charging.charges:
        topics.append("charging")
    if found.charging.charges or any(supply.mains for supply in found.power.supplies):
        topics.append("mains")
    return tuple(each.text for topic in topics for each in cautions(topic))


def power_chart(result: PowerResult, *, narrow: bool = False) -> Chart:
    """The day's batteries as lanes with their changes and dry times."""
    from rollsound.report.power_lanes_chart import Lane, LaneSet, power_lanes

    lanes = []
    for row in result.batteries:
        wanted = [each for each in row.steps if each.power_w > 0]
        if not wanted:
            continue
        edges = [wanted[0].start_min, *(each.at_min for each in row.swaps), row.end_min]
        sets: list[LaneSet] = []
        for n, (start, end) in enumerate(pairwise(edges)):
            owned = n < row.sets_given
            if owned and row.flat_min is not None and start < row.flat_min < end:
                sets.append(LaneSet(n + 1, start, row.flat_min))
                start, owned = row.flat_min, False
            sets.append(LaneSet(n + 1, start, end, owned))
        short = several(row.names, 2)
        name = short if row.alike == len(row.names) else f"{short} × {row.alike}"
        told = f"{row.battery_name}, {row.load_w:.1f} W, {hours(row.hours)} a set"
        changes = tuple(each.at_min for each in row.swaps if not each.in_break)
        lanes.append(Lane(name, tuple(sets), told, row.flat_min, changes))
    breaks = sorted({(each.start_min, each.end_min) for row in result.batteries for each in row.steps if each.is_break})
    label = f"{result.name}, {result.day_name}" if result.day_name else result.name
    return power_lanes(label, lanes, call_min=result.call_min, wrap_min=result.wrap_min, breaks=breaks, narrow=narrow)


def write_power_chart(result: PowerResult, path: Path) -> PowerResult:
    """Draw the day into a file: .png, .svg or .pdf.

    Raises
    ------
    InputError
        when the name ends otherwise
    StorageError
        when the disk fails
    """
    from rollsound.actions.reach import write_chart

    write_chart(power_chart(result), path)
    return result.model_copy(update={"chart_file": str(path)})
