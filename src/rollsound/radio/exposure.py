"""Screening of radio worn near the body: on which side of the lines a power lies from which makers must test.

It never says that something is harmful or harmless: a line is about who has to measure, and nothing else.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from rollsound.facts import table
from rollsound.facts.rows import notes_of
from rollsound.radio.elementwise import Array, Values, above_zero, elementwise


@dataclass(frozen=True)
class Line:
    """One screening line: the power up to which no test is asked for."""

    name: str
    limit_mw: float
    below: bool
    """Whether the power lies at or below the line."""
    source: str
    status: str


@dataclass(frozen=True)
class Screening:
    """Where a transmitter lies against all lines."""

    power_mw: float
    freq_hz: float
    distance_m: float
    lines: tuple[Line, ...]
    sentence: str
    advice: str

    @property
    def above(self) -> tuple[Line, ...]:
        """The lines that it lies above."""
        return tuple(line for line in self.lines if not line.below)


def screen(power_mw: float, freq_hz: float, distance_m: float, name: str = "This transmitter") -> Screening:
    """Compare a transmitter with the screening lines.

    Parameters
    ----------
    power_mw
        the greater of conducted and effective radiated power (e.r.p.), averaged
    distance_m
        from its antenna to the skin; nearer than 5 mm counts as 5 mm

    Raises
    ------
    InputError
        when a power or a frequency is not above 0

    Source: EN 50371 (scope) and 47 CFR 1.1307(b)(3)(i).
    """
    power = float(above_zero(power_mw, "a power"))
    rows = table("radio_exposure")
    lines = [
        _line("a low power needs no test (Europe)", rows["low_power"]["limit_mw"], power, rows["low_power"]),
    ]
    if rows["by_distance"]["low_ghz"] <= freq_hz / 1e9 <= rows["by_distance"]["high_ghz"]:
        limit = exempt_mw(freq_hz, distance_m)
        lines.append(_line("exempt at this distance (USA)", limit, power, rows["by_distance"]))
    else:
        lines.append(_line("exempt at any distance (USA)", rows["always"]["limit_mw"], power, rows["always"]))
    screening = tuple(lines)
    above = [line for line in screening if not line.below]
    where = f"{power:g} mW at {freq_hz / 1e6:g} MHz, {distance_m * 1e3:g} mm from the skin"
    if above:
        told = ", ".join(f"{line.limit_mw:.3g} mW ({line.name})" for line in above)
        sentence = (
            f"{name}: {where} is above the screening line of {told}, so its maker must have tested it for radio "
            "exposure; that is no finding of harm. Look for the test in its papers, and keep to its instructions."
        )
    else:
        sentence = (
            f"{name}: {where} is at or below the screening lines from which a maker must test; that is no promise, so "
            "keep to its instructions."
        )
    return Screening(power, freq_hz, distance_m, screening, sentence, rows["about"]["advice"])


def _line(name: str, limit_mw: float, power_mw: float, row: dict[str, object]) -> Line:
    return Line(name, float(limit_mw), power_mw <= limit_mw, str(row["source"]), str(row["status"]))


@elementwise
def exempt_mw(freq_hz: Array, distance_m: Array) -> Values:
    """Power up to which a transmitter is exempt from evaluation at a distance, in mW.

    Nearer than 5 mm counts as 5 mm, farther than 40 cm as 40 cm; not a number outside of 0.3 to 6 GHz.

    Source: 47 CFR 1.1307(b)(3)(i)(B).
    """
    row = table("radio_exposure")["by_distance"]
    freq = above_zero(freq_hz, "a frequency") / 1e9
    far = np.where(freq < row["middle_ghz"], row["low_factor"] * freq, row["high_mw"])
    steep = -np.log10(60 / (far * np.sqrt(freq)))
    ratio = np.clip(np.asarray(distance_m, float) * 100, row["near_cm"], row["middle_cm"]) / row["middle_cm"]
    within = (freq >= row["low_ghz"]) & (freq <= row["high_ghz"])
    return np.where(within, far * np.power(ratio, steep), np.nan)


def exempt_distance_m(power_mw: float, freq_hz: float) -> float:
    """How far from the skin a power is exempt (``exempt_mw``, turned round); not a number where it is at no distance.

    Below the 5 mm where the rule begins, the formula goes on: such a power is exempt wherever the rule holds.
    """
    row = table("radio_exposure")["by_distance"]
    far = exempt_mw(freq_hz, row["middle_cm"] / 100)
    if not power_mw <= far:
        return math.nan
    steep = -math.log10(60 / (far * math.sqrt(freq_hz / 1e9)))
    return float(row["middle_cm"] / 100 * (power_mw / far) ** (1 / steep))


def older_mw(freq_hz: float, distance_m: float, grams: int = 1) -> float:
    """Power of the older American test: P/d·√f no more than 3.0 (1 g) or 7.5 (10 g), P in mW, d in mm, f in GHz.

    Source: KDB 447498, for 50 mm and nearer.
    """
    row = table("radio_exposure")["older"]
    limit = row["limit_1g"] if grams == 1 else row["limit_10g"]
    return float(limit * distance_m * 1e3 / math.sqrt(freq_hz / 1e9))


def absorbed_mw(limit_w_kg: float, grams: float) -> float:
    """Power that, absorbed whole in a mass, comes to a limit: W/kg times g is mW."""
    return limit_w_kg * grams


def notes() -> tuple[str, ...]:
    """What nobody has verified."""
    return notes_of("radio_exposure")
