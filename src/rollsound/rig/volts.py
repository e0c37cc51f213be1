"""Levels in volts, dBu, dBV, dBFS and pascals, and what one says in another."""

from __future__ import annotations

import functools
import math
from collections.abc import Iterable, Mapping

from rollsound.facts import table
from rollsound.facts.rows import read_rows
from rollsound.written import LevelDbu, Part

ZERO_DBU_V = math.sqrt(0.6)
"""A milliwatt in 600 ohms."""
DBU_OVER_DBV = 20.0 * math.log10(1.0 / ZERO_DBU_V)
"""2.2185 dB."""
PASCAL_DB = 94.0
"""Sound level of one pascal, as the trade rounds 93.979."""
HEARING_PA = 20e-6
TABLE = "rig_levels"


class LineUp(Part):
    """An alignment level, and the analogue level that stands for full scale with it."""

    id: str
    line_up_dbfs: float
    full_scale: LevelDbu
    source: str
    status: str


@functools.cache
def _line_ups() -> Mapping[str, LineUp]:
    return read_rows(TABLE, "line-up", LineUp)


def volts_of_dbu(level_dbu: float) -> float:
    """Volts, mean square root."""
    return float(ZERO_DBU_V * 10.0 ** (level_dbu / 20.0))


def dbu_of_volts(voltage_v: float) -> float:
    """A voltage in dBu; minus infinity for none."""
    return 20.0 * math.log10(voltage_v / ZERO_DBU_V) if voltage_v > 0.0 else -math.inf


def dbu_of_dbv(level_dbv: float) -> float:
    """dBV to dBu."""
    return level_dbv + DBU_OVER_DBV


def dbv_of_dbu(level_dbu: float) -> float:
    """DBu to dBV."""
    return level_dbu - DBU_OVER_DBV


def dbu_of_dbfs(level_dbfs: float, full_scale_dbu: float) -> float:
    """What a level in samples is at an output whose full scale is this."""
    return level_dbfs + full_scale_dbu


def full_scale_of(line_up_dbfs: float) -> float:
    """The analogue level in dBu that full scale is taken for where an item does not say, by the alignment level."""
    rows = _line_ups().values()
    nearest = min(rows, key=lambda each: abs(each.line_up_dbfs - line_up_dbfs))
    return float(nearest.full_scale)


def spl_of_pascals(pressure_pa: float) -> float:
    """Sound level of a pressure."""
    return 20.0 * math.log10(pressure_pa / HEARING_PA)


def summed_db(levels_db: Iterable[float]) -> float:
    """Levels of sounds that have nothing to do with each other, added by their power."""
    power = sum(10.0 ** (each / 10.0) for each in levels_db if each > -math.inf)
    return 10.0 * math.log10(power) if power > 0.0 else -math.inf


def over_line_up_db(level_dbfs: float, line_up_dbfs: float) -> float:
    """How far a level lies over the alignment level; what a meter that is lined up to it shows."""
    return level_dbfs - line_up_dbfs


def permitted_maximum_dbfs(line_up_dbfs: float) -> float:
    """The level that programme is not to pass on a quasi-peak meter (EBU R68)."""
    return line_up_dbfs + _figure("permitted-maximum")


def worst_peak_dbfs(line_up_dbfs: float) -> float:
    """Where true peaks may come to, with what the meter hides and an operator's error (EBU R68)."""
    return line_up_dbfs + _figure("worst-peak")


def _figure(id: str) -> float:
    return next(float(row["value"]) for row in table(TABLE)["figure"] if row["id"] == id)
