"""Every battery in use over the day: its load, when it is dry, when it is changed, and how many that takes."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from rollsound.power.cold import ColdShare, share_of
from rollsound.power.contents import Contents, contents_of
from rollsound.power.day import Day, Stretch, timetables
from rollsound.power.load import Inside, Load
from rollsound.power.model import Battery, PowerPart, Supply
from rollsound.power.swaps import SwapPlan, drained, swap_plan, time_at
from rollsound.power.tree import Loads, Step, Tree, steps, tree_of
from rollsound.quantities import several

_MOST_SETS = 1_000_000
USUAL_C = 20.0
"""Taken where the plan knows no temperature."""


@dataclass(frozen=True)
class Run:
    """One set of batteries in use, or several that are alike (``alike``), over a day."""

    id: str
    name: str
    supply: Supply
    battery: Battery
    contents: Contents
    in_set: int
    """Batteries that are on it at one time."""
    alike: int
    steps: tuple[Step, ...]
    temperature_c: float
    temperature_known: bool
    cold: ColdShare
    reserve: float
    plan: SwapPlan
    working_w: float
    """What is taken out of the batteries when all that it feeds works."""
    given: int = 0
    """Sets that the batteries owned suffice for, of one of those alike."""
    inside: Inside | None = None
    """A thing with its battery built in, where it is one."""
    names: tuple[str, ...] = ()
    """Of all that are told together; empty where it is one."""

    @property
    def many(self) -> bool:
        """Whether several things are told together."""
        return len(self.names) > 1

    @property
    def usable_wh(self) -> float:
        """What one set gives until it is at its depth."""
        return self.contents.usable_wh(self.cold.share) * self.in_set

    @property
    def planned_wh(self) -> float:
        """What one set gives before its reserve is begun."""
        return self.usable_wh * (1 - self.reserve)

    @property
    def losing(self) -> Callable[[float], float]:
        """What it loses an hour at a power."""
        return self.contents.losing(max(1, self.in_set // self.supply.in_series))

    @property
    def day_wh(self) -> float:
        """What the day takes, counted as what the batteries lose."""
        return drained(self.steps, self.losing)

    @property
    def hours(self) -> float:
        """Hours of one set at the working load, reserve included."""
        rate = self.losing(self.working_w)
        return math.inf if rate == 0 else self.usable_wh / rate

    @property
    def sets_needed(self) -> int:
        """Sets for one of those alike, so that no reserve is begun."""
        if self.day_wh <= 0:
            return 0
        return len(self.plan.swaps) + 1 if self.plan.fits else sets_for(self.day_wh, self.planned_wh)

    @property
    def sets_least(self) -> int:
        """Sets that carry the day if reserves are used up."""
        return sets_for(self.day_wh, self.usable_wh) if self.day_wh > 0 else 0

    @property
    def batteries_needed(self) -> int:
        """Batteries that the day takes, over all alike."""
        return self.sets_needed * self.in_set * self.alike

    @property
    def first_dry_min(self) -> float | None:
        """When the first set would be dry without a change; none when it lasts."""
        return time_at(self.steps, self.usable_wh, self.losing)

    @property
    def flat_min(self) -> float | None:
        """When it goes flat with the batteries that it is given; none when it lasts."""
        return time_at(self.steps, self.usable_wh * self.given, self.losing)

    @property
    def end_min(self) -> float:
        """When it is last wanted."""
        return max((step.end_min for step in self.steps if step.power_w > 0), default=0.0)

    @property
    def left_h(self) -> float:
        """Hours at the working load that the last set still has at the end, reserve included."""
        rate = self.losing(self.working_w)
        return math.inf if rate == 0 else max(0.0, self.usable_wh - self.last_set_wh) / rate

    @property
    def last_set_wh(self) -> float:
        """What the day takes out of the last set."""
        return self.day_wh - sum(self.set_wh[:-1])

    @property
    def set_wh(self) -> tuple[float, ...]:
        """What the day takes out of each set, in order."""
        times = [swap.at_min for swap in self.plan.swaps]
        edges = [-math.inf, *times, math.inf]
        return tuple(drained(_between(self.steps, a, b), self.losing) for a, b in pairwise(edges))


def sets_for(day_wh: float, set_wh: float) -> int:
    """Whole sets for a day; beyond a million nobody counts."""
    return int(min(_MOST_SETS, math.ceil((day_wh - 1e-6) / set_wh))) if day_wh / set_wh < _MOST_SETS else _MOST_SETS


def _between(parts: Sequence[Step], start: float, end: float) -> list[Step]:
    found = []
    for step in parts:
        first, last = max(step.start_min, start), min(step.end_min, end)
        if last > first:
            found.append(replace(step, start_min=first, end_min=last))
    return found


@dataclass(frozen=True)
class DayRuns:
    """All runs of a day, and the tree that they come from."""

    day: Day
    tree: Tree
    tables: Mapping[str, tuple[Stretch, ...]]
    runs: tuple[Run, ...]


def runs_of(power: PowerPart, loads: Loads, day: Day, insides: Sequence[Inside] = ()) -> DayRuns:
    """Every battery in use over a day.

    Supplies whose battery is not there, or has no capacity, have no run: naming tells of them.

    Parameters
    ----------
    loads
        what is fed
    insides
        things that run on a battery of their own
    """
    tree = tree_of(power, loads)
    tables = timetables(day, power.phases, power.supplies)
    batteries = {battery.id: battery for battery in power.batteries}
    found: list[Run] = []
    for supply in power.supplies:
        battery = batteries.get(supply.battery)
        if battery is None or supply.id in tree.loop or supply.from_supply in tree.supplies or supply.mains:
            continue
        found += _of_supply(power, tree, tables, day, supply, battery)
    found += [_of_inside(power, day, each) for each in insides]
    return DayRuns(day, tree, tables, together(given(found, power)))


def _of_supply(
    power: PowerPart,
    tree: Tree,
    tables: Mapping[str, tuple[Stretch, ...]],
    day: Day,
    supply: Supply,
    battery: Battery,
) -> Iterator[Run]:
    in_set = supply.in_parallel * supply.in_series
    if not supply.each:
        parts = steps(tree, supply.id, tables)
        yield _run(
            power,
            day,
            supply,
            battery,
            supply.id,
            supply.name or supply.id,
            in_set,
            1,
            parts,
            tree.input_w(supply.id, {}),
        )
        return
    for feeding, load in tree.fed(supply.id):
        one = replace(load, count=1)
        parts = _of_one(tables.get(supply.id, ()), one, supply.efficiency)
        yield _run(
            power,
            day,
            supply,
            battery,
            f"{supply.id}/{feeding.id}",
            load.name,
            in_set,
            load.count,
            parts,
            one.draw_w("working") / supply.efficiency,
        )


def _of_one(parts: Sequence[Stretch], load: Load, efficiency: float) -> tuple[Step, ...]:
    return tuple(
        Step(part.start_min, part.end_min, load.draw_w(part.state) / efficiency, part.is_break) for part in parts
    )


def _of_inside(power: PowerPart, day: Day, inside: Inside) -> Run:
    supply = Supply(id=f"inside-{inside.load.id}"[:64], name=inside.load.name, each=True)
    battery = Battery.model_validate(
        {
            "id": supply.id,
            "name": "its own battery",
            "chemistry": inside.chemistry,
            "voltage": f"{inside.voltage_v:.9g} V",
            "capacity": f"{inside.capacity_wh:.9g} Wh",
            "count": inside.load.count,
        }
    )
    tables = timetables(day, power.phases, (supply,))
    one = replace(inside.load, count=1)
    parts = _of_one(tables[supply.id], one, 1.0)
    run = _run(
        power, day, supply, battery, supply.id, inside.load.name, 1, inside.load.count, parts, one.draw_w("working")
    )
    # What is built in is not changed: it has what it has.
    return replace(run, inside=inside, plan=run.plan if inside.removable else SwapPlan((), True, None))


def _run(
    power: PowerPart,
    day: Day,
    supply: Supply,
    battery: Battery,
    id: str,
    name: str,
    in_set: int,
    alike: int,
    parts: tuple[Step, ...],
    working_w: float,
) -> Run:
    degrees = temperature_of(supply, day)
    cold = share_of(battery, USUAL_C if degrees is None else degrees, power)
    made = Run(
        id=id,
        name=name,
        supply=supply,
        battery=battery,
        contents=contents_of(battery),
        in_set=in_set,
        alike=alike,
        steps=parts,
        temperature_c=USUAL_C if degrees is None else degrees,
        temperature_known=degrees is not None,
        cold=cold,
        reserve=power.reserve,
        plan=SwapPlan((), True, None),
        working_w=working_w,
    )
    return replace(made, plan=swap_plan(parts, made.planned_wh, made.losing))


def temperature_of(supply: Supply, day: Day) -> float | None:
    """The coldest that a supply's batteries get: as written for it, of its site, or of all the day's sites."""
    if supply.temperature_c is not None:
        return supply.temperature_c.low
    return day.coldest_at(supply.site) if supply.site else day.coldest_c


def given(runs: Sequence[Run], power: PowerPart) -> tuple[Run, ...]:
    """Share out the batteries that are owned: a first set for each in the plan's order, then a further one for each.

    Those alike are given the same.
    """
    left = {battery.id: battery.count for battery in power.batteries}
    left |= {run.battery.id: run.battery.count for run in runs if run.inside}
    sets = dict.fromkeys((run.id for run in runs), 0)
    going = True
    while going:
        going = False
        for run in runs:
            batch = run.in_set * run.alike
            if sets[run.id] < max(1, run.sets_needed) and left[run.battery.id] >= batch > 0:
                left[run.battery.id] -= batch
                sets[run.id] += 1
                going = True
    return tuple(replace(run, given=sets[run.id]) for run in runs)


def together(runs: Sequence[Run]) -> tuple[Run, ...]:
    """Things with batteries of their own that take the same and are given the same, as one lane."""
    groups: dict[object, list[Run]] = {}
    for run in runs:
        key = (run.supply.id, run.steps, run.given) if run.supply.each and not run.inside else run.id
        groups.setdefault(key, []).append(run)
    found = []
    for group in groups.values():
        names = tuple(run.name for run in group)
        name = several(names, 3)
        found.append(
            replace(group[0], name=name, names=names, alike=sum(run.alike for run in group)) if names[1:] else group[0]
        )
    return tuple(found)


@dataclass(frozen=True)
class Stock:
    """One kind of battery: how many the day takes, against those owned."""

    battery: Battery
    in_use: int
    """On supplies at one time."""
    needed: int
    least: int
    """If reserves are used up."""
    owned: int

    @property
    def spares_needed(self) -> int:
        """Beyond those in use."""
        return max(0, self.needed - self.in_use)

    @property
    def missing(self) -> int:
        """To buy, hire or charge in between."""
        return max(0, self.needed - self.owned)


def stock_of(runs: Sequence[Run], power: PowerPart) -> tuple[Stock, ...]:
    """Batteries by kind, those that nothing uses with nought."""
    found = []
    for battery in power.batteries:
        mine = [run for run in runs if run.battery.id == battery.id]
        per_set = [(run, run.in_set * run.alike) for run in mine]
        found.append(
            Stock(
                battery,
                sum(size for _, size in per_set),
                sum(run.batteries_needed for run in mine),
                sum(run.sets_least * size for run, size in per_set),
                battery.count,
            )
        )
    return tuple(found)
