"""Clicks: single samples or a few that no continuation of the sound explains.

The upper band of every moment tells cheaply where a click may be. There, and only there, a linear prediction of
order 20 is fitted to 2048 samples; the residual must stand far out of its robust deviation, alone, and within a few
samples.

Source: S. Godsill and P. Rayner, Digital Audio Restoration, Springer 1998 (detection by the residual of an
autoregressive model).
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from rollsound.kernel import kernel
from rollsound.measure.front import HIGH, HIGH_PEAK
from rollsound.measure.grid import Grid
from rollsound.measure.model import Fault
from rollsound.measure.spans import SpanBook
from rollsound.measure.thresholds import power, threshold

F32 = NDArray[np.float32]

ORDER = 20
WINDOW = 2048
PER_PIECE = 3
_DELAY_MOMENTS = 50
_CREST = 50.0  # square of peak over mean square of the moments around it, in the upper band
_FAINTEST = 2e-4


@kernel(fast=True)
def _residual(x: NDArray[np.float64], order: int, e: NDArray[np.float64]) -> None:
    """What linear prediction leaves of ``x`` (autocorrelation method, Hann window), written to ``e``."""
    n = x.shape[0]
    w = np.empty(n)
    for i in range(n):
        w[i] = x[i] * (0.5 - 0.5 * math.cos(2.0 * math.pi * (i + 0.5) / n))
    r = np.zeros(order + 1)
    for k in range(order + 1):
        a, b = w[: n - k], w[k:]
        total = 0.0
        for i in range(n - k):
            total += a[i] * b[i]
        r[k] = total
    a1 = np.zeros(order + 1)
    old = np.zeros(order + 1)
    a1[0] = 1.0
    error = r[0] * (1.0 + 1e-9) + 1e-30
    for k in range(1, order + 1):
        total = r[k]
        for j in range(1, k):
            total += a1[j] * r[k - j]
        reflection = -total / error
        old[:] = a1
        for j in range(1, k):
            a1[j] = old[j] + reflection * old[k - j]
        a1[k] = reflection
        error = max(error * (1.0 - reflection * reflection), 1e-30)
    e[:order] = 0.0
    for i in range(order, n):
        e[i] = x[i]
    for k in range(1, order + 1):
        ek, xk = e[order:], x[order - k : n - k]
        for i in range(n - order):
            ek[i] += a1[k] * xk[i]


@kernel()
def _clicks(
    lines: F32,
    features: F32,
    first: int,
    last: int,
    moment: int,
    at: int,
    limits: NDArray[np.float64],
    found: NDArray[np.float64],
) -> int:
    """Clicks at moments ``first`` to ``last`` of each track, moment ``first`` lying at sample ``at`` of the lines.

    Rows of ``found``: track, sample from ``at``, magnitude of the residual, deviations, samples it lasts,
    greatest other residual nearby over it.
    """
    faintest, tail = limits[0], limits[1]
    n = 0
    x = np.empty(WINDOW)
    e = np.empty(WINDOW)
    size = np.empty(WINDOW)
    best = np.empty(PER_PIECE, np.int64)
    score = np.empty(PER_PIECE)
    for c in range(features.shape[0]):
        peak, high = features[c, HIGH_PEAK], features[c, HIGH]
        score[:] = _CREST
        best[:] = -1
        for t in range(first, last):
            p = peak[t]
            if p < faintest or p * p * moment < _CREST * high[t - 2]:
                continue
            before, after = 0.0, 0.0
            for k in range(2, 9):
                before += high[t - k]
                after += high[t + k]
            if after > tail * before:
                continue
            around = max(max(before, after) / (7.0 * moment), 1e-14)
            s = p * p / around
            weakest = 0
            for k in range(1, PER_PIECE):
                if score[k] < score[weakest]:
                    weakest = k
            if s > score[weakest]:
                score[weakest] = s
                best[weakest] = t
        for b in range(PER_PIECE):
            if best[b] < 0:
                continue
            centre = at + (best[b] - first) * moment + moment // 2
            base = centre - WINDOW // 2
            for k in range(WINDOW):
                x[k] = lines[c, base + k]
            _residual(x, ORDER, e)
            top, where = 0.0, 0
            for k in range(WINDOW // 2 - 2 * moment, WINDOW // 2 + 2 * moment):
                if abs(e[k]) > top:
                    top, where = abs(e[k]), k
            for k in range(WINDOW):
                size[k] = abs(e[k])
            sigma = np.median(size) / 0.6745 + 1e-12
            other, near, wide = 0.0, 0.0, 0.0
            for k in range(max(ORDER, where - 20 * moment), min(WINDOW, where + 20 * moment)):
                if abs(k - where) > 32:
                    other = max(other, size[k])
                if abs(k - where) <= 96:
                    wide += size[k] * size[k]
                    if abs(k - where) <= 8:
                        near += size[k] * size[k]
            left, right = where, where
            while left > where - 32 and size[left - 1] > 5.0 * sigma:
                left -= 1
            while right < where + 32 and size[right + 1] > 5.0 * sigma:
                right += 1
            if near >= 0.6 * wide and n < found.shape[0]:
                row = found[n]
                row[0], row[1], row[2], row[3] = c, base + left - at, top, top / sigma
                row[4], row[5] = right - left + 1, other / max(top, 1e-30)
                n += 1
    return n


class Clicks:
    """Looks for clicks in the pieces of a stream."""

    def __init__(self, grid: Grid, channels: int) -> None:
        self._grid = grid
        self._sigma = threshold("click.sigma")
        self._limits = np.array([_FAINTEST, power("click.tail")])
        self._isolation = threshold("click.isolation")
        # the window around a candidate must lie within the lines, after it as well
        self.delay = max(_DELAY_MOMENTS, math.ceil((WINDOW // 2 + 64) / grid.moment))
        self._found = np.zeros((PER_PIECE * channels, 6))
        self._books = [SpanBook(0.0) for _ in range(channels)]

    def run(
        self, lines: F32, features: F32, first: int, last: int, at: int, position: int, skip: NDArray[np.bool_]
    ) -> None:
        """Look at moments ``first`` to ``last``; the first lies at sample ``at`` of the lines, ``position`` of all."""
        n = _clicks(lines, features, first, last, self._grid.moment, at, self._limits, self._found)
        for track, offset, top, deviations, samples, other in sorted(self._found[:n].tolist()):
            c = int(track)
            start = position + int(offset)
            if skip[c] or deviations < self._sigma or other > self._isolation or start < 0:
                continue
            self._books[c].add(
                "click", start, start + int(samples), top, {"greatest_deviations": deviations, "clicks": 1.0}
            )

    def finish(self) -> list[list[Fault]]:
        """The clicks of every track."""
        return [
            [
                Fault(
                    kind,
                    first,
                    last - first,
                    20.0 * math.log10(top),
                    min(0.95, 0.5 + numbers["greatest_deviations"] / 200.0),
                    dict(numbers),
                )
                for kind, first, last, top, numbers in book.spans()
            ]
            for book in self._books
        ]
