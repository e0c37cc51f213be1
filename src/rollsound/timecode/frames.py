"""From edges to code words: find the sync word, read outward from it, fit a line through the edges.

The twelve ones of the sync word are 24 equal half-bits between two whole bits, which no data can imitate: that
gives the bit length on the spot, whatever the speed. The bits before and behind are then read edge by edge,
following the speed. The frame's start is a least-squares fit of edge position against half-bit number over the whole
word, with a term for the difference between rising and falling edges, outliers dropped twice.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from rollsound.kernel import kernel

_KEPT_BEHIND = 150  # edges that a word needs before its sync run: at most 132 and the neighbours
_LONGEST_RUN = 30  # a longer run of equal intervals is a tone; its start moves along


class Words(NamedTuple):
    """Code words read, one row each: position of half-bit 0, half-bit length (negative when running backwards)."""

    start: NDArray[np.float64]
    half_bit: NDArray[np.float64]
    residual: NDArray[np.float64]
    height: NDArray[np.float64]
    rising: NDArray[np.bool_]  # direction of the edge that starts bit 0, in the order of playing
    data: NDArray[np.uint8]  # (words, 8) bytes, bit 0 first


class WordFinder:
    """Streaming reader of edges; keeps about two words' worth of them."""

    def __init__(self, lag_samples: float) -> None:
        self._times = np.empty(0)
        self._heights = np.empty(0)
        self._scan = np.zeros(2, np.int64)  # next interval, start of the run of equal intervals
        self._lag = lag_samples

    def feed(
        self, times: NDArray[np.float64], heights: NDArray[np.float64], now_samples: float, final: bool = False
    ) -> Words:
        """Take new edges; ``now_samples`` is how far the sound has been searched for them."""
        self._times = np.concatenate([self._times, times])
        self._heights = np.concatenate([self._heights, heights])
        most = self._times.size // 40 + 2
        numbers = np.empty((most, 4))
        bits = np.zeros((most, 64), np.uint8)
        count = _read(self._times, self._heights, self._scan, now_samples - self._lag, final, numbers, bits)
        spent = max(0, int(self._scan[1]) - _KEPT_BEHIND)
        self._times, self._heights = self._times[spent:].copy(), self._heights[spent:].copy()
        self._scan -= spent
        data = np.packbits(bits[:count], axis=1, bitorder="little")
        found = numbers[:count]
        rising = (found[:, 3] > 0) == (bits[:count].sum(axis=1) % 2 == 0)
        return Words(found[:, 0], found[:, 1], found[:, 2], found[:, 3], rising, data)


@kernel()
def _walk(
    times: NDArray[np.float64],
    edge: int,
    onward: int,
    half_bit: float,
    bits: int,
    place: int,
    step: int,
    read: NDArray[np.uint8],
    edges: NDArray[np.int64],
    places: NDArray[np.float64],
    known: int,
) -> int:  # pragma: no cover
    """Read ``bits`` bits from a bit boundary at ``edge``, towards ``onward`` (-1 back, 1 on).

    ``place`` is the half-bit number there and ``step`` its direction. The very last edge may be missing (the
    signal starts or ends there). Returns how many edges are known, or -1 when this is no time code.
    """
    bit_length = 2.0 * half_bit
    size = times.size
    for index in range(bits):
        final = index == bits - 1
        number = (place if step > 0 else place - 2) // 2
        one = edge + onward
        first = abs(times[one] - times[edge]) if 0 <= one < size else 10.0 * bit_length
        if first > 0.74 * bit_length:
            read[number] = 0
            if first < 1.4 * bit_length:
                edge = one
                bit_length += 0.2 * (first - bit_length)
            elif not final:
                return -1
        elif first > 0.3 * bit_length:
            read[number] = 1
            two = one + onward
            second = abs(times[two] - times[edge]) if 0 <= two < size else 10.0 * bit_length
            if 0.7 * bit_length < second < 1.4 * bit_length:
                edges[known] = one
                places[known] = place + step
                known += 1
                edge = two
                bit_length += 0.2 * (second - bit_length)
            elif not final:
                return -1
        else:
            return -1
        place += 2 * step
        if not final:
            edges[known] = edge
            places[known] = place
            known += 1
    return known


@kernel()
def _fit(
    times: NDArray[np.float64], edges: NDArray[np.int64], places: NDArray[np.float64], known: int
) -> tuple[float, float, float]:  # pragma: no cover
    """Least squares of position = start + half_bit * place ± lean; returns start, half_bit, rms residual."""
    origin = times[edges[0]]
    used = np.ones(known, np.bool_)
    start, half_bit, lean, rms = 0.0, 0.0, 0.0, 0.0
    for _ in range(3):
        n, mean_p, mean_t, mean_s = 0.0, 0.0, 0.0, 0.0
        for i in range(known):
            if used[i]:
                n += 1.0
                mean_p += places[i]
                mean_t += times[edges[i]] - origin
                mean_s += 1.0 - 2.0 * (edges[i] & 1)
        mean_p, mean_t, mean_s = mean_p / n, mean_t / n, mean_s / n
        pp, ss, ps, pt, st = 0.0, 0.0, 0.0, 0.0, 0.0
        for i in range(known):
            if used[i]:
                p = places[i] - mean_p
                t = times[edges[i]] - origin - mean_t
                s = 1.0 - 2.0 * (edges[i] & 1) - mean_s
                pp += p * p
                ss += s * s
                ps += p * s
                pt += p * t
                st += s * t
        divisor = pp * ss - ps * ps
        if divisor <= 0.0:
            return 0.0, 0.0, 1e9
        half_bit = (pt * ss - st * ps) / divisor
        lean = (st * pp - pt * ps) / divisor
        start = mean_t - half_bit * mean_p - lean * mean_s
        rms = 0.0
        for i in range(known):
            if used[i]:
                away = times[edges[i]] - origin - start - half_bit * places[i] - lean * (1.0 - 2.0 * (edges[i] & 1))
                rms += away * away
        rms = np.sqrt(rms / n)
        for i in range(known):
            away = times[edges[i]] - origin - start - half_bit * places[i] - lean * (1.0 - 2.0 * (edges[i] & 1))
            used[i] = abs(away) <= 3.0 * rms + 1e-9
    return start + origin, half_bit, rms


@kernel()
def _word_around(
    times: NDArray[np.float64],
    begin: int,
    end: int,
    half_bit: float,
    backwards: bool,
    read: NDArray[np.uint8],
    edges: NDArray[np.int64],
    places: NDArray[np.float64],
) -> int:  # pragma: no cover
    """Read the word whose run of ones lies between edges ``begin`` and ``end``; number of edges known, or -1."""
    first, last, step, bits_behind = 132, 156, 1, 66
    if backwards:
        first, last, step, bits_behind = 156, 132, -1, 2
    known = end - begin + 1
    for j in range(known):
        edges[j] = begin + j
        places[j] = first + j * step
    known = _walk(times, begin, -1, half_bit, bits_behind, first, -step, read, edges, places, known)
    if known > 0:
        known = _walk(times, end, 1, half_bit, 68 - bits_behind, last, step, read, edges, places, known)
    return known if read[64] == 0 and read[65] == 0 and read[78] == 0 and read[79] == 1 else -1


@kernel()
def _direction(times: NDArray[np.float64], begin: int, end: int, half_bit: float) -> int:  # pragma: no cover
    """1 when the run of ones between two edges is a sync word read forward, -1 backward, 0 when it is neither.

    Two whole bits stand before the ones and one behind, followed by a one.
    """
    long = 1.4 * half_bit
    if begin < 1 or not long < times[begin] - times[begin - 1] < 2.0 * long:
        return 0
    if not long < times[end + 1] - times[end] < 2.0 * long:
        return 0
    behind = begin >= 2 and times[begin - 1] - times[begin - 2] > long
    ahead = end + 2 < times.size and times[end + 2] - times[end + 1] > long
    if behind == ahead:
        return 0
    return 1 if behind else -1


@kernel()
def _read(
    times: NDArray[np.float64],
    heights: NDArray[np.float64],
    scan: NDArray[np.int64],
    now: float,
    final: bool,
    numbers: NDArray[np.float64],
    bits: NDArray[np.uint8],
) -> int:  # pragma: no cover
    """Look through the edges for runs of 24 equal intervals and read the words around them; returns how many.

    A word is read only once all its edges must have been seen, so the answer does not depend on the blocks.
    """
    found = 0
    here, begin = scan[0], scan[1]
    edges = np.empty(200, np.int64)
    places = np.empty(200)
    read = np.zeros(80, np.uint8)
    while here + 1 < times.size:
        length = here - begin
        if length > 0:
            half_bit = (times[here] - times[begin]) / length
            if abs(times[here + 1] - times[here] - half_bit) <= 0.4 * half_bit:
                here += 1
                if length >= _LONGEST_RUN:
                    begin += 1
                continue
            if length == 24:
                if not final and now < times[here + 1] + 7.0 * half_bit:
                    break
                direction = _direction(times, begin, here, half_bit)
                if direction < 0 and not final and now < times[here] + 180.0 * half_bit:
                    break
                known = -1
                if direction != 0:
                    known = _word_around(times, begin, here, half_bit, direction < 0, read, edges, places)
                if known > 0:
                    start, slope, rms = _fit(times, edges, places, known)
                    if rms < 0.2 * half_bit:
                        numbers[found, 0] = start
                        numbers[found, 1] = slope
                        numbers[found, 2] = rms
                        numbers[found, 3] = heights[begin]
                        for bit in range(64):
                            bits[found, bit] = read[bit]
                        found += 1
        begin = here
        here += 1
    scan[0], scan[1] = here, begin
    return found
