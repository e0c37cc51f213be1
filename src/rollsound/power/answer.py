"""All that is computed of a power part on one day, gathered once for tables, charts and proofs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from rollsound.power.charging import ChargePlan, charge_plan
from rollsound.power.day import Day
from rollsound.power.load import Inside, Unfed
from rollsound.power.model import PowerPart
from rollsound.power.runs import DayRuns, Run, Stock, runs_of, stock_of
from rollsound.power.tree import Loads, tree_of
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
    wires = wires_of(power, tree_of(power, loads))
    runs = runs_of(*with_wire_losses(power, loads, wires), day, insides)
    return PowerAnswer(
        power=power,
        day_runs=replace(runs, tree=tree_of(power, loads)),
        stock=stock_of(runs.runs, power),
        wires=wires,
        charging=charge_plan(power, runs.runs, day, next_call_min),
        unfed=tuple(unfed),
    )


def with_wire_losses(power: PowerPart, loads: Loads, wires: Sequence[Fed]) -> tuple[PowerPart, Loads]:
    """What batteries really give: every load with what the wires up to it take, at the nominal voltage and full load.

    A load of P at a far end of V takes P/V, and the source gives that current at its own voltage.
    """
    more = dict(loads)
    worse: dict[str, float] = {}
    for end in wires:
        ratio = end.source.nominal_v / end.nominal_v
        if not ratio > 1:  # no wire, or one whose load collapses
            continue
        if end.feeding:
            load = loads[end.supply, end.feeding]
            more[end.supply, end.feeding] = load.times(ratio)
        else:
            worse[end.supply] = ratio
    supplies = tuple(
        # A converter's input goes through its wire; what only passes on has its far ends counted above.
        supply.model_copy(update={"efficiency": supply.efficiency / worse[supply.id]})
        if supply.output_v and supply.id in worse
        else supply
        for supply in power.supplies
    )
    return power.model_copy(update={"supplies": supplies}), more
