"""The waveform at several zooms, in memory that does not grow: when the store is full, pairs of bins become one."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from rollsound.kernel import kernel
from rollsound.measure.model import Overview

BASE_FRAMES = 256
ZOOM = 4
SMALLEST_LEVEL_BINS = 256
_MOST_CELLS = 1 << 20


def most_bins(channels: int) -> int:
    """Bins of the finest level that are kept at most: 32768 for up to 32 channels, fewer for more."""
    return max(4096, min(32768, 1 << ((_MOST_CELLS // channels).bit_length() - 1)))


@kernel()
def _stack(
    base: NDArray[np.float32], held: NDArray[np.float32], part: NDArray[np.float32], state: NDArray[np.int64]
) -> None:
    """Add base bins to the store. Rows of the first axis: lowest, highest, sum of squares.

    ``state``: bins held, base bins per bin, base bins in the unfinished ``part``.
    """
    channels = base.shape[2]
    for b in range(base.shape[1]):
        for c in range(channels):
            part[0, c] = min(part[0, c], base[0, b, c])
            part[1, c] = max(part[1, c], base[1, b, c])
            part[2, c] += base[2, b, c]
        state[2] += 1
        if state[2] < state[1]:
            continue
        for c in range(channels):
            held[0, state[0], c] = part[0, c]
            held[1, state[0], c] = part[1, c]
            held[2, state[0], c] = part[2, c]
            part[0, c], part[1, c], part[2, c] = np.inf, -np.inf, 0.0
        state[0] += 1
        state[2] = 0
        if state[0] == held.shape[1]:
            half = state[0] // 2
            for i in range(half):
                for c in range(channels):
                    held[0, i, c] = min(held[0, 2 * i, c], held[0, 2 * i + 1, c])
                    held[1, i, c] = max(held[1, 2 * i, c], held[1, 2 * i + 1, c])
                    held[2, i, c] = held[2, 2 * i, c] + held[2, 2 * i + 1, c]
            state[0] = half
            state[1] *= 2


class OverviewStore:
    """Keeps lowest, highest and energy per bin of the whole stream; ``Levels`` fills it."""

    def __init__(self, sample_rate_hz: int, channels: int, bins: int | None = None) -> None:
        self._rate = sample_rate_hz
        self._held = np.empty((3, bins or most_bins(channels), channels), dtype=np.float32)
        self._part = np.repeat(np.array([[np.inf], [-np.inf], [0.0]], dtype=np.float32), channels, axis=1)
        self._state = np.array([0, 1, 0], dtype=np.int64)
        self._last_frames = 0

    def take(self, base: NDArray[np.float32]) -> None:
        """Take whole base bins, shape (3, bins, channels)."""
        _stack(np.ascontiguousarray(base), self._held, self._part, self._state)

    def close(self, rest: NDArray[np.float32], frames: int) -> None:
        """Take what was left of the last base bin, shape (3, channels), of ``frames`` frames (0 for none)."""
        self._last_frames = int(self._state[2]) * BASE_FRAMES + frames
        if frames:
            self._part[0] = np.minimum(self._part[0], rest[0])
            self._part[1] = np.maximum(self._part[1], rest[1])
            self._part[2] += rest[2]

    def finish(self) -> Overview:
        """All zooms, finest first."""
        count, per_bin = int(self._state[0]), int(self._state[1]) * BASE_FRAMES
        bins = self._held[:, :count]
        frames = np.full(count, per_bin, dtype=np.int64)
        if self._last_frames:
            bins = np.concatenate([bins, self._part[:, np.newaxis]], axis=1)
            frames = np.append(frames, self._last_frames)
        levels, sizes = [_shown(bins, frames)], [per_bin]
        total = int(frames.sum())
        while bins.shape[1] > SMALLEST_LEVEL_BINS:
            starts = np.arange(0, bins.shape[1], ZOOM)
            bins = np.stack(
                [
                    np.minimum.reduceat(bins[0], starts, axis=0),
                    np.maximum.reduceat(bins[1], starts, axis=0),
                    np.add.reduceat(bins[2], starts, axis=0),
                ]
            )
            frames = np.add.reduceat(frames, starts)
            levels.append(_shown(bins, frames))
            sizes.append(sizes[-1] * ZOOM)
        return Overview(
            sample_rate_hz=self._rate,
            frames=total,
            frames_per_bin=tuple(sizes),
            lowest=tuple(level[0] for level in levels),
            highest=tuple(level[1] for level in levels),
            rms=tuple(level[2] for level in levels),
        )


def _shown(bins: NDArray[np.float32], frames: NDArray[np.int64]) -> NDArray[np.float32]:
    """Bins with their energy turned into rms."""
    rms = np.sqrt(bins[2] / np.maximum(frames, 1)[:, np.newaxis]).astype(np.float32)
    return np.stack([bins[0], bins[1], rms])
