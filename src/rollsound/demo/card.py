"""A card: the clean sound of one microphone, taken by a crystal of its own.

``ClockOfCard`` is the truth about that crystal. It knows nothing of how the tools find it again, and the sound is moved
onto the card's clock by an interpolator of its own.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rollsound.demo.chance import generator, whole
from rollsound.demo.scenario import SAMPLE_RATE_HZ, Card
from rollsound.demo.voice import F32
from rollsound.kernel import kernel

_TAPS = 48
_PHASES = 2048
_BETA = 11.0
_KNOT = 480
SELF_NOISE = 0.000012


@dataclass(frozen=True)
class ClockOfCard:
    """Where the day's sample t lies in one unbroken recording of a card that started at day sample ``start``.

    ``place(t) = (t - start)(1 + rate) + warm-up - what was lost at the re-jam``. Warm-up decays from ``warm_up_ppm``
    with ``tau_samples`` from the moment the card started.
    """

    start: float
    rate_ppm: float
    warm_up_ppm: float = 0.0
    tau_samples: float = 1.0
    rejam: float = math.inf
    lost: int = 0

    def place(self, day_sample: float | NDArray[np.float64]) -> NDArray[np.float64]:
        """Card sample (float64) of a day sample."""
        t = np.asarray(day_sample, np.float64) - self.start
        p = t * (1.0 + self.rate_ppm * 1e-6) + self._warm(t)
        out: NDArray[np.float64] = np.where(t + self.start >= self.rejam, p - self.lost, p)
        return out

    def _warm(self, t: NDArray[np.float64]) -> NDArray[np.float64]:
        out: NDArray[np.float64] = (
            self.warm_up_ppm * 1e-6 * self.tau_samples * (1.0 - np.exp(-np.maximum(t, 0.0) / self.tau_samples))
        )
        return out

    def day_of(self, card_sample: NDArray[np.float64]) -> NDArray[np.float64]:
        """Day sample of a card sample: the inverse of ``place``."""
        p = np.asarray(card_sample, np.float64)
        return self.unbroken(np.where(p >= self.break_at, p + self.lost, p))

    @property
    def break_at(self) -> float:
        """Card sample at which the re-jam lies."""
        return (self.rejam - self.start) * (1.0 + self.rate_ppm * 1e-6) + float(
            self._warm(np.asarray(self.rejam - self.start, np.float64))
        )

    def unbroken(self, card_sample: NDArray[np.float64]) -> NDArray[np.float64]:
        """Day sample of a card sample, had there been no re-jam."""
        t = np.asarray(card_sample, np.float64)
        for _ in range(4):  # each round gains six digits
            t = (card_sample - self._warm(t)) / (1.0 + self.rate_ppm * 1e-6)
        return t + self.start


def clock_of(card: Card, span: tuple[float, float]) -> ClockOfCard:
    """The clock of the recording that a span belongs to; spans that touch are one recording."""
    first = span[0]
    for begin, end in reversed(card.spans):
        if end == first:
            first = begin
    # a card starts between the recorder's samples; where, is part of the card and not of the day's seed
    fraction = (whole(0, card.name, first) % 1000) / 1000.0
    return ClockOfCard(
        start=first * SAMPLE_RATE_HZ + fraction,
        rate_ppm=card.rate_ppm,
        warm_up_ppm=card.warm_up_ppm,
        tau_samples=card.warm_up_tau_s * SAMPLE_RATE_HZ,
        rejam=math.inf if card.rejam_s is None else card.rejam_s * SAMPLE_RATE_HZ,
        lost=card.rejam_lost,
    )


def file_limits(card: Card, span: tuple[float, float]) -> tuple[int, int]:
    """First card sample of a span's file, and one past its last, counted from the recording's start."""
    clock = clock_of(card, span)
    first = round(float(clock.place(span[0] * SAMPLE_RATE_HZ)))
    return max(first, 0), round(float(clock.place(span[1] * SAMPLE_RATE_HZ)))


def _table() -> F32:
    """Windowed sinc, one row a phase."""
    phase = np.arange(_PHASES + 1)[:, None] / _PHASES
    at = np.arange(_TAPS)[None, :] - (_TAPS // 2 - 1) - phase
    window = np.i0(_BETA * np.sqrt(np.maximum(1.0 - (at / (_TAPS / 2)) ** 2, 0.0))) / np.i0(_BETA)
    return np.ascontiguousarray(np.sinc(at) * window, dtype=np.float32)


@kernel(fast=True)
def _take(source: F32, knots: NDArray[np.float64], step: int, late: int, table: F32, out: F32) -> None:
    """Values of ``source`` at positions on lines between ``knots``, ``step`` outputs apart from ``late`` before."""
    taps = table.shape[1]
    phases = table.shape[0] - 1
    for n in range(out.shape[0]):
        k = (n + late) // step
        x = knots[k] + (knots[k + 1] - knots[k]) * ((n + late - k * step) / step)
        whole = int(np.floor(x))
        place = (x - whole) * phases
        row = int(place)
        w = np.float32(place - row)
        first = whole - (taps // 2 - 1)
        if first < 0 or first + taps > source.shape[0]:
            out[n] = 0.0
            continue
        a = np.float32(0.0)
        b = np.float32(0.0)
        for i in range(taps):
            a += table[row, i] * source[first + i]
            b += table[row + 1, i] * source[first + i]
        out[n] = a + w * (b - a)


class CardHead:
    """Writes one file of a card while the day goes by in blocks of clean sound."""

    def __init__(self, card: Card, span: tuple[float, float], seed: int) -> None:
        self.clock = clock_of(card, span)
        self.at, self.end = file_limits(card, span)
        self._noise = generator(seed, "card", card.name, span[0])
        self._kept = np.zeros(0, np.float32)
        self._kept_from = 0
        self._table = _table()

    def feed(self, sound: F32, day_sample: int) -> F32:
        """The card's samples that the day's sound up to here allows; ``sound`` starts at ``day_sample``."""
        if self._kept.size == 0:
            self._kept_from = day_sample
        source = np.concatenate([self._kept, sound])
        stop = self._kept_from + source.size - _TAPS
        count = max(min(int(self.clock.place(float(stop))), self.end) - self.at, 0)
        out = self._render(source, count)
        keep_from = int(self.clock.day_of(np.array([float(self.at)]))[0]) - _TAPS
        cut = min(max(keep_from - self._kept_from, 0), source.size)
        self._kept, self._kept_from = source[cut:].copy(), self._kept_from + cut
        return out

    def _render(self, source: F32, count: int) -> F32:
        out = np.zeros(count, np.float32)
        broken = self._break_within(count)
        for begin, end, lost in ((0, broken, 0), (broken, count, self.clock.lost)):
            if end > begin:
                # knots lie at whole multiples of their spacing, so that blocks do not change the sound
                late = (self.at + begin) % _KNOT
                card = self.at + begin - late + _KNOT * np.arange((end - begin + late) // _KNOT + 2, dtype=np.float64)
                knots = self.clock.unbroken(card + lost) - self._kept_from
                _take(source, knots, _KNOT, late, self._table, out[begin:end])
        out += np.float32(SELF_NOISE) * self._noise.standard_normal(count, dtype=np.float32)
        self.at += count
        return out

    def _break_within(self, count: int) -> int:
        """Where in the next ``count`` samples the re-jam lies; ``count`` if it does not."""
        if not math.isfinite(self.clock.rejam):
            return count
        return int(np.clip(math.ceil(self.clock.break_at) - self.at, 0, count))
