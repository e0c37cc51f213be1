"""The conform plan: what will be done to which track from which card, as a document that can be read, edited and kept.

``make_plan`` writes it, ``carry_out`` does what it says and nothing else.
"""

from __future__ import annotations

import hashlib
import itertools
import json
import uuid
from enum import StrEnum
from pathlib import Path
from typing import Literal

import numpy as np
from pydantic import BaseModel, ConfigDict, Field, ValidationError, model_validator

from rollsound.conform.damage import Span
from rollsound.conform.model import ClockMap, Outcome, Place
from rollsound.errors import InputError, Mistake, MistakesError, storage

PLAN_VERSION = 1
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


class _Part(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class SourceFile(_Part):
    """A file that is read. ``bytes`` is its size when the plan was made: a changed file is refused."""

    path: str
    bytes: int = Field(ge=0)


class PiecePlan(_Part):
    """Take frames ``start_sample`` to ``stop_sample`` (not included) come from one channel of one card file.

    Take frame ``take_frames[i]`` lies at ``card_positions[i]`` in the card, straight lines between.
    """

    card_name: str
    file: SourceFile
    channel: int = Field(ge=0)
    card_frames: int = Field(ge=1)
    start_sample: int = Field(ge=0)
    stop_sample: int
    take_frames: tuple[int, ...] = Field(min_length=2)
    card_positions: tuple[float, ...] = Field(min_length=2)

    @model_validator(mode="after")
    def _fits(self) -> PiecePlan:
        if len(self.take_frames) != len(self.card_positions):
            raise ValueError("take_frames and card_positions differ in length")
        if any(b <= a for a, b in itertools.pairwise(self.take_frames)):
            raise ValueError("take_frames do not rise")
        if self.stop_sample <= self.start_sample:
            raise ValueError("stop_sample does not lie after start_sample")
        return self

    @property
    def clock(self) -> ClockMap:
        """The knots as a map."""
        return ClockMap(np.array(self.take_frames, np.int64), np.array(self.card_positions, np.float64))


class TrackPlan(_Part):
    """One track of a take: what is done, from where, and why it is this or why not more.

    ``spans`` are the damaged ones, and ``level_difference_db`` is radio over card; None until they have been looked
    for. ``gain_db`` is added to a card that replaces
    a track. ``path_delay_samples`` is how much later the radio track is than the sound at the microphone; it was
    taken off when ``place`` is source.
    """

    index: int = Field(ge=0)
    name: str
    action: Action
    outcome: Outcome = Outcome.NO_CARD
    reason: str = ""
    card_name: str = ""
    pieces: tuple[PiecePlan, ...] = ()
    spans: tuple[Span, ...] | None = None
    level_difference_db: float | None = None
    gain_db: float = 0.0
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
            raise ValueError(f"to {self.action} a track, pieces of a card are needed")
        return self


class MemberPlan(_Part):
    """One file of the take: what is read, what will be written (empty for compare), and the first of its tracks.

    ``offset_samples`` is the take frame of its first sample: 0, unless a file of a set started later.
    """

    file: SourceFile
    output: str = ""
    first_track: int = Field(ge=0)
    frames: int = Field(ge=0)
    offset_samples: int = Field(default=0, ge=0)
    channels: int = Field(ge=1)


class TakePlan(_Part):
    """All that is done to one take; one job."""

    take: str
    mode: Mode
    members: tuple[MemberPlan, ...] = Field(min_length=1)
    sample_rate_hz: int = Field(gt=0)
    frames: int = Field(ge=0)
    start_samples: int = 0
    time_rate: str = ""
    fade_samples: int = Field(ge=0)
    tracks: tuple[TrackPlan, ...]

    @model_validator(mode="after")
    def _tracks_are_there(self) -> TakePlan:
        channels = sum(member.channels for member in self.members)
        indexes = [track.index for track in self.tracks]
        if indexes != list(range(channels)):
            raise ValueError(f"the take has {channels} tracks; each must be listed once, in order")
        if self.mode is not Mode.COMPARE and not all(member.output for member in self.members):
            raise ValueError("every file needs an output")
        return self

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

    version: int = PLAN_VERSION
    mode: Mode
    takes: tuple[TakePlan, ...]

    @model_validator(mode="after")
    def _no_two_write_one_file(self) -> ConformPlan:
        outputs = [member.output for take in self.takes for member in take.members if member.output]
        doubled = {name for name in outputs if outputs.count(name) > 1}
        if doubled:
            raise ValueError(f"{', '.join(sorted(doubled))} would be written more than once")
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
        try:
            plan = cls.model_validate_json(text)
        except ValidationError as error:
            mistakes = [Mistake(".".join(map(str, each["loc"])), 0, each["msg"]) for each in error.errors()]
            raise MistakesError(name, mistakes) from error
        if plan.version > PLAN_VERSION:
            raise InputError(f"{name} was made by a newer version of this program; use that one, or plan again.")
        return plan


def source_file(path: Path | str) -> SourceFile:
    """A file as it is now."""
    with storage(path):
        return SourceFile(path=str(path), bytes=Path(path).stat().st_size)
