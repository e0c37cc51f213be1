"""Wind and handling: stretches where what lies below 45 Hz carries much of the power, which voices never do."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray
from scipy import signal

from rollsound.kernel import kernel
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


@kernel()
def _powers(features: F32, moment: int, sections: F64, memory: F64, deep: F64, whole: F64) -> None:
    """Mean square under 45 Hz, and of everything but the mean, for each step of each track."""
    for c in range(features.shape[0]):
        for k in range(deep.shape[1]):
            energy, full, total = 0.0, 0.0, 0.0
            for m in range(k * _STEP, (k + 1) * _STEP, _THIN):
                x = 0.0
                for j in range(m, m + _THIN):
                    x += features[c, SUM, j]
                    full += features[c, FULL, j]
                total += x
                x /= moment * _THIN
                for s in range(sections.shape[0]):
                    y = sections[s, 0] * x + memory[s, c, 0]
                    memory[s, c, 0] = sections[s, 1] * x - sections[s, 4] * y + memory[s, c, 1]
                    memory[s, c, 1] = sections[s, 2] * x - sections[s, 5] * y
                    x = y
                energy += x * x
            mean = total / (_STEP * moment)
            deep[c, k] = energy / (_STEP // _THIN)
            whole[c, k] = full / (_STEP * moment) - mean * mean


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
        steps = features.shape[2] // _STEP
        if steps == 0:
            return
        deep = np.empty((len(self._books), steps))
        whole = np.empty_like(deep)
        _powers(features, moment, self._sections, self._memory, deep, whole)
        loud = (deep >= self._level) & (deep >= self._part * np.maximum(whole, deep))
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
