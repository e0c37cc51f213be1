"""The octaves 63 Hz to 8 kHz: their names and edges, mean squares of a stream in them, and an impulse seen through one.

Filters are Butterworth band-passes of the sixth order with edges on the base-ten system.
Source: IEC 61260-1:2014, 5.2 to 5.5 (middles and edges; octave ratio 10^0.3), from memory.
"""

from __future__ import annotations

import functools

import numpy as np
from numpy.typing import NDArray
from scipy import signal

F64 = NDArray[np.float64]

NAMES = ("63", "125", "250", "500", "1k", "2k", "4k", "8k")
MIDDLES_HZ = tuple(1000.0 * 10.0 ** (0.3 * (n - 4)) for n in range(8))
_HALF = 10.0**0.15
_HIGHEST_SHARE = 0.49
"""Of the sample rate: an octave whose upper edge lies above is not looked at."""
SPEECH = (3, 4, 5, 6)
"""Octaves 500 Hz to 4 kHz, of which speech interference is the mean."""


def nominal(at: int) -> str:
    """An octave for people: ``63 Hz``, ``1 kHz``."""
    name = NAMES[at]
    return f"{name[:-1]} kHz" if name.endswith("k") else f"{name} Hz"


def edges_hz(at: int) -> tuple[float, float]:
    """Lower and upper edge of an octave."""
    return MIDDLES_HZ[at] / _HALF, MIDDLES_HZ[at] * _HALF


def width_hz(at: int) -> float:
    """Width of an octave."""
    low, high = edges_hz(at)
    return high - low


def reached(sample_rate_hz: int) -> tuple[int, ...]:
    """The octaves that a sample rate reaches."""
    return tuple(at for at in range(len(NAMES)) if edges_hz(at)[1] <= _HIGHEST_SHARE * sample_rate_hz)


@functools.lru_cache(maxsize=64)
def band_filter(at: int, sample_rate_hz: int) -> F64:
    """Second-order sections of an octave."""
    low, high = edges_hz(at)
    return np.asarray(signal.butter(3, (low, high), "bandpass", output="sos", fs=sample_rate_hz))


class OctaveSums:
    """Sums of squares of one track in every octave that its rate reaches."""

    def __init__(self, sample_rate_hz: int) -> None:
        self._bands = reached(sample_rate_hz)
        self._filters = [band_filter(at, sample_rate_hz) for at in self._bands]
        self._memory = [np.zeros((len(each), 2)) for each in self._filters]
        self._sums = np.zeros(len(NAMES))
        self._frames = 0

    def feed(self, block: F64) -> None:
        """Take the next samples, shape (frames,)."""
        if not block.size:
            return
        for n, at in enumerate(self._bands):
            heard, self._memory[n] = signal.sosfilt(self._filters[n], block, zi=self._memory[n])
            self._sums[at] += float(np.sum(heard * heard))
        self._frames += block.size

    def mean_squares(self) -> F64:
        """By octave; not a number where the sample rate does not reach."""
        result = np.full(len(NAMES), np.nan)
        bands = list(self._bands)
        result[bands] = self._sums[bands] / max(self._frames, 1)
        return result


def backwards(impulse: F64, at: int, sample_rate_hz: int) -> F64:
    """An impulse through an octave, filtered backwards in time: the filter's own decay falls before the impulse.

    Source: Jacobsen and Rindel, Journal of Sound and Vibration 115 (1987), from memory.
    """
    if not impulse.size:
        return impulse
    result: F64 = signal.sosfilt(band_filter(at, sample_rate_hz), impulse[::-1])[::-1]
    return result
