"""Noise floor, level of the sound above it, and DC: counted in fine histograms, so memory stays the same."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from rollsound.kernel import kernel
from rollsound.measure.front import FULL, STEPS, SUM
from rollsound.measure.grid import Grid
from rollsound.measure.model import Fault
from rollsound.measure.thresholds import amplitude, threshold

F32 = NDArray[np.float32]

_LOWEST_DB = -170.0
_STEP_DB = 0.25
_BINS = 800
_SPARSE = 5  # of single moments every fifth is counted
_DC_STEP = 5e-5
_DC_BINS = 4001
FLOOR_SHARE = 0.10  # the quietest tenth of the take is taken as its noise
SOUND_SHARE = 0.99


@kernel()
def _bin(power: float) -> int:
    return min(_BINS - 1, max(0, int((10.0 * math.log10(power) - _LOWEST_DB) / _STEP_DB)))


@kernel()
def _count(features: F32, moment: int, level: NDArray[np.int64], steps: NDArray[np.int64]) -> None:
    """Count levels of 10 moments, without their mean, and step energies; exact zeros are no noise and are left out."""
    for c in range(features.shape[0]):
        for first in range(0, features.shape[2] - 9, 10):
            full, total = 0.0, 0.0
            for m in range(first, first + 10):
                full += features[c, FULL, m]
                total += features[c, SUM, m]
            mean = total / (10 * moment)
            power = full / (10 * moment) - mean * mean
            if power > 0.0:
                level[c, _bin(power)] += 1
        for m in range(0, features.shape[2], _SPARSE):
            if features[c, STEPS, m] > 0.0:
                steps[c, _bin(features[c, STEPS, m])] += 1


class Levels10:
    """Histograms of the level over 10 moments and of the step energy of single moments; means of each second."""

    def __init__(self, grid: Grid, channels: int) -> None:
        self._grid = grid
        self._channels = channels
        self._level = np.zeros((channels, _BINS), np.int64)
        self._steps = np.zeros((channels, _BINS), np.int64)
        self._dc = np.zeros((channels, _DC_BINS), np.int64)
        self._sum = np.zeros(channels)
        self._moments = 0

    def run(self, features: F32) -> None:
        """Take the features of whole moments, shape (channels, kinds, moments)."""
        moments = features.shape[2]
        _count(features, self._grid.moment, self._level, self._steps)
        self._sum += features[:, SUM].sum(axis=1, dtype=np.float64)
        self._moments += moments
        if self._moments * self._grid.moment_seconds >= 1.0:
            self._note_mean()

    def _note_mean(self) -> None:
        mean = self._sum / (self._moments * self._grid.moment)
        index = np.clip(np.round(mean / _DC_STEP) + _DC_BINS // 2, 0, _DC_BINS - 1).astype(np.int64)
        self._dc[np.arange(self._channels), index] += 1
        self._sum[:] = 0.0
        self._moments = 0

    def floor_dbfs(self) -> NDArray[np.float64]:
        """Noise floor of every track: the level under which a tenth of the take lies; nan without any sound."""
        return _quantile(self._level, FLOOR_SHARE)

    def sound_dbfs(self) -> NDArray[np.float64]:
        """The level that a hundredth of the take lies above."""
        return _quantile(self._level, SOUND_SHARE)

    def quiet_steps(self) -> NDArray[np.float64]:
        """Tenth percentile of the energy of steps in a moment; 0 without any sound."""
        level = _quantile(self._steps, FLOOR_SHARE)
        return np.where(np.isnan(level), 0.0, 10.0 ** (np.nan_to_num(level) / 10.0))

    def dc_faults(self, frames: int) -> list[list[Fault]]:
        """One fault for each track whose median mean of a second is too far from zero."""
        if self._moments and not self._dc.any():
            self._note_mean()
        return [self._dc_fault(self._dc[c], frames) for c in range(self._channels)]

    def _dc_fault(self, histogram: NDArray[np.int64], frames: int) -> list[Fault]:
        seconds = int(histogram.sum())
        if seconds == 0:
            return []
        at = int(np.searchsorted(np.cumsum(histogram), (seconds + 1) // 2))
        mean = (at - _DC_BINS // 2) * _DC_STEP
        if abs(mean) < amplitude("dc.level"):
            return []
        numbers = {"dc_percent": 100.0 * mean, "limit_dbfs": threshold("dc.level")}
        return [Fault("dc", 0, frames, 20.0 * math.log10(abs(mean)), 0.9, numbers)]


def _quantile(histogram: NDArray[np.int64], share: float) -> NDArray[np.float64]:
    total = histogram.sum(axis=1)
    rank = np.maximum(1, np.ceil(share * total))
    at = np.argmax(np.cumsum(histogram, axis=1) >= rank[:, np.newaxis], axis=1)
    return np.where(total > 0, _LOWEST_DB + (at + 0.5) * _STEP_DB, np.nan)
