"""Power as it would be with other batteries, counts or phases: the same day on a copy of the plan, compared."""

from __future__ import annotations

from collections.abc import Iterable

from pydantic import ValidationError

from rollsound.actions.power import of_plan
from rollsound.actions.power_gather import Gathered
from rollsound.actions.power_model import BatteryRow, ChangedRow, Compared, PowerResult, WhatIf
from rollsound.errors import InputError
from rollsound.finding import Weight
from rollsound.mistakes import sentence_of
from rollsound.power.model import PowerPart
from rollsound.power.telling import hours
from rollsound.quantities import count
from rollsound.radio.model import RadioPart
from rollsound.show.model import Plan


def what_if(plan: Plan, change: WhatIf, day: str = "") -> Compared:
    """The same day with other batteries, counts or phases, on a copy; nothing is saved.

    Raises
    ------
    InputError
        when the change names what is not there, or a value that cannot be
    """
    before = of_plan(Gathered(plan), day)
    after = of_plan(Gathered(tried(plan, change), change.temperature_c), before.day)
    rows = []
    later = {row.id: row for row in after.batteries}
    for row in before.batteries:
        now = later.get(row.id)
        if now is not None and _differs(row, now):
            rows.append(_changed(row, now))
    old, new = _heavy(before), _heavy(after)
    solved, fresh = tuple(old[key] for key in old if key not in new), tuple(new[key] for key in new if key not in old)
    parts = [f"{len(solved)} solved" if solved else "", f"{len(fresh)} new" if fresh else ""]
    told = ", ".join(part for part in parts if part) or "nothing that weighs changes"
    return Compared(
        before=before,
        after=after,
        changed=tuple(rows),
        solved=solved,
        new=fresh,
        sentence=f"With this change: {told}; {_left(after)}",
    )


def _heavy(result: PowerResult) -> dict[tuple[str, str], str]:
    return {(each.subject, each.kind): each.what for each in result.findings if each.weight is not Weight.FINE}


def _left(result: PowerResult) -> str:
    stops = sum(each.weight is Weight.STOP for each in result.findings)
    return f"{count(stops, 'stop')} left." if stops else "nothing stops the day."


def _differs(a: BatteryRow, b: BatteryRow) -> bool:
    return (a.hours, a.flat, a.swaps, a.battery, a.left_h) != (b.hours, b.flat, b.swaps, b.battery, b.left_h)


def _changed(a: BatteryRow, b: BatteryRow) -> ChangedRow:
    flat = {
        (True, True): f"still flat, at {b.flat} in place of {a.flat}",
        (True, False): "lasts the day",
        (False, True): f"flat at {b.flat}",
        (False, False): "lasts the day as before",
    }[a.flat is not None, b.flat is not None]
    return ChangedRow(
        id=a.id,
        name=a.name,
        hours_before=a.hours,
        hours_after=b.hours,
        swaps_before=len(a.swaps),
        swaps_after=len(b.swaps),
        flat_before=a.flat,
        flat_after=b.flat,
        left_before_h=a.left_h,
        left_after_h=b.left_h,
        sentence=f"{a.name}: {hours(b.hours)} a set in place of {hours(a.hours)}, "
        f"{count(len(b.swaps), 'change')} in place of {len(a.swaps)}; {flat}.",
    )


def tried(plan: Plan, change: WhatIf) -> Plan:
    """A copy of a plan with a change.

    Raises
    ------
    InputError
        when the change names what is not there, or a value that cannot be
    """
    part = plan.power
    _known(change.battery_of, {each.id for each in part.supplies}, "supply")
    _known(change.battery_of.values(), {each.id for each in part.batteries}, "kind of battery")
    _known(change.count_of, {each.id for each in part.batteries}, "kind of battery")
    _known(change.parallel_of, {each.id for each in part.supplies}, "supply")
    for phases in (change.state_of, change.break_of, change.times_of):
        _known(phases, {each.id for each in part.phases}, "phase")
    if any(number < 0 for number in change.count_of.values()) or any(n < 1 for n in change.parallel_of.values()):
        raise InputError("a number of batteries cannot be under 0, and of those in parallel not under 1")
    document = part.model_dump(by_alias=True)
    for battery in document["batteries"]:
        battery["count"] = change.count_of.get(battery["id"], battery["count"])
    for supply in document["supplies"]:
        if supply["id"] in change.battery_of:
            supply |= {"battery": change.battery_of[supply["id"]], "from_supply": "", "mains": False}
        supply["in_parallel"] = change.parallel_of.get(supply["id"], supply["in_parallel"])
    for phase in document["phases"]:
        phase["state"] = change.state_of.get(phase["id"], phase["state"])
        phase["break"] = change.break_of.get(phase["id"], phase["break"])
        if phase["id"] in change.times_of:
            phase["from"], phase["to"] = change.times_of[phase["id"]]
    if change.reserve is not None:
        document["reserve"] = change.reserve
    try:
        made = PowerPart.model_validate(document)
    except ValidationError as error:
        first = error.errors(include_url=False)[0]
        raise InputError(f"this cannot be tried: {first['loc'][-1]} {sentence_of(first)}") from error
    return plan.model_copy(update={"power": made, "radio": _radio(plan, change)})


def _radio(plan: Plan, change: WhatIf) -> RadioPart:
    sending = plan.radio.transmitters
    _known(change.radio_power_of, {each.id for each in sending}, "transmitter")
    if any(not 0 <= power < 1e6 for power in change.radio_power_of.values()):
        raise InputError("a radio power is 0 mW or more, and less than a kilowatt")
    changed = tuple(
        each.model_copy(update={"power_mw": change.radio_power_of.get(each.id, each.power_mw)}) for each in sending
    )
    return plan.radio.model_copy(update={"transmitters": changed})


def _known(names: Iterable[str], there: set[str], what: str) -> None:
    for name in names:
        if name not in there:
            raise InputError(f"the plan has no {what} '{name}'; there are: {', '.join(sorted(there)) or 'none yet'}")
