"""Digital mutes: runs of exact zeros where there is sound around them; tracks that are dead or wholly silent.

No converter gives long runs of exact zeros: at 24 bits the noise of any input is many steps wide, at 16 bits it may
hide under one step, so a longer run and a hard edge are asked for there.
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

_RUN, _BEFORE, _EDGE = range(3)  # zeros so far, rms before them, magnitude of the last sample before them
_BLOCK = 32


@kernel()
def _zero_runs(
    lines: F32,
    start: int,
    stop: int,
    end: int,
    shortest: int,
    around: int,
    memory: NDArray[np.float64],
    found: NDArray[np.float64],
    counts: NDArray[np.int64],
) -> None:
    """Runs of zeros that end among samples ``start`` to ``stop``; ``end`` is where the lines' samples end.

    Rows of ``found``: sample after the last zero, from ``start``; length; rms before and after; magnitude of the
    samples at the two edges.
    """
    for c in range(lines.shape[0]):
        line = lines[c]
        bits = line.view(np.uint32)
        m = memory[c]
        i0 = start
        while i0 < stop:
            i1 = min(i0 + _BLOCK, stop)
            smallest = np.uint32(0xFFFFFFFF)
            b = bits[i0:i1]
            for k in range(i1 - i0):
                v = b[k] & np.uint32(0x7FFFFFFF)
                smallest = v if v < smallest else smallest
            if smallest != 0 and m[_RUN] == 0:
                i0 = i1
                continue
            for i in range(i0, i1):
                if line[i] == 0.0:
                    m[_RUN] += 1
                    if m[_RUN] == shortest:
                        first = i - shortest + 1
                        m[_BEFORE] = _rms(line, max(0, first - around), first)
                        m[_EDGE] = abs(line[first - 1]) if first > 0 else 0.0
                elif m[_RUN] > 0:
                    if m[_RUN] >= shortest and counts[c] < found.shape[1]:
                        row = found[c, counts[c]]
                        row[0], row[1], row[2] = i - start, m[_RUN], m[_BEFORE]
                        row[3], row[4], row[5] = _rms(line, i, min(end, i + around)), m[_EDGE], abs(line[i])
                        counts[c] += 1
                    m[_RUN] = 0
            i0 = i1


@kernel()
def _rms(line: F32, first: int, last: int) -> float:
    total = 0.0
    for i in range(first, last):
        total += line[i] * line[i]
    return math.sqrt(total / max(1, last - first))


class Mutes:
    """Looks for mutes in the pieces of a stream."""

    def __init__(self, grid: Grid, channels: int, sample_bits: int) -> None:
        self._rate = grid.sample_rate_hz
        self._coarse = sample_bits <= 16
        self._shortest = int(threshold("mute.zeros_16" if self._coarse else "mute.zeros_24"))
        self._around = 10 * grid.moment
        self._context = amplitude("mute.context")
        self._hard = threshold("mute.hard_edge_16") * 2.0 ** (1 - sample_bits) if self._coarse else 0.0
        self._memory = np.zeros((channels, 3))
        self._found = np.zeros((channels, 256, 6))
        self._counts = np.zeros(channels, np.int64)
        self._books = [SpanBook(0.0) for _ in range(channels)]
        self._zeros = [0] * channels

    def run(self, lines: F32, start: int, stop: int, end: int, position: int) -> None:
        """Look at samples ``start`` to ``stop`` of the lines; sample ``start`` is the stream's ``position``."""
        self._counts[:] = 0
        _zero_runs(lines, start, stop, end, self._shortest, self._around, self._memory, self._found, self._counts)
        for c in np.flatnonzero(self._counts):
            for last, length, before, after, edge, edge_after in self._found[c, : self._counts[c]].tolist():
                first = position + int(last) - int(length)
                self._zeros[int(c)] += int(length)
                # zeros from the first sample on are a late start, not a mute
                if first > 0 and max(before, after) >= self._context and max(edge, edge_after) >= self._hard:
                    numbers = {"rms_before": before, "rms_after": after}
                    self._books[int(c)].add("mute", first, first + int(length), max(before, after), numbers)

    def finish(self, frames: int, last_alive: NDArray[np.int64], peaks: F32) -> list[list[Fault]]:
        """Mutes of every track; then tracks that are silent, dead or died.

        ``last_alive`` is the sample after the last moment whose peak was above the dead level, ``peaks`` the greatest
        magnitude of each track.
        """
        most = threshold("mute.most_zeros") * frames
        return [
            [_mute(span) for span in book.spans() if self._zeros[c] <= most]
            + _lifeless(frames, int(last_alive[c]), float(peaks[c]), self._rate)
            for c, book in enumerate(self._books)
        ]


def _mute(span: Span) -> Fault:
    kind, first, last, level, numbers = span
    told = {
        "context_before_dbfs": _db(numbers["rms_before"]),
        "context_after_dbfs": _db(numbers["rms_after"]),
        "zeros_samples": float(last - first),
    }
    return Fault(kind, first, last - first, -math.inf, 0.97 if level > 1e-3 else 0.9, told)


def _lifeless(frames: int, last_alive: int, peak: float, rate: int) -> list[Fault]:
    if frames == 0:
        return []
    if peak == 0.0:
        return [Fault("silent", 0, frames, -math.inf, 1.0, {"peak_dbfs": -math.inf})]
    if last_alive == 0:
        return [Fault("dead", 0, frames, _db(peak), 1.0, {"peak_dbfs": _db(peak)})]
    tail = frames - last_alive
    if tail >= threshold("dead.tail") * rate:
        return [Fault("dead", last_alive, tail, threshold("dead.peak"), 0.9, {"tail_seconds": tail / rate})]
    return []


def _db(value: float) -> float:
    return 20.0 * math.log10(value) if value > 0.0 else -math.inf
