"""All that is computed of a power part on one day, gathered once for tables, charts and proofs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from rollsound.power.charging import ChargePlan, charge_plan
from rollsound.power.day import Day
from rollsound.power.load import Inside, Unfed
from rollsound.power.model import PowerPart
from rollsound.power.runs import DayRuns, Run, Stock, runs_of, stock_of
from rollsound.power.tree import Loads
from rollsound.power.wires import Fed, wires_of


@dataclass(frozen=True)
class PowerAnswer:
    """A day's power."""

    power: PowerPart
    day_runs: DayRuns
    stock: tuple[Stock, ...]
    wires: tuple[Fed, ...]
    charging: ChargePlan
    unfed: tuple[Unfed, ...]

    @property
    def runs(self) -> tuple[Run, ...]:
        """Every battery in use."""
        return self.day_runs.runs

    @property
    def day(self) -> Day:
        """The day that it is about."""
        return self.day_runs.day


def answer(
    power: PowerPart,
    loads: Loads,
    day: Day,
    *,
    insides: Sequence[Inside] = (),
    unfed: Sequence[Unfed] = (),
    next_call_min: float | None = None,
) -> PowerAnswer:
    """Everything of one day.

    Parameters
    ----------
    loads
        what is fed, by supply and feeding
    insides
        things that run on a battery of their own
    unfed
        things that take power and that nothing feeds
    next_call_min
        the next call in minutes from midnight of this day; the same time of the next day when None
    """
    runs = runs_of(power, loads, day, insides)
    return PowerAnswer(
        power=power,
        day_runs=runs,
        stock=stock_of(runs.runs, power),
        wires=wires_of(power, runs.tree),
        charging=charge_plan(power, runs.runs, day, next_call_min),
        unfed=tuple(unfed),
    )
