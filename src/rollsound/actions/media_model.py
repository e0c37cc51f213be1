"""What there is of a show's media: days, takes, tracks, and what was found, measured and rebuilt on each."""

from __future__ import annotations

from pathlib import Path

from pydantic import BaseModel, ConfigDict, Field

from rollsound.actions.conform_result import CardReport, ConformTrack
from rollsound.finding import Finding, Weight, heaviest


class _Frozen(BaseModel):
    model_config = ConfigDict(frozen=True)


class MediaMember(_Frozen):
    """One file of a take. Its path is for this machine only and never leaves by the API."""

    path: Path = Field(exclude=True)
    name: str
    channels: int
    size_bytes: int = 0
    overview: Path | None = Field(default=None, exclude=True)
    overview_kept: bool = Field(default=False, description="a waveform was measured")
    measured: bool = False
    present: bool = True
    changed: bool = Field(default=False, description="not as it was when it was measured")


class MediaSpot(_Frozen):
    """A place on a track worth looking at and listening to, in samples from the take's start."""

    track: int
    start_sample: int
    length_samples: int
    kind: str
    weight: Weight
    timecode: str = ""
    finding: int = Field(description="which of the take's findings, from 0")


class MediaTrack(_Frozen):
    """One track of a take: its figures, and what became of it on its card."""

    index: int = Field(description="from 1, over all files of the take")
    member: int = Field(description="which file, from 0")
    channel: int = Field(description="place in that file, from 1")
    name: str
    kind: str = Field(default="", description="radio, cable, time code or unknown; empty when not measured")
    peak_dbfs: float | None = None
    loudness_lufs: float | None = None
    noise_floor_dbfs: float | None = None
    weight: Weight = Weight.FINE
    conform: ConformTrack | None = None
    looked_for: bool = Field(default=False, description="a card was looked for: a radio track")
    rebuilt: bool = False


class MediaTake(_Frozen):
    """One take, whether it lies in one file or in many, as recorded or as rebuilt from cards."""

    id: str
    day: str
    role: str = Field(description="recorder, or mirror for what was made from cards")
    name: str
    members: tuple[MediaMember, ...]
    tracks: tuple[MediaTrack, ...] = ()
    findings: tuple[Finding, ...] = Field(default=(), description="heaviest first, each as it weighs after mending")
    spots: tuple[MediaSpot, ...] = ()
    other: str = Field(default="", description="id of the take as rebuilt, or of the recorder's")
    sample_rate_hz: int = 0
    frames: int = 0
    start_samples: int = 0
    timecode: str = ""
    frame_rate: str = ""
    sample_format: str = ""
    scene: str = ""
    take: str = ""
    sound_roll: str = ""
    circled: bool = False
    note: str = ""
    problem: str = Field(default="", description="why it cannot be shown or heard; empty when it can")

    @property
    def seconds(self) -> float:
        """Length."""
        return self.frames / self.sample_rate_hz if self.sample_rate_hz else 0.0

    @property
    def weight(self) -> Weight:
        """The worst that stands."""
        return Weight.STOP if self.problem else heaviest(self.findings)

    @property
    def measured(self) -> bool:
        """Every file of it was measured."""
        return all(member.measured for member in self.members)

    @property
    def size_bytes(self) -> int:
        """All files together."""
        return sum(member.size_bytes for member in self.members)


class MediaDay(_Frozen):
    """One day's media as the plan names it."""

    id: str
    label: str
    takes: tuple[MediaTake, ...] = ()
    cards: tuple[CardReport, ...] = ()
    mode: str = Field(default="", description="mirror, mend or compare; empty before conform has run")
    findings: tuple[Finding, ...] = Field(default=(), description="on the day as a whole, from conform")
    problems: tuple[str, ...] = Field(default=(), description="what could not be read, each one sentence")
    folders: dict[str, str] = Field(default_factory=dict, exclude=True, description="as the plan names them")

    @property
    def recorded(self) -> tuple[MediaTake, ...]:
        """The recorder's takes."""
        return tuple(take for take in self.takes if take.role == "recorder")

    @property
    def radio_tracks(self) -> int:
        """Tracks that a card was looked for."""
        return sum(track.looked_for for take in self.recorded for track in take.tracks)

    @property
    def rebuilt_tracks(self) -> int:
        """Tracks that were rebuilt or mended."""
        return sum(track.rebuilt for take in self.recorded for track in take.tracks)

    @property
    def mended_spans(self) -> int:
        """Damaged spans on tracks that were rebuilt or mended."""
        return sum(
            len(track.conform.spans)
            for take in self.recorded
            for track in take.tracks
            if track.rebuilt and track.conform is not None
        )

    @property
    def standing(self) -> tuple[Finding, ...]:
        """Findings on the recorder's takes and on the day, as they weigh after mending."""
        return tuple(finding for take in self.recorded for finding in take.findings) + self.findings

    @property
    def unmeasured(self) -> int:
        """The recorder's takes that were not measured yet."""
        return sum(not take.measured and not take.problem for take in self.recorded)

    @property
    def missing(self) -> int:
        """The recorder's takes that are not there."""
        return sum(bool(take.problem) for take in self.recorded)


class MediaIndex(_Frozen):
    """All media of a show."""

    days: tuple[MediaDay, ...]

    def day(self, day_id: str) -> MediaDay | None:
        """One day's."""
        return next((day for day in self.days if day.id == day_id), None)

    def take(self, take_id: str) -> MediaTake | None:
        """One take of any day."""
        return next((take for day in self.days for take in day.takes if take.id == take_id), None)

    @property
    def stops(self) -> int:
        """Findings that would lose or spoil work, and takes that are not there."""
        return sum(
            sum(finding.weight is Weight.STOP for finding in day.standing) + day.missing + len(day.problems)
            for day in self.days
        )
