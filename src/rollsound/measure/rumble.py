"""Wind and handling: stretches where what lies below 45 Hz carries much of the power, which voices never do."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray
from scipy import signal

from rollsound.measure.front import FULL, SUM
from rollsound.measure.grid import Grid
from rollsound.measure.model import Fault
from rollsound.measure.spans import SpanBook
from rollsound.measure.thresholds import power, threshold

F32 = NDArray[np.float32]
F64 = NDArray[np.float64]

BAND_HZ = (6.0, 45.0)
_STEP = 50  # moments judged at once
_THIN = 5  # moments averaged into one value of the filtered stream, about 200 Hz
_GAP_S = 0.5


class Rumble:
    """Filters the sums of the moments, averaged to a stream of about 200 Hz."""

    def __init__(self, grid: Grid, channels: int) -> None:
        self._grid = grid
        rate = 1.0 / (_THIN * grid.moment_seconds)
        self._sections = signal.butter(3, BAND_HZ, btype="bandpass", fs=rate, output="sos")
        self._memory = np.zeros((self._sections.shape[0], channels, 2))
        self._books = [SpanBook(_GAP_S * grid.sample_rate_hz) for _ in range(channels)]
        self._level = power("rumble.level")
        self._part = threshold("rumble.part")
        self._steps = 0
        self._loud = np.zeros(channels, np.int64)

    def run(self, features: F32, position: int) -> None:
        """Take the features of one piece, shape (channels, kinds, moments), that begins at sample ``position``."""
        moment = self._grid.moment
        sums = features[:, SUM].astype(np.float64) / moment
        steps = sums.shape[1] // _STEP
        if steps == 0:
            return
        sums = sums[:, : steps * _STEP]
        thin = sums.reshape(len(self._books), -1, _THIN).mean(axis=2)
        low, self._memory = signal.sosfilt(self._sections, thin, axis=1, zi=self._memory)
        shape = (len(self._books), steps, _STEP)
        deep: F64 = np.mean(low.reshape(len(self._books), steps, _STEP // _THIN) ** 2, axis=2)
        whole = features[:, FULL, : steps * _STEP].reshape(shape).sum(axis=2, dtype=np.float64) / (_STEP * moment)
        mean = np.mean(sums.reshape(shape), axis=2)
        loud = (deep >= self._level) & (deep >= self._part * np.maximum(whole - mean * mean, deep))
        self._steps += steps
        self._loud += loud.sum(axis=1)
        for c, k in np.argwhere(loud).tolist():
            at = position + k * _STEP * moment
            self._books[c].add("rumble", at, at + _STEP * moment, float(deep[c, k]), {"steps": 1.0})

    def finish(self) -> list[list[Fault]]:
        """The stretches of every track that last long enough."""
        shortest = threshold("rumble.shortest") * self._grid.sample_rate_hz
        out: list[list[Fault]] = []
        for c, book in enumerate(self._books):
            part = float(self._loud[c]) / max(1, self._steps)
            out.append(
                [
                    Fault(kind, first, last - first, 10.0 * math.log10(top), 0.7, {"part_of_take": part})
                    for kind, first, last, top, _ in book.spans()
                    if last - first >= shortest
                ]
            )
        return out
