"""From energies every 10 ms to gated loudness, loudness range and the loudest moments, in memory that does not grow.

Source: ITU-R BS.1770-5 annex 1 (400 ms blocks every 100 ms, gates at -70 LKFS and 10 LU below the mean);
EBU Tech 3341 (momentary 400 ms, short-term 3 s); EBU Tech 3342 (range: 3 s blocks, gates at -70 LUFS and 20 LU below,
10th to 95th percentile).

Instead of every block, a histogram of count and energy per 0.01 LU is kept. Means are exact but for blocks within
0.01 LU of a gate (at most 0.02 LU in a take of half a minute, less in longer ones); the range is exact to 0.01 LU.
"""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from rollsound.kernel import kernel
from rollsound.measure.kweight import hop_edge
from rollsound.measure.model import Loudness

OFFSET_LU = -0.691
ABSOLUTE_GATE_LUFS = -70.0
INTEGRATED_GATE_LU = -10.0
RANGE_GATE_LU = -20.0
MOMENTARY_HOPS = 40
SHORT_TERM_HOPS = 300
GRID_HOPS = 10

BINS_PER_LU = 100
_BINS = 100 * BINS_PER_LU  # -70 to +30 LUFS; louder still goes into the last bin


def lufs_of_power(power: float) -> float:
    """Loudness of a K-weighted mean square."""
    return OFFSET_LU + 10.0 * math.log10(power) if power > 0.0 else -math.inf


def power_of_lufs(lufs: float) -> float:
    """K-weighted mean square of a loudness."""
    return float(10.0 ** ((lufs - OFFSET_LU) / 10.0))


@kernel()
def _windows(
    hops: NDArray[np.float64],
    lengths: NDArray[np.int64],
    first_hop: int,
    ring: NDArray[np.float64],
    ring_lengths: NDArray[np.int64],
    loudest: NDArray[np.float64],
    counts: NDArray[np.int64],
    powers: NDArray[np.float64],
    gate: float,
) -> None:
    """Slide the 400 ms and 3 s windows over new hops.

    ``loudest`` (2, channels) keeps the greatest window powers, ``counts`` and ``powers`` (2, channels, bins) the
    histograms. Windows are summed afresh each time: a running sum would carry the rounding of loud parts into quiet
    ones.
    """
    channels = hops.shape[1]
    spans = (MOMENTARY_HOPS, SHORT_TERM_HOPS)
    total = np.zeros(channels)
    for h in range(hops.shape[0]):
        index = first_hop + h
        slot = index % SHORT_TERM_HOPS
        ring_lengths[slot] = lengths[h]
        for c in range(channels):
            ring[slot, c] = hops[h, c]
        for w in range(2):
            span = spans[w]
            if index + 1 < span:
                continue
            total[:] = 0.0
            frames = 0
            at = (index + 1 - span) % SHORT_TERM_HOPS
            for _ in range(span):
                frames += ring_lengths[at]
                row = ring[at]
                for c in range(channels):
                    total[c] += row[c]
                at = at + 1 if at + 1 < SHORT_TERM_HOPS else 0
            on_grid = (index + 1) % GRID_HOPS == 0
            for c in range(channels):
                power = total[c] / frames
                if power > loudest[w, c]:
                    loudest[w, c] = power
                if on_grid and power > gate:
                    place = int((OFFSET_LU + 10.0 * math.log10(power) - ABSOLUTE_GATE_LUFS) * BINS_PER_LU)
                    place = min(max(place, 0), counts.shape[2] - 1)
                    counts[w, c, place] += 1
                    powers[w, c, place] += power


class Gating:
    """Takes hop energies per channel in order and gives the loudness figures of each channel."""

    def __init__(self, sample_rate_hz: int, channels: int) -> None:
        self._rate = sample_rate_hz
        self._channels = channels
        self._hops = 0
        self._ring = np.zeros((SHORT_TERM_HOPS, channels))
        self._ring_lengths = np.zeros(SHORT_TERM_HOPS, dtype=np.int64)
        self._loudest = np.zeros((2, channels))
        self._counts = np.zeros((2, channels, _BINS), dtype=np.int64)
        self._powers = np.zeros((2, channels, _BINS))
        self._gate = power_of_lufs(ABSOLUTE_GATE_LUFS)

    def feed(self, hops: NDArray[np.float64]) -> None:
        """Take sums of squares, shape (hops, channels)."""
        count = hops.shape[0]
        edges = [hop_edge(hop, self._rate) for hop in range(self._hops, self._hops + count + 1)]
        lengths = np.array([end - start for start, end in pairwise(edges)], dtype=np.int64)
        _windows(
            hops,
            lengths,
            self._hops,
            self._ring,
            self._ring_lengths,
            self._loudest,
            self._counts,
            self._powers,
            self._gate,
        )
        self._hops += count

    def finish(self) -> tuple[Loudness, ...]:
        """The figures of each channel."""
        return tuple(
            Loudness(
                integrated_lufs=integrated(self._counts[0, c], self._powers[0, c]),
                loudness_range_lu=loudness_range(self._counts[1, c], self._powers[1, c]),
                max_momentary_lufs=lufs_of_power(float(self._loudest[0, c])),
                max_short_term_lufs=lufs_of_power(float(self._loudest[1, c])),
            )
            for c in range(self._channels)
        )


def _above(
    counts: NDArray[np.int64], powers: NDArray[np.float64], gate_lu: float
) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """Counts and mean powers of the occupied bins above the relative gate, quietest first."""
    held = counts > 0
    counts, powers = counts[held], powers[held]
    if not counts.size:
        return counts, powers
    gate = powers.sum() / counts.sum() * 10.0 ** (gate_lu / 10.0)
    means = powers / counts
    kept = means > gate
    return counts[kept], means[kept]


def integrated(counts: NDArray[np.int64], powers: NDArray[np.float64]) -> float:
    """Integrated loudness of 400 ms blocks above the absolute gate, given as a histogram."""
    counts, means = _above(counts, powers, INTEGRATED_GATE_LU)
    return lufs_of_power(float((counts * means).sum() / counts.sum())) if counts.size else -math.inf


def loudness_range(counts: NDArray[np.int64], powers: NDArray[np.float64]) -> float:
    """Loudness range of 3 s blocks above the absolute gate, given as a histogram; 0 without any."""
    counts, means = _above(counts, powers, RANGE_GATE_LU)
    if not counts.size:
        return 0.0
    ranks = np.cumsum(counts)
    last = int(ranks[-1]) - 1
    low = means[np.searchsorted(ranks, math.floor(last * 0.10 + 0.5), side="right")]
    high = means[np.searchsorted(ranks, math.floor(last * 0.95 + 0.5), side="right")]
    return float(10.0 * np.log10(high / low))
