"""What is matched: takes of the recorder and recordings of cards, described unopened, so that they travel."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from rollsound.conform.readers import Mono, Reader, open_audio
from rollsound.wave import WaveInfo, open_set, read_info

_RUNS_ON_SAMPLES = 2


@dataclass(frozen=True, eq=False)
class TakeSource:
    """One take. ``start_samples`` since midnight at its own rate, None without time code; ``date`` as YYYY-MM-DD.

    ``tracks`` limits the search to these track numbers (0-based). ``reader`` replaces the files (audio in memory).
    """

    name: str
    frames: int
    sample_rate_hz: int
    track_names: tuple[str, ...]
    paths: tuple[Path, ...] = ()
    start_samples: int | None = None
    date: str = ""
    tracks: tuple[int, ...] | None = None
    reader: Reader | None = None

    @property
    def seconds(self) -> float:
        """Length."""
        return self.frames / self.sample_rate_hz

    @property
    def start_seconds(self) -> float | None:
        """Start on the recorder's clock, in its own seconds since midnight."""
        return None if self.start_samples is None else self.start_samples / self.sample_rate_hz

    @contextmanager
    def open(self) -> Iterator[Reader]:
        """The take's audio."""
        if self.reader is not None:
            yield self.reader
            return
        with open_set(self.paths) as take:
            yield _TakeView(take, take.info.frames, take.info.format.sample_rate_hz)


@dataclass(frozen=True)
class _TakeView:
    take: Any
    frames: int
    sample_rate_hz: int

    def read_channel(self, channel: int, start: int, frames: int) -> Mono:
        out: Mono = self.take.read_channel(channel, start, frames)
        return out


@dataclass(frozen=True, eq=False)
class CardFile:
    """One file of a card; ``start_samples`` since midnight at its own rate, None without time code.

    ``bits`` a sample, 0 when not known.
    """

    path: str
    frames: int
    sample_rate_hz: int
    channels: int = 1
    start_samples: int | None = None
    date: str = ""
    reader: Reader | None = None
    bits: int = 0

    @contextmanager
    def open(self) -> Iterator[Reader]:
        """The file's audio."""
        if self.reader is not None:
            yield self.reader
            return
        with open_audio(self.path) as reader:
            yield reader


@dataclass(frozen=True, eq=False)
class CardSource:
    """One card: its files in any order, and the channel that holds the mic."""

    name: str
    files: tuple[CardFile, ...]
    channel: int = 0

    def recordings(self) -> tuple[Recording, ...]:
        """Files joined where one runs on in the next, by their time stamps; without time stamps each stands alone."""
        chains: list[list[CardFile]] = []
        for file in sorted(self.files, key=lambda f: (f.start_samples is None, f.date, f.start_samples or 0, f.path)):
            last = chains[-1][-1] if chains else None
            if last is not None and _runs_on(last, file):
                chains[-1].append(file)
            else:
                chains.append([file])
        return tuple(Recording(self.name, n, tuple(chain), self.channel) for n, chain in enumerate(chains))


def _runs_on(a: CardFile, b: CardFile) -> bool:
    if a.start_samples is None or b.start_samples is None:
        return False
    if (a.sample_rate_hz, a.bits) != (b.sample_rate_hz, b.bits):
        return False
    return a.date == b.date and abs(a.start_samples + a.frames - b.start_samples) <= _RUNS_ON_SAMPLES


@dataclass(frozen=True, eq=False)
class Recording:
    """Unbroken sound of a card in one or more files. Its sample 0 is the first file's first."""

    card: str
    number: int
    files: tuple[CardFile, ...]
    channel: int = 0

    @property
    def frames(self) -> int:
        """Length over all files."""
        return sum(f.frames for f in self.files)

    @property
    def sample_rate_hz(self) -> int:
        """Of every file."""
        return self.files[0].sample_rate_hz

    @property
    def start_seconds(self) -> float | None:
        """Start by its time stamp, in its own seconds since midnight."""
        start = self.files[0].start_samples
        return None if start is None else start / self.sample_rate_hz

    @property
    def date(self) -> str:
        """As stamped."""
        return self.files[0].date

    def edges(self) -> NDArray[np.int64]:
        """First sample of every file, and one past the last."""
        return np.concatenate([[0], np.cumsum([f.frames for f in self.files])]).astype(np.int64)

    @contextmanager
    def open(self) -> Iterator[Reader]:
        """The audio of all files, one after the other."""
        with ExitStack() as stack:
            readers = [stack.enter_context(f.open()) for f in self.files]
            yield readers[0] if len(readers) == 1 else _Chain(readers, self.edges(), self.sample_rate_hz)


@dataclass(frozen=True, eq=False)
class _Chain:
    readers: Sequence[Reader]
    edges: NDArray[np.int64]
    sample_rate_hz: int
    frames: int = field(init=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "frames", int(self.edges[-1]))

    def read_channel(self, channel: int, start: int, frames: int) -> Mono:
        parts = []
        stop = min(start + frames, self.frames)
        for reader, first, last in zip(self.readers, self.edges[:-1], self.edges[1:], strict=True):
            a, b = max(start, int(first)), min(stop, int(last))
            if b > a:
                parts.append(reader.read_channel(channel, a - int(first), b - a))
        return np.concatenate(parts) if parts else np.zeros(0, np.float32)


def take_source(name: str, paths: Sequence[Path | str], tracks: Sequence[int] | None = None) -> TakeSource:
    """Describe a take from its files' headers."""
    with open_set(list(paths)) as take:
        info = take.info
    return TakeSource(
        name,
        info.frames,
        info.format.sample_rate_hz,
        tuple(info.track_names),
        tuple(Path(p) for p in paths),
        info.start_samples if info.has_timecode else None,
        _date(info),
        None if tracks is None else tuple(tracks),
    )


def card_source(name: str, paths: Sequence[Path | str], channel: int = 0) -> CardSource:
    """Describe a card from its files' headers."""
    return CardSource(name, tuple(_card_file(read_info(path)) for path in paths), channel)


def _card_file(info: WaveInfo) -> CardFile:
    return CardFile(
        str(info.path),
        info.frames,
        info.format.sample_rate_hz,
        info.format.channels,
        info.start_samples if info.has_timecode else None,
        _date(info),
        bits=info.format.sample_format.bits,
    )


def _date(info: WaveInfo) -> str:
    return info.bext.origination_date.replace(":", "-").replace("_", "-").strip() if info.bext else ""
