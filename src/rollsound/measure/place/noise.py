"""The noise of a place from one track, in one pass: A-weighted levels, how they are spread, octaves, tones.

Levels are of the mean square against 1.0, in dB; a calibration adds what that is in sound pressure. Memory does not
grow with length, and the answer does not depend on the blocks.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import signal

from rollsound.errors import InputError
from rollsound.measure.decibel import db_of_power
from rollsound.measure.place.octaves import OctaveSums
from rollsound.measure.place.tables import limit
from rollsound.measure.place.tones import Tone, ToneSpectrum
from rollsound.measure.place.weighting import AWeighting
from rollsound.quantities import show_time

F64 = NDArray[np.float64]

FAST_S = 0.125
"""Time weighting F. Source: IEC 61672-1:2013, 5.8."""
PICKS_PER_SECOND = 10
_SETTLING_PICKS = 10
_LOWEST_DB, _STEP_DB, _BINS = -200.0, 0.1, 2400
_MOST_SECONDS = 3600
LOWEST_RATE_HZ = 8_000


@dataclass(frozen=True)
class NoiseFigures:
    """What was measured, in dB against a mean square of 1.0; add a calibration's ``full_scale_db_spl``.

    ``by_time_db`` has an A-weighted mean level for each ``step_s``. Octaves that the rate does not reach are not a
    number. ``histogram`` counts Fast levels in steps of 0.1 dB, so that several recordings can be put together.
    """

    seconds: float
    laeq_db: float
    highest_db: float
    octaves_db: tuple[float, ...]
    tones: tuple[Tone, ...]
    by_time_db: tuple[float, ...]
    step_s: float
    histogram: NDArray[np.int64]
    clipped: int = 0

    def exceeded_db(self, percent: float) -> float:
        """The Fast A-weighted level that is exceeded for a share of the time."""
        total = int(self.histogram.sum())
        if not total:
            return -math.inf
        rank = max(1, math.ceil((1.0 - percent / 100.0) * total))
        at = int(np.searchsorted(np.cumsum(self.histogram), rank))
        return _LOWEST_DB + (at + 0.5) * _STEP_DB


class PlaceNoise:
    """Takes one track block by block.

    Parameters
    ----------
    sample_rate_hz
        8 kHz or more
    """

    def __init__(self, sample_rate_hz: int) -> None:
        if sample_rate_hz < LOWEST_RATE_HZ:
            raise InputError(
                f"has a sample rate of {sample_rate_hz} Hz; the noise of a place needs {LOWEST_RATE_HZ} Hz or more"
            )
        self._rate = sample_rate_hz
        self._weighting = AWeighting(sample_rate_hz)
        self._octaves = OctaveSums(sample_rate_hz)
        self._tones = ToneSpectrum(sample_rate_hz)
        keep = math.exp(-1.0 / (FAST_S * sample_rate_hz))
        self._fast = (np.array([1.0 - keep]), np.array([1.0, -keep]))
        self._fast_memory = np.zeros(1)
        self._frames = 0
        self._picks = 0
        self._histogram = np.zeros(_BINS, np.int64)
        self._first_picks: list[float] = []
        self._highest = 0.0
        self._energy = 0.0
        self._seconds = _Seconds(sample_rate_hz)
        self._clipped = 0

    def feed(self, block: ArrayLike) -> None:
        """Take the next samples, shape (frames,), full scale 1.0.

        Raises
        ------
        InputError
            at the first sample that is no number
        """
        samples = np.asarray(block, np.float64)
        if not samples.size:
            return
        refuse_not_numbers(samples, self._frames, self._rate)
        self._clipped += int(np.count_nonzero(np.abs(samples) >= 1.0 - 2.0**-15))
        self._octaves.feed(samples)
        self._tones.feed(samples)
        squares = self._weighting.feed(samples) ** 2
        self._energy += float(squares.sum())
        self._seconds.feed(squares)
        fast, self._fast_memory = signal.lfilter(*self._fast, squares, zi=self._fast_memory)
        self._pick(np.asarray(fast))
        self._frames += samples.size

    def _pick(self, fast: F64) -> None:
        """Count the Fast level ten times a second, from a second on, when it has settled."""
        stop = self._frames + fast.size
        positions = []
        while (at := (self._picks + 1) * self._rate // PICKS_PER_SECOND - 1) < stop:
            positions.append(at - self._frames)
            self._picks += 1
        if not positions:
            return
        values = fast[positions]
        first = self._picks - len(positions)
        settled = values[max(0, _SETTLING_PICKS - first) :]
        if settled.size:
            levels = 10.0 * np.log10(np.maximum(settled, 1e-20))
            bins = np.clip(((levels - _LOWEST_DB) / _STEP_DB).astype(np.int64), 0, _BINS - 1)
            self._histogram += np.bincount(bins, minlength=_BINS)
            self._highest = max(self._highest, float(settled.max()))

    def finish(self) -> NoiseFigures:
        """Everything measured.

        Raises
        ------
        InputError
            when it is silent or too short to tell anything
        """
        seconds = self._frames / self._rate
        if seconds < limit("least-noise"):
            raise InputError(
                f"lasts {show_time(seconds)}; {limit('least-noise'):g} s of a place is the least, a minute or more "
                "tells what comes and goes"
            )
        if self._energy / self._frames < 1e-16:
            raise InputError("holds nothing but digital silence; check the input, its gain and which track was armed")
        by_time, step = self._seconds.finish()
        return NoiseFigures(
            seconds=seconds,
            laeq_db=db_of_power(self._energy / self._frames),
            highest_db=db_of_power(self._highest),
            octaves_db=tuple(math.nan if math.isnan(v) else db_of_power(v) for v in self._octaves.mean_squares()),
            tones=self._tones.tones(),
            by_time_db=by_time,
            step_s=step,
            histogram=self._histogram,
            clipped=self._clipped,
        )


class _Seconds:
    """Energy of each second, or of longer steps once there are too many."""

    def __init__(self, sample_rate_hz: int) -> None:
        self._step = sample_rate_hz
        self._rate = sample_rate_hz
        self._sums: list[float] = []
        self._open = 0.0
        self._count = 0

    def feed(self, squares: F64) -> None:
        at = 0
        while at < squares.size:
            take = min(squares.size - at, self._step - self._count)
            self._open += float(squares[at : at + take].sum())
            self._count += take
            at += take
            if self._count == self._step:
                self._sums.append(self._open)
                self._open, self._count = 0.0, 0
                self._thin()

    def _thin(self) -> None:
        if len(self._sums) >= 2 * _MOST_SECONDS:
            self._sums = [a + b for a, b in zip(self._sums[::2], self._sums[1::2], strict=True)]
            self._step *= 2

    def finish(self) -> tuple[tuple[float, ...], float]:
        return tuple(db_of_power(each / self._step) for each in self._sums), self._step / self._rate


def refuse_not_numbers(samples: F64, first: int, sample_rate_hz: int) -> None:
    """Raise InputError for a sample that is not a number, infinite, or far over any converter's range."""
    bad = ~(np.abs(samples) < 1e12)
    if bad.any():
        at = (first + int(np.argmax(bad))) / sample_rate_hz
        raise InputError(f"holds samples that are no numbers, the first at {at:.3f} s; export it again from its source")


def together(several: list[NoiseFigures]) -> NoiseFigures:
    """Several recordings of one place as if they were one, weighed by their lengths; tones as in the loudest of each.

    Raises
    ------
    InputError
        when there is none
    """
    if not several:
        raise InputError("no recording of the place is there")
    if len(several) == 1:
        return several[0]
    seconds = sum(each.seconds for each in several)

    def mean(levels: list[float]) -> float:
        known = [(10.0 ** (level / 10.0), one.seconds) for level, one in zip(levels, several, strict=True)
                 if not math.isnan(level)]  # fmt: skip
        weight = sum(length for _, length in known)
        return db_of_power(sum(power * length for power, length in known) / weight) if known else math.nan

    tones: list[Tone] = []
    for tone in sorted((tone for each in several for tone in each.tones), key=lambda tone: -tone.audible_db):
        if all(abs(tone.freq_hz - other.freq_hz) > 1.5 for other in tones):
            tones.append(tone)
    return NoiseFigures(
        seconds=seconds,
        laeq_db=mean([each.laeq_db for each in several]),
        highest_db=max(each.highest_db for each in several),
        octaves_db=tuple(mean([each.octaves_db[at] for each in several]) for at in range(len(several[0].octaves_db))),
        tones=tuple(tones),
        by_time_db=tuple(level for each in several for level in each.by_time_db),
        step_s=max(each.step_s for each in several),
        histogram=np.sum([each.histogram for each in several], axis=0),
        clipped=sum(each.clipped for each in several),
    )
