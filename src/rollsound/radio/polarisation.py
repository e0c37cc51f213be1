"""What is lost where the antennas at both ends are not turned alike."""

from __future__ import annotations

from typing import Literal, TypeAlias

import numpy as np

from rollsound.radio.elementwise import Array, Values, elementwise

Polarisation: TypeAlias = Literal["vertical", "horizontal", "slanted", "circular"]
CIRCULAR_DB = 10 * float(np.log10(2))
"""Between a circular and any straight polarisation: half the power."""
CROSSED_DB = 20.0
"""What crossed polarisations keep apart in practice, at least: 20 to 30 dB, from memory."""
_TURNED_DEG = {"vertical": 0.0, "slanted": 45.0, "horizontal": 90.0}


@elementwise
def turned_db(angle_deg: Array) -> Values:
    """Loss between two straight polarisations at an angle; infinite at a right angle, which nothing real reaches.

    Source: −20 log |cos ψ|.
    """
    cosine = np.abs(np.cos(np.radians(angle_deg)))
    with np.errstate(divide="ignore"):
        return -20 * np.log10(np.where(cosine < 1e-15, 0.0, cosine))


def between_db(first: Polarisation, second: Polarisation, crossed_db: float = CROSSED_DB) -> float:
    """Loss between two antennas on a line of sight; no more than ``crossed_db``.

    On a set, where the signal arrives from many sides, the real loss of crossed antennas is smaller.
    """
    if first == second:
        return 0.0
    if "circular" in (first, second):
        return CIRCULAR_DB
    return min(turned_db(_TURNED_DEG[first] - _TURNED_DEG[second]), crossed_db)
