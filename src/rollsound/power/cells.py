"""Cells of body packs: what a set of them gives against what the pack takes at its transmit power."""

from __future__ import annotations

import functools
import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from rollsound.errors import InputError
from rollsound.facts.rows import notes_of, read_rows, row_of
from rollsound.kit.model import DrawByPower
from rollsound.power.energy import runtime_h
from rollsound.power.peukert import exponent_of
from rollsound.written import Part


class CellRow(Part):
    """One kind of cell, as its row has it."""

    id: str
    name: str
    chemistry: str
    voltage_v: float
    capacity_ah: float
    at_a: float | None = None
    second_capacity_ah: float | None = None
    second_at_a: float | None = None
    source: str
    status: str

    def capacity_at_ah(self, current_a: float) -> float:
        """Ampere-hours at a current: a power law through the two that are known, and no more than the first."""
        if self.at_a is None or self.second_at_a is None or self.second_capacity_ah is None or current_a <= self.at_a:
            return self.capacity_ah
        exponent = exponent_of(
            self.at_a, self.capacity_ah / self.at_a, self.second_at_a, self.second_capacity_ah / self.second_at_a
        )
        return float(self.capacity_ah * (self.at_a / current_a) ** (exponent - 1))


@functools.cache
def cells() -> dict[str, CellRow]:
    """All kinds of cells by id."""
    return read_rows("power_cells", "cell", CellRow)


def cell(id: str) -> CellRow:
    """The row of an id; raises InputError when there is none."""
    return row_of(cells(), id, "kind of cell")


@dataclass(frozen=True)
class Draw:
    """What a transmitter takes at a radio power."""

    draw_w: float
    sentence: str
    """Where the figure is from; empty when it is written as such."""


def draw_at_power(rows: Sequence[DrawByPower], power_mw: float) -> Draw:
    """What a transmitter takes at a radio power, on a straight line between the powers that are written.

    Raises
    ------
    InputError
        when nothing is written
    """
    known = sorted((float(row.power_mw), float(row.draw_w)) for row in rows)
    if not known:
        raise InputError("no draw by radio power is written; write draw_by_power for its kind")
    exact = next((draw for power, draw in known if math.isclose(power, power_mw)), None)
    if exact is not None:
        return Draw(exact, "")
    if power_mw < known[0][0]:
        return Draw(known[0][1], f"taken as at {known[0][0]:g} mW, the least that is written")
    if power_mw > known[-1][0]:
        return Draw(known[-1][1], f"taken as at {known[-1][0]:g} mW, the most that is written, so it is more")
    for (low_mw, low_w), (high_mw, high_w) in pairwise(known):
        if low_mw < power_mw < high_mw:
            draw = low_w + (high_w - low_w) * (power_mw - low_mw) / (high_mw - low_mw)
            return Draw(draw, f"between {low_mw:g} and {high_mw:g} mW")
    raise AssertionError("unreachable")


@dataclass(frozen=True)
class CellHours:
    """A set of cells in a pack: hours, and changes over a day."""

    hours: float
    swaps: int
    cells_needed: int


def cell_hours(
    load_w: float,
    count: int,
    capacity_ah: float,
    voltage_v: float,
    *,
    efficiency: float = 0.85,
    cold: float = 1.0,
    day_h: float = 0.0,
) -> CellHours:
    """Hours of a set of cells at a load behind the pack's own converter, and how often they are changed in a day.

    Parameters
    ----------
    capacity_ah, voltage_v
        of one cell, the voltage as its mean over a discharge
    day_h
        hours that the pack is on
    """
    hours = runtime_h(count * capacity_ah * voltage_v, load_w, efficiency=efficiency, cold=cold)
    sets = 1 if not day_h or hours == math.inf else max(1, math.ceil(day_h / hours - 1e-9))
    return CellHours(hours, sets - 1, sets * count)


def notes() -> tuple[str, ...]:
    """Where sources are at odds, and what nobody here has verified."""
    return notes_of("power_cells")
