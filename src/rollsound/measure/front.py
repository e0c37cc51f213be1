"""The front of the fault scan: what every family needs to know of each moment of each track, and the thinned streams.

Per moment: energy of the samples, of their differences, of the band above 8 kHz, of 1 to 3.2 kHz; the greatest
magnitude of the samples and of the upper band; the sum.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy import signal

from rollsound.kernel import kernel
from rollsound.measure.grid import MOMENTS, Grid

FULL, STEPS, HIGH, MIDDLE, HIGH_PEAK, PEAK, SUM = range(7)
FEATURES = 7
HIGH_HZ = 8000.0
MIDDLE_HZ = (1000.0, 3200.0)
FIR = 15  # taps of the short filters, written out below so that the processor takes eight samples at once

F32 = NDArray[np.float32]


@kernel()
def lines_of(block: F32, lines: F32, at: int) -> None:
    """Lay interleaved frames out as one line per channel, in tiles that stay in the first-level cache."""
    frames, channels = block.shape
    for f0 in range(0, frames, 16):
        f1 = min(frames, f0 + 16)
        for c in range(channels):
            row = lines[c, at + f0 : at + f1]
            for k in range(f1 - f0):
                row[k] = block[f0 + k, c]


@kernel()
def slide(rows: F32, by: int) -> None:
    """Move what lies in each row forward by ``by`` places, over what was there."""
    keep = rows.shape[1] - by
    for r in range(rows.shape[0]):
        for first in range(0, keep, by):  # stretches that do not overlap are copied several values at once
            count = min(by, keep - first)
            there, here = rows[r, first : first + count], rows[r, first + by : first + by + count]
            for i in range(count):
                there[i] = here[i]


@kernel(fast=True)
def _short_fir(line: F32, start: int, count: int, taps: F32, out: F32) -> None:
    """Symmetric filter of 15 taps that ends at each sample from ``start`` on."""
    t0, t1, t2, t3, t4, t5, t6, t7 = taps[0], taps[1], taps[2], taps[3], taps[4], taps[5], taps[6], taps[7]
    x = line[start - 14 : start + count]
    for i in range(count):
        out[i] = (
            t0 * (x[i] + x[i + 14])
            + t1 * (x[i + 1] + x[i + 13])
            + t2 * (x[i + 2] + x[i + 12])
            + t3 * (x[i + 3] + x[i + 11])
            + t4 * (x[i + 4] + x[i + 10])
            + t5 * (x[i + 5] + x[i + 9])
            + t6 * (x[i + 6] + x[i + 8])
            + t7 * x[i + 7]
        )


# Peaks are found over the bits of the magnitudes as whole numbers, which order alike and are several times as quick.


@kernel(fast=True)
def _moments(line: F32, start: int, moments: int, moment: int, features: F32, at: int) -> None:
    """Energies, peak and sum of each moment."""
    bits = features.view(np.uint32)
    for m in range(moments):
        i0 = start + m * moment
        x = line[i0 : i0 + moment]
        before = line[i0 - 1 : i0 + moment - 1]
        full, steps, total = np.float32(0.0), np.float32(0.0), np.float32(0.0)
        top = np.uint32(0)
        for k in range(moment):
            d = x[k] - before[k]
            full += x[k] * x[k]
            steps += d * d
            total += x[k]
            magnitude = np.float32(x[k]).view(np.uint32) & np.uint32(0x7FFFFFFF)
            top = magnitude if magnitude > top else top
        features[FULL, at + m] = full
        features[STEPS, at + m] = steps
        features[SUM, at + m] = total
        bits[PEAK, at + m] = top


@kernel(fast=True)
def _upper_moments(
    line: F32, start: int, moments: int, width: int, scale: float, taps: F32, features: F32, at: int
) -> None:
    """Energy and peak of each moment behind the symmetric filter of 15 ``taps``."""
    t0, t1, t2, t3, t4, t5, t6, t7 = taps[0], taps[1], taps[2], taps[3], taps[4], taps[5], taps[6], taps[7]
    bits = features.view(np.uint32)
    for m in range(moments):
        x = line[start + m * width - 14 : start + (m + 1) * width]
        high = np.float32(0.0)
        top = np.uint32(0)
        for i in range(width):
            u = (
                t0 * (x[i] + x[i + 14])
                + t1 * (x[i + 1] + x[i + 13])
                + t2 * (x[i + 2] + x[i + 12])
                + t3 * (x[i + 3] + x[i + 11])
                + t4 * (x[i + 4] + x[i + 10])
                + t5 * (x[i + 5] + x[i + 9])
                + t6 * (x[i + 6] + x[i + 8])
                + t7 * x[i + 7]
            )
            high += u * u
            magnitude = np.float32(u).view(np.uint32) & np.uint32(0x7FFFFFFF)
            top = magnitude if magnitude > top else top
        features[HIGH, at + m] = high * np.float32(scale)
        bits[HIGH_PEAK, at + m] = top


@kernel(fast=True)
def _thin(line: F32, start: int, count: int, thinning: int, taps: F32, phase: F32, out: F32, at: int) -> None:
    """Every ``thinning``-th value of the line behind a low-pass of 8 ``taps`` for each place in between.

    The line is parted by place into ``phase``, so that the filter runs over neighbours.
    """
    for i in range(count):
        out[at + i] = np.float32(0.0)
    y = out[at : at + count]
    for p in range(thinning):
        x = line[start - 7 * thinning + p : start + count * thinning]
        for j in range(count + 7):
            phase[j] = x[j * thinning]
        t0, t1, t2, t3 = taps[p], taps[p + thinning], taps[p + 2 * thinning], taps[p + 3 * thinning]
        t4, t5 = taps[p + 4 * thinning], taps[p + 5 * thinning]
        t6, t7 = taps[p + 6 * thinning], taps[p + 7 * thinning]
        for i in range(count):
            y[i] += (
                t0 * phase[i]
                + t1 * phase[i + 1]
                + t2 * phase[i + 2]
                + t3 * phase[i + 3]
                + t4 * phase[i + 4]
                + t5 * phase[i + 5]
                + t6 * phase[i + 6]
                + t7 * phase[i + 7]
            )


@kernel(fast=True)
def _halve(line: F32, start: int, count: int, step: int, out: F32) -> None:
    """Means of ``step`` samples, so that high sample rates share the short filters."""
    for i in range(count):
        total = np.float32(0.0)
        for k in range(step):
            total += line[start + i * step + k]
        out[i] = total / np.float32(step)


@kernel(fast=True)
def survey_piece(
    lines: F32,
    history: int,
    moments: int,
    moment: int,
    step: int,
    high_taps: F32,
    thin_taps: F32,
    middle_taps: F32,
    half_taps: F32,
    reduced: F32,
    work: F32,
    coarse: F32,
    features: F32,
    at: int,
    low: F32,
) -> None:
    """Fill ``features`` (channels, kinds, moments) from ``at`` on and ``low`` (channels, 4 a moment) for one piece.

    ``reduced`` (channels, 32 + 8 a moment) keeps its last 32 values for the next piece; ``work`` is scratch.
    """
    channels = lines.shape[0]
    thinning = moment // 8
    count = moments * 8
    for c in range(channels):
        line = lines[c]
        _moments(line, history, moments, moment, features[c], at)
        if step == 1:
            _upper_moments(line, history, moments, moment, 1.0, high_taps, features[c], at)
        else:
            _halve(line, history - 14 * step, moments * moment // step + 14, step, coarse)
            _upper_moments(coarse, 14, moments, moment // step, step, high_taps, features[c], at)
        thin = reduced[c]
        _thin(line, history, count, thinning, thin_taps, work, thin, 32)
        _short_fir(thin, 32, count, middle_taps, work)
        for m in range(moments):
            energy = np.float32(0.0)
            for k in range(8):
                energy += work[8 * m + k] * work[8 * m + k]
            features[c, MIDDLE, at + m] = energy * np.float32(thinning)
        _short_fir(thin, 32, count, half_taps, work)
        for i in range(count // 2):
            low[c, i] = work[2 * i + 1]
        for k in range(32):
            thin[k] = thin[count + k]


class Front:
    """Keeps the filters of one stream."""

    def __init__(self, grid: Grid, channels: int) -> None:
        rate = grid.sample_rate_hz
        self._grid = grid
        self._step = max(1, round(rate / 48_000))
        base = rate / self._step
        self._high = _half(signal.firwin(FIR, min(HIGH_HZ, 0.3 * base), fs=base, pass_zero=False))
        reduced_hz = rate / grid.thinning
        if grid.thinning > 1:
            self._thin = signal.firwin(8 * grid.thinning, 0.425 * reduced_hz, fs=rate).astype(np.float32)
        else:
            self._thin = np.zeros(8, np.float32)
            self._thin[7] = 1.0
        self._middle = _half(signal.firwin(FIR, MIDDLE_HZ, fs=reduced_hz, pass_zero=False))
        self._halving = _half(signal.firwin(FIR, 0.22 * reduced_hz, fs=reduced_hz))
        self._reduced = np.zeros((channels, 32 + 8 * MOMENTS), np.float32)
        self._coarse = np.zeros(grid.piece // self._step + 14, np.float32)
        self._work = np.zeros(max(grid.piece, 8 * MOMENTS + 7), np.float32)

    def run(self, lines: F32, moments: int, features: F32, at: int, low: F32) -> None:
        """Survey the piece that lies behind the history in ``lines``."""
        grid = self._grid
        survey_piece(
            lines, grid.history, moments, grid.moment, self._step, self._high, self._thin, self._middle,
            self._halving, self._reduced, self._work, self._coarse, features, at, low,
        )  # fmt: skip


def _half(taps: NDArray[np.float64]) -> F32:
    return np.ascontiguousarray(taps[: FIR // 2 + 1], dtype=np.float32)
