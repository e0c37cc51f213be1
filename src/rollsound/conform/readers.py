"""One way to read a channel, whether it lies in memory, in a file, or at another sample rate."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from fractions import Fraction
from math import ceil, floor
from pathlib import Path
from typing import Protocol

import numpy as np
from numpy.typing import NDArray
from scipy.signal import firwin, upfirdn

from rollsound.errors import InputError
from rollsound.wave import open_wave

Mono = NDArray[np.float32]
_TAPS_PER_SIDE = 24
_MOST_PHASES = 4800


class Reader(Protocol):
    """Anything whose channels can be read in spans; ``frames`` long at ``sample_rate_hz``."""

    @property
    def frames(self) -> int: ...

    @property
    def sample_rate_hz(self) -> int: ...

    def read_channel(self, channel: int, start: int, frames: int) -> Mono: ...


@dataclass(frozen=True, eq=False)
class ArrayReader:
    """Audio in memory: (frames,) or (frames, channels) float32."""

    audio: NDArray[np.float32]
    sample_rate_hz: int = 48_000

    @property
    def frames(self) -> int:
        """Length in samples."""
        return int(self.audio.shape[0])

    def read_channel(self, channel: int, start: int, frames: int) -> Mono:
        """A span of one channel, short where it runs past the end."""
        wide = self.audio[:, None] if self.audio.ndim == 1 else self.audio
        return np.ascontiguousarray(wide[start : start + frames, channel], dtype=np.float32)


@contextmanager
def open_audio(path: Path | str) -> Iterator[Reader]:
    """A wave file as a Reader."""
    with open_wave(path) as wave:
        yield _WaveView(wave.info.frames, wave.info.format.sample_rate_hz, wave.read_channel)


class _ReadChannel(Protocol):
    def __call__(self, channel: int, start: int, frames: int) -> Mono: ...


@dataclass(frozen=True)
class _WaveView:
    frames: int
    sample_rate_hz: int
    read_channel: _ReadChannel


def simple(ratio: Fraction) -> bool:
    """Whether a rate ratio has few enough phases for ``ResampledReader``: any pair of the usual rates has."""
    return max(ratio.numerator, ratio.denominator) <= _MOST_PHASES


class ResampledReader:
    """A reader seen at another rate: sample n of it lies at ``n * ratio`` of the inner one.

    ``ratio`` is inner samples per outer sample, exact. Polyphase with a windowed-sinc low-pass of 24 zero crossings a
    side at the lower of the two rates, cut at 90 %: meant for measuring alignment, not for listening.
    Raises InputError when the ratio has too many phases to be a nominal one.
    """

    def __init__(self, inner: Reader, ratio: Fraction, sample_rate_hz: int) -> None:
        self._inner = inner
        self._up, self._down = ratio.denominator, ratio.numerator
        if not simple(ratio):
            raise InputError(
                f"a card at {inner.sample_rate_hz} Hz and a recorder at {sample_rate_hz} Hz have no simple ratio; "
                "convert the card to the recorder's sample rate first"
            )
        wide = max(self._up, self._down)
        self._half = _TAPS_PER_SIDE * wide
        self._filter = (firwin(2 * self._half + 1, 0.9 / wide, window=("kaiser", 8.0)) * self._up).astype(np.float32)
        self.sample_rate_hz = sample_rate_hz
        self.frames = floor(Fraction(inner.frames) / ratio)

    def read_channel(self, channel: int, start: int, frames: int) -> Mono:
        """A span at the outer rate; the same values whatever the span's bounds."""
        stop = min(start + frames, self.frames)
        if stop <= start:
            return np.zeros(0, np.float32)
        first = (start * self._down - self._half) // self._up
        last = ceil(((stop - 1) * self._down + self._half) / self._up) + 1
        lead = max(-first, 0)
        got = self._inner.read_channel(channel, first + lead, last - first - lead)
        span = np.zeros(last - first, np.float32)
        span[lead : lead + got.size] = got
        # Output n stands at up-sampled step n * down - first * up + half; shift the filter until those are multiples.
        begin = start * self._down - first * self._up + self._half
        shift = (-begin) % self._down
        out = upfirdn(np.concatenate([np.zeros(shift, np.float32), self._filter]), span, self._up, self._down)
        at = (begin + shift) // self._down
        return np.ascontiguousarray(out[at : at + stop - start], dtype=np.float32)
