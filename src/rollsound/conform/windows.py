"""Picking the windows worth comparing, and the whitened correlation of one window with its surroundings on the card."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from rollsound.conform.envelope import Envelope
from rollsound.conform.readers import Mono, Reader

WINDOW_SECONDS = 0.68
SEARCH_SECONDS = 0.05
_BAND_HZ = (150.0, 8_000.0)
_MAGNITUDE_FLOOR = 1e-3
_NOTHING = 1e-20
_APART_SECONDS = 0.001
_QUIETER_THAN_LOUD_DB = 35.0
_EXPONENT = 0.15


def pick_starts(
    envelope: Envelope, window: int, count: int, quietest_dbfs: float = -90.0, rank: float = 1.0
) -> NDArray[np.int64]:
    """Start samples (relative to the envelope's start) of the best-filled window in each of ``count`` equal slots.

    Best filled: largest mean of a low power of the level, so that steady talk beats one loud word beside a mute.
    ``rank`` below 1 takes that quantile of each slot instead, so that bursts are met no more often than they happen.
    Slots with nothing above ``quietest_dbfs`` or 35 dB below the loud windows give none.
    """
    length = max(window // envelope.hop, 1)
    if envelope.hops < length:
        return np.zeros(0, np.int64)
    dbfs = envelope.levels_dbfs()
    score = _moving_mean(np.power(10.0, dbfs * (_EXPONENT / 10.0)), length)
    loud = float(np.quantile(score, 0.95))
    least = max(loud * 10 ** (-_QUIETER_THAN_LOUD_DB * _EXPONENT / 10.0), 10 ** (quietest_dbfs * _EXPONENT / 10.0))
    edges = np.linspace(0, score.size, count + 1).astype(np.int64)
    starts = []
    for low, high in pairwise(edges):
        if high > low:
            slot = score[low:high]
            k = round(rank * (slot.size - 1))
            at = int(low) + int(np.argmax(slot) if rank == 1.0 else np.argpartition(slot, k)[k])
            if score[at] >= least:
                starts.append(at * envelope.hop)
    return np.unique(np.array(starts, np.int64))


def _moving_mean(x: NDArray[np.floating], length: int) -> NDArray[np.float64]:
    total = np.concatenate([[0.0], np.cumsum(x, dtype=np.float64)])
    out: NDArray[np.float64] = (total[length:] - total[:-length]) / length
    return out


def read_padded(reader: Reader, channel: int, start: int, frames: int) -> Mono:
    """A span with zeros where the recording is not."""
    out = np.zeros(frames, np.float32)
    a, b = max(start, 0), min(start + frames, reader.frames)
    if b > a:
        got = reader.read_channel(channel, a, b - a)
        out[a - start : a - start + got.size] = got
    return out


class Whitened:
    """Generalised cross-correlation with phase transform of radio windows against card spans.

    ``window`` radio samples under a Hann window are sought in a card span ``reach`` samples longer on each side. Bins
    outside 150 to 8000 Hz are left out; magnitudes below a thousandth of the largest are not blown up. The correlation
    is computed at half the sample rate (the band fits) and its peak refined by a parabola: good to about a third of a
    sample, which is what the phase stage needs.

    Source: Knapp & Carter, "The generalized correlation method for estimation of time delay", IEEE Trans. ASSP 24(4),
    1976, the phase transform.
    """

    def __init__(self, window: int, reach: int, sample_rate_hz: int) -> None:
        self.window, self.reach = window, reach
        half = fft.next_fast_len((window + 2 * reach + 1) // 2, real=True)
        self._size, self._half = 2 * half, half
        self._hann = np.hanning(window + 2)[1:-1].astype(np.float32)
        hz = np.arange(half // 2 + 1) * (sample_rate_hz / self._size)
        self._use = slice(int(np.searchsorted(hz, _BAND_HZ[0])), int(np.searchsorted(hz, _BAND_HZ[1])))
        self._bins = half // 2 + 1
        self._apart = max(round(_APART_SECONDS * sample_rate_hz / 2), 2)

    def lag(self, radio: Mono, span: Mono) -> tuple[float, float, int]:
        """Lag of ``radio`` (window,) in ``span`` (window + 2 reach,), quality (peak over second peak), and its sign.

        Lag ``reach`` means that they start together at ``span[reach]``.
        """
        product = fft.rfft(span, self._size)[self._use] * np.conj(fft.rfft(radio * self._hann, self._size)[self._use])
        magnitude = np.abs(product)
        largest = float(magnitude.max(initial=0.0))
        if largest <= _NOTHING:
            return float(self.reach), 0.0, 1
        spectrum = np.zeros(self._bins, np.complex64)
        spectrum[self._use] = product / np.maximum(magnitude, _MAGNITUDE_FLOOR * largest)
        score = fft.irfft(spectrum, self._half)[: self.reach + 1]
        strength = np.abs(score)
        i = int(np.argmax(strength))
        rest = np.concatenate([strength[: max(i - self._apart, 0)], strength[i + self._apart + 1 :]])
        second = float(rest.max(initial=1e-12))
        shift = 0.0
        if 0 < i < score.size - 1:
            a, b, c = float(strength[i - 1]), float(strength[i]), float(strength[i + 1])
            bend = a - 2 * b + c
            shift = 0.5 * (a - c) / bend if bend < 0 else 0.0
        return 2.0 * (i + shift), float(strength[i]) / max(second, 1e-12), 1 if score[i] >= 0 else -1
