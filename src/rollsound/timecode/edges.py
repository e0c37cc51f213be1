"""From sound to edges: where a time code signal crosses its own middle, to a fraction of a sample.

The level is followed by itself (envelopes of both sides, 4 ms), so anything from far below -50 dBFS to full scale, with
an offset or after loud other sound, is read; an edge counts only once the signal has gone a quarter of its half-height
past the middle. The sound is first averaged over three samples, which costs an edge of 40 µs little and takes off
nearly half of the noise and most of what sampling folded back. A crossing is the root of the cubic through the four
samples around it, and where noise crosses several times, the alternating sum of the crossings: the one edge with the
same area.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from rollsound.kernel import kernel

HYSTERESIS = 0.25  # design/ltc_edges.py prints what other values cost
SMOOTHING = 1 / 3
ENVELOPE_SECONDS = 0.004
FLOOR = 2.5e-6  # nothing smaller is an edge: code of -100 dBFS
MOST_LAG_SAMPLES = 12.0

# state: upper and lower envelope, learnt plateau of this side and of the other, four samples, extreme of this
# half-wave, alternating sum of crossings and their count, last crossing, side (-1, 0, 1), samples taken, two samples
# not yet smoothed
STATE = 16


class EdgeFinder:
    """Streaming edge finder for one channel.

    Parameters
    ----------
    sample_rate_hz : int
        from 88.2 kHz up, samples are averaged in groups of sample rate / 48 kHz, which costs edges nothing
    hysteresis, smoothing : float
        part of the half-height to pass before an edge counts; weight of each neighbour in the three-sample smoothing
    """

    def __init__(self, sample_rate_hz: int, *, hysteresis: float = HYSTERESIS, smoothing: float = SMOOTHING) -> None:
        self._state = np.zeros(STATE)
        self._width = max(1, round(sample_rate_hz / 48_000))
        self._tail = np.zeros(self._width - 1, np.float32)
        self._hysteresis = hysteresis
        self._smoothing = smoothing if sample_rate_hz >= 32_000 else 0.0  # below that an edge has no samples to spare
        self._decay = math.exp(-1.0 / (ENVELOPE_SECONDS * sample_rate_hz))
        self.lag_samples = MOST_LAG_SAMPLES * self._width

    def feed(self, sound: NDArray[np.float32]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Positions of the edges completed by this piece, in samples since the start, and half-height at each.

        Edges alternate in direction; a positive half-height marks a rising edge.
        """
        if self._width > 1:
            joined = np.concatenate([self._tail, sound])
            self._tail = joined[joined.size - self._width + 1 :]
            mean: NDArray[np.float32] = joined[: joined.size - self._width + 1].copy()
            for shift in range(1, self._width):
                mean += joined[shift : joined.size - self._width + 1 + shift]
            mean /= np.float32(self._width)
            sound = mean
        times = np.empty(sound.size)
        heights = np.empty(sound.size)
        count = _find(
            sound, self._state, self._decay, self._hysteresis, self._smoothing, self.lag_samples, times, heights
        )
        return times[:count] - (self._width - 1) / 2, heights[:count].copy()

    def flush(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """The edge that the last samples may still hold: they wait for two neighbours, taken to stay level."""
        return self.feed(np.full(self._width + 1, self._state[15], np.float32))


@kernel()
def _root(before: float, left: float, right: float, after: float, level: float) -> float:  # pragma: no cover
    """Where between left (0) and right (1) the cubic through four samples passes ``level``."""
    place = (level - left) / (right - left)
    first = -before / 3.0 - left / 2.0 + right - after / 6.0
    second = before / 2.0 - left + right / 2.0
    third = (after - before) / 6.0 + (left - right) / 2.0
    for _ in range(2):  # the start is good to 0.03; twice leaves less than 1e-6
        slope = first + place * (2.0 * second + 3.0 * place * third)
        if slope == 0.0:
            break
        place -= (left - level + place * (first + place * (second + place * third))) / slope
    if not 0.0 <= place <= 1.0:
        place = (level - left) / (right - left)
    return place


@kernel()
def _levels(upper: float, lower: float, mine: float, other: float) -> tuple[float, float, float]:  # pragma: no cover
    """Middle and half-height by the learnt plateaus where they fit the envelopes, else by these; and their half."""
    half = 0.5 * (upper - lower)
    centre = 0.5 * (upper + lower)
    middle = 0.5 * (mine + other)
    height = 0.5 * abs(mine - other)
    if abs(middle - centre) > 0.3 * half or height < 0.5 * half:
        return centre, half, half
    return middle, height, half


@kernel()
def _find(
    sound: NDArray[np.float32],
    state: NDArray[np.float64],
    decay: float,
    hysteresis: float,
    smoothing: float,
    most_lag: float,
    times: NDArray[np.float64],
    heights: NDArray[np.float64],
) -> int:  # pragma: no cover
    upper, lower, mine, other = state[0], state[1], state[2], state[3]
    before, left, right, after = state[4], state[5], state[6], state[7]
    extreme, crossings, crossed, last = state[8], state[9], state[10], state[11]
    side, position = state[12], state[13]
    older, old = state[14], state[15]
    sink = 0.5 - 0.5 * decay**4  # both envelopes sink towards their middle, every fourth sample
    count = 0
    phase = int(position) & 3
    if position == 0.0 and sound.size:
        older = old = before = left = right = after = float(sound[0])
        upper, lower = abs(older), -abs(older)  # a sound that starts within code starts on one of its two levels
    middle, height, half = _levels(upper, lower, mine, other)
    reach = max(hysteresis * half, FLOOR)
    for i in range(sound.size):
        new = float(sound[i])
        smooth = old + smoothing * (older - old + new - old)
        older, old = old, new
        before, left, right, after = left, right, after, smooth
        position += 1.0  # samples taken; `right` is sample number position - 3
        phase = (phase + 1) & 3
        if phase == 0 or right > upper or right < lower:
            if phase == 0 and upper - lower > FLOOR:  # in silence they would sink into slow, denormal numbers
                sunk = sink * (upper - lower)
                upper -= sunk
                lower += sunk
            upper = max(upper, right)
            lower = min(lower, right)
            middle, height, half = _levels(upper, lower, mine, other)
            reach = max(hysteresis * half, FLOOR)
        if (left < middle) != (right < middle):
            last = position - 4.0 + _root(before, left, right, after, middle)
            turn = side if left >= middle else -side
            crossings += turn * last
            crossed += turn
        away = right - middle
        if -reach <= away <= reach:
            continue
        if away * side < 0.0:
            edge = crossings if crossed == 1.0 else last
            times[count] = edge if position - edge <= most_lag else position - 3.0
            heights[count] = -side * height
            count += 1
            mine = extreme if abs(mine - extreme) > 0.5 * half else mine + 0.2 * (extreme - mine)
            mine, other = other, mine
            middle, height, half = _levels(upper, lower, mine, other)
            side = -side
            extreme = right
        elif side == 0.0:
            side = 1.0 if away > 0.0 else -1.0
            extreme = right
        elif away * side > (extreme - middle) * side:
            extreme = right
        crossings = 0.0
        crossed = 0.0
    state[0], state[1], state[2], state[3] = upper, lower, mine, other
    state[4], state[5], state[6], state[7] = before, left, right, after
    state[8], state[9], state[10], state[11] = extreme, crossings, crossed, last
    state[12], state[13], state[14], state[15] = side, position, older, old
    return count
