"""What reaches an ear from an amplifier, and what a day of it comes to by the rules on noise at work."""

from __future__ import annotations

import functools
import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import TypeAlias

from rollsound.errors import InputError
from rollsound.facts import table
from rollsound.facts.rows import read_rows, row_of
from rollsound.rig.volts import HEARING_PA, dbu_of_dbv, dbv_of_dbu
from rollsound.written import LevelDba, Part

TABLE = "rig_hearing"
ESTIMATE_DB = 5.0
"""Either way, of a level at the ear that is reckoned from a sensitivity."""
_SLOPES = {3.0: 10.0, 5.0: 16.61}
"""As the rules print them: the exchange over the logarithm of two, rounded."""
Exposure: TypeAlias = tuple[float, float]
"""Hours and the level in dB(A) that they were spent at."""


class Rule(Part):
    """A rule that gives a time to a level: a criterion over some hours, and what halves the time."""

    id: str
    name: str
    criterion: LevelDba
    hours: float
    exchange_db: float
    source: str
    status: str


class Window(Part):
    """How far sound may lie off its picture."""

    id: str
    name: str
    early_ms: float
    late_ms: float
    source: str
    status: str


class _Action(Part):
    id: str
    level: LevelDba
    source: str
    status: str


@dataclass(frozen=True)
class Day:
    """A day of listening by every rule."""

    niosh_percent: float
    osha_percent: float
    day_dba: float
    """L_EX,8h of Directive 2003/10/EC: what would do the same in eight hours."""
    weekly_percent: float
    """Of a week's allowance by ITU-T H.870, mode 1: advice."""
    action: str
    """``lower``, ``upper``, ``limit``, or nothing where the day stays under all."""


@functools.cache
def rules() -> Mapping[str, Rule]:
    """Rules by id."""
    return read_rows(TABLE, "rule", Rule)


@functools.cache
def windows() -> Mapping[str, Window]:
    """Windows of sound against picture by id."""
    return read_rows(TABLE, "lip-sync", Window)


@functools.cache
def _actions() -> tuple[tuple[str, float], ...]:
    """Action values and the limit in dB(A) over eight hours, the lowest first."""
    return tuple((id, float(row.level)) for id, row in read_rows(TABLE, "action", _Action).items())


def action_dba(id: str) -> float:
    """An action value: ``lower``, ``upper`` or ``limit``."""
    return dict(_actions())[id]


def may_last_h(level_dba: float, rule: str = "niosh") -> float:
    """How long a level may last in a day by a rule.

    Raises
    ------
    InputError
        when there is no such rule
    """
    row = row_of(rules(), rule, "rule on noise")
    return float(row.hours / 2.0 ** ((level_dba - float(row.criterion)) / row.exchange_db))


def dose_percent(exposures: Iterable[Exposure], rule: str = "niosh") -> float:
    """The share of a day's allowance that hours at levels use up.

    Raises
    ------
    InputError
        when there is no such rule, or hours are less than none
    """
    return 100.0 * sum(_hours(hours) / may_last_h(level, rule) for hours, level in exposures)


def mean_dba(dose: float, rule: str = "niosh") -> float:
    """The level that uses up a dose in the rule's hours (TWA)."""
    row = row_of(rules(), rule, "rule on noise")
    if dose <= 0.0:
        return -math.inf
    slope = _SLOPES.get(row.exchange_db, row.exchange_db / math.log10(2.0))
    return slope * math.log10(dose / 100.0) + float(row.criterion)


def day_dba(exposures: Iterable[Exposure]) -> float:
    """L_EX,8h: equal energy over eight hours.

    Raises
    ------
    InputError
        when hours are less than none
    """
    energy = sum(_hours(hours) * 10.0 ** (level / 10.0) for hours, level in exposures)
    return 10.0 * math.log10(energy / 8.0) if energy > 0.0 else -math.inf


def weekly_hours(level_dba: float, mode: str = "mode-1") -> float:
    """Hours in a week at a level by ITU-T H.870: advice, written for personal players."""
    return _weekly_pa2h(mode) / pascals(level_dba) ** 2


def weekly_percent(exposures: Iterable[Exposure], mode: str = "mode-1") -> float:
    """Share of a week's allowance by ITU-T H.870."""
    return 100.0 * sum(_hours(hours) * pascals(level) ** 2 for hours, level in exposures) / _weekly_pa2h(mode)


def day(exposures: Iterable[Exposure]) -> Day:
    """A day by every rule.

    Raises
    ------
    InputError
        when hours are less than none
    """
    known = list(exposures)
    level = day_dba(known)
    passed = [id for id, dba in _actions() if level >= dba]
    return Day(
        dose_percent(known, "niosh"),
        dose_percent(known, "osha"),
        level,
        weekly_percent(known),
        passed[-1] if passed else "",
    )


def pascals(level_db: float) -> float:
    """Pressure of a sound level."""
    return float(HEARING_PA * 10.0 ** (level_db / 20.0))


def milliwatts(voltage_v: float, impedance_ohm: float) -> float:
    """Power in a load."""
    return voltage_v**2 / impedance_ohm * 1000.0


def by_power_db(sensitivity_db_mw: float, power_mw: float) -> float:
    """Sound level of headphones at a power."""
    return sensitivity_db_mw + 10.0 * math.log10(power_mw)


def at_ear_db(level_dbu: float, sensitivity_db_mw: float, impedance_ohm: float) -> float:
    """Sound level of headphones at the level across them. An estimate of 5 dB either way."""
    return sensitivity_db_mw + 10.0 * math.log10(1000.0 / impedance_ohm) + dbv_of_dbu(level_dbu)


def drive_dbu(level_db: float, sensitivity_db_mw: float, impedance_ohm: float) -> float:
    """The level across headphones that gives a sound level."""
    return dbu_of_dbv(level_db - sensitivity_db_mw - 10.0 * math.log10(1000.0 / impedance_ohm))


def into_load_db(own_ohm: float, load_ohm: float) -> float:
    """What an amplifier's own resistance loses into a load, as a negative number."""
    return 20.0 * math.log10(load_ohm / (load_ohm + own_ohm))


def frames(offset_s: float, frame_rate: float) -> float:
    """An offset in frames."""
    return offset_s * frame_rate


def inside(early_s: float, window: str) -> bool:
    """Whether sound that comes early by so much (late, when negative) lies inside a window.

    Raises
    ------
    InputError
        when there is no such window
    """
    row = row_of(windows(), window, "window of sound against picture")
    return -row.late_ms / 1e3 <= early_s <= row.early_ms / 1e3


def _weekly_pa2h(mode: str) -> float:
    return {str(row["id"]): float(row["pa2h"]) for row in table(TABLE)["weekly"]}[mode]


def _hours(hours: float) -> float:
    if hours < 0.0:
        raise InputError(f"{hours:g} hours are less than none; write how long it is listened to")
    return hours
