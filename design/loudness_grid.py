"""Why loudness energies are kept every 10 ms: how far the maxima of short events read low on coarser grids.

Prints the worst case of EBU Tech 3341 cases 10 (lone 3 s) and 13 (lone 0.4 s); the tolerance there is 0.1 LU.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from rollsound.measure.gating import lufs_of_power
from rollsound.measure.kweight import KWeighting

RATE = 48_000


def event(silence_s: float, length_s: float) -> NDArray[np.float32]:
    """A tone that reads -23 LUFS on two channels, here on one at +3.01 dB, after some silence."""
    tone = 10 ** (-23 / 20) * np.sqrt(2) * np.sin(2 * np.pi * 1000 * np.arange(round(length_s * RATE)) / RATE)
    return np.concatenate([np.zeros(round(silence_s * RATE)), tone, np.zeros(RATE)]).astype(np.float32)[:, np.newaxis]


def loudest(audio: NDArray[np.float32], window_s: float, grid_ms: int) -> float:
    """The loudest window whose start lies on the grid."""
    hops = KWeighting(RATE, 1).feed(audio)[:, 0]
    span, step = round(window_s * 100), grid_ms // 10
    sums = np.concatenate([[0.0], np.cumsum(hops)])
    starts = np.arange(0, hops.size - span + 1, step)
    return lufs_of_power(float((sums[starts + span] - sums[starts]).max()) / (window_s * RATE))


if __name__ == "__main__":
    print("grid ms   worst momentary   worst short-term   (LU from -23)")
    for grid in (100, 50, 20, 10):
        momentary = min(loudest(event(i * 0.02, 0.4), 0.4, grid) for i in range(20)) + 23
        short_term = min(loudest(event(i * 0.15, 3.0), 3.0, grid) for i in range(20)) + 23
        print(f"{grid:7d}   {momentary:15.3f}   {short_term:16.3f}")
