"""The A weighting of IEC 61672-1: its curve, and a filter that follows it up to the highest octave.

The three low corners are mapped by the bilinear transform, which is exact down there. The double corner at 12.2 kHz
would be bent by it, so it is a short symmetric filter with the very magnitude of the curve.
"""

from __future__ import annotations

import functools
import math

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import signal

F64 = NDArray[np.float64]

F1_HZ, F2_HZ, F3_HZ, F4_HZ = 20.598997, 107.65265, 737.86223, 12194.217
"""Corners. Source: IEC 61672-1:2013, annex E, from the formulae there."""
_TAPS = 63


def a_weight_db(freq_hz: ArrayLike) -> F64:
    """A weighting of frequencies in dB, 0 at 1 kHz.

    Source: IEC 61672-1:2013, formula E.1.
    """
    power = np.asarray(freq_hz, np.float64) ** 2
    result: F64 = 20.0 * np.log10(_magnitude(power) / _magnitude(np.float64(1e6)))
    return result


def _magnitude(square: F64 | np.float64) -> F64:
    """The curve, of the square of a frequency."""
    result: F64 = np.asarray(
        F4_HZ**2
        * square**2
        / ((square + F1_HZ**2) * np.sqrt((square + F2_HZ**2) * (square + F3_HZ**2)) * (square + F4_HZ**2))
    )
    return result


@functools.lru_cache(maxsize=8)
def _filters(sample_rate_hz: int) -> tuple[F64, F64]:
    """Second-order sections of the low corners, and the taps of the high one, scaled to 0 dB at 1 kHz."""
    corners = 2.0 * math.pi * np.array([F1_HZ, F1_HZ, F2_HZ, F3_HZ])
    zeros, poles, gain = signal.bilinear_zpk(np.zeros(4), -corners, 1.0, sample_rate_hz)
    low: F64 = np.asarray(signal.zpk2sos(zeros, poles, gain))
    nyquist = sample_rate_hz / 2.0
    points = np.linspace(0.0, nyquist, 1025)
    high: F64 = np.asarray(signal.firwin2(_TAPS, points, 1.0 / (1.0 + (points / F4_HZ) ** 2), fs=sample_rate_hz))
    at = np.array([1000.0])
    gain_low = np.abs(signal.sosfreqz(low, at, fs=sample_rate_hz)[1])
    gain_high = np.abs(signal.freqz(high, 1.0, at, fs=sample_rate_hz)[1])
    return low, high / float(gain_low[0] * gain_high[0])


class AWeighting:
    """Weighs one track, block by block; the answer does not depend on the blocks."""

    def __init__(self, sample_rate_hz: int) -> None:
        self._low, self._high = _filters(sample_rate_hz)
        self._low_memory = np.zeros((len(self._low), 2))
        self._high_memory = np.zeros(_TAPS - 1)

    def feed(self, block: F64) -> F64:
        """The weighted samples of a block, of its shape (frames,), half the taps late."""
        if not block.size:
            return block
        low, self._low_memory = signal.sosfilt(self._low, block, zi=self._low_memory)
        joined = np.concatenate((self._high_memory, low))
        self._high_memory = joined[-(_TAPS - 1) :]
        result: F64 = np.convolve(joined, self._high, "valid")
        return result
