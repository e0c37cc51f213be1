"""What an analyser would have shown on the quay at Skarvik: two scans, made up from a seed and saying so.

The second has a strange carrier where Tomasz's pack stands in the plan: reason for a repair while everything is on air.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rollsound.demo.chance import generator

STEP_MHZ = 0.05
RANGES_MHZ = ((470.0, 694.0), (820.0, 834.0))
FLOOR_DBM, RIPPLE_DB = -104.0, 1.4
TELEVISION_DBM: Mapping[int, float] = {24: -58.0, 28: -66.0, 33: -71.0, 43: -62.0}
"""By channel of the 8 MHz raster."""
STRANGER_DBM = -61.0
STRANGE_WIDTH_MHZ = 0.18
_TELEVISION_WIDTH_MHZ = 7.6


@dataclass(frozen=True)
class Neighbour:
    """Somebody else's transmitter near by."""

    mhz: float
    dbm: float
    width_mhz: float = 0.15


NEIGHBOURS = (Neighbour(521.3, -79.0), Neighbour(588.75, -74.0), Neighbour(671.1, -83.0), Neighbour(829.4, -81.0))


def scan_csv(seed: int, name: str, taken: str, stranger_mhz: float | None = None) -> str:
    """A scan as an analyser writes it: remarks, a head, then frequency and level line by line."""
    mhz = np.concatenate([np.arange(round((high - low) / STEP_MHZ) + 1) * STEP_MHZ + low for low, high in RANGES_MHZ])
    level = levels_dbm(mhz, generator(seed, "scan", name), stranger_mhz)
    head = [
        "# Northbound Ferry: an invented scan, made by the demo; nobody measured it",
        f"# {taken}",
        "frequency MHz,level dBm",
    ]
    rows = [f"{freq:.3f},{dbm:.1f}" for freq, dbm in zip(mhz.tolist(), level.tolist(), strict=True)]
    return "\n".join([*head, *rows]) + "\n"


def levels_dbm(
    mhz: NDArray[np.float64], rng: np.random.Generator, stranger_mhz: float | None = None
) -> NDArray[np.float64]:
    """Noise, television, the neighbours, and the stranger when there is one."""
    power = 10 ** ((FLOOR_DBM + rng.normal(0.0, RIPPLE_DB, mhz.size)) / 10)
    for channel, dbm in TELEVISION_DBM.items():
        off = np.abs(mhz - (306.0 + 8.0 * channel)) - _TELEVISION_WIDTH_MHZ / 2
        shoulder = np.where(off <= 0, 0.0, -off / 0.1 * 12.0)
        power += 10 ** ((dbm + np.maximum(shoulder, -55.0) + rng.normal(0.0, 0.8, mhz.size)) / 10)
    others = [*NEIGHBOURS]
    if stranger_mhz is not None:
        others.append(Neighbour(stranger_mhz, STRANGER_DBM, STRANGE_WIDTH_MHZ))
    for each in others:
        off = np.abs(mhz - each.mhz)
        power += 10 ** ((each.dbm - np.maximum(0.0, off - each.width_mhz / 2) / 0.02 * 8.0) / 10)
    level: NDArray[np.float64] = 10 * np.log10(power)
    return level
