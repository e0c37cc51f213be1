"""Replacing stretches of a track inside a file's bytes: everything outside them is copied, never converted."""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from rollsound.wave import AudioFormat
from rollsound.wave.samples import SLACK_BYTES, decode_channel, encode

Samples = NDArray[np.float64]
Render = Callable[[int, int], Samples]
"""``render(start, frames)`` gives the new sound by take frame."""
_QUIETEST = 1e-20


@dataclass(eq=False)
class Stretch:
    """Take frames ``start`` to ``stop`` of one track get new sound, faded in and out inside those ends.

    ``core`` is the part whose level is told before and after; by default all of it.
    """

    start: int
    stop: int
    fade_in: int
    fade_out: int
    render: Render
    core: tuple[int, int] | None = None
    clipped: int = 0
    _sums: list[float] = field(default_factory=lambda: [0.0, 0.0])
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def weights(self, start: int, stop: int) -> Samples:
        """How much of the new sound there is at take frames ``start`` to ``stop``, 0 to 1; the old has the rest."""
        n = np.arange(start, stop) + 0.5
        out = np.ones(stop - start)
        for distance, fade in ((n - self.start, self.fade_in), (self.stop - n, self.fade_out)):
            if fade:
                out *= 0.5 - 0.5 * np.cos(np.pi * np.clip(distance / fade, 0.0, 1.0))
        return out

    def note(self, start: int, before: Samples, after: Samples, clipped: int) -> None:
        """Add to what is told of this stretch afterwards."""
        first, last = self.core or (self.start, self.stop)
        pick = slice(max(first - start, 0), max(last - start, 0))
        with self._lock:
            self._sums[0] += float(np.sum(before[pick] ** 2))
            self._sums[1] += float(np.sum(after[pick] ** 2))
            self.clipped += clipped

    @property
    def levels_dbfs(self) -> tuple[float, float]:
        """RMS level of the core before and after, once everything was rendered."""
        first, last = self.core or (self.start, self.stop)
        before, after = (10 * np.log10(max(each / max(last - first, 1), _QUIETEST)) for each in self._sums)
        return float(before), float(after)


@dataclass(frozen=True, eq=False)
class TrackPatch:
    """New stretches, in order and apart from each other, for channel ``channel`` of one file.

    ``offset`` is the take frame of the file's first sample; ``seed`` that of the dither of whole-number formats.
    """

    channel: int
    stretches: tuple[Stretch, ...]
    seed: int
    offset: int = 0

    def touches(self, start: int, frames: int) -> bool:
        """Whether anything changes in the file's frames ``start`` to ``start + frames``."""
        first = start + self.offset
        return any(each.start < first + frames and first < each.stop for each in self.stretches)

    def apply(self, raw: NDArray[np.uint8], start: int, frames: int, form: AudioFormat) -> None:
        """Change the interleaved bytes (with slack) of the file's frames ``start`` to ``start + frames`` in place."""
        first = start + self.offset
        size = form.sample_format.bytes
        view = raw[: frames * form.frame_bytes].view(f"V{size}").reshape(frames, form.channels)
        for each in self.stretches:
            begin, end = max(each.start, first), min(each.stop, first + frames)
            if end <= begin:
                continue
            skip = (begin - first) * form.frame_bytes
            old = decode_channel(raw[skip:], end - begin, self.channel, form.channels, form.sample_format)
            old64 = old.astype(np.float64)
            weights = each.weights(begin, end)
            new = old64 + weights * (each.render(begin, end - begin) - old64)
            packed, clipped = encode(new, form.sample_format, self.seed, begin)
            view[begin - first : end - first, self.channel] = packed.view(f"V{size}")
            each.note(begin, old64, new, clipped)


def with_slack(raw: bytes) -> NDArray[np.uint8]:
    """A copy that may be changed, with the spare bytes that decoding needs."""
    out = np.zeros(len(raw) + SLACK_BYTES, np.uint8)
    out[: len(raw)] = np.frombuffer(raw, np.uint8)
    return out
