"""Write one file in a stream: under a temporary name, flushed, then named; 64-bit sizes when it grows past 4 GiB."""

from __future__ import annotations

import errno
import os
import shutil
import struct
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from types import TracebackType

import numpy as np

from rollsound.errors import InputError, storage
from rollsound.wave.bext import Bext
from rollsound.wave.chunks import ALL_ONES_32
from rollsound.wave.disk import discard, part_name, publish, refuse_existing
from rollsound.wave.fmt import build_fmt
from rollsound.wave.ixml import IXml
from rollsound.wave.lists import build_cues, build_info
from rollsound.wave.model import AudioFormat, Cue
from rollsound.wave.samples import Doubles, Floats, Ints, encode, encode_ints

_DS64_BYTES = 28
_WRITE_BYTES = 4 << 20
LARGEST_RIFF_BYTES = ALL_ONES_32
Payload = bytes | tuple[int, Iterable[bytes]]
"""A chunk's payload: bytes, or for a large one its size and the pieces it comes in."""


class WaveWriter:
    """A file being written; a ``with`` statement names it on success and removes it on any exception.

    Layout: a reserve for 64-bit sizes, bext, format, iXML, audio, then cue points, texts and any other chunks. If
    power fails, the unfinished file lies beside its place under ``<name>.part-…`` and can be read by ``recover``.
    """

    def __init__(
        self,
        path: Path | str,
        format: AudioFormat,
        *,
        bext: Bext | None = None,
        ixml: IXml | bytes | None = None,
        cues: Sequence[Cue] = (),
        info_list: Mapping[str, str] | None = None,
        extra_chunks: Sequence[tuple[str, Payload]] = (),
        expected_frames: int | None = None,
        extensible: bool | None = None,
        channel_mask: int = 0,
        largest_riff_bytes: int = LARGEST_RIFF_BYTES,
    ) -> None:
        self.path = Path(path)
        self.format = format
        self.frames = 0
        self.clipped_samples = 0
        self._bytes = 0
        self._most = largest_riff_bytes
        head = self._head(bext, ixml, extensible, channel_mask)
        self._tail = _tail(cues, info_list or {}, extra_chunks)
        tail_bytes = sum(8 + size + size % 2 for _, size, _ in self._tail)
        refuse_existing(self.path)
        self._check_room(expected_frames, len(head) + tail_bytes)
        self._part = part_name(self.path)
        self._data_at = len(head)
        self._open = True
        with storage(self.path):
            self._file = open(self._part, "xb", buffering=0)  # noqa: SIM115
        try:
            self._put(head)
        except BaseException:
            self.abort()
            raise

    def _head(self, bext: Bext | None, ixml: IXml | bytes | None, extensible: bool | None, mask: int) -> bytes:
        chunks = [("JUNK", bytes(_DS64_BYTES))]
        if bext is not None:
            chunks.append(("bext", bext.to_bytes()))
        chunks.append(("fmt ", build_fmt(self.format, extensible=extensible, channel_mask=mask)))
        floating = self.format.sample_format.is_float
        if floating:
            chunks.append(("fact", bytes(4)))
        if ixml is not None:
            chunks.append(("iXML", ixml.to_bytes() if isinstance(ixml, IXml) else ixml + b"\n" * (len(ixml) % 2)))
        names = [name for name, _ in chunks]
        body = b"".join(chunk_bytes(name, payload) for name, payload in chunks)
        self._fact_at = 20 + sum(len(chunk_bytes(*chunk)) for chunk in chunks[: names.index("fact")]) if floating else 0
        return b"RIFF\0\0\0\0WAVE" + body + b"data\0\0\0\0"

    def _check_room(self, expected_frames: int | None, overhead: int) -> None:
        if expected_frames is None:
            return
        with storage(self.path):
            free = shutil.disk_usage(self.path.parent).free
            if free < expected_frames * self.format.frame_bytes + overhead:
                raise OSError(errno.ENOSPC, "no space", str(self.path))

    def write(self, block: Floats | Doubles | Ints, dither: bool | int = False) -> None:
        """Append frames.

        Parameters
        ----------
        block
            float32 or float64 with full scale 1.0, or left-justified int32, of shape (frames, channels); a mono
            file also takes one dimension
        dither
            False to round; True or a seed for triangular dither (float blocks only). The noise depends on seed and
            position alone, so block sizes do not change the file.

        Raises
        ------
        InputError
            when the shape does not fit
        StorageError
            when the disk fails or is full
        """
        if block.ndim == 1:
            block = block[:, None]
        if block.ndim != 2 or block.shape[1] != self.format.channels:
            raise InputError(
                f"{self.path} has {self.format.channels} channels; a block of shape {block.shape} does not fit"
            )
        if block.dtype == np.int32:
            self._audio(encode_ints(block, self.format.sample_format).data)  # type: ignore[arg-type]
            return
        seed = int(dither) if dither or not isinstance(dither, bool | np.bool_) else None
        first = self._bytes // self.format.sample_format.bytes
        raw, clipped = encode(block, self.format.sample_format, seed, first)  # type: ignore[arg-type]
        self.clipped_samples += clipped
        self._audio(raw.data)

    def write_bytes(self, raw: bytes | bytearray | memoryview) -> None:
        """Append interleaved bytes as they are. Whole frames must have come in by the end."""
        self._audio(memoryview(raw).cast("B"))

    def _audio(self, raw: memoryview) -> None:
        self._put(raw)
        self._bytes += len(raw)
        self.frames = self._bytes // self.format.frame_bytes

    def _put(self, raw: bytes | memoryview) -> None:
        view, done = memoryview(raw), 0
        with storage(self.path):
            while done < len(view):
                done += self._file.write(view[done : done + _WRITE_BYTES]) or 0

    def close(self) -> None:
        """Finish the sizes, flush to the disk and give the file its name."""
        if not self._open:
            return
        try:
            if self._bytes % self.format.frame_bytes:
                raise InputError(f"the audio for {self.path} ends in the middle of a frame; write whole frames")
            self._put(b"\0" * (self._bytes % 2))
            for chunk in self._tail:
                self._put_chunk(*chunk)
            self._finish_sizes()
            with storage(self.path):
                os.fsync(self._file.fileno())
                self._file.close()
            publish(self._part, self.path)
            self._open = False
        finally:
            if self._open:
                self.abort()

    def _put_chunk(self, name: str, size: int, pieces: Iterable[bytes]) -> None:
        self._put(_chunk_header(name, size))
        done = 0
        for piece in pieces:
            self._put(piece)
            done += len(piece)
        if done != size:
            raise InputError(f"the chunk '{name}' for {self.path} was to have {size} bytes but came with {done}")
        self._put(b"\0" * (size % 2))

    def _finish_sizes(self) -> None:
        with storage(self.path):
            riff = self._file.tell() - 8
            if riff <= self._most:
                self._patch(4, struct.pack("<I", riff))
                self._patch(self._data_at - 4, struct.pack("<I", self._bytes))
            else:
                self._patch(0, b"RF64" + struct.pack("<I", ALL_ONES_32))
                self._patch(12, b"ds64" + struct.pack("<IQQQI", _DS64_BYTES, riff, self._bytes, self.frames, 0))
                self._patch(self._data_at - 4, struct.pack("<I", ALL_ONES_32))
            if self.format.sample_format.is_float:
                self._patch(self._fact_at, struct.pack("<I", min(self.frames, ALL_ONES_32)))

    def _patch(self, at: int, raw: bytes) -> None:
        self._file.seek(at)
        self._put(raw)

    def abort(self) -> None:
        """Give up: remove what was written. The final name was never touched."""
        self._open = False
        self._file.close()
        discard(self._part)

    def __enter__(self) -> WaveWriter:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if kind is None:
            self.close()
        else:
            self.abort()


def chunk_bytes(name: str, payload: bytes) -> bytes:
    """A whole chunk with its pad byte."""
    return _chunk_header(name, len(payload)) + payload + b"\0" * (len(payload) % 2)


def _chunk_header(name: str, size: int) -> bytes:
    if size >= ALL_ONES_32:
        raise InputError(f"the chunk '{name}' of {size} bytes is too large to be written")
    return name.encode("latin-1", "replace")[:4].ljust(4) + struct.pack("<I", size)


def _tail(
    cues: Sequence[Cue], info_list: Mapping[str, str], extra: Sequence[tuple[str, Payload]]
) -> list[tuple[str, int, Iterable[bytes]]]:
    """The chunks after the audio: name, size, pieces."""
    found: list[tuple[str, Payload]] = []
    if cues:
        points, labels = build_cues(cues)
        found += [("cue ", points)] + ([("LIST", labels)] if labels else [])
    if info_list:
        found.append(("LIST", build_info(info_list)))
    found += extra
    return [(name, len(each), [each]) if isinstance(each, bytes) else (name, *each) for name, each in found]
