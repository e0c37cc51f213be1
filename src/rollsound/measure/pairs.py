"""Tracks that carry the same sound: duplicates, opposite polarity, mics on one voice.

Cross-spectra of the low stream (4 kHz, frames of half a second, 200 to 1600 Hz) are summed over the take for all pairs
at once. Mean squared coherence tells how much two tracks share; the phase tells lag and polarity. Polarity is only
claimed for pairs that share most of their sound: the same mic gives 0.95, two mics in one scene 0.17, strangers 0.

Source: C. Knapp and G. Carter, The generalized correlation method for estimation of time delay, IEEE Trans. ASSP-24,
1976 (lag from coherence-weighted phase).
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from rollsound.measure.grid import Grid
from rollsound.measure.hum import STRETCH
from rollsound.measure.model import TrackPair
from rollsound.measure.thresholds import threshold

F32 = NDArray[np.float32]
C64 = NDArray[np.complex64]

FRAME = 2048
BAND_HZ = (200.0, 1600.0)
FEWEST_FRAMES = 4
_OVER = 8  # the correlation is interpolated this finely


class Pairs:
    """Sums cross-spectra; every fourth stretch after the first 8, every sixteenth after 256."""

    def __init__(self, grid: Grid, channels: int) -> None:
        self._grid = grid
        self._channels = channels
        low, high = (int(f * FRAME / grid.low_rate_hz) for f in BAND_HZ)
        self._low, self._high = low, min(high, FRAME // 2)
        self._window = np.hanning(FRAME).astype(np.float32)
        self._cross: C64 = np.zeros((self._high - low, channels, channels), np.complex64)
        self._energy = np.zeros(channels)
        self._energy_squared = np.zeros(channels)
        self._frames = 0
        self._seen = 0

    def run(self, low: F32) -> None:
        """Take one stretch of the low stream, shape (channels, samples)."""
        seen, self._seen = self._seen, self._seen + 1
        if self._channels < 2 or (seen >= 8 and seen % 4) or (seen >= 256 and seen % 16):
            return
        count = low.shape[1] // FRAME
        if count == 0:
            return
        frames = low[:, : count * FRAME].reshape(self._channels, count, FRAME) * self._window
        bins = fft.rfft(frames)[:, :, self._low : self._high]
        # loud moments must not speak alone: each frame counts with the square root of its power
        energy = np.sum(bins.real**2 + bins.imag**2, axis=2)
        bins = bins / np.maximum(energy, 1e-20)[:, :, np.newaxis] ** 0.25
        weight = np.sqrt(energy.astype(np.float64))
        self._energy += weight.sum(axis=1)
        self._energy_squared += (weight**2).sum(axis=1)
        lines = np.ascontiguousarray(bins.transpose(2, 0, 1))
        self._cross += lines @ lines.conj().transpose(0, 2, 1)
        self._frames += count

    def finish(self, same_samples: list[tuple[int, int]], ignore: set[int]) -> tuple[TrackPair, ...]:
        """Pairs that look alike; ``same_samples`` are pairs equal sample for sample, ``ignore`` tracks not to judge."""
        exact = {pair for pair in same_samples if not ignore & set(pair)}
        found = [TrackPair(a, b, "duplicate", 1.0, 0.0, {"coherence": 1.0, "exact": 1.0}) for a, b in sorted(exact)]
        if self._frames < FEWEST_FRAMES:
            return tuple(found)
        power = np.real(np.einsum("fcc->fc", self._cross)).astype(np.float64)
        with np.errstate(divide="ignore", invalid="ignore"):
            shared = np.abs(self._cross) ** 2 / (power[:, :, np.newaxis] * power[:, np.newaxis, :])
        shared = np.nan_to_num(shared, nan=0.0, posinf=0.0)
        average = shared.mean(axis=0)
        for a in range(self._channels):
            for b in range(a + 1, self._channels):
                if (a, b) in exact or a in ignore or b in ignore:
                    continue
                # of n frames of strangers a share of 1/n is expected, and n is less when some are louder
                bias = min(0.9, max(self._energy_squared[t] / max(self._energy[t] ** 2, 1e-30) for t in (a, b)))
                coherence = float(np.clip((average[a, b] - bias) / (1.0 - bias), 0.0, 1.0))
                if coherence >= threshold("pairs.related"):
                    pair = self._judge(a, b, coherence, shared[:, a, b], power)
                    if pair:
                        found.append(pair)
        return tuple(sorted(found, key=lambda p: (p.first, p.second)))

    def _judge(
        self, a: int, b: int, coherence: float, shared: NDArray[np.float64], power: NDArray[np.float64]
    ) -> TrackPair | None:
        cross = self._cross[:, a, b]
        value, lag = self._peak(cross, shared)
        if abs(value) < threshold("pairs.phase"):
            return None
        whole = float(np.abs(np.sum(self._turned(cross, lag)).real)) / math.sqrt(
            float(np.sum(power[:, a])) * float(np.sum(power[:, b]))
        )
        correlation = math.copysign(min(whole, 1.0), value)
        lag_samples = lag * 2 * self._grid.thinning
        kind = "correlated"
        if correlation < 0.0:
            kind = "inverted"
        elif correlation >= threshold("pairs.duplicate") and abs(lag_samples) <= self._grid.moment:
            kind = "duplicate"
        numbers = {"coherence": coherence, "peak": abs(value), "exact": 0.0}
        return TrackPair(a, b, kind, correlation, lag_samples, numbers)

    def _peak(self, cross: C64, shared: NDArray[np.float64]) -> tuple[float, float]:
        """Greatest value of the coherence-weighted correlation within the longest lag, and where (low samples)."""
        weighted = np.zeros(FRAME * _OVER // 2 + 1, np.complex128)
        phase = cross / np.maximum(np.abs(cross), 1e-30)
        weighted[self._low : self._high] = np.conj(phase) * shared
        curve = fft.irfft(weighted) * (FRAME * _OVER / 2.0) / max(float(np.sum(shared)), 1e-30)
        longest = int(threshold("pairs.longest_lag") * 1e-3 * self._grid.low_rate_hz * _OVER)
        near = np.concatenate([curve[-longest:], curve[: longest + 1]])
        at = int(np.argmax(np.abs(near)))
        return float(near[at]), (at - longest) / _OVER

    def _turned(self, cross: C64, lag: float) -> NDArray[np.complex128]:
        """The cross-spectrum with a lag taken out."""
        bins = np.arange(self._low, self._high)
        turned: NDArray[np.complex128] = np.conj(cross) * np.exp(2j * math.pi * bins * lag / FRAME)
        return turned


__all__ = ["FRAME", "STRETCH", "Pairs"]
