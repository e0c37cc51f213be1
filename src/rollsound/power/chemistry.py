"""Chemistries: voltages of cells and packs, how they may be charged, and why a voltage tells no percentage."""

from __future__ import annotations

import functools
from dataclasses import dataclass
from itertools import pairwise

from rollsound.errors import InputError
from rollsound.facts import table
from rollsound.facts.rows import notes_of, read_rows, row_of
from rollsound.power.model import Battery
from rollsound.written import Part


class ChemistryRow(Part):
    """One chemistry, as its row has it; voltages of one cell."""

    id: str
    name: str
    cell_nominal_v: float
    cell_full_v: float
    cell_cutoff_v: float
    discharge_least_c: float
    charge_least_c: float | None = None
    charge_most_c: float | None = None
    charge_efficiency: float = 1.0
    charge_c_rate: float = 0.2
    slow_end_factor: float = 1.0
    cycles_to_80: int | None = None
    rechargeable: bool
    lithium: bool
    peukert: float = 1.0
    rated_hours: float = 20.0
    source: str
    status: str


@dataclass(frozen=True)
class PackVoltages:
    """What a pack gives from full to empty, and how many cells it is taken to have in series."""

    full_v: float
    nominal_v: float
    cutoff_v: float
    cells: int


@functools.cache
def chemistries() -> dict[str, ChemistryRow]:
    """All rows by id."""
    return read_rows("power_chemistry", "chemistry", ChemistryRow)


def chemistry(id: str) -> ChemistryRow:
    """The row of an id; raises InputError when there is none."""
    return row_of(chemistries(), id, "chemistry of batteries")


def pack_voltages(
    nominal_v: float, chemistry_id: str, *, full_v: float | None = None, cutoff_v: float | None = None
) -> PackVoltages:
    """Voltages of a pack by its nominal voltage; what its data sheet says goes before the table's cells."""
    row = chemistry(chemistry_id)
    cells = max(1, round(nominal_v / row.cell_nominal_v))
    return PackVoltages(
        full_v=cells * row.cell_full_v if full_v is None else full_v,
        nominal_v=nominal_v,
        cutoff_v=cells * row.cell_cutoff_v if cutoff_v is None else cutoff_v,
        cells=cells,
    )


def voltages_of(battery: Battery, nominal_v: float, in_series: int = 1) -> PackVoltages:
    """Voltages of a battery of the plan, several in series counted together."""
    one = pack_voltages(nominal_v, battery.chemistry, full_v=battery.full_v, cutoff_v=battery.cutoff_v)
    if in_series == 1:
        return one
    return PackVoltages(
        one.full_v * in_series, one.nominal_v * in_series, one.cutoff_v * in_series, one.cells * in_series
    )


@dataclass(frozen=True)
class Reading:
    """What two published tables make of one resting voltage, and the sentence that says what may be known from it."""

    by_table: dict[str, float | None]
    sentence: str


def read_resting(pack_v: float, cells: int = 4) -> Reading:
    """What a LiFePO4 pack's resting voltage tells: near full, near empty, or nothing.

    Source: two published tables that disagree; engineering judgement that neither is used between.
    """
    if cells < 1:
        raise InputError("a pack has one cell or more; write how many are in series")
    cell_v = pack_v / cells
    found = {row["id"]: _between(row["points"], cell_v) for row in table("power_chemistry")["resting"]}
    if cell_v > 3.35:
        told = "it is near full"
    elif cell_v < 3.1:
        told = "it is near empty"
    else:
        values = [value for value in found.values() if value is not None]
        apart = f" ({min(values):.0f} or {max(values):.0f} % by two tables)" if len(values) > 1 else ""
        told = f"its content cannot be told from it{apart}: count the watt-hours taken out"
    return Reading(found, f"At {pack_v:g} V at rest, {told}.")


def _between(points: list[list[float]], cell_v: float) -> float | None:
    """Middle of the printed span of content at a voltage, straight lines between rows; none outside of them."""
    rows = [(volts, (low + high) / 2) for volts, low, high in points]
    if not rows[-1][0] <= cell_v <= rows[0][0]:
        return None
    for (high_v, high), (low_v, low) in pairwise(rows):
        if low_v <= cell_v <= high_v:
            return low + (high - low) * (cell_v - low_v) / (high_v - low_v)
    return None


def notes() -> tuple[str, ...]:
    """Where sources are at odds, and what nobody here has verified."""
    return notes_of("power_chemistry")
