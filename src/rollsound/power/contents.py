"""What one battery of the plan gives: its label, its age, and how much less at a greater current."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from rollsound.errors import InputError
from rollsound.power.cells import cells
from rollsound.power.chemistry import chemistry
from rollsound.power.energy import health_after
from rollsound.power.model import Battery
from rollsound.power.peukert import exponent_of


@dataclass(frozen=True)
class Contents:
    """One battery when it is warm."""

    nameplate_wh: float
    voltage_v: float | None
    """Nominal, or the mean over a discharge for cells; none where nothing says it."""
    health: float
    depth: float
    exponent: float
    """Of Peukert's law; 1 where the current makes no difference."""
    stated_a: float | None
    """The current that its capacity is stated at."""

    def usable_wh(self, cold: float) -> float:
        """What may be taken out at its stated current, at a share left by the cold."""
        return self.nameplate_wh * self.health * self.depth * cold

    def losing(self, sets: int) -> Callable[[float], float]:
        """What a set of batteries loses in an hour at a power: more than the power above the stated current.

        Parameters
        ----------
        sets
            batteries in parallel that share the current
        """
        if self.exponent == 1 or not self.voltage_v or not self.stated_a:
            return lambda power_w: power_w
        whole_v, stated, more = self.voltage_v, self.stated_a, self.exponent - 1

        def rate(power_w: float) -> float:
            current = power_w / whole_v / sets
            return float(power_w * max(1.0, current / stated) ** more)

        return rate


def contents_of(battery: Battery) -> Contents:
    """What a battery of the plan holds.

    Raises
    ------
    InputError
        when its capacity cannot be known, or its kind of cell is not in the table
    """
    row = cells().get(battery.cell) if battery.cell else None
    if battery.cell and row is None:
        raise InputError(
            f"names the kind of cell '{battery.cell}', which is not there; there are: {', '.join(cells())}"
        )
    voltage = battery.voltage_v if battery.voltage_v is not None else (row.voltage_v if row else None)
    hours = battery.capacity_ah if battery.capacity_ah is not None else (row.capacity_ah if row else None)
    if battery.capacity_wh is not None:
        energy = float(battery.capacity_wh)
    elif hours is not None and voltage is not None:
        energy = float(hours * voltage)
    elif hours is not None:
        raise InputError("has ampere-hours and no voltage; write its nominal voltage, for example 12.8 V")
    else:
        raise InputError("has no capacity; write capacity: 98 Wh, or ampere_hours: 50 Ah with its voltage")
    if energy <= 0 or (voltage is not None and voltage <= 0):
        raise InputError("has a capacity or a voltage of 0; write what is on its label")
    exponent, stated = _exponent(battery, energy, voltage)
    if row and battery.capacity_ah is None and battery.capacity_wh is None and row.at_a and row.second_at_a:
        second = row.second_capacity_ah or row.capacity_ah
        exponent = exponent_of(row.at_a, row.capacity_ah / row.at_a, row.second_at_a, second / row.second_at_a)
        stated = row.at_a
    return Contents(energy, voltage, health_of(battery), battery.depth, exponent, stated)


def health_of(battery: Battery) -> float:
    """What age has left of a battery: as written, else by its cycles, else all of it."""
    if battery.health is not None:
        return battery.health
    if not battery.cycles:
        return 1.0
    whole = battery.cycles_to_80 or chemistry(battery.chemistry).cycles_to_80
    return max(0.01, health_after(battery.cycles, whole)) if whole else 1.0


def _exponent(battery: Battery, energy_wh: float, voltage_v: float | None) -> tuple[float, float | None]:
    row = chemistry(battery.chemistry)
    exponent = row.peukert if battery.peukert is None else battery.peukert
    if exponent == 1 or not voltage_v:
        return 1.0, None
    return exponent, energy_wh / voltage_v / (battery.rated_hours or row.rated_hours)
