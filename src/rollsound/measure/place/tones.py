"""Hum and tones that stay, by frequency, with how far each stands over the noise around it.

Of every stretch of about a second and a half the spectrum is taken. The mean of the powers gives levels; the mean of
their logarithms finds what stays, for what comes and goes (a voice, a bird, a bell) leaves it where it is quiet.
Memory does not grow with length.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import fft, ndimage

from rollsound.measure.place.tables import limit

F64 = NDArray[np.float64]

LOWEST_HZ = 20.0
HIGHEST_SHARE = 0.45
MOST = 20
MAINS_HZ = (50.0, 60.0)
_NEAR, _FAR = 4, 24  # bins around a line that are its surroundings
_NOISE_BINS = 1.5  # noise width of the window in bins
_TINY = 1e-30


@dataclass(frozen=True)
class Tone:
    """A tone that stays.

    ``over_db`` is its level over the noise in its critical band, ``audible_db`` how far it is over what that noise
    hides. ``mains_hz`` is 50 or 60 where it belongs to a family of hum, ``harmonic`` its number in it.
    """

    freq_hz: float
    level_db: float
    over_db: float
    audible_db: float
    mains_hz: float = 0.0
    harmonic: int = 0

    @property
    def what(self) -> str:
        """The family for people; empty when there is none."""
        return f"mains {self.mains_hz:g} Hz, harmonic {self.harmonic}" if self.mains_hz else ""


class ToneSpectrum:
    """Gathers spectra of one track."""

    def __init__(self, sample_rate_hz: int) -> None:
        self.size = 1 << math.ceil(math.log2(sample_rate_hz))
        self._rate = sample_rate_hz
        self._window = np.hanning(self.size + 1)[:-1]
        self._powers = np.zeros(self.size // 2 + 1)
        self._logs = np.zeros(self.size // 2 + 1)
        self._kept = np.zeros(0)
        self._count = 0

    def feed(self, block: F64) -> None:
        """Take the next samples, shape (frames,)."""
        joined = np.concatenate((self._kept, block))
        at = 0
        while joined.size - at >= self.size:
            spectrum = fft.rfft(joined[at : at + self.size] * self._window)
            # doubled for both sides; a sine's three bins then sum to 1.5 times its mean square
            power = (spectrum.real**2 + spectrum.imag**2) * (2.0 / float(np.sum(self._window)) ** 2)
            self._powers += power
            self._logs += np.log(power + _TINY)
            self._count += 1
            at += self.size // 2
        self._kept = joined[at:].copy()

    def tones(self) -> tuple[Tone, ...]:
        """The tones that stay, those heard most first. Levels are mean squares in dB against 1.0."""
        if self._count < 2:
            return ()
        bin_hz = self._rate / self.size
        powers, logs = self._powers / self._count, self._logs / self._count
        around = _surroundings(logs)
        rise = (logs - around) * 10.0 / math.log(10.0)
        first, last = math.ceil(LOWEST_HZ / bin_hz), int(HIGHEST_SHARE * self._rate / bin_hz)
        is_peak = ndimage.maximum_filter1d(logs, 2 * _NEAR + 1) == logs
        lines = np.flatnonzero(is_peak & (rise >= limit("tone-rise")))
        lines = lines[(lines >= max(first, _FAR)) & (lines < last) & (powers[lines] > 10.0 * _TINY)]
        noise = powers.copy()
        for k in lines:
            # what a line fills is taken for what lies beside it
            noise[k - _NEAR : k + _NEAR + 1] = np.exp(around[k])
        found = [_tone(int(k), powers, noise, bin_hz) for k in lines]
        # a line that lies 60 dB under a strong one beside it is the window's own skirt
        told = sorted((each for each in found if each.over_db > -20.0), key=lambda each: -each.audible_db)[:MOST]
        return _with_mains(tuple(told), bin_hz)


def _surroundings(logs: F64) -> F64:
    """Median of the logarithms beside every bin, the bin's own neighbours left out."""
    beside = np.ones(2 * _FAR + 1, bool)
    beside[_FAR - _NEAR : _FAR + _NEAR + 1] = False
    result: F64 = ndimage.median_filter(logs, footprint=beside, mode="nearest")
    return result


def _tone(k: int, powers: F64, noise: F64, bin_hz: float) -> Tone:
    below, here, above = (math.log(powers[k + step] + _TINY) for step in (-1, 0, 1))
    bend = below - 2.0 * here + above
    offset = 0.5 * (below - above) / bend if bend < 0.0 else 0.0
    freq = (k + max(-0.5, min(0.5, offset))) * bin_hz
    own = float(np.sum(powers[k - 2 : k + 3] - noise[k])) / _NOISE_BINS
    level = 10.0 * math.log10(max(own, _TINY))
    masking = 10.0 * math.log10(max(_critical_band(freq, noise, bin_hz), _TINY))
    over = level - masking
    return Tone(freq, level, over, over + 2.0 + math.log10(1.0 + (freq / 502.0) ** 2.5))


def _critical_band(freq_hz: float, noise: F64, bin_hz: float) -> float:
    """Mean square of the noise in the critical band around a frequency.

    Source: ISO 1996-2:2007, annex C (100 Hz up to 500 Hz, a fifth above), from memory.
    """
    half = max(100.0, 0.2 * freq_hz) / 2.0
    middle = max(freq_hz, half)
    low = max(1, round((middle - half) / bin_hz))
    high = min(noise.size, max(low + 1, round((middle + half) / bin_hz)))
    return float(np.sum(noise[low:high])) / _NOISE_BINS


def _with_mains(tones: tuple[Tone, ...], bin_hz: float) -> tuple[Tone, ...]:
    """The family of hum named, if there is one: its first or second harmonic, or two or more of the others."""
    best: dict[int, int] = {}
    mains = 0.0
    for candidate in MAINS_HZ:
        members = {n: h for n, tone in enumerate(tones) if (h := _harmonic(tone.freq_hz, candidate, bin_hz))}
        # the second alone is what lamps and transformers make
        if ({1, 2} & set(members.values()) or len(members) >= 2) and len(members) > len(best):
            best, mains = members, candidate
    return tuple(
        Tone(t.freq_hz, t.level_db, t.over_db, t.audible_db, mains, best[n]) if n in best else t
        for n, t in enumerate(tones)
    )


def _harmonic(freq_hz: float, mains_hz: float, bin_hz: float) -> int:
    """Number of a harmonic of the mains, whose frequency wanders by 0.2 Hz in 50; 0 for none, or above 1 kHz."""
    number = round(freq_hz / mains_hz)
    near = abs(freq_hz - number * mains_hz) <= 0.004 * freq_hz / 2.0 + 0.75 * bin_hz
    return number if near and 1 <= number <= 1000.0 / mains_hz else 0
