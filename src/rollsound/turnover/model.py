"""What a turnover is made from: the day, its takes with their files, what was found, what was rebuilt from cards."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

from pydantic import BaseModel, ConfigDict, Field

from rollsound.finding import Finding

APART = ("wild track", "room tone")


class Track(BaseModel):
    """One track of a take, counted from 1 in the order of the file's interleave."""

    model_config = ConfigDict(frozen=True)

    index: int
    name: str
    character: str = ""
    performer: str = ""


class Rebuilt(BaseModel):
    """What became of one track on its card: a file if one was made, and the sentence for post."""

    model_config = ConfigDict(frozen=True)

    track: str
    kind: str = Field("mirror", description="mirror, mend, or the outcome that no file came of")
    card: str = ""
    text: str = Field("", description="what was done or why not, with its figures")
    file: Path | None = None


class Take(BaseModel):
    """One take: its files as recorded and everything said about it."""

    model_config = ConfigDict(frozen=True)

    files: tuple[Path, ...]
    scene: str = ""
    slate: str = ""
    take: str = ""
    sound_roll: str = ""
    circled: bool = False
    kind: str = Field("take", description="take, wild track, room tone, false start or no good")
    note: str = ""
    timecode_in: str = ""
    timecode_out: str = Field("", description="label of the frame after the last sample")
    frame_rate: str = ""
    frames: int = Field(0, description="length in samples")
    sample_rate_hz: int = 48_000
    sample_format: str = ""
    tracks: tuple[Track, ...] = ()
    findings: tuple[Finding, ...] = ()
    rebuilt: tuple[Rebuilt, ...] = ()

    @property
    def seconds(self) -> Fraction:
        """Exact length."""
        return Fraction(self.frames, self.sample_rate_hz)

    @property
    def is_apart(self) -> bool:
        """Whether it is listed apart from the takes with picture."""
        return self.kind in APART


class DayMaterial(BaseModel):
    """Everything that goes into one day's turnover."""

    model_config = ConfigDict(frozen=True)

    show: str = ""
    day: str = Field("", description="as it stands on the call sheet, such as 'Day 4'")
    date: str = ""
    mixer: str = ""
    takes: tuple[Take, ...]
    checks: tuple[Finding, ...] = Field((), description="what was proven about the day as a whole")
    lists: tuple[Path, ...] = Field((), description="conform lists and other papers to hand on")
    note: str = ""
