"""A placed card as the take hears it: piece by piece, over the seams between a card's files."""

from __future__ import annotations

import itertools
from contextlib import ExitStack
from dataclasses import dataclass
from types import TracebackType
from typing import Any

import numpy as np
from numpy.typing import NDArray

from rollsound.conform.model import ClockMap
from rollsound.conform.plan import PiecePlan, TrackPlan
from rollsound.conform.resample import Resampler, Samples
from rollsound.errors import InputError
from rollsound.wave import WaveReader, open_wave

_MARGIN = 1024
"""Card samples beyond a file's ends that are looked up in its neighbours: more than any filter reaches."""
_SEAM_SAMPLES = 1.0


@dataclass(frozen=True, eq=False)
class Piece:
    """Take frames ``start`` to ``stop`` of one file; ``joins_before`` and ``joins_after`` where the card runs on."""

    plan: PiecePlan
    start: int
    stop: int
    joins_before: bool
    joins_after: bool
    resampler: Resampler
    polarity: int

    def read(self, start: int, frames: int) -> Samples:
        """Take frames ``start`` to ``start + frames``, the right way up."""
        out = self.resampler.read(start, frames)
        return -out if self.polarity < 0 else out


class CardSound:
    """All pieces of one track's card, opened. Use in a ``with`` statement; threads may share it.

    Raises
    ------
    InputError
        when a card's file is not what it was when the plan was made
    """

    def __init__(self, track: TrackPlan, sample_rate_hz: int) -> None:
        with ExitStack() as stack:
            readers = [stack.enter_context(open_wave(piece.file.path)) for piece in track.pieces]
            for piece, reader in zip(track.pieces, readers, strict=True):
                if reader.info.frames != piece.card_frames or piece.channel >= reader.info.format.channels:
                    raise InputError(f"{piece.file.path} is not as it was when the plan was made; plan again.")
            self.pieces = self._build(track, readers, sample_rate_hz)
            self._stack = stack.pop_all()

    def _build(self, track: TrackPlan, readers: list[WaveReader], sample_rate_hz: int) -> tuple[Piece, ...]:
        plans = track.pieces
        seams = [_seamless(a, b) for a, b in itertools.pairwise(plans)]
        out = []
        for n, plan in enumerate(plans):
            before = (readers[n - 1], plans[n - 1].channel) if n and seams[n - 1] else None
            after = (readers[n + 1], plans[n + 1].channel) if n < len(seams) and seams[n] else None
            tape = _Tape(readers[n], plan.channel, before, after)
            clock = ClockMap(plan.clock.take_frames, plan.clock.card_positions + _MARGIN)
            resampler = Resampler(tape.read, plan.card_frames + 2 * _MARGIN, clock, sample_rate_hz)
            out.append(
                Piece(
                    plan,
                    plan.start_sample,
                    plan.stop_sample,
                    before is not None,
                    after is not None,
                    resampler,
                    track.polarity,
                )
            )
        return tuple(out)

    def read(self, start: int, frames: int) -> Samples:
        """Take frames ``start`` to ``start + frames``; silence where no piece reaches."""
        out = np.zeros(frames, np.float64)
        for piece in self.pieces:
            begin, end = max(start, piece.start), min(start + frames, piece.stop)
            if end > begin:
                out[begin - start : end - start] = piece.read(begin, end - begin)
        return out

    def runs(self) -> list[tuple[int, int]]:
        """The stretches of the take that are covered without a gap."""
        out: list[tuple[int, int]] = []
        for piece in self.pieces:
            if out and piece.joins_before and out[-1][1] == piece.start:
                out[-1] = (out[-1][0], piece.stop)
            else:
                out.append((piece.start, piece.stop))
        return out

    def close(self) -> None:
        """Let go of the files."""
        self._stack.close()

    def __enter__(self) -> CardSound:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()


@dataclass(frozen=True, eq=False)
class _Tape:
    """One channel of a card's file with its neighbours' ends beyond its own; sample 0 lies ``_MARGIN`` before it."""

    reader: WaveReader
    channel: int
    before: tuple[WaveReader, int] | None
    after: tuple[WaveReader, int] | None

    def read(self, start: int, frames: int) -> NDArray[Any]:
        length = self.reader.info.frames
        first, stop = start - _MARGIN, start - _MARGIN + frames
        out = np.zeros(frames, np.float32)
        if first < 0 and self.before is not None:
            reader, channel = self.before
            begin = max(reader.info.frames + first, 0)
            end = reader.info.frames + min(stop, 0)
            at = begin - reader.info.frames - first
            out[at : at + end - begin] = reader.read_channel(channel, begin, end - begin)
        begin, end = max(first, 0), min(stop, length)
        if end > begin:
            out[begin - first : end - first] = self.reader.read_channel(self.channel, begin, end - begin)
        if stop > length and self.after is not None:
            reader, channel = self.after
            got = reader.read_channel(channel, max(first - length, 0), stop - max(first, length))
            at = max(length - first, 0)
            out[at : at + got.size] = got
        return out


def _seamless(a: PiecePlan, b: PiecePlan) -> bool:
    """Whether a card's next file begins with the sample after the last one of the file before."""
    if a.stop_sample != b.start_sample or a.card_name != b.card_name:
        return False
    over = float(a.clock.at(float(b.start_sample))) - a.card_frames
    return abs(over - float(b.clock.at(float(b.start_sample)))) < _SEAM_SAMPLES
