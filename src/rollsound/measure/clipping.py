"""Clipping: flat tops at or under full scale, and samples over full scale in files of floating-point samples.

A flat top is a run of samples within one step of each other at the top of the wave that the wave enters or leaves with
a corner. It is seen whatever the level, but only as long as nothing filtered the sound after it was cut.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from rollsound.kernel import kernel
from rollsound.measure.grid import Grid
from rollsound.measure.model import Fault
from rollsound.measure.spans import Span, SpanBook
from rollsound.measure.thresholds import amplitude, threshold

F32 = NDArray[np.float32]

# memory of one track between pieces
_REF, _START, _SPAN_START, _SPAN_STOP, _RUNS, _SAMPLES, _LONGEST, _TOP = range(8)
MEMORY = 8
_BLOCK = 32
_CERTAIN_RUN = 8


@kernel()
def _flat_runs(
    lines: F32,
    start: int,
    stop: int,
    position: int,
    limits: NDArray[np.float64],
    memory: NDArray[np.float64],
    spans: NDArray[np.float64],
    counts: NDArray[np.int64],
) -> None:
    """Find flat tops among samples ``start`` to ``stop`` of each line; ``start`` is the stream's ``position``.

    ``limits``: step, lowest level, shortest run, corner in steps, part of the local peak, samples of surroundings,
    full scale, gap that parts two spans. Writes one row of ``spans`` per finished span.
    """
    step, lowest = np.float32(limits[0] * 1.001), np.float32(limits[1])
    shortest, corner, part, around = int(limits[2]), limits[3] * limits[0], limits[4], int(limits[5])
    full_scale, gap = limits[6], limits[7]
    for c in range(lines.shape[0]):
        line = lines[c]
        m = memory[c]
        i0 = start
        while i0 < stop:
            i1 = min(i0 + _BLOCK, stop)
            flat = 0
            x = line[i0:i1]
            before = line[i0 - 1 : i1 - 1]
            for k in range(i1 - i0):
                flat += (abs(x[k] - before[k]) <= step) & (abs(x[k]) >= lowest)
            open_run = position + i0 - start - m[_START] > 1
            if flat == 0 and not open_run:
                m[_START] = position + i1 - 1 - start
                m[_REF] = line[i1 - 1]
                i0 = i1
                continue
            for i in range(i0, i1):
                if abs(line[i] - np.float32(m[_REF])) <= step:
                    continue
                here = position + i - start
                length = int(here - m[_START])
                if length >= shortest and abs(m[_REF]) >= lowest:
                    sign = 1.0 if m[_REF] > 0 else -1.0
                    top = abs(m[_REF])
                    first = i - length
                    if first >= 2:
                        enter, enter2 = top - sign * line[first - 1], top - sign * line[first - 2]
                        leave, leave2 = top - sign * line[i], top - sign * line[i + 1]
                        highest = np.float32(0.0)
                        for k in range(max(0, first - around), min(i + around, line.shape[0])):
                            highest = max(highest, abs(line[k]))
                        if enter > 0 and leave > 0 and max(enter2, leave2) >= corner and top >= part * highest:
                            same = (m[_TOP] >= full_scale) == (top >= full_scale)
                            if m[_RUNS] > 0 and (m[_START] - m[_SPAN_STOP] > gap or not same):
                                _put(spans, counts, c, m)
                            if m[_RUNS] == 0:
                                m[_SPAN_START], m[_LONGEST], m[_SAMPLES], m[_TOP] = m[_START], 0, 0, 0
                            m[_RUNS] += 1
                            m[_SAMPLES] += length
                            m[_LONGEST] = max(m[_LONGEST], length)
                            m[_TOP] = max(m[_TOP], top)
                            m[_SPAN_STOP] = here
                m[_START] = here
                m[_REF] = line[i]
            i0 = i1


@kernel()
def _put(spans: NDArray[np.float64], counts: NDArray[np.int64], c: int, m: NDArray[np.float64]) -> None:
    n = counts[c]
    if n < spans.shape[1]:
        spans[c, n, 0] = m[_SPAN_START]
        spans[c, n, 1] = m[_SPAN_STOP]
        spans[c, n, 2] = m[_RUNS]
        spans[c, n, 3] = m[_SAMPLES]
        spans[c, n, 4] = m[_LONGEST]
        spans[c, n, 5] = m[_TOP]
        counts[c] = n + 1
    m[_RUNS] = 0


class FlatTops:
    """Looks for flat tops in the pieces of a stream."""

    def __init__(self, grid: Grid, channels: int, sample_bits: int) -> None:
        size = "16" if sample_bits <= 16 else "24"
        step = 2.0 ** (1 - min(sample_bits, 24))
        self._gap = threshold("clip.merge_gap") * grid.sample_rate_hz
        self._full_scale = amplitude("clip.full_scale")
        self._limits = np.array(
            [
                step,
                amplitude(f"clip.lowest_level_{size}"),
                threshold(f"clip.shortest_run_{size}"),
                threshold("clip.corner_steps"),
                threshold("clip.part_of_local_peak"),
                10 * grid.moment,
                self._full_scale,
                self._gap,
            ]
        )
        self._memory = np.zeros((channels, MEMORY))
        self._spans = np.zeros((channels, 512, 6))
        self._counts = np.zeros(channels, np.int64)
        self._books = [SpanBook(self._gap) for _ in range(channels)]

    def run(self, lines: F32, start: int, stop: int, position: int, skip: NDArray[np.bool_]) -> None:
        """Look at samples ``start`` to ``stop`` of the lines; tracks to ``skip`` are read but not believed."""
        self._counts[:] = 0
        _flat_runs(lines, start, stop, position, self._limits, self._memory, self._spans, self._counts)
        for c in np.flatnonzero(self._counts):
            if not skip[c]:
                self._take(int(c), self._spans[c, : self._counts[c]])

    def _take(self, track: int, rows: NDArray[np.float64]) -> None:
        for first, last, runs, samples, longest, top in rows.tolist():
            kind = "clip" if top >= self._full_scale else "flat-top"
            numbers = {"runs": runs, "flat_samples": samples, "longest_run_samples": longest}
            self._books[track].add(kind, int(first), int(last), top, numbers)

    def finish(self) -> list[list[Fault]]:
        """The spans of every track."""
        for c in range(len(self._books)):
            if self._memory[c, _RUNS] > 0:
                self._counts[c] = 0
                _put(self._spans, self._counts, c, self._memory[c])
                self._take(c, self._spans[c, :1])
        return [[_fault(span) for span in book.spans() if _matters(span)] for book in self._books]


def _matters(span: Span) -> bool:
    kind, _, _, _, numbers = span
    enough = numbers["runs"] >= threshold("clip.fewest_runs") or numbers["longest_run_samples"] >= _CERTAIN_RUN
    return kind == "clip" or enough


def _fault(span: Span) -> Fault:
    kind, first, last, top, numbers = span
    # one short flat top may be chance; several at one level are not
    sure = 1.0 - 0.5 ** numbers["runs"] if kind == "flat-top" else 1.0 - 0.1 ** numbers["runs"]
    sure = max(sure, 0.95 if numbers["longest_run_samples"] >= _CERTAIN_RUN else 0.0)
    return Fault(kind, first, last - first, 20.0 * math.log10(top), min(sure, 0.99), numbers)


class OverFullScale:
    """Counts what lies over full scale in files of floating-point samples."""

    def __init__(self, grid: Grid, channels: int) -> None:
        self._grid = grid
        self._books = [SpanBook(threshold("clip.merge_gap") * grid.sample_rate_hz) for _ in range(channels)]

    def run(self, peaks: F32, position: int) -> None:
        """Take the peak of every moment, shape (channels, moments)."""
        if peaks.max(initial=0.0) <= 1.0:
            return
        moment = self._grid.moment
        for c, m in np.argwhere(peaks > 1.0).tolist():
            at = position + m * moment
            self._books[c].add("over-full-scale", at, at + moment, float(peaks[c, m]), {"moments": 1.0})

    def finish(self) -> list[list[Fault]]:
        """The spans of every track."""
        return [
            [
                Fault(kind, first, last - first, 20.0 * math.log10(top), 1.0, {"over_db": 20.0 * math.log10(top)})
                for kind, first, last, top, _ in book.spans()
            ]
            for book in self._books
        ]
