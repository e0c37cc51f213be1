"""Walk through a file's chunks, sound or broken, and say where the audio lies."""

from __future__ import annotations

import contextlib
from dataclasses import dataclass

from rollsound.errors import BrokenFileError, InputError
from rollsound.wave.chunks import (
    ALL_ONES_32,
    KNOWN_IDS,
    Sizes64,
    after,
    find_chunk,
    header_at,
    starts_chunk,
)
from rollsound.wave.disk import ByteSource
from rollsound.wave.extent import audio_extent
from rollsound.wave.fmt import Fmt, parse_fmt, plausible_fmt
from rollsound.wave.model import Assumption, AudioFormat, Chunk, MoreAudio
from rollsound.wave.ruined import ruined_audio

CONTAINERS = ("RIFF", "RF64", "BW64")
MOST_CHUNKS = 4096
GIVE_FORMAT = (
    "if you know its channels, bits and sample rate, give them to rollsound recover, which then makes a whole copy"
)
NOTHING_THERE = "there is nothing in it to read, so look for this recording on another drive"


@dataclass(frozen=True)
class Layout:
    """Where everything is: the format, the audio's whole frames, every chunk, and what had to be assumed."""

    container: str
    fmt: Fmt
    data_offset: int
    data_bytes: int
    chunks: tuple[Chunk, ...]
    assumptions: tuple[Assumption, ...]
    more_audio: tuple[MoreAudio, ...] = ()


def lay_out(source: ByteSource, assume: AudioFormat | None = None) -> Layout:
    """Find the audio of a file.

    Parameters
    ----------
    assume
        the format to take when the header that says it is gone; not used while the header can be read

    Raises
    ------
    BrokenFileError
        when no audio can be made out
    """
    return _Walk(source, assume).run()


class _Walk:
    def __init__(self, source: ByteSource, assume: AudioFormat | None) -> None:
        self.source = source
        self.assume = assume
        self.container = "RIFF"
        self.chunks: list[Chunk] = []
        self.notes: list[Assumption] = []
        self.fmt: Fmt | None = None
        self.fmt_trouble = ""
        self.sizes = Sizes64()
        self.data: tuple[int, int] | None = None
        self.more: list[tuple[int, int, AudioFormat | None]] = []
        self.later_fmt: AudioFormat | None = None
        self.trail = 0

    def run(self) -> Layout:
        self._walk(self._first_chunk())
        if self.fmt is None:
            self.fmt = self._fmt_from_person()
        if self.data is None:
            self._find_lost_data(self.fmt.format)
        assert self.data is not None
        offset, size = self.data
        frame = self.fmt.format.frame_bytes
        self._check_partial_frame(size, frame)
        self._check_riff_size()
        more = self._more_audio(self.fmt.format)
        notes = (*self.notes, *self.fmt.assumptions)
        return Layout(self.container, self.fmt, offset, size // frame * frame, tuple(self.chunks), notes, more)

    def _broken(self, what: str, remedy: str = GIVE_FORMAT) -> BrokenFileError:
        return BrokenFileError(f"{self.source.path} {what}; {remedy}", path=str(self.source.path))

    def _note(self, kind: str, sentence: str, audio: bool = False, **numbers: int) -> None:
        self.notes.append(Assumption(kind, sentence, audio, numbers))

    def _first_chunk(self) -> int:
        head = self.source.read(0, 12)
        name = head[:4].decode("latin-1")
        if not head:
            raise self._broken("is empty", NOTHING_THERE)
        if name in CONTAINERS and (head[8:12] == b"WAVE" or len(head) < 12):
            self.container = name
            return 12
        if name == "RIFX":
            raise self._broken("is stored in big-endian order", "convert it to an ordinary WAV file first")
        start = find_chunk(self.source, 0)
        if start is not None and (self._recovers_fmt(start) or (self.assume and self._recovers_data(start))):
            self._note("header", f"The file's header is destroyed; its chunks were found again from byte {start} on.")
            return start
        if self.assume is None:
            what = "has no readable header" if not any(head) or name in CONTAINERS else "is not a WAV file"
            raise self._broken(what)
        self._note("header", "The file's header is destroyed and no chunk of it could be found.")
        return self.source.size

    def _recovers_fmt(self, start: int) -> bool:
        at = find_chunk(self.source, start, only=frozenset({b"fmt "}))
        return at is not None and plausible_fmt(self.source.read(at + 8, 40))

    def _recovers_data(self, start: int) -> bool:
        return find_chunk(self.source, start, only=frozenset({b"data"})) is not None

    def _walk(self, at: int) -> None:
        while at + 8 <= self.source.size:
            if len(self.chunks) + len(self.more) >= MOST_CHUNKS:
                self._note("too-many-chunks", f"Only the first {MOST_CHUNKS} chunks were looked at.")
                break
            found = header_at(self.source, at)
            if found is None or (found[0] not in KNOWN_IDS and not self._trusted(at)):
                moved = self._near(at)
                if moved is None and self.data is None:
                    moved = find_chunk(self.source, at)
                if moved is None:
                    self._stray(at)
                    break
                if abs(moved - at) < 4:
                    self._note("padding", f"The padding before byte {moved} is wrong; the next chunk was found there.")
                else:
                    self._note("gap", f"{moved - at} bytes from byte {at} on are no chunk; they were passed over.")
                at = moved
                continue
            at = self._data(at, found[1]) if found[0] == b"data" else self._other(at, *found)
        self.trail = at

    def _trusted(self, at: int) -> bool:
        """A name nobody knows is believed while its payload fits the file."""
        found = header_at(self.source, at)
        return found is not None and at + 8 + found[1] <= self.source.size

    def _near(self, at: int) -> int | None:
        """A known chunk a few bytes beside where the sizes say."""
        for shift in (-1, 1, 2, 3):
            raw = self.source.read(at + shift, 4)
            if raw in KNOWN_IDS and (raw == b"data" or starts_chunk(self.source, at + shift)):
                return at + shift
        return None

    def _stray(self, at: int) -> None:
        """Bytes after the audio that are no chunk."""
        left = self.source.size - at
        if self.data is not None and any(self.source.read(at, min(left, 65536))):
            self._note("trailing", f"The last {left} bytes of the file are no chunk; they were left out.", spare=left)

    def _data(self, at: int, stated: int) -> int:
        start = at + 8
        if self.data is not None and self.data[1]:
            extent = audio_extent(self.source, start, stated, self.later_fmt or (self.fmt.format if self.fmt else None))
            self.more.append((start, extent.size, self.later_fmt))
            return extent.next_chunk
        if stated == ALL_ONES_32 and self.container != "RIFF":
            stated = self.sizes.data_size()
        extent = audio_extent(self.source, start, stated, self.fmt.format if self.fmt else self.assume)
        self.data = (start, extent.size)
        self.notes += extent.assumptions
        self.chunks.append(Chunk("data", start, extent.size))
        return extent.next_chunk

    def _other(self, at: int, name: bytes, stated: int) -> int:
        start, shown = at + 8, name.decode("latin-1")
        if stated == ALL_ONES_32:
            stated = self.sizes.table.get(shown, stated)
        size = min(stated, self.source.size - start)
        if size < stated:
            following = None if self.data else find_chunk(self.source, start)
            size = (following - start) if following is not None else size
            self._note(
                "chunk-size",
                f"The chunk '{shown}' states {stated} bytes, more than the file holds; {size} were taken.",
                stated=stated,
                used=size,
            )
        self.chunks.append(Chunk(shown, start, size))
        if name == b"ds64":
            self.sizes = Sizes64.from_bytes(self.source.read(start, min(size, 1 << 16)))
        elif name == b"fmt " and self.fmt is None:
            self._take_fmt(start, size)
        elif name == b"fmt " and self.data is not None:
            with contextlib.suppress(InputError):  # then the first one holds for what follows as well
                self.later_fmt = parse_fmt(self.source.read(start, min(size, 64))).format
        following, missing = after(self.source, start + size, size)
        if size < stated:
            return start + size
        if missing:
            self._note("pad-missing", f"The chunk '{shown}' has an odd size but no pad byte after it; read without it.")
        return following

    def _take_fmt(self, start: int, size: int) -> None:
        try:
            self.fmt = parse_fmt(self.source.read(start, min(size, 64)))
        except InputError as error:
            self.fmt_trouble = str(error)

    def _fmt_from_person(self) -> Fmt:
        if self.assume is None:
            trouble = self.fmt_trouble or "it has no format chunk"
            raise self._broken(f"cannot be read as audio: {trouble}")
        self._note("format-given", f"The format is not in the file; it was taken as given: {self.assume}.", audio=True)
        return Fmt(self.assume)

    def _find_lost_data(self, form: AudioFormat) -> None:
        """No data chunk: take what follows the last chunk, or the whole of a ruined file."""
        if any(note.kind == "header" for note in self.notes):
            found = ruined_audio(self.source, form)
            if found is None:
                raise self._broken("holds only zeros", NOTHING_THERE)
            self.notes.append(found.assumption)
            self.data = (found.start, found.size)
            self.chunks.append(Chunk("data", *self.data))
            self._walk_tail(found.next_chunk)
            return
        start = max(self.trail, min(12, self.source.size))
        left = self.source.size - start
        if left < form.frame_bytes:
            raise self._broken("ends before its audio begins", NOTHING_THERE)
        # An overwritten data header still takes its eight bytes; a missing one does not.
        overwritten = left >= 8 and (left - 8) % form.frame_bytes == 0 and left % form.frame_bytes != 0
        if left >= 8 and not any(self.source.read(start, 4)):
            overwritten = True
        start += 8 if overwritten else 0
        extent = audio_extent(self.source, start, 0, form)
        self._note(
            "data-header",
            f"The header of the audio chunk is missing; audio was taken from byte {start} on.",
            audio=True,
            start=start,
        )
        self.notes += [note for note in extent.assumptions if note.kind != "unfinished"]
        self.data = (start, extent.size)
        self.chunks.append(Chunk("data", *self.data))
        self._walk_tail(extent.next_chunk)

    def _walk_tail(self, at: int) -> None:
        if at < self.source.size:
            self._walk(at)

    def _more_audio(self, first: AudioFormat) -> tuple[MoreAudio, ...]:
        """Further audio chunks that hold anything: no part of the file's audio, but never lost without a word."""
        found = []
        for start, size, own in self.more:
            form = own or first
            if size >= form.frame_bytes:
                found.append(MoreAudio(start, size // form.frame_bytes, form))
        if found:
            total = sum(each.frames for each in found)
            what = "a second audio chunk" if len(found) == 1 else f"{len(found)} further audio chunks"
            where = ", ".join(str(each.offset - 8) for each in found[:4]) + (", …" if len(found) > 4 else "")
            self._note(
                "second-data",
                f"The file holds {what} ({total} frames, at byte {where}), which is not read as part of its audio.",
                audio=True,
                further=len(found),
                further_frames=total,
            )
        return tuple(found)

    def _check_partial_frame(self, size: int, frame: int) -> None:
        spare = size % frame
        if spare:
            self._note(
                "partial-frame",
                f"The audio ends in the middle of a frame; its last {spare} bytes were left out.",
                audio=True,
                spare=spare,
            )

    def _check_riff_size(self) -> None:
        if any(note.kind == "header" for note in self.notes):
            return
        stated = int.from_bytes(self.source.read(4, 4), "little")
        if stated == ALL_ONES_32 and self.container != "RIFF":
            stated = self.sizes.riff
        true = self.source.size - 8
        if abs(stated - true) > 1:
            self._note(
                "riff-size",
                f"The file's own size field says {stated} bytes, but {true} bytes are there; the field was not used.",
                stated=stated,
                present=true,
            )
