"""Passes of playback: stretches of a take in which its time code runs on, each with its place, speed and slips.

A pass ends where the count jumps or turns round. Code that is missing inside one, where the count goes on behind the
hole as if nothing had been, is a dropout of the code, not of the playback.
"""

from __future__ import annotations

from array import array
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from rollsound.timecode.chain import LtcEntry

F64 = NDArray[np.float64]

WINDOW_FRAMES = 25
"""Over which a speed is measured on the way: about a second."""
SAME_SPEED_PPM = 100.0
LEAST_STEP_S = 0.0004
_JUMP_FRAMES, _JUMP_SHARE = 0.6, 0.03
_LEAST_JITTER_SAMPLES = 0.02
_STEP_SIGMAS = 8.0
_MEDIAN_FRAMES = 9
_MOST_LISTED = 200


@dataclass(frozen=True)
class Run:
    """A stretch of one speed inside a pass: samples a frame, and one sigma of it."""

    start_sample: float
    end_sample: float
    frame_samples: float
    sigma_ppm: float


@dataclass(frozen=True)
class Slip:
    """Playback came later (positive) or earlier by so many samples from one frame to the next, its count going on."""

    sample: float
    samples: float


@dataclass(frozen=True)
class Pass:
    """One stretch of running code.

    Frames are counted from label 00:00:00:00 at ``nominal`` labels a second (pairs of frames above 30), without an end
    at midnight. ``first`` and ``last`` are the lowest and the highest frame read. Frame n begins at sample
    ``origin_sample + n * step_samples``; the step is negative backwards.
    """

    nominal: int
    drop: bool
    direction: Literal["forward", "reverse"]
    first: int
    last: int
    start_sample: float
    end_sample: float
    origin_sample: float
    step_samples: float
    sigma_ppm: float
    jitter_samples: float
    frames_read: int
    missing_frames: int
    longest_hole_frames: int
    runs: tuple[Run, ...]
    slips: tuple[Slip, ...]

    @property
    def frame_samples(self) -> float:
        """Length of a frame over the whole pass."""
        return abs(self.step_samples)

    def sample_of(self, frame: float) -> float:
        """Where a frame begins, by the line through the pass."""
        return self.origin_sample + frame * self.step_samples


class PassFinder:
    """Takes the frames of one track in order of time and parts them into passes; keeps two numbers a frame."""

    def __init__(self, sample_rate_hz: int) -> None:
        self._rate_hz = sample_rate_hz
        self._passes: list[Pass] = []
        self._last: LtcEntry | None = None
        self._number = 0
        self._samples, self._numbers = array("d"), array("q")
        self._ends: tuple[float, float] = (0.0, 0.0)

    def take(self, entries: Iterable[LtcEntry]) -> None:
        """Some more frames."""
        for entry in entries:
            last = self._last
            if last is not None and not self._goes_on(last, entry):
                self._close()
                last = None
            begin, end = sorted((entry.sample, entry.end_sample))
            number = entry.timecode.to_frames()
            if last is None:
                self._number, self._ends = number, (begin, end)
            else:
                day = entry.timecode.rate.frames_per_day
                self._number += (number - self._number + day // 2) % day - day // 2
                self._ends = (self._ends[0], end)
            self._samples.append(entry.sample)
            self._numbers.append(self._number)
            self._last = entry

    def finish(self) -> tuple[Pass, ...]:
        """All passes, once no more frames come."""
        self._close()
        return tuple(self._passes)

    def _goes_on(self, last: LtcEntry, entry: LtcEntry) -> bool:
        old, new = last.timecode.rate, entry.timecode.rate
        if entry.direction != last.direction or (old.nominal, old.drop) != (new.nominal, new.drop):
            return False
        day = new.frames_per_day
        frames = (entry.timecode.to_frames() - last.timecode.to_frames() + day // 2) % day - day // 2
        if entry.direction == "reverse":
            frames = -frames
        length = 0.5 * (abs(last.end_sample - last.sample) + abs(entry.end_sample - entry.sample))
        due = (entry.sample - last.sample) / length
        return frames > 0 and abs(frames - due) <= max(_JUMP_FRAMES, _JUMP_SHARE * due)

    def _close(self) -> None:
        last = self._last
        if last is not None:
            made = _measured(
                np.array(self._samples), np.array(self._numbers, np.float64), last, self._ends, self._rate_hz
            )
            self._passes.append(made)
        self._last = None
        self._samples, self._numbers = array("d"), array("q")


def _measured(samples: F64, numbers: F64, last: LtcEntry, ends: tuple[float, float], rate_hz: int) -> Pass:
    """The figures of a pass from its frames: places and numbers, both in order of time."""
    forward = last.direction == "forward"
    frames = np.abs(np.diff(numbers))
    slips = _slips(samples, frames, rate_hz)
    steadied = samples.copy()
    for at, size in slips:
        steadied[at + 1 :] -= size
    length = abs(last.end_sample - last.sample) * (1.0 if forward else -1.0)
    origin, step, sigma, jitter = _line(numbers, samples, length)
    missing = frames - 1.0
    low, high = (int(numbers[0]), int(numbers[-1])) if forward else (int(numbers[-1]), int(numbers[0]))
    return Pass(
        nominal=last.timecode.rate.nominal,
        drop=last.timecode.rate.drop,
        direction=last.direction,
        first=low,
        last=high,
        start_sample=ends[0],
        end_sample=ends[1],
        origin_sample=origin,
        step_samples=step,
        sigma_ppm=sigma,
        jitter_samples=jitter,
        frames_read=samples.size,
        missing_frames=int(missing.sum()),
        longest_hole_frames=int(missing.max(initial=0.0)),
        runs=_runs(steadied, numbers, abs(length)),
        slips=tuple(Slip(float(samples[at]), size) for at, size in slips[:_MOST_LISTED]),
    )


def _line(numbers: F64, samples: F64, length: float) -> tuple[float, float, float, float]:
    """Least squares of place against number: place of frame 0, samples a frame, its sigma in ppm, rms of the rest."""
    if samples.size < 3:
        return float(samples[0] - numbers[0] * length), length, float("inf"), 0.0
    middle = numbers.mean()
    away = numbers - middle
    spread = float(away @ away)
    step = float(away @ (samples - samples.mean())) / spread
    rest = samples - samples.mean() - step * away
    jitter = float(np.sqrt((rest @ rest) / max(samples.size - 2, 1)))
    sigma = max(jitter, _LEAST_JITTER_SAMPLES) / spread**0.5 / abs(step) * 1e6
    return float(samples.mean() - step * middle), step, sigma, jitter


def _slips(samples: F64, frames: F64, rate_hz: int) -> list[tuple[int, float]]:
    """Steps of place that no speed explains: (frame before, samples)."""
    if samples.size < _MEDIAN_FRAMES + 2:
        return []
    lengths = np.diff(samples) / frames
    half = _MEDIAN_FRAMES // 2
    padded = np.pad(lengths, half, mode="edge")
    usual = np.median(np.lib.stride_tricks.sliding_window_view(padded, _MEDIAN_FRAMES), axis=1)
    over = (lengths - usual) * frames
    sigma = 1.4826 * float(np.median(np.abs(over)))
    change = np.abs(np.pad(usual, half, mode="edge")[2 * half :] - np.pad(usual, half, mode="edge")[: usual.size])
    limit = np.maximum(max(LEAST_STEP_S * rate_hz, _STEP_SIGMAS * sigma), 1.5 * change * frames)
    return [(int(at), float(over[at])) for at in np.flatnonzero((np.abs(over) > limit) & (frames <= 3))]


def _runs(samples: F64, numbers: F64, length: float) -> tuple[Run, ...]:
    """Stretches of one speed: windows of a second, joined while their speed is the same."""
    windows = max(1, samples.size // WINDOW_FRAMES)
    edges = np.linspace(0, samples.size, windows + 1).astype(int)
    if samples.size < 4:
        return (Run(float(samples[0]), float(samples[-1]) + length, length, float("inf")),)
    found: list[tuple[int, int]] = []
    kept: tuple[float, float] | None = None
    for start, stop in pairwise(edges.tolist()):
        _, step, sigma, _ = _line(numbers[start:stop], samples[start:stop], length)
        if kept is not None:
            apart = abs(abs(step) / kept[0] - 1.0) * 1e6
            if apart <= SAME_SPEED_PPM + 3.0 * float(np.hypot(sigma, kept[1])):
                found[-1] = (found[-1][0], int(stop))
                _, joined, joined_sigma, _ = _line(numbers[found[-1][0] : stop], samples[found[-1][0] : stop], length)
                kept = (abs(joined), joined_sigma)
                continue
        found.append((int(start), int(stop)))
        kept = (abs(step), sigma)
    runs = []
    for start, stop in found[:_MOST_LISTED]:
        _, step, sigma, _ = _line(numbers[start:stop], samples[start:stop], length)
        runs.append(Run(float(samples[start]), float(samples[stop - 1]) + abs(step), abs(step), sigma))
    return tuple(runs)
