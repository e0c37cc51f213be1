"""One figure for a noise of eight octaves: NC, NR, A-weighted level, speech interference level."""

from __future__ import annotations

import functools
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from rollsound.measure.place.octaves import MIDDLES_HZ, SPEECH, nominal
from rollsound.measure.place.tables import nc_curves, nr_coefficients
from rollsound.measure.place.weighting import a_weight_db


@dataclass(frozen=True)
class Rating:
    """A noise against a family of curves.

    ``value`` is the curve that just holds, ``rounded`` the one it is named by, ``controls`` the octave (0 for 63 Hz)
    that forces it. ``beyond`` is -1 where the lowest curve is not reached, 1 where the highest does not hold.
    """

    family: str
    value: float
    rounded: int
    controls: int
    beyond: int = 0

    def __str__(self) -> str:
        under = {-1: "under ", 0: "", 1: "over "}[self.beyond]
        return f"{under}{self.family}-{self.rounded} ({nominal(self.controls)})"


def nc(levels_db_spl: Sequence[float]) -> Rating | None:
    """The NC rating of octave levels 63 Hz to 8 kHz: the lowest curve that no octave exceeds, up to the next 5.

    Octaves that are not a number are left out; none is left when all are. Between curves the levels are joined by
    straight lines, and the lowest two and highest two go on beyond.

    Source: ANSI/ASA S12.2, tangency method, as described in secondary pages.
    """
    names, table = _curves()
    bands = [_along(level, table[:, at], names) for at, level in enumerate(levels_db_spl)]
    found = _highest(bands)
    if found is None:
        return None
    value, controls = found
    rounded = min(max(5 * math.ceil(round(value, 6) / 5), names[0]), names[-1])
    return Rating("NC", value, rounded, controls, -1 if value < names[0] else 1 if value > names[-1] else 0)


def nc_bands(levels_db_spl: Sequence[float]) -> tuple[float, ...]:
    """The curve that each octave alone asks for."""
    names, table = _curves()
    return tuple(_along(level, table[:, at], names) for at, level in enumerate(levels_db_spl))


@functools.cache
def _curves() -> tuple[tuple[int, ...], np.ndarray]:
    """Numbers of the NC curves, and their levels, shape (curves, octaves)."""
    return tuple(nc_curves()), np.array(list(nc_curves().values()))


def _along(level: float, column: np.ndarray, names: Sequence[int]) -> float:
    """Where a level lies among the curves of its octave."""
    if math.isnan(level):
        return math.nan
    at = min(max(int(np.searchsorted(column, level)), 1), len(names) - 1)
    low, high = float(column[at - 1]), float(column[at])
    return names[at - 1] + (names[at] - names[at - 1]) * (level - low) / (high - low)


def nr(levels_db_spl: Sequence[float]) -> Rating | None:
    """The NR rating of octave levels 63 Hz to 8 kHz, up to the next whole number.

    Source: ISO/R 1996:1971, L = a + b NR, as printed in secondary pages.
    """
    bands = [(level - a) / b for level, (a, b) in zip(levels_db_spl, nr_coefficients(), strict=True)]
    found = _highest(bands)
    if found is None:
        return None
    value, controls = found
    return Rating("NR", value, max(0, math.ceil(round(value, 6))), controls, -1 if value < 0.0 else 0)


def _highest(bands: Sequence[float]) -> tuple[float, int] | None:
    known = [(value, at) for at, value in enumerate(bands) if not math.isnan(value)]
    return max(known, key=lambda each: each[0]) if known else None


def a_weighted_dba(levels_db_spl: Sequence[float]) -> float:
    """A-weighted level of octave levels 63 Hz to 8 kHz; octaves that are not a number count as nothing."""
    weighed = np.asarray(levels_db_spl, np.float64) + a_weight_db(MIDDLES_HZ)
    total = float(np.nansum(10.0 ** (weighed / 10.0)))
    return 10.0 * math.log10(total) if total > 0.0 else -math.inf


def speech_interference_db(levels_db_spl: Sequence[float]) -> float:
    """Mean level of the octaves 500 Hz to 4 kHz; not a number where one of them is missing.

    Source: ISO 9921:2003, annex E, as quoted in a form after UNE-EN ISO 9921:2004.
    """
    return float(np.mean([levels_db_spl[at] for at in SPEECH]))
