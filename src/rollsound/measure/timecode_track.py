"""Whether a track carries linear time code, so that nobody looks for voices, clipping or radio hits in it.

Source: SMPTE ST 12-1: bi-phase mark, 80 bits a frame, a crossing at every bit's edge and one more in the middle of a 1;
so crossings lie one or one half bit apart, 24 to 30 frames a second.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from rollsound.measure.front import FULL, PEAK
from rollsound.measure.grid import Grid
from rollsound.measure.thresholds import threshold

F32 = NDArray[np.float32]

EXCERPT_MOMENTS = 100
SLOWEST_FPS, FASTEST_FPS = 22.0, 33.0
_CREST = 2.0  # peak over rms: code is close to a square wave, voices lie above 3


class TimecodeTracks:
    """Looks at one tenth of a second of each piece, and only where the wave is as square as code is."""

    def __init__(self, grid: Grid, channels: int) -> None:
        self._grid = grid
        self._yes = np.zeros(channels, np.int64)
        self._sounding = np.zeros(channels, np.int64)

    def run(self, lines: F32, features: F32) -> NDArray[np.bool_]:
        """Judge one piece; True for each track that carries code in it."""
        grid = self._grid
        part = features[:, :, -EXCERPT_MOMENTS:] if features.shape[2] >= EXCERPT_MOMENTS else features
        rms = np.sqrt(part[:, FULL].mean(axis=1) / grid.moment)
        peak = part[:, PEAK].max(axis=1)
        sounding = peak > 1e-4
        yes = np.zeros(len(peak), np.bool_)
        stop = grid.history + features.shape[2] * grid.moment
        for c in np.flatnonzero(sounding & (peak < _CREST * rms)):
            yes[c] = looks_like_code(lines[c, stop - part.shape[2] * grid.moment : stop], grid.sample_rate_hz)
        self._yes += yes
        self._sounding += sounding
        return yes

    def finish(self) -> list[bool]:
        """For every track: whether most of what sounds on it is time code."""
        return [bool(y > 0 and y >= 0.7 * s) for y, s in zip(self._yes, self._sounding, strict=True)]


def looks_like_code(sound: F32, sample_rate_hz: int) -> bool:
    """Whether the crossings of an excerpt lie one or one half bit apart, and both occur."""
    centred = sound - np.mean(sound)
    high = centred > 0.0
    at = np.flatnonzero(high[1:] != high[:-1])
    gaps = np.diff(at).astype(np.float64)
    if gaps.size < 40:
        return False
    long = gaps[gaps > 1.4 * np.quantile(gaps, 0.05)]
    bit = float(np.median(long)) if long.size else 0.0
    if not sample_rate_hz / (80.0 * FASTEST_FPS) <= bit <= sample_rate_hz / (80.0 * SLOWEST_FPS):
        return False
    slack = max(1.5, 0.12 * bit)
    whole, half = np.abs(gaps - bit) <= slack, np.abs(gaps - bit / 2.0) <= slack
    return bool(np.mean(whole | half) >= threshold("timecode.agreement") and whole.any() and half.sum() >= 8)
