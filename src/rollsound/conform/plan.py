"""The conform plan: what will be done to which track from which card, as a document that can be read, edited and kept.

``make_plan`` writes it, ``carry_out`` does what it says and nothing else. What stands in it steers the work, must agree
with what does, or is named as only telling: an edit is carried out or refused, and never passed over.
"""

from __future__ import annotations

import hashlib
import itertools
import json
import uuid
from collections import Counter
from collections.abc import Iterator
from enum import StrEnum
from pathlib import Path
from typing import Annotated, Literal

import numpy as np
from pydantic import AfterValidator, BaseModel, ConfigDict, Field, ValidationError, model_validator

from rollsound.conform.damage import Span
from rollsound.conform.figures import contradicted
from rollsound.conform.model import ClockMap, Outcome, Place
from rollsound.errors import InputError, MistakesError, storage
from rollsound.jsontext import read_json
from rollsound.mistakes import SeveralMistakes, mistakes_of

PLAN_VERSION = 1
LARGEST = 2**53
"""Whole numbers up to here are exact in every program that reads JSON; no recording is as long."""
_NAMESPACE = uuid.UUID("6f0f7a0e-52a5-4c3b-9d0c-6a8a2d1c7f31")


class Mode(StrEnum):
    """What is made of a take."""

    MIRROR = "mirror"
    MEND = "mend"
    COMPARE = "compare"


class Action(StrEnum):
    """What happens to one track."""

    REPLACE = "replace"
    MEND = "mend"
    COMPARE = "compare"
    KEEP = "keep"


ACTION_OF = {Mode.MIRROR: Action.REPLACE, Mode.MEND: Action.MEND, Mode.COMPARE: Action.COMPARE}
"""What happens in each mode to a track that has a card; the others are kept."""


def _no_zero_byte(name: str) -> str:
    if "\0" in name:
        raise ValueError("is no name that a file can have")
    return name


FileName = Annotated[str, AfterValidator(_no_zero_byte)]
Position = Annotated[int, Field(ge=0, le=LARGEST)]
Level = Annotated[float, Field(ge=-1000, le=1000)]


class _Part(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)


_ROUNDED = 0.01
"""Samples: edges that were typed with two decimals still hold."""


class SourceFile(_Part):
    """A file that is read. ``bytes`` is its size when the plan was made: a changed file is refused."""

    path: FileName = Field(min_length=1)
    bytes: Position


class PiecePlan(_Part):
    """Take frames ``start_sample`` to ``stop_sample`` (not included) come from one channel of one card file.

    Take frame ``take_frames[i]`` lies at ``card_positions[i]`` in the card, straight lines between; this alone says
    where the sound comes from. ``card_frames`` and ``card_rate_hz`` are the file's length and sample rate.
    """

    card_name: str
    file: SourceFile
    channel: int = Field(ge=0, le=LARGEST)
    card_frames: int = Field(ge=1, le=LARGEST)
    card_rate_hz: int = Field(ge=1, le=LARGEST)
    start_sample: Position
    stop_sample: Position
    take_frames: tuple[Annotated[int, Field(ge=-LARGEST, le=LARGEST)], ...] = Field(min_length=2)
    card_positions: tuple[Annotated[float, Field(ge=-LARGEST, le=LARGEST)], ...] = Field(min_length=2)

    @model_validator(mode="after")
    def _fits(self) -> PiecePlan:
        if len(self.take_frames) != len(self.card_positions):
            raise ValueError("take_frames and card_positions differ in length; give each frame its position")
        if any(b <= a for a, b in itertools.pairwise(self.take_frames)):
            raise ValueError("take_frames do not rise; put them in order, each once")
        if self.stop_sample <= self.start_sample:
            raise ValueError("stop_sample does not lie after start_sample; set it to one past the last frame")
        ends = [float(self.clock.at(float(frame))) for frame in (self.start_sample, self.stop_sample - 1)]
        # One sample more at each end: between the last of one file and the first of the next.
        if min(ends) < -1.0 - _ROUNDED or max(ends) > self.card_frames + _ROUNDED:
            raise ValueError(
                f"card_positions lead from {ends[0]:.2f} to {ends[1]:.2f}, and the card's file has samples 0 to "
                f"{self.card_frames - 1}; correct them, or bring start_sample and stop_sample closer"
            )
        return self

    @property
    def clock(self) -> ClockMap:
        """The knots as a map."""
        return ClockMap(np.array(self.take_frames, np.int64), np.array(self.card_positions, np.float64))


class TrackPlan(_Part):
    """One track of a take: what is done, from where, and why it is this or why not more.

    These steer: ``action``, ``pieces``, ``polarity``, ``gain_db`` (added to a card that replaces a track) and, where a
    track is mended, start, length and ``mend`` of each of its ``spans`` and ``level_difference_db`` (radio over card);
    both are None until they have been looked for.

    These must agree with what steers: ``card_name`` with the pieces', ``name`` with the recorder's, ``offset_samples``
    and ``rate_ppm`` (null when not stated) with the line through the longest piece's knots.

    The rest only tells, in the lists, how the plan came about; to change it, plan again: ``outcome``, ``reason``,
    ``confidence``, ``coherence``, ``residual_samples``, ``uncertainty_samples``, the levels and kinds of spans,
    ``place`` and ``path_delay_samples`` (how much later the radio track is than the sound at the microphone; when
    ``place`` is source, the positions of pieces count with it already). Where a card replaces a track, its spans only
    tell as well.
    """

    index: int = Field(ge=0, le=LARGEST)
    name: str
    action: Action
    outcome: Outcome = Outcome.NO_CARD
    reason: str = ""
    card_name: str = ""
    pieces: tuple[PiecePlan, ...] = ()
    spans: tuple[Span, ...] | None = None
    level_difference_db: Level | None = None
    gain_db: Level = 0.0
    polarity: Literal[-1, 1] = 1
    place: Place = Place.TRACK
    path_delay_samples: float = 0.0
    offset_samples: float | None = None
    rate_ppm: float | None = None
    residual_samples: float | None = None
    uncertainty_samples: float | None = None
    coherence: float | None = None
    confidence: float = 0.0

    @model_validator(mode="after")
    def _has_what_it_needs(self) -> TrackPlan:
        if self.action is not Action.KEEP and not self.pieces:
            raise ValueError(f"to {self.action} a track, pieces of a card are needed; give them, or set it to keep")
        if self.action is not Action.KEEP and not self.outcome.usable:
            raise ValueError(
                f"action is {self.action} and outcome '{self.outcome}' says that this card is not to be used; set "
                "action to keep, or outcome to placed if you know better"
            )
        if self.action is not Action.REPLACE and self.gain_db != 0.0:
            raise ValueError(
                f"gain_db is {self.gain_db:g} where action is {self.action}, and only a card that replaces a track is "
                "made louder; set gain_db to 0"
            )
        other = next((piece.card_name for piece in self.pieces if piece.card_name != self.card_name), None)
        if other is not None:
            raise ValueError(f"card_name is '{self.card_name}' and a piece's is '{other}'; give both the same")
        early = next((b for a, b in itertools.pairwise(self.pieces) if b.start_sample < a.stop_sample), None)
        if early is not None:
            raise ValueError(
                f"the piece from frame {early.start_sample} begins before the one above it ends; put pieces in order, "
                "and let each begin where the last one stops or later"
            )
        return self

    @property
    def main_piece(self) -> PiecePlan | None:
        """The longest piece, which the stated figures speak of."""
        return max(self.pieces, key=lambda piece: piece.stop_sample - piece.start_sample, default=None)


class MemberPlan(_Part):
    """One file of the take: what is read, what will be written (empty for compare), and the first of its tracks.

    ``offset_samples`` is the take frame of its first sample: 0, unless a file of a set started later.
    """

    file: SourceFile
    output: FileName = ""
    first_track: int = Field(ge=0, le=LARGEST)
    frames: Position
    offset_samples: Position = 0
    channels: int = Field(ge=1, le=LARGEST)


class TakePlan(_Part):
    """All that is done to one take; one job.

    ``fade_samples`` steers; ``take`` is the name it goes by in lists. What the recorder's files say themselves (rate,
    length, start, frame rate, names of tracks) must agree with them; where they have no frame rate, one may be given.
    """

    take: str
    mode: Mode
    members: tuple[MemberPlan, ...] = Field(min_length=1)
    sample_rate_hz: int = Field(gt=0, le=LARGEST)
    frames: Position
    start_samples: int = Field(default=0, ge=-LARGEST, le=LARGEST)
    time_rate: str = ""
    fade_samples: Position
    tracks: tuple[TrackPlan, ...]

    @model_validator(mode="after")
    def _tracks_are_there(self) -> TakePlan:
        channels = sum(member.channels for member in self.members)
        if len(self.tracks) != channels or any(track.index != n for n, track in enumerate(self.tracks)):
            raise ValueError(f"the take has {channels} tracks; each must be listed once, in order")
        if self.mode is not Mode.COMPARE and not all(member.output for member in self.members):
            raise ValueError("every file needs an output; name the file to write")
        wrong = list(self._contradictions())
        if wrong:
            raise SeveralMistakes(wrong)
        return self

    def _contradictions(self) -> Iterator[str]:
        """Sentences about fields that say one thing where another says another."""
        first = 0
        for member in self.members:
            if member.first_track != first:
                yield f"first_track of {member.file.path} is {member.first_track}; write {first}, as it comes out"
            first += member.channels
            if self.mode is Mode.COMPARE and member.output:
                yield f"comparing writes no sound, and {member.file.path} has an output; empty it, or plan a mirror"
        for track in self.tracks:
            which = f"track {track.index + 1} ({track.name}) of {self.take}"
            if track.action not in (Action.KEEP, ACTION_OF[self.mode]):
                yield (
                    f"{which} has the action {track.action} in a take whose mode is {self.mode}; write "
                    f"{ACTION_OF[self.mode]} or keep, or plan again with --mode for the other"
                )
            if track.place is Place.SOURCE and self.mode is not Mode.MIRROR:
                yield f"{which} has the place source, which only a mirror can have; set place to track"
            if any(piece.stop_sample > self.frames for piece in track.pieces):
                yield f"{which} has a piece that stops after the take's {self.frames} frames; set stop_sample to that"
            piece = track.main_piece
            if piece is not None:
                ratio = piece.card_rate_hz / self.sample_rate_hz
                yield from contradicted(which, piece.clock, ratio, track.offset_samples, track.rate_ppm)

    @property
    def changes(self) -> bool:
        """Whether any sample may come out other than it is."""
        return any(t.action is Action.REPLACE or (t.action is Action.MEND and t.spans != ()) for t in self.tracks)

    def digest(self) -> str:
        """Stands for the whole content save the folders of its outputs, so that a moved folder is still known."""
        body = self.model_dump(mode="json")
        for member in body["members"]:
            member["output"] = Path(member["output"]).name
        text = json.dumps(body, sort_keys=True, separators=(",", ":"), ensure_ascii=True)
        return hashlib.sha256(text.encode()).hexdigest()

    def file_uid(self, member: int) -> str:
        """The identity of the file that comes out: the same plan always makes the same file."""
        return uuid.uuid5(_NAMESPACE, f"{self.digest()}/{member}").hex.upper()


class ConformPlan(_Part):
    """What will be done to all takes of a day."""

    version: int = Field(default=PLAN_VERSION, ge=1)
    mode: Mode
    takes: tuple[TakePlan, ...] = Field(min_length=1)

    @model_validator(mode="after")
    def _no_two_write_one_file(self) -> ConformPlan:
        outputs = [member.output for take in self.takes for member in take.members if member.output]
        doubled = [name for name, times in Counter(outputs).items() if times > 1]
        if doubled:
            raise ValueError(f"{', '.join(sorted(doubled))} would be written more than once; name another output")
        other = next((take for take in self.takes if take.mode is not self.mode), None)
        if other is not None:
            raise ValueError(
                f"the plan's mode is {self.mode} and that of {other.take} is {other.mode}; give both the same"
            )
        return self

    def to_json(self) -> str:
        """The document; ``from_json`` reads it back unchanged."""
        return self.model_dump_json(indent=1) + "\n"

    @classmethod
    def from_json(cls, text: str, name: str = "the conform plan") -> ConformPlan:
        """Read a plan, perhaps edited by hand.

        Raises
        ------
        MistakesError
            naming every mistake with its place
        InputError
            when it was made by a newer version
        """
        document = read_json(text, name)
        version = document.value.get("version") if isinstance(document.value, dict) else None
        if isinstance(version, int) and version > PLAN_VERSION:
            raise InputError(f"{name} was made by a newer version of this program; use that one, or plan again.")
        try:
            return cls.model_validate(document.value)
        except ValidationError as error:
            raise MistakesError(name, mistakes_of(error, document.line_of)) from error


def source_file(path: Path | str) -> SourceFile:
    """A file as it is now."""
    with storage(path):
        return SourceFile(path=str(path), bytes=Path(path).stat().st_size)


def refuse_changed(take: TakePlan) -> None:
    """Raise InputError when a file that a take is made from is no longer as long as when it was planned."""
    files: list[SourceFile] = [member.file for member in take.members]
    files += [piece.file for track in take.tracks for piece in track.pieces]
    for file in dict.fromkeys(files):
        with storage(file.path):
            size = Path(file.path).stat().st_size
        if size != file.bytes:
            raise InputError(f"{file.path} has changed since the plan was made; plan again.", path=file.path)
