"""Concealment by repetition: a stretch of sound that is, sample for sample, the stretch before it again.

Anchors are chosen by content: about one sample in 64 has a fingerprint small enough to be noted, in both the first and
the second playing of a stretch. Where a fingerprint comes back within the longest lag, samples are compared one by one.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from rollsound.kernel import kernel
from rollsound.measure.model import Fault
from rollsound.measure.spans import SpanBook
from rollsound.measure.thresholds import amplitude, threshold

F32 = NDArray[np.float32]

_BLOCK = 128
_SLOTS = 1024
_FACTOR, _TURN = np.uint32(2654435761), np.uint32(5)  # large and odd; spreads two samples over 32 bits
_RARE = np.uint32(0xFFFFFFFF // 64)
_PROVEN = 24  # samples in a row that must be equal before a match is followed
_BENDS = 12  # of them
_LAG, _FIRST, _TOP = range(3)


@kernel()
def _repeats(
    lines: F32,
    start: int,
    stop: int,
    position: int,
    shortest: int,
    longest_lag: int,
    lowest: float,
    keys: NDArray[np.uint32],
    places: NDArray[np.int64],
    memory: NDArray[np.float64],
    found: NDArray[np.float64],
    counts: NDArray[np.int64],
) -> None:
    """Stretches that equal what lay ``lag`` samples before, and that end among samples ``start`` to ``stop``.

    Rows of ``found``: first repeated sample in the stream, length, lag, peak.
    """
    for c in range(lines.shape[0]):
        line = lines[c]
        bits = line.view(np.uint32)
        m = memory[c]
        i0 = start
        while i0 < stop:
            i1 = min(i0 + _BLOCK, stop)
            if m[_LAG] > 0:
                lag = int(m[_LAG])
                for i in range(i0, i1):
                    if bits[i] != bits[i - lag]:
                        first = int(m[_FIRST])
                        length = position + i - start - first
                        # more than four times over is a steady tone, not a concealed gap
                        if length >= shortest and length <= 4 * lag and m[_TOP] >= lowest:
                            n = counts[c]
                            if n < found.shape[1]:
                                found[c, n, 0], found[c, n, 1] = first, length
                                found[c, n, 2], found[c, n, 3] = lag, m[_TOP]
                                counts[c] = n + 1
                        m[_LAG] = 0
                        i1 = i + 1
                        break
                    m[_TOP] = max(m[_TOP], abs(line[i]))
                i0 = i1
                continue
            now = bits[i0:i1]
            before = bits[i0 - 1 : i1 - 1]
            least = np.uint32(0xFFFFFFFF)
            for k in range(i1 - i0):
                h = np.uint32((now[k] ^ (before[k] << _TURN)) * _FACTOR)
                least = h if h < least else least
            if least < _RARE:
                for k in range(i1 - i0):
                    h = np.uint32((now[k] ^ (before[k] << _TURN)) * _FACTOR)
                    if h >= _RARE or now[k] & np.uint32(0x7FFFFFFF) == 0:
                        continue
                    i = i0 + k
                    slot = int((h >> np.uint32(16)) & np.uint32(_SLOTS - 1))  # its low bits are often zero
                    here = position + i - start
                    lag = here - places[c, slot]
                    if keys[c, slot] == h and lag >= shortest and lag <= longest_lag and i - lag > _PROVEN:
                        back = 0
                        while back < longest_lag and i - back - lag > 0 and bits[i - back] == bits[i - back - lag]:
                            back += 1
                        if back >= _PROVEN and _moves(line, i - _PROVEN, i):
                            top = np.float32(0.0)
                            for j in range(i - back + 1, i + 1):
                                top = max(top, abs(line[j]))
                            m[_LAG], m[_FIRST], m[_TOP] = lag, here - back + 1, top
                            keys[c, slot] = h
                            places[c, slot] = here
                            i1 = i + 1
                            break
                    keys[c, slot] = h
                    places[c, slot] = here
            i0 = i1


@kernel()
def _moves(line: F32, first: int, last: int) -> bool:
    """Whether a stretch is more than a flat line, a straight slope or a few steps."""
    bends = 0
    for i in range(first + 1, last):
        if line[i + 1] - line[i] != line[i] - line[i - 1]:
            bends += 1
    return bends >= _BENDS


class Repeats:
    """Looks for repeated stretches in the pieces of a stream."""

    def __init__(self, channels: int, history: int) -> None:
        self._shortest = int(threshold("repeat.shortest"))
        self._longest_lag = min(int(threshold("repeat.longest_lag")), history - 64)
        self._lowest = amplitude("repeat.lowest_peak")
        self._keys = np.zeros((channels, _SLOTS), np.uint32)
        self._places = np.full((channels, _SLOTS), -(10**12), np.int64)
        self._memory = np.zeros((channels, 3))
        self._found = np.zeros((channels, 256, 4))
        self._counts = np.zeros(channels, np.int64)
        self._books = [SpanBook(0.0) for _ in range(channels)]

    def run(self, lines: F32, start: int, stop: int, position: int, skip: NDArray[np.bool_]) -> None:
        """Look at samples ``start`` to ``stop`` of the lines; sample ``start`` is the stream's ``position``."""
        self._counts[:] = 0
        _repeats(
            lines, start, stop, position, self._shortest, self._longest_lag, self._lowest,
            self._keys, self._places, self._memory, self._found, self._counts,
        )  # fmt: skip
        for c in np.flatnonzero(self._counts):
            if skip[c]:
                continue
            for first, length, lag, top in self._found[c, : self._counts[c]].tolist():
                numbers = {"greatest_lag_samples": lag}
                self._books[int(c)].add("repeat", int(first), int(first + length), top, numbers)

    def finish(self) -> list[list[Fault]]:
        """The repeats of every track."""
        return [
            [
                Fault(
                    kind,
                    first,
                    last - first,
                    20.0 * math.log10(top),
                    0.95,
                    {"lag_samples": numbers["greatest_lag_samples"]},
                )
                for kind, first, last, top, numbers in book.spans()
            ]
            for book in self._books
        ]
