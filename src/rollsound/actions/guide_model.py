"""Results of live voices against their guide, as they are printed and served."""

from __future__ import annotations

from typing import Literal

from pydantic import BaseModel, ConfigDict, Field

from rollsound.finding import Figure, Finding, Weight, heaviest


class _Frozen(BaseModel):
    model_config = ConfigDict(frozen=True)


class CoursePoint(_Frozen):
    """One moment of the course."""

    at_s: float = Field(description="seconds of the live sound")
    late_ms: float = Field(description="after the guide positive")
    confidence: float = Field(description="0 to 1; below 0.25 it is not to be believed")


class PhraseRow(_Frozen):
    """One sung phrase."""

    start_s: float
    end_s: float
    bar: str = Field(default="", description="bar and beat it begins at, where the take's playback code tells")
    late_ms: Figure = Field(description="after the guide positive; null when unsure")
    uncertainty_ms: Figure = Field(description="two sigma")
    confidence: float
    verdict: Literal["in time", "early", "late", "unsure"]


class VoiceRow(_Frozen):
    """One live track against its guide."""

    take: str
    path: str
    scene: str
    song: str = Field(default="", description="id of the song whose code the take carries")
    track: int
    track_name: str
    guide: str
    guide_track: int
    against: Literal["guide", "click"]
    begins_s: float = Field(
        default=0.0, description="how much later the music begins in the live file than in the guide's"
    )
    late_ms: Figure = Field(description="middle of all sure moments; null when it could not be followed")
    uncertainty_ms: Figure = Field(description="two sigma")
    drift_ms_per_min: Figure
    drift_uncertainty_ms_per_min: Figure
    sure_share: float = Field(description="share of the sung time in which the course may be believed")
    phrases: tuple[PhraseRow, ...]
    course: tuple[CoursePoint, ...]
    weight: Weight


class GuideResult(_Frozen):
    """Live voices against their guides."""

    path: str
    name: str
    day: str = ""
    limit_ms: float
    voices: tuple[VoiceRow, ...]
    findings: tuple[Finding, ...]
    notes: tuple[str, ...] = ()
    plot: str = ""

    @property
    def weight(self) -> Weight:
        """The heaviest of its findings."""
        return heaviest(self.findings)
