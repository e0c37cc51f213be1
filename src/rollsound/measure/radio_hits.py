"""Radio hits and dropouts seen from one track alone.

A hit is a burst of noise: the band above 8 kHz jumps up within 2 ms, stays level, and falls within 2 ms, while the
spectrum is as flat as noise. A fricative rises and falls slowly and has little below 3 kHz; the burst of a stop
consonant and a clap decay. A dropout is a gap that falls below the track's own noise floor, where no natural sound
goes, or one whose both edges are too sudden for a mouth. Where a clean card of the same voice exists, the comparison
with it is far surer than either.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from rollsound.kernel import kernel
from rollsound.measure.front import FULL, HIGH, MIDDLE, STEPS
from rollsound.measure.grid import MOMENTS, Grid
from rollsound.measure.model import Fault
from rollsound.measure.thresholds import power, threshold

F32 = NDArray[np.float32]

BEFORE, AFTER = 12, 12  # moments looked at outside a fault
# density of noise: the middle band is 2.2 kHz wide, the upper band of a radio link about 7 kHz
_MIDDLE_KHZ, _HIGH_KHZ = 2.2, 7.0
_ALIKE = 10.0  # a gap that is only sudden must have the same sound on both sides, within this power ratio
# sudden but not below the floor: a hint for those who can compare with a card, too unsure for a finding of its own
_SURE, _HINT = 0.9, 0.4
MOST = 4000


@kernel()
def _hits(
    features: F32,
    first: int,
    last: int,
    limits: NDArray[np.float64],
    found: NDArray[np.float64],
    busy: NDArray[np.int64],
) -> int:
    """Bursts that begin at moments ``first`` to ``last`` of each track; returns how many rows of ``found`` it wrote.

    Rows: track, moment, moments, mean energy per moment in full, upper band, rise in dB, flatness in dB, steadiness.
    ``busy`` holds, per track, the moment before which no new burst may begin.
    """
    rise, shortest, longest, flatness, steady = limits[0], int(limits[1]), int(limits[2]), limits[3], limits[4]
    flattest = limits[5]
    n = 0
    for c in range(features.shape[0]):
        high, middle, full = features[c, HIGH], features[c, MIDDLE], features[c, FULL]
        for t in range(first, last):
            if t < busy[c]:
                continue
            inside = high[t + 1]
            before = max(high[t - 2], high[t - 3], high[t - 4], high[t - 5])
            if inside < rise * before or inside < 1e-8 or high[t - 1] * rise > inside:
                continue
            total = np.float64(inside)
            stop = t + 2
            while stop < t + longest and high[stop] * rise > total / (stop - t - 1):
                total += high[stop]
                stop += 1
            count = stop - t
            if count < shortest or stop >= t + longest:
                continue
            mean = total / (count - 1)
            after = max(high[stop + 1], high[stop + 2], high[stop + 3], high[stop + 4])
            if after * rise > mean or high[stop - 2] * 4.0 < mean:
                continue
            third = max(2, (count - 2) // 3)
            early, late, mid, whole = 0.0, 0.0, 0.0, 0.0
            for k in range(third):
                early += high[t + 1 + k]
                late += high[stop - 2 - k]
            for k in range(t + 1, stop - 1):
                mid += middle[k]
                whole += full[k]
            mid /= count - 2
            whole /= count - 2
            slope = max(early, late) / max(min(early, late), 1e-20)
            flat = (mid / _MIDDLE_KHZ) / (mean / _HIGH_KHZ)
            if slope > steady or flat < flatness or flat > flattest:
                continue
            if n < found.shape[0]:
                row = found[n]
                row[0], row[1], row[2], row[3], row[4] = c, t, count, whole, mean
                row[5], row[6], row[7] = mean / max(before, after, 1e-12), flat, slope
                n += 1
            busy[c] = stop
        busy[c] = max(busy[c], last)
    return n


@kernel()
def _gaps(
    features: F32, first: int, last: int, limits: NDArray[np.float64], floor: NDArray[np.float64],
    found: NDArray[np.float64], busy: NDArray[np.int64],
) -> int:  # fmt: skip
    """Sudden gaps that begin at moments ``first`` to ``last``; returns how many rows of ``found`` were written.

    Rows: track, moment, moments, mean energy of steps before, inside (the greatest), after; 1.0 if both edges are
    sudden; full energy inside. ``floor`` follows each track's tenth percentile slowly.
    """
    edge, below, shortest, longest = limits[0], limits[1], int(limits[2]), int(limits[3])
    n = 0
    for c in range(features.shape[0]):
        steps, full = features[c, STEPS], features[c, FULL]
        for t in range(first, last):
            here = np.float64(steps[t])
            floor[c] = here if floor[c] < 0 else floor[c] * (1.0005 if here > floor[c] else 0.9955)
            if t < busy[c]:
                continue
            two = max(np.float64(steps[t + 1]), np.float64(steps[t + 2]))
            before = 0.0
            for k in range(2, 8):
                before += steps[t - k]
            before /= 6.0
            deep = two * below <= floor[c]
            if before <= 0.0 or not (two * edge <= before or deep) or two * 4.0 > before:
                continue
            limit = max(two * 6.0, before / edge) if not deep else max(two * 6.0, floor[c] / below)
            top, energy = two, 0.0
            stop = t + 1
            while stop < t + longest and steps[stop] <= limit:
                top = max(top, np.float64(steps[stop]))
                energy += full[stop]
                stop += 1
            count = stop - t
            if count < shortest or stop >= t + longest:
                continue
            after = 0.0
            for k in range(1, 7):
                after += steps[stop + k]
            after /= 6.0
            sudden = (
                steps[t - 2] * 6.0 >= before and steps[stop + 1] * 6.0 >= after
                and top * edge <= before and top * edge <= after
            )  # fmt: skip
            if (sudden or top * below <= floor[c]) and n < found.shape[0]:
                row = found[n]
                row[0], row[1], row[2], row[3], row[4], row[5] = c, t, count, before, top, after
                row[6], row[7] = 1.0 if sudden else 0.0, energy / (count - 1)
                n += 1
                busy[c] = stop
        busy[c] = max(busy[c], last)
    return n


class RadioFaults:
    """Looks for hits and gaps in the moments of a stream."""

    def __init__(self, grid: Grid, channels: int, sample_bits: int) -> None:
        self._grid = grid
        step = 2.0 ** (1 - min(sample_bits, 24))
        self._lowest_floor = grid.moment * (threshold("dropout.floor_steps") * step) ** 2
        self.longest = grid.moments(max(threshold("hit.longest"), threshold("dropout.longest")))
        self._hit_limits = np.array(
            [
                power("hit.rise"),
                grid.moments(threshold("hit.shortest")),
                grid.moments(threshold("hit.longest")),
                power("hit.flatness"),
                power("hit.steadiness"),
                power("hit.flattest"),
            ]
        )
        self._gap_limits = np.array(
            [
                power("dropout.edge"),
                power("dropout.below_floor"),
                grid.moments(threshold("dropout.shortest")),
                grid.moments(threshold("dropout.longest")),
            ]
        )
        self._sudden_longest = grid.moments(threshold("dropout.sudden_longest"))
        self._floor = np.full(channels, -1.0)
        self._busy_hits = np.zeros(channels, np.int64)
        self._busy_gaps = np.zeros(channels, np.int64)
        self._found = np.zeros((64 * channels, 8))
        self._hits: list[list[tuple[float, ...]]] = [[] for _ in range(channels)]
        self._gaps: list[list[tuple[float, ...]]] = [[] for _ in range(channels)]

    def run(self, features: F32, first: int, last: int, position: int, skip: NDArray[np.bool_]) -> None:
        """Look at moments ``first`` to ``last``; moment ``first`` begins at the stream's sample ``position``."""
        for busy in (self._busy_hits, self._busy_gaps):
            np.maximum(busy, first, out=busy)
        n = _hits(features, first, last, self._hit_limits, self._found, self._busy_hits)
        self._take(self._hits, self._found[:n], first, position, skip)
        n = _gaps(features, first, last, self._gap_limits, self._floor, self._found, self._busy_gaps)
        self._take(self._gaps, self._found[:n], first, position, skip)
        for busy in (self._busy_hits, self._busy_gaps):
            busy -= MOMENTS

    def _take(
        self,
        store: list[list[tuple[float, ...]]],
        rows: NDArray[np.float64],
        first: int,
        position: int,
        skip: NDArray[np.bool_],
    ) -> None:
        moment = self._grid.moment
        for row in rows.tolist():
            track = int(row[0])
            if not skip[track] and len(store[track]) < MOST:
                store[track].append((position + (row[1] - first) * moment, *row[2:]))

    def finish(self, quiet_steps: NDArray[np.float64], speech: NDArray[np.float64]) -> list[list[Fault]]:
        """Hits and dropouts of every track.

        ``quiet_steps`` is each track's tenth percentile of the energy of steps per moment, ``speech`` the level its
        sound has when it has any, as mean square.
        """
        return [
            [h for h in (self._hit(row, float(speech[c])) for row in self._hits[c]) if h]
            + [g for g in (self._gap(row, float(quiet_steps[c])) for row in self._gaps[c]) if g]
            for c in range(len(self._hits))
        ]

    def _hit(self, row: tuple[float, ...], speech: float) -> Fault | None:
        start, count, full, _, rise, flat, slope = row
        moment = self._grid.moment
        level = 10.0 * math.log10(full / moment)
        over_speech = level - 10.0 * math.log10(max(speech, 1e-12))
        sure = 0.55 + 0.2 * min(1.0, (count - 6) / 20) + 0.2 * min(1.0, max(0.0, (over_speech + 10.0) / 16.0))
        unclear = over_speech < 0.0 and rise < power("hit.clear_rise")
        if unclear or over_speech < threshold("hit.over_speech"):
            return None
        numbers = {
            "rise_db": 10.0 * math.log10(rise),
            "flatness_db": 10.0 * math.log10(flat),
            "over_speech_db": over_speech,
            "steadiness_db": 10.0 * math.log10(slope),
        }
        return Fault("radio-hit", round(start), int(count) * moment, level, round(min(sure, 0.95), 3), numbers)

    def _gap(self, row: tuple[float, ...], quiet: float) -> Fault | None:
        start, count, before, inside, after, sudden, full = row
        moment = self._grid.moment
        deep = inside * self._gap_limits[1] <= quiet
        alike = sudden and count <= self._sudden_longest and _ALIKE * before >= after >= before / _ALIKE
        if quiet <= self._lowest_floor or not (deep or (alike and inside <= 2.0 * quiet)):
            return None
        level = 10.0 * math.log10(full / moment) if full > 0.0 else -math.inf
        below = 10.0 * math.log10(quiet / max(inside, 1e-18)) if quiet > 0.0 else 0.0
        numbers = {
            "fall_db": 10.0 * math.log10(before / max(inside, 1e-18)),
            "return_db": 10.0 * math.log10(max(after, 1e-18) / max(inside, 1e-18)),
            "below_floor_db": below,
        }
        return Fault("dropout", round(start), int(count) * moment, level, _SURE if deep else _HINT, numbers)
