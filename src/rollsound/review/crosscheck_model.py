"""What the cross-check works with: takes as written, takes as they lie on the disk, and what the plan expects."""

from __future__ import annotations

import functools
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from rollsound.errors import InputError
from rollsound.finding import Finding
from rollsound.log.entries import TakeKind
from rollsound.timecode.label import Timecode
from rollsound.timecode.rates import Rate
from rollsound.timecode.samples import samples_of_timecode

Side = Literal["log", "file"]


@dataclass(frozen=True)
class WrittenTake:
    """A take as the log (or a sheet of takes) has it."""

    id: str
    """Of the log's line; of a sheet, the name of the file."""
    scene: str = ""
    slate: str = ""
    take: str = ""
    kind: TakeKind = "take"
    sound_roll: str = ""
    timecode_in: str = ""
    timecode_out: str = ""
    files: tuple[str, ...] = ()
    circled: bool = False
    note: str = ""
    track_notes: Mapping[str, str] = field(default_factory=dict)
    worn: tuple[str, ...] = ()
    """Characters that wore a pack while it rolled, by the log."""

    @property
    def name(self) -> str:
        """What stands on the slate, in words."""
        if self.slate:
            return f"slate {self.slate}{f' take {self.take}' if self.take else ''}"
        named = f"scene {self.scene} " if self.scene and self.kind == "take" else ""
        return f"{named}{self.kind} {self.take}".strip()

    def span_s(self, rate: Rate) -> tuple[float | None, float | None]:
        """Time code in and out as seconds from midnight; None where it is not written, or cannot be."""
        return _seconds(self.timecode_in, rate), _seconds(self.timecode_out, rate)


@dataclass(frozen=True)
class TrackOnDisk:
    """One track of a file."""

    file: int
    """Which file of the take, from 0."""
    channel: int
    """Place in that file, from 1."""
    name: str
    named: bool = True
    """Whether the file gives it a name; else it is only counted."""


@dataclass(frozen=True)
class FileOnDisk:
    """What one file says of itself; None where it says nothing."""

    name: str
    path: str = ""
    scene: str | None = None
    take: str | None = None
    sound_roll: str | None = None
    circled: bool | None = None
    kinds: tuple[str, ...] = ()
    """FALSE_START, NO_GOOD, WILD_TRACK and the like."""
    frame_rate: str = ""


@dataclass(frozen=True)
class TakeOnDisk:
    """One take as it lies on the disk, in one file or in a set of monos. Positions are whole samples from midnight."""

    files: tuple[FileOnDisk, ...]
    start_samples: int
    frames: int
    sample_rate_hz: int
    has_timecode: bool = True
    tracks: tuple[TrackOnDisk, ...] = ()

    @property
    def name(self) -> str:
        """The first file's, and how many more there are."""
        more = len(self.files) - 1
        return self.files[0].name + (f" and {more} more" if more else "")

    @property
    def start_s(self) -> float:
        """Where it begins, in seconds from midnight."""
        return self.start_samples / self.sample_rate_hz

    @property
    def end_s(self) -> float:
        """Where it ends."""
        return (self.start_samples + self.frames) / self.sample_rate_hz

    @property
    def track_names(self) -> frozenset[str]:
        """Names of tracks that have one, plain."""
        return frozenset(plain(each.name) for each in self.tracks if each.named)


@dataclass(frozen=True)
class PlannedDay:
    """What the plan says of the day, as far as it says anything."""

    rate: Rate
    scenes: tuple[str, ...] = ()
    track_names: tuple[str, ...] = ()
    """All that a track may be called: tracks, sources, characters."""
    speak: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    """By scene, characters that are wired: each wants a track of its own."""


@dataclass(frozen=True)
class Repair:
    """A disagreement with the side that is likely to be right."""

    take: str
    """Id of the written take."""
    field: str
    """scene, take, sound roll, circled, kind, track name, time code in or time code out."""
    log: str
    file: str
    right: Side
    why: str
    files: tuple[str, ...] = ()
    """Paths of the files that it is about."""
    channel: int = 0
    """Of a track name: place in that file, from 1."""


@dataclass(frozen=True)
class Pair:
    """A written take and what lies on the disk of it, in the order of time code; ``by`` is how they were told."""

    written: WrittenTake
    on_disk: tuple[TakeOnDisk, ...]
    by: Literal["file name", "slate", "time code"]


@dataclass(frozen=True)
class Crosschecked:
    """Everything that the cross-check answers."""

    pairs: tuple[Pair, ...]
    without_file: tuple[WrittenTake, ...]
    without_line: tuple[TakeOnDisk, ...]
    copies: tuple[TakeOnDisk, ...]
    findings: tuple[Finding, ...]
    repairs: tuple[Repair, ...]


def plain(words: str) -> str:
    """Words as they are compared: letters and figures only, without case, numbers without leading zeros."""
    kept = "".join(sign if sign.isalnum() else " " for sign in words.casefold())
    return "".join(part.lstrip("0") or "0" if part.isdecimal() else part for part in kept.split())


@functools.cache
def day_s(rate: Rate) -> float:
    """How long the labels of a day last: 86,400 s at whole rates, longer at 29.97 without drop-frame."""
    return float(rate.frames_per_day / rate.fps)


def _seconds(label: str, rate: Rate) -> float | None:
    if not label:
        return None
    try:
        return float(samples_of_timecode(Timecode.parse(label.replace(";", ":") if not rate.drop else label, rate), 1))
    except InputError:
        return None


__all__ = [
    "Crosschecked", "FileOnDisk", "Pair", "PlannedDay", "Repair", "Side", "TakeOnDisk", "TrackOnDisk",
    "WrittenTake", "day_s", "plain",
]  # fmt: skip
