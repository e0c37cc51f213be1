"""Read one file's samples by position, in blocks, whatever its length."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from types import TracebackType

import numpy as np

from rollsound.errors import InputError
from rollsound.wave.disk import ByteSource
from rollsound.wave.info import WaveInfo, describe
from rollsound.wave.layout import lay_out
from rollsound.wave.model import AudioFormat, Chunk, MoreAudio
from rollsound.wave.samples import SLACK_BYTES, Floats, Ints, Raw, decode, decode_channel, decode_ints

BLOCK_FRAMES = 65536
_PIECE_BYTES = 1 << 20


class WaveReader:
    """An open file. Positions count frames from 0; reading past the end gives fewer frames, never an error."""

    def __init__(self, path: Path | str, *, assume: AudioFormat | None = None) -> None:
        self._source = ByteSource(Path(path))
        try:
            self.info: WaveInfo = describe(self._source, lay_out(self._source, assume))
        except BaseException:
            self._source.close()
            raise

    def read(self, start: int, frames: int) -> Floats:
        """Frames ``start`` to ``start + frames`` as float32 of shape (frames, channels), full scale 1.0."""
        form, count = self.info.format, self._clip(start, frames)
        out = np.empty((count, form.channels), np.float32)
        for first, got, raw in self._pieces(start, count):
            decode(raw, got, form.channels, form.sample_format, out[first : first + got])
        return out

    def read_ints(self, start: int, frames: int) -> Ints:
        """The same as left-justified int32, exact for every whole-number format.

        Raises
        ------
        InputError
            for floating point files
        """
        form, count = self.info.format, self._clip(start, frames)
        if form.sample_format.is_float:
            raise InputError(f"{self.info.path} holds floating point samples, which have no exact whole-number form")
        out = np.empty((count, form.channels), np.int32)
        for first, got, raw in self._pieces(start, count):
            out[first : first + got] = decode_ints(raw, got, form.channels, form.sample_format)
        return out

    def read_channel(self, channel: int, start: int, frames: int) -> Floats:
        """One channel (0-based) as float32 of shape (frames,)."""
        out = np.empty(self._clip(start, frames), np.float32)
        self.fill_channel(channel, start, out)
        return out

    def fill_channel(self, channel: int, start: int, out: Floats) -> None:
        """One channel into ``out`` of shape (frames,) and any stride, all of whose frames lie in the file."""
        form = self.info.format
        if not 0 <= channel < form.channels:
            raise InputError(f"{self.info.path} has {form.channels} channels; there is no number {channel + 1}")
        for first, got, raw in self._pieces(start, out.size):
            decode_channel(raw, got, channel, form.channels, form.sample_format, out[first : first + got])

    def read_bytes(self, start: int, frames: int) -> bytes:
        """The interleaved bytes of the frames as they stand in the file."""
        frame = self.info.format.frame_bytes
        return self._source.read(self.info.data_offset + start * frame, self._clip(start, frames) * frame)

    def blocks(self, frames: int = BLOCK_FRAMES, start: int = 0, stop: int | None = None) -> Iterator[Floats]:
        """Consecutive arrays of ``frames`` frames from ``start`` to ``stop`` (the end); the last may be shorter."""
        if frames < 1:
            raise InputError("a block needs at least one frame")
        end = self.info.frames if stop is None else min(stop, self.info.frames)
        for at in range(start, end, frames):
            yield self.read(at, min(frames, end - at))

    def read_chunk(self, chunk: Chunk) -> bytes:
        """The payload of any chunk listed in ``info.chunks``."""
        return self._source.read(chunk.offset, chunk.size)

    def chunk_pieces(self, chunk: Chunk) -> Iterator[bytes]:
        """The same a piece at a time, for chunks that may be large."""
        for at in range(0, chunk.size, _PIECE_BYTES):
            yield self._source.read(chunk.offset + at, min(_PIECE_BYTES, chunk.size - at))

    def more_bytes(self, audio: MoreAudio, start: int, frames: int) -> bytes:
        """Bytes of frames of an audio chunk listed in ``info.more_audio``."""
        frame = audio.format.frame_bytes
        return self._source.read(audio.offset + start * frame, max(0, min(frames, audio.frames - start)) * frame)

    def close(self) -> None:
        """Let go of the file."""
        self._source.close()

    def _clip(self, start: int, frames: int) -> int:
        if start < 0 or frames < 0:
            raise InputError("positions in a file count from 0, and lengths are not negative")
        return max(0, min(frames, self.info.frames - start))

    def _pieces(self, start: int, frames: int) -> Iterator[tuple[int, int, Raw]]:
        """Bytes in pieces small enough to stay in the processor's cache: (first frame, frames, bytes with slack)."""
        frame = self.info.format.frame_bytes
        step = max(1, min(_PIECE_BYTES // frame, frames))
        raw = np.zeros(step * frame + SLACK_BYTES, np.uint8)
        view = raw.data
        offset = self.info.data_offset
        for first in range(0, frames, step):
            count = min(step, frames - first)
            got = self._source.read_into(offset + (start + first) * frame, view[: count * frame])
            if got < count * frame:
                raise InputError(f"{self.info.path} became shorter while it was read; copy it again from its card")
            yield first, count, raw

    def __enter__(self) -> WaveReader:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()


def open_wave(path: Path | str, *, assume: AudioFormat | None = None) -> WaveReader:
    """Open a file for reading; use it in a ``with`` statement.

    Raises
    ------
    BrokenFileError
        when no audio can be made out
    StorageError
        when the file cannot be read
    """
    return WaveReader(path, assume=assume)
