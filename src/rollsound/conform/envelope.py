"""Five-millisecond features: what is left of a sound when only its rises and falls matter.

Two rows: change of log energy of the sound and of its first difference (which weighs the treble), each clipped to ±1.
Clipping keeps one loud slam from outvoting an hour of talk; changes instead of levels survive companding and noise.
A third row keeps the level, to find the loud places later. One byte each, so ten hours take 22 MB.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rollsound.conform.readers import Reader
from rollsound.kernel import kernel
from rollsound.progress import Progress

HOP_SECONDS = 0.005
_HOPS_PER_READ = 4096
_FLOOR = 1e-12
"""Mean square of -120 dBFS: below it everything is silence."""


@dataclass(frozen=True, eq=False)
class Envelope:
    """``changes`` (2, hops) int8, ±127 = ±1 neper of energy; ``levels`` (hops,) uint8, half dB below 0 dBFS.

    Hop h covers samples ``start + h * hop`` onwards. ``sample_rate_hz`` is that of the audio.
    """

    changes: NDArray[np.int8]
    levels: NDArray[np.uint8]
    hop: int
    start: int
    sample_rate_hz: int

    @property
    def hops(self) -> int:
        """Length in hops."""
        return int(self.levels.size)

    @property
    def hop_seconds(self) -> float:
        """Exact length of a hop."""
        return self.hop / self.sample_rate_hz

    def part(self, first: int, last: int) -> Envelope:
        """Hops ``first`` to ``last`` (clipped to what is there), copied so that it travels light."""
        a, b = max(first, 0), min(last, self.hops)
        b = max(a, b)
        return Envelope(
            self.changes[:, a:b].copy(),
            self.levels[a:b].copy(),
            self.hop,
            self.start + a * self.hop,
            self.sample_rate_hz,
        )

    def levels_dbfs(self) -> NDArray[np.float32]:
        """Level of each hop in dBFS (mean square), -120 at the least."""
        return (self.levels.astype(np.float32)) * np.float32(-0.5)


def hop_of(sample_rate_hz: int) -> int:
    """Samples in a hop at a rate: 240 at 48 kHz."""
    return max(round(HOP_SECONDS * sample_rate_hz), 1)


def envelope_of(
    reader: Reader, channel: int = 0, start: int = 0, stop: int | None = None, progress: Progress | None = None
) -> Envelope:
    """Features of a span of one channel, read in blocks of about a megasample.

    Source: the choice of features is ours; the table behind it is printed by ``design/align_features.py``.
    """
    hop = hop_of(reader.sample_rate_hz)
    end = reader.frames if stop is None else min(stop, reader.frames)
    hops = max((end - start) // hop, 0)
    logs = np.empty((2, hops + 1), np.float32)
    logs[:, 0] = np.nan
    done = 0
    last = np.zeros(1, np.float32)
    while done < hops:
        count = min(_HOPS_PER_READ, hops - done)
        block = reader.read_channel(channel, start + done * hop, count * hop)
        count = block.size // hop
        if count == 0:
            break
        _log_energies(block, hop, last, logs[:, 1 + done : 1 + done + count])
        done += count
        if progress is not None:
            progress.tell("features", done * hop, hops * hop, "frames")
    logs = logs[:, : done + 1]
    logs[:, 0] = logs[:, 1] if done else 0.0
    changes = np.round(np.clip(np.diff(logs, axis=1), -1.0, 1.0) * 127.0).astype(np.int8)
    levels = np.clip(np.round(logs[0, 1:] * (-20.0 / np.log(10.0))), 0, 240).astype(np.uint8)
    return Envelope(changes, levels, hop, start, reader.sample_rate_hz)


@kernel(fast=True)
def _log_energies(x: NDArray[np.float32], hop: int, last: NDArray[np.float32], out: NDArray[np.float32]) -> None:
    before = last[0]
    for h in range(out.shape[1]):
        plain = np.float32(0.0)
        treble = np.float32(0.0)
        for i in range(h * hop, h * hop + hop):
            v = x[i]
            d = v - before
            plain += v * v
            treble += d * d
            before = v
        out[0, h] = np.log(plain / hop + _FLOOR)
        out[1, h] = np.log(treble / hop + _FLOOR)
    last[0] = before
