"""Several files of one take, mono or poly, seen as one reader."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from contextlib import ExitStack
from dataclasses import dataclass, replace
from pathlib import Path
from types import TracebackType

import numpy as np

from rollsound.errors import InputError, RollsoundError
from rollsound.wave.info import WaveInfo, read_info
from rollsound.wave.model import Assumption, AudioFormat, SampleFormat
from rollsound.wave.reader import BLOCK_FRAMES, WaveReader
from rollsound.wave.samples import Floats, Ints

_SEPARATED = re.compile(r"^(?P<stem>.+)[ _.\-](?:ch|trk?|track)?[ _.\-]?(?P<number>\d{1,3})$", re.IGNORECASE)


class TakeReader:
    """One take, whether it lies in one file or in many. Reads as a single file with all their channels.

    Members are in the order of their set; one that starts later than the first is placed by its time stamp, and where
    a member has no audio there are zeros.
    """

    def __init__(
        self, paths: Sequence[Path | str], *, allow_mixed_bits: bool = False, assume: AudioFormat | None = None
    ) -> None:
        if not paths:
            raise InputError("a take needs at least one file")
        with ExitStack() as stack:
            opened = [stack.enter_context(WaveReader(path, assume=assume)) for path in paths]
            opened.sort(key=lambda reader: _order(reader.info))
            _check_alike([reader.info for reader in opened], allow_mixed_bits)
            self._stack = stack.pop_all()
        self.members: tuple[WaveReader, ...] = tuple(opened)
        starts = [reader.info.start_samples for reader in opened]
        self._offsets = [start - min(starts) for start in starts]
        self.info: WaveInfo = _joined([reader.info for reader in opened], self._offsets)

    def read(self, start: int, frames: int) -> Floats:
        """Frames as float32 of shape (frames, channels of all members)."""
        if len(self.members) == 1:
            return self.members[0].read(start, frames)
        count = self._clip(start, frames)
        out = np.zeros((count, self.info.format.channels), np.float32)
        for reader, first, at, got, place in self._spans(start, count):
            if reader.info.format.channels == 1:
                reader.fill_channel(0, place, out[at : at + got, first])
            else:
                out[at : at + got, first : first + reader.info.format.channels] = reader.read(place, got)
        return out

    def read_ints(self, start: int, frames: int) -> Ints:
        """The same as left-justified int32, exact."""
        count = self._clip(start, frames)
        out = np.zeros((count, self.info.format.channels), np.int32)
        for reader, first, at, got, place in self._spans(start, count):
            out[at : at + got, first : first + reader.info.format.channels] = reader.read_ints(place, got)
        return out

    def read_channel(self, channel: int, start: int, frames: int) -> Floats:
        """One channel (0-based, counted over all members) as float32 of shape (frames,)."""
        count = self._clip(start, frames)
        if not 0 <= channel < self.info.format.channels:
            raise InputError(f"{self.info.path} has {self.info.format.channels} channels, no number {channel + 1}")
        out = np.zeros(count, np.float32)
        for reader, first, at, got, place in self._spans(start, count):
            if first <= channel < first + reader.info.format.channels:
                out[at : at + got] = reader.read_channel(channel - first, place, got)
        return out

    def read_bytes(self, start: int, frames: int) -> bytes:
        """Interleaved bytes of all members as one file would hold them.

        Raises
        ------
        InputError
            when the members differ in sample format
        """
        if len(self.members) == 1:
            return self.members[0].read_bytes(start, frames)
        size = self.info.format.sample_format.bytes
        if any(reader.info.format.sample_format is not self.info.format.sample_format for reader in self.members):
            raise InputError(f"the files beside {self.info.path} differ in bits, so their bytes cannot be interleaved")
        count = self._clip(start, frames)
        out = np.zeros((count, self.info.format.channels, size), np.uint8)
        for reader, first, at, got, place in self._spans(start, count):
            channels = reader.info.format.channels
            raw = np.frombuffer(reader.read_bytes(place, got), np.uint8)
            out[at : at + got, first : first + channels] = raw.reshape(got, channels, size)
        return out.tobytes()

    def blocks(self, frames: int = BLOCK_FRAMES, start: int = 0, stop: int | None = None) -> Iterator[Floats]:
        """Consecutive arrays of ``frames`` frames; the last may be shorter."""
        if frames < 1:
            raise InputError("a block needs at least one frame")
        end = self.info.frames if stop is None else min(stop, self.info.frames)
        for at in range(start, end, frames):
            yield self.read(at, min(frames, end - at))

    def close(self) -> None:
        """Let go of all files."""
        self._stack.close()

    def _clip(self, start: int, frames: int) -> int:
        if start < 0 or frames < 0:
            raise InputError("positions in a take count from 0, and lengths are not negative")
        return max(0, min(frames, self.info.frames - start))

    def _spans(self, start: int, count: int) -> Iterator[tuple[WaveReader, int, int, int, int]]:
        """Each member's part of a span: (reader, first channel, place in the span, frames, place in the member)."""
        first = 0
        for reader, offset in zip(self.members, self._offsets, strict=True):
            begin = max(start, offset)
            end = min(start + count, offset + reader.info.frames)
            if end > begin:
                yield reader, first, begin - start, end - begin, begin - offset
            first += reader.info.format.channels

    def __enter__(self) -> TakeReader:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()


def open_set(
    paths: Sequence[Path | str] | Path | str, *, allow_mixed_bits: bool = False, assume: AudioFormat | None = None
) -> TakeReader:
    """Open one take: a file, or all the files of its set in any order.

    Raises
    ------
    InputError
        when the files differ in sample rate, or in bits without ``allow_mixed_bits``
    BrokenFileError
        when no audio can be made out in one of them
    """
    if isinstance(paths, str | Path):
        paths = [paths]
    return TakeReader(paths, allow_mixed_bits=allow_mixed_bits, assume=assume)


def group_sets(paths: Iterable[Path | str]) -> list[list[Path]]:
    """Which files are one take: one list each, in the order of the set; takes in the order of their first file.

    Files belong together when they lie in one folder, start at the same moment, and share a FAMILY_UID, or are monos
    whose names differ only in the number at the end. A file that cannot be read stands alone. Files of a set that run
    at other rates than the rest stay with it, so that ``open_set`` can refuse them by name.
    """
    groups: dict[_Family, list[tuple[tuple[object, ...], Path]]] = {}
    for path in map(Path, paths):
        try:
            info = read_info(path)
        except RollsoundError:
            groups[_Family(("alone", path))] = [((), path)]
            continue
        groups.setdefault(_family(info), []).append((_order(info), path))
    merged: dict[_Family, list[tuple[tuple[object, ...], Path]]] = {}
    for family, members in groups.items():
        merged.setdefault(next((each for each in merged if each.belongs(family)), family), []).extend(members)
    return [[path for _, path in sorted(members, key=lambda each: each[0])] for members in merged.values()]


@dataclass(frozen=True)
class _Family:
    """What makes files one take: their name or id, and the moment they start, in samples and at which rate."""

    name: tuple[object, ...]
    start_samples: int = 0
    sample_rate_hz: int = 0

    def belongs(self, other: _Family) -> bool:
        """Whether the other is a part of this set that runs at another rate."""
        if self.name != other.name or self.sample_rate_hz == other.sample_rate_hz:
            return False
        apart = abs(self.start_samples * other.sample_rate_hz - other.start_samples * self.sample_rate_hz)
        # a converted file's stamp is rounded to a sample, or was left as it stood
        near = 2 * apart <= 3 * max(self.sample_rate_hz, other.sample_rate_hz)
        return near or self.start_samples == other.start_samples


def _family(info: WaveInfo) -> _Family:
    belongs = info.ixml.file_set if info.ixml else None
    folder, rate = info.path.parent, info.format.sample_rate_hz
    if belongs and belongs.family_uid and info.ixml and info.ixml.get("FILE_SET/TOTAL_FILES") != "1":
        start = info.start_samples if belongs.start_samples is None else belongs.start_samples
        return _Family(("family", belongs.family_uid, folder), start, rate)
    match = _SEPARATED.match(info.path.stem)
    if match and info.format.channels == 1 and info.has_timecode:
        return _Family(("monos", match["stem"].casefold(), folder), info.start_samples, rate)
    return _Family(("alone", info.path))


def _order(info: WaveInfo) -> tuple[object, ...]:
    """Set index, then the recorder's track number, then the name with its numbers read as numbers."""
    belongs = info.ixml.file_set if info.ixml else None
    index = belongs.index if belongs else ""
    track = info.ixml.tracks[0].channel_index if info.ixml and info.ixml.tracks else 0
    pieces = tuple(
        (0, int(text), "") if text.isdecimal() else (1, 0, text) for text in re.findall(r"\d+|\D+", info.name)
    )
    if index.isdecimal():
        return (0, int(index), "", track, pieces)
    return (1, 0, index, track, pieces)


def _check_alike(infos: list[WaveInfo], allow_mixed_bits: bool) -> None:
    rates = sorted({info.format.sample_rate_hz for info in infos})
    if len(rates) > 1:
        listed = " and ".join(f"{rate} Hz" for rate in rates)
        raise InputError(
            f"the files of the take {infos[0].path} run at {listed}; a take needs one rate, so convert "
            "or leave out some"
        )
    bits = sorted({info.format.sample_format.value for info in infos})
    if len(bits) > 1 and not allow_mixed_bits:
        raise InputError(
            f"the files of the take {infos[0].path} hold {' and '.join(bits)} samples; a take needs one kind, so "
            "convert or leave out some"
        )


def _joined(infos: list[WaveInfo], offsets: list[int]) -> WaveInfo:
    """One description for all members."""
    first = infos[0]
    missing = _missing(infos)
    if len(infos) == 1:
        return replace(first, assumptions=first.assumptions + missing)
    formats = {info.format.sample_format for info in infos}
    widest = SampleFormat.FLOAT32 if SampleFormat.FLOAT32 in formats else max(formats, key=lambda each: each.bits)
    channels = sum(info.format.channels for info in infos)
    notes = [replace(note, sentence=f"{info.name}: {note.sentence}") for info in infos for note in info.assumptions]
    lengths = {offset + info.frames for info, offset in zip(infos, offsets, strict=True)}
    if len(lengths) > 1:
        sentence = f"The files of this take end at different places, up to {max(lengths) - min(lengths)} samples apart."
        notes.append(Assumption("lengths", f"{sentence} The shorter ones are followed by silence.", audio=True))
    if any(offsets):
        sentence = (
            f"The files of this take start up to {max(offsets)} samples apart; each was placed by its time stamp."
        )
        notes.append(Assumption("starts", sentence, audio=True))
    return replace(
        first,
        format=AudioFormat(first.format.sample_rate_hz, channels, widest),
        frames=max(lengths),
        track_names=_names(infos),
        assumptions=(*notes, *missing),
        disagreements=tuple(f"{info.name}: {each}" for info in infos for each in info.disagreements),
        start_samples=min(info.start_samples for info in infos),
        has_timecode=any(info.has_timecode for info in infos),
    )


def _missing(infos: list[WaveInfo]) -> tuple[Assumption, ...]:
    """Whether iXML knows of more files of this take than there are."""
    total = max((info.ixml.file_set.total_files for info in infos if info.ixml), default=1)
    if total <= len(infos):
        return ()
    here = "one is" if len(infos) == 1 else f"{len(infos)} are"
    sentence = f"iXML says that this take has {total} files, but only {here} here."
    return (Assumption("files-missing", sentence, audio=True, numbers={"stated": total, "present": len(infos)}),)


def _names(infos: list[WaveInfo]) -> tuple[str, ...]:
    """The members' own names; plain numbers are counted anew over the whole take."""
    names = [name for info in infos for name in info.track_names]
    return tuple(f"Track {n}" if re.fullmatch(r"Track \d+", name) else name for n, name in enumerate(names, 1))
