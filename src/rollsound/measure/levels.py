"""Plain sample statistics and the waveform's base bins, in one sweep: peak, rms in all and by second, DC, oddities."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from rollsound.kernel import kernel
from rollsound.measure.analyser import Block
from rollsound.measure.decibel import db_of_power, dbfs_of_amplitude
from rollsound.measure.model import LevelMeasures
from rollsound.measure.overview import BASE_FRAMES, OverviewStore

MOST_SECONDS = 14_400
"""Rms values kept per track; a longer recording gets two (four, eight …) seconds a value instead of more memory."""


_NO_AUDIO = np.uint32(0x53800000)  # bits of 2^40, +240 dBFS: beyond it, or NaN or infinite, a float is no audio


@kernel()
def set_aside_not_numbers(
    block: NDArray[np.float32], count: NDArray[np.int64], first: NDArray[np.int64], position: int
) -> bool:
    """Count samples per channel that are no audio (NaN, infinite, above +240 dBFS); True when there are any.

    Looks at the bits, so it is quick, and sums of squares of what is left stay finite.
    """
    frames, channels = block.shape
    bits = block.view(np.uint32)
    flat = bits.ravel()
    worst = np.uint32(0)
    for i in range(flat.size):
        magnitude = flat[i] & np.uint32(0x7FFFFFFF)
        worst = magnitude if magnitude > worst else worst
    if worst < _NO_AUDIO:
        return False
    for f in range(frames):
        for c in range(channels):
            if bits[f, c] & np.uint32(0x7FFFFFFF) >= _NO_AUDIO:
                if count[c] == 0:
                    first[c] = position + f
                count[c] += 1
    return True


def without_not_numbers(block: Block) -> Block:
    """A copy in which samples that are no audio are zero."""
    with np.errstate(invalid="ignore"):
        return np.where(np.abs(block) < np.float32(2.0**40), block, np.float32(0.0))


@kernel()
def _tally(
    block: NDArray[np.float32],
    position: int,
    sample_rate_hz: int,
    run: NDArray[np.float64],
    bins: NDArray[np.float64],
    second: NDArray[np.float64],
    total: NDArray[np.float64],
    peak: NDArray[np.float32],
    marks: NDArray[np.int64],
    out_bins: NDArray[np.float32],
    out_seconds: NDArray[np.float64],
) -> tuple[int, int]:
    """Sweep a block; returns how many base bins and how many seconds ended inside it.

    Rows of ``run`` and ``bins``: lowest, highest, sum, sum of squares. A run ends wherever a base bin or a second ends,
    at fixed positions of the stream, so sums never depend on how the stream was cut. ``total``: sum, sum of squares.
    ``marks``: where the peak is, how many samples lie above full scale.
    """
    frames, channels = block.shape
    lowest, highest, sums, squares = run[0], run[1], run[2], run[3]
    start, bins_done, seconds_done = 0, 0, 0
    while start < frames:
        here = position + start
        bin_end = (here // BASE_FRAMES + 1) * BASE_FRAMES
        second_end = (here // sample_rate_hz + 1) * sample_rate_hz
        stop = min(min(bin_end, second_end) - position, frames)
        for f in range(start, stop):
            row = block[f]
            for c in range(channels):
                x = np.float64(row[c])
                lowest[c] = x if x < lowest[c] else lowest[c]
                highest[c] = x if x > highest[c] else highest[c]
                sums[c] += x
                squares[c] += x * x
        for c in range(channels):
            reach = max(-lowest[c], highest[c])
            if reach > peak[c] or reach > 1.0:
                for f in range(start, stop):
                    magnitude = abs(block[f, c])
                    if magnitude > peak[c]:
                        peak[c] = magnitude
                        marks[0, c] = position + f
                    if magnitude > 1.0:
                        marks[1, c] += 1
        start = stop
        here = position + stop
        if here in (bin_end, second_end):
            for c in range(channels):
                bins[0, c] = min(bins[0, c], lowest[c])
                bins[1, c] = max(bins[1, c], highest[c])
                bins[3, c] += squares[c]
                second[c] += squares[c]
                total[0, c] += sums[c]
                total[1, c] += squares[c]
                lowest[c], highest[c], sums[c], squares[c] = np.inf, -np.inf, 0.0, 0.0
        if here == bin_end:
            for c in range(channels):
                out_bins[0, bins_done, c] = bins[0, c]
                out_bins[1, bins_done, c] = bins[1, c]
                out_bins[2, bins_done, c] = bins[3, c]
                bins[0, c], bins[1, c], bins[3, c] = np.inf, -np.inf, 0.0
            bins_done += 1
        if here == second_end:
            for c in range(channels):
                out_seconds[seconds_done, c] = second[c]
                second[c] = 0.0
            seconds_done += 1
    return bins_done, seconds_done


class Levels:
    """Streams finite blocks and gives ``LevelMeasures`` per channel; fills an ``OverviewStore`` on the way if given."""

    def __init__(self, sample_rate_hz: int, channels: int, overview: OverviewStore | None = None) -> None:
        self._rate = sample_rate_hz
        self._channels = channels
        self._overview = overview
        self._position = 0
        empty = np.array([np.inf, -np.inf, 0.0, 0.0])[:, np.newaxis]
        self._run = np.repeat(empty, channels, axis=1)
        self._bins = self._run.copy()
        self._second = np.zeros(channels)
        self._total = np.zeros((2, channels))
        self._peak = np.zeros(channels, dtype=np.float32)
        self._marks = np.zeros((2, channels), dtype=np.int64)
        self._seconds: list[NDArray[np.float64]] = []
        self._step = 1
        self._pending = np.zeros(channels)
        self._pending_count = 0

    @property
    def step_seconds(self) -> int:
        """Seconds per value of the rms over time."""
        return self._step

    def feed(self, block: Block) -> None:
        """Take the next block (frames, channels); values must be finite."""
        frames = block.shape[0]
        bins = np.empty((3, frames // BASE_FRAMES + 2, self._channels), dtype=np.float32)
        seconds = np.empty((frames // self._rate + 2, self._channels))
        bins_done, seconds_done = _tally(
            block,
            self._position,
            self._rate,
            self._run,
            self._bins,
            self._second,
            self._total,
            self._peak,
            self._marks,
            bins,
            seconds,
        )
        self._position += frames
        if self._overview is not None and bins_done:
            self._overview.take(bins[:, :bins_done])
        for squares in seconds[:seconds_done]:
            self._keep_second(squares)

    def _keep_second(self, squares: NDArray[np.float64]) -> None:
        self._pending += squares
        self._pending_count += 1
        if self._pending_count < self._step:
            return
        self._seconds.append(self._pending)
        self._pending, self._pending_count = np.zeros(self._channels), 0
        if len(self._seconds) == MOST_SECONDS:
            self._seconds = [a + b for a, b in zip(self._seconds[::2], self._seconds[1::2], strict=True)]
            self._step *= 2

    def finish(self) -> tuple[LevelMeasures, ...]:
        """One answer per channel."""
        run = self._run
        if self._overview is not None:
            lowest, highest = np.minimum(self._bins[0], run[0]), np.maximum(self._bins[1], run[1])
            rest = np.stack([lowest, highest, self._bins[3] + run[3]]).astype(np.float32)
            self._overview.close(rest, self._position % BASE_FRAMES)
        frames = self._position
        squares = self._total[1] + run[3]
        sums = self._total[0] + run[2]
        whole = len(self._seconds) * self._step * self._rate
        powers = [values / (self._step * self._rate) for values in self._seconds]
        if frames > whole:
            powers.append((self._pending + self._second + run[3]) / (frames - whole))
        by_time = np.array(powers, dtype=np.float64).reshape(-1, self._channels)
        with np.errstate(divide="ignore"):
            by_time = (10.0 * np.log10(by_time)).astype(np.float32)
        return tuple(
            LevelMeasures(
                sample_peak_dbfs=dbfs_of_amplitude(float(self._peak[c])),
                sample_peak_at=int(self._marks[0, c]),
                rms_dbfs=db_of_power(float(squares[c]) / frames) if frames else float("-inf"),
                rms_by_time_dbfs=np.ascontiguousarray(by_time[:, c]),
                dc=float(sums[c]) / frames if frames else 0.0,
                over_full_scale=int(self._marks[1, c]),
            )
            for c in range(self._channels)
        )
