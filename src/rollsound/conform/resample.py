"""Card sound at the recorder's clock: windowed-sinc resampling along a clock map, by position, in any block size.

Every output sample is computed from its own position alone, so a stream of blocks equals one long read. Positions are
kept as whole samples plus a small remainder: a double holding the whole position would, hours into a card, already
blur 10 kHz by more than the filter does.

Source: J. O. Smith, "Digital Audio Resampling" (windowed sinc, linear between phases), and J. F. Kaiser's window.
The figures for taps, phases and window are those of ``design/resample_filter.py``.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from rollsound.conform.model import ClockMap
from rollsound.errors import InputError
from rollsound.kernel import kernel

Samples = NDArray[np.float64]
Fetch = Callable[[int, int], NDArray[Any]]
"""``fetch(start, frames)`` gives mono samples of a card from ``start`` (0 or more); fewer at its end."""

TAPS = 64
PHASES = 8192
BETA = 16.0
JOIN_SECONDS = 0.005
"""Half the length of the cross-fade where a map jumps (a card that lost samples)."""
_STEEP = 0.01
_STRONGEST_RATIO = 8.0


@kernel(fast=True)
def _sinc_sum(
    x: Any, x_first: int, start: int, knots: Any, whole: Any, part: Any, excess: Any, bank: Any, out: Any
) -> None:
    """Fill ``out`` with the samples of take frames ``start`` onwards; ``x[0]`` is card sample ``x_first``."""
    phases = bank.shape[0] - 1
    taps = bank.shape[1]
    last = whole.size - 1
    k = 0
    for i in range(out.size):
        n = start + i
        while k < last and n >= knots[k + 1]:
            k += 1
        run = n - knots[k]
        drift = part[k] + run * excess[k]
        floor = int(np.floor(drift))
        phase = (drift - floor) * phases
        row = min(int(phase), phases - 1)
        share = phase - row
        first = whole[k] + run + floor - taps // 2 + 1 - x_first
        window = x[first : first + taps]
        low = bank[row]
        high = bank[row + 1]
        a = 0.0
        b = 0.0
        for t in range(taps):
            a += window[t] * low[t]
            b += window[t] * high[t]
        out[i] = a + share * (b - a)


@lru_cache(maxsize=4)
def filter_bank(ratio: float = 1.0) -> Samples:
    """Windowed sinc filters, shape (PHASES + 1, taps), each of unit sum; ``ratio`` above 1 lowers the cut-off."""
    stretch = max(1.0, ratio)
    taps = 2 * int(np.ceil(TAPS * stretch / 2))
    fractions = np.arange(PHASES + 1) / PHASES
    t = np.arange(-(taps // 2) + 1, taps // 2 + 1)[None, :] - fractions[:, None]
    window = np.i0(BETA * np.sqrt(np.clip(1 - (t / (taps / 2)) ** 2, 0, None)))
    bank = np.sinc(t / stretch) * window
    out: Samples = np.ascontiguousarray(bank / bank.sum(axis=1, keepdims=True))
    out.setflags(write=False)
    return out


@dataclass(frozen=True, eq=False)
class _Lines:
    """A map cut into straight lines: ``position(n) = whole + part + (n - knot)(1 + excess)`` from each knot on."""

    knots: NDArray[np.int64]
    whole: NDArray[np.int64]
    part: Samples
    excess: Samples

    @classmethod
    def of(cls, clock: ClockMap) -> _Lines:
        n, p = clock.take_frames, clock.card_positions
        run = np.diff(n)
        whole = np.floor(p[:-1]).astype(np.int64)
        part = p[:-1] - whole
        rise = (np.floor(p[1:]).astype(np.int64) - whole - run) + (p[1:] - np.floor(p[1:]) - part)
        return cls(n[:-1].copy(), whole, part, rise / run)

    def one(self, k: int) -> _Lines:
        """Line ``k`` alone, straight on for ever."""
        pick = slice(k, k + 1)
        return _Lines(self.knots[pick], self.whole[pick], self.part[pick], self.excess[pick])

    def at(self, n: NDArray[np.int64]) -> Samples:
        k = np.clip(np.searchsorted(self.knots, n, side="right") - 1, 0, self.knots.size - 1)
        run = n - self.knots[k]
        out: Samples = (self.whole[k] + run) + (self.part[k] + run * self.excess[k])
        return out

    def reach(self, start: int, frames: int) -> tuple[int, int]:
        """First and last card sample (floors) that take frames ``start`` to ``start + frames`` lie at."""
        first, last = start, start + frames - 1
        inside = self.knots[(self.knots > first) & (self.knots <= last)]
        n = np.concatenate([[first, last], inside, inside - 1])
        p = self.at(n.astype(np.int64))
        return int(np.floor(p.min())), int(np.floor(p.max()))


class Resampler:
    """A card's sound as the recorder would have had it: read by take frame.

    Parameters
    ----------
    fetch
        gives mono samples of the card; never asked for anything outside it
    card_frames
        length of the card's file; what lies outside reads as silence
    clock
        where take frames lie in the card
    sample_rate_hz
        of the take; only the cross-fade at jumps depends on it

    Raises
    ------
    InputError
        when the map runs backwards or faster than eight times
    """

    def __init__(self, fetch: Fetch, card_frames: int, clock: ClockMap, sample_rate_hz: int = 48000) -> None:
        self.clock = clock
        self.card_frames = card_frames
        self._fetch = fetch
        lines = _Lines.of(clock)
        usual = float(np.median(lines.excess))
        if not -1.0 < usual < _STRONGEST_RATIO - 1.0:
            raise InputError("the clock map runs backwards or too fast to be followed; align this card again.")
        steep = np.abs(lines.excess - usual) > _STEEP
        self._joins = [int(k) for k in np.flatnonzero(steep[1:-1]) + 1]
        self._join_frames = round(JOIN_SECONDS * sample_rate_hz)
        self._lines = lines
        self._bank = filter_bank(1.0 + usual if usual > _STEEP else 1.0)

    @classmethod
    def of_array(cls, card: NDArray[Any], clock: ClockMap, sample_rate_hz: int = 48000) -> Resampler:
        """The same over a card that lies in memory, shape (frames,)."""
        return cls(lambda start, frames: card[start : start + frames], card.size, clock, sample_rate_hz)

    def read(self, start: int, frames: int) -> Samples:
        """Take frames ``start`` to ``start + frames`` (any, also negative) as float64, shape (frames,)."""
        out = self._along(self._lines, start, frames)
        for k in self._joins:
            self._cross(k, start, out)
        return out

    def _along(self, lines: _Lines, start: int, frames: int) -> Samples:
        out = np.empty(frames, np.float64)
        if frames == 0:
            return out
        low, high = lines.reach(start, frames)
        taps = self._bank.shape[1]
        # One sample to spare on both sides: a position a rounding error below a whole number takes the one before.
        first, stop = low - taps // 2, high + taps // 2 + 2
        x = self._window(first, stop)
        _sinc_sum(x, first, start, lines.knots, lines.whole, lines.part, lines.excess, self._bank, out)
        return out

    def _window(self, first: int, stop: int) -> Samples:
        """Card samples ``first`` to ``stop`` with silence outside the card."""
        x = np.zeros(stop - first, np.float64)
        begin, end = max(first, 0), min(stop, self.card_frames)
        if end > begin:
            got = self._fetch(begin, end - begin)
            if got.size != end - begin:
                raise InputError("a card's file became shorter while it was read; copy it again from its card.")
            x[begin - first : end - first] = got
        return x

    def _cross(self, k: int, start: int, out: Samples) -> None:
        """Over a jump, fade from the line before it to the line after it."""
        half = self._join_frames
        middle = int(self._lines.knots[k]) + 1
        begin, end = max(start, middle - half), min(start + out.size, middle + half)
        if end <= begin:
            return
        before = self._along(self._lines.one(k - 1), begin, end - begin)
        after = self._along(self._lines.one(k + 1), begin, end - begin)
        share = 0.5 - 0.5 * np.cos(np.pi * (np.arange(begin, end) - (middle - half) + 0.5) / (2 * half))
        out[begin - start : end - start] = before + share * (after - before)


def covered(clock: ClockMap, card_frames: int, start: int, stop: int) -> tuple[int, int]:
    """Which of the take frames ``start`` to ``stop`` lie inside the card: first, one past the last (equal if none)."""
    if card_frames < 1 or stop <= start:
        return start, start
    first = max(start, int(np.ceil(clock.frame_of(0.0))))
    end = min(stop, int(np.floor(clock.frame_of(card_frames - 1.0))) + 1)
    return (first, end) if end > first else (start, start)


def resample(source: NDArray[Any] | Fetch, clock: ClockMap, frames: int, *, card_frames: int | None = None) -> Samples:
    """Take frames 0 to ``frames`` of a card in one go, float64. For a ``fetch`` the card's length must be given."""
    if isinstance(source, np.ndarray):
        return Resampler.of_array(source, clock).read(0, frames)
    if card_frames is None:
        raise InputError("the length of the card is not known; give it together with its reader.")
    return Resampler(source, card_frames, clock).read(0, frames)
