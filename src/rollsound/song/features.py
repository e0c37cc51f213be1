"""What two performances of one tune share whoever sings: when energy comes and goes, band by band.

Bands of a short spectrum every 5 ms, as levels; what is compared is how levels change over 20 ms, rises most, so that
pitch, colour and loudness of the two voices matter little.

Source: spectral flux as an onset feature, after Bello et al., "A tutorial on onset detection in music signals", 2005.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

F32 = NDArray[np.float32]

HOP_S = 0.005
WINDOW_S = 0.020
BANDS = 20
LOWEST_HZ, HIGHEST_HZ = 120.0, 9000.0
RANGE_DB = 50.0
"""Below a band's loud moments by more than this, nothing is compared: that is noise and the room."""
FALL_SHARE = 0.4
"""What a falling level weighs beside a rising one: ends of notes are sung less exactly than beginnings."""


@dataclass(frozen=True)
class Features:
    """Changes of level, float32 (frames, bands), and the level in dB of each frame, (frames,); a frame is ``HOP_S``."""

    changes: F32
    level_db: F32

    @property
    def frames(self) -> int:
        """How many."""
        return self.level_db.size


class FeatureReader:
    """Streaming; holds a few hundred bytes a second of sound."""

    def __init__(self, sample_rate_hz: int) -> None:
        self.hop = round(HOP_S * sample_rate_hz)
        self._size = round(WINDOW_S * sample_rate_hz)
        self._window = np.hanning(self._size + 2)[1:-1].astype(np.float32)
        self._bank = _bank(sample_rate_hz, self._size)
        self._left: F32 = np.zeros(self._size // 2, np.float32)  # the first frame's middle is the first sample
        self._energies: list[F32] = []

    def feed(self, sound: F32) -> None:
        """Take the next samples, shape (frames,)."""
        joined = np.concatenate([self._left, np.nan_to_num(sound).astype(np.float32, copy=False)])
        count = max(0, (joined.size - self._size) // self.hop + 1)
        if count:
            frames = np.lib.stride_tricks.sliding_window_view(joined, self._size)[:: self.hop][:count]
            for at in range(0, count, 4096):
                spectrum = np.abs(np.fft.rfft(frames[at : at + 4096] * self._window, axis=1)) ** 2
                # not as a product of matrices, whose last digits depend on how many rows there are
                self._energies.append(np.einsum("ij,jk->ik", spectrum, self._bank).astype(np.float32))
        self._left = joined[count * self.hop :].copy()

    def finish(self) -> Features:
        """No more sound comes."""
        self.feed(np.zeros(self._size // 2, np.float32))
        energy = np.concatenate(self._energies) if self._energies else np.zeros((0, BANDS), np.float32)
        return features_of(energy)


def _bank(sample_rate_hz: int, size: int) -> F32:
    """Triangles of equal width by ear, shape (bins, bands), each of unit sum."""
    edges = np.linspace(_mel(LOWEST_HZ), _mel(min(HIGHEST_HZ, 0.45 * sample_rate_hz)), BANDS + 2)
    edges = 700.0 * (10.0 ** (edges / 2595.0) - 1.0)
    bins = np.fft.rfftfreq(size, 1.0 / sample_rate_hz)[:, None]
    low, middle, high = edges[:-2], edges[1:-1], edges[2:]
    rise, fall = (bins - low) / (middle - low), (high - bins) / (high - middle)
    bank = np.maximum(np.minimum(rise, fall), 0.0)
    shares: F32 = (bank / np.maximum(bank.sum(axis=0), 1e-9)).astype(np.float32)
    return shares


def _mel(hz: float) -> float:
    return 2595.0 * float(np.log10(1.0 + hz / 700.0))


def features_of(energy: F32) -> Features:
    """Features of band energies, shape (frames, bands)."""
    if not energy.size:
        return Features(np.zeros((0, BANDS), np.float32), np.zeros(0, np.float32))
    loud = np.quantile(energy, 0.98, axis=0)
    floor = np.maximum(loud * 10.0 ** (-RANGE_DB / 10.0), max(float(loud.max()) * 1e-7, 1e-14))
    level = (10.0 * np.log10(energy + floor)).astype(np.float32)
    change = np.zeros_like(level)
    change[2:-2] = level[4:] - level[:-4]
    change = np.where(change > 0.0, change, FALL_SHARE * change)
    limit = np.maximum(3.0, np.quantile(np.abs(change), 0.98, axis=0))
    whole = 10.0 * np.log10(energy.sum(axis=1) + 1e-12)
    return Features(np.clip(change / limit, -1.0, 1.0).astype(np.float32), whole.astype(np.float32))
