"""What microphones give and need: sensitivity, noise, phantom supply, and digital ones by their full scale."""

from __future__ import annotations

import functools
import math
from collections.abc import Mapping
from dataclasses import dataclass

from rollsound.facts.rows import read_rows, row_of
from rollsound.rig.volts import PASCAL_DB, TABLE, dbu_of_dbv
from rollsound.written import Part

_BOLTZMANN = 1.380649e-23
FLOAT_OVER_FULL_SCALE_DB = 20.0 * math.log10((2.0 - 2.0**-23) * 2.0**127)
"""How far a sample in 32-bit float may go over full scale: it undoes nothing that a stage before it clipped."""

FLOAT_RANGE_DB = 20.0 * math.log10((2.0 - 2.0**-23) * 2.0**127 / 2.0**-126)
"""From the smallest sample that keeps its whole precision to the largest."""


class Phantom(Part):
    """A phantom supply: its open voltage, the resistor in each leg, and the most that a microphone may draw."""

    id: str
    voltage_v: float
    resistor_ohm: float
    most_ma: float
    source: str
    status: str


@dataclass(frozen=True)
class Fed:
    """What is left of a phantom supply at a microphone."""

    voltage_v: float
    power_mw: float
    within: bool
    """Whether the current is one that the supply is specified for."""


@functools.cache
def phantoms() -> Mapping[str, Phantom]:
    """Phantom supplies by id."""
    return read_rows(TABLE, "phantom", Phantom)


def dbv_per_pascal(sensitivity_mv_pa: float) -> float:
    """A sensitivity in dB re 1 V/Pa."""
    return 20.0 * math.log10(sensitivity_mv_pa / 1000.0)


def dbu_per_pascal(sensitivity_mv_pa: float) -> float:
    """What a microphone gives at 94 dB SPL, in dBu."""
    return dbu_of_dbv(dbv_per_pascal(sensitivity_mv_pa))


def gives_dbu(sensitivity_mv_pa: float, level_spl: float) -> float:
    """What a microphone gives at a sound level, in dBu."""
    return dbu_per_pascal(sensitivity_mv_pa) + level_spl - PASCAL_DB


def heard_spl(sensitivity_mv_pa: float, level_dbu: float) -> float:
    """The sound level at which a microphone gives this; of a noise: its equivalent sound level."""
    return level_dbu - dbu_per_pascal(sensitivity_mv_pa) + PASCAL_DB


def thermal_dbu(resistance_ohm: float, bandwidth_hz: float = 20_000.0, temperature_c: float = 20.0) -> float:
    """Noise of a resistance, unweighted: no preamplifier has less."""
    voltage_v = math.sqrt(4.0 * _BOLTZMANN * (temperature_c + 273.15) * resistance_ohm * bandwidth_hz)
    return dbu_of_dbv(20.0 * math.log10(voltage_v))


def full_scale_spl(sensitivity_dbfs: float) -> float:
    """Sound level at full scale of a digital microphone that reads this at 94 dB SPL."""
    return PASCAL_DB - sensitivity_dbfs


def sine_range_db(bits: int) -> float:
    """Full-scale sine over the noise of an ideal converter's steps."""
    return float(20.0 * math.log10(2.0**bits * math.sqrt(1.5)))


def fed(supply: str, current_ma: float) -> Fed:
    """What a phantom supply leaves at a microphone that draws a current, both legs sharing it.

    Raises
    ------
    InputError
        when there is no such supply
    """
    row = row_of(phantoms(), supply, "phantom supply")
    voltage_v = max(row.voltage_v - current_ma / 1000.0 * row.resistor_ohm / 2.0, 0.0)
    return Fed(voltage_v, voltage_v * current_ma, current_ma <= row.most_ma)


def most_power(supply: str) -> tuple[float, float]:
    """The most that a phantom supply could deliver through its resistors, in mW, and the current in mA that takes it.

    Raises
    ------
    InputError
        when there is no such supply
    """
    row = row_of(phantoms(), supply, "phantom supply")
    inner_ohm = row.resistor_ohm / 2.0
    return row.voltage_v**2 / (4.0 * inner_ohm) * 1000.0, row.voltage_v / (2.0 * inner_ohm) * 1000.0
