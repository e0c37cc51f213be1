"""What conforming a day answers, for people and programs."""

from __future__ import annotations

from pydantic import BaseModel, ConfigDict, Field

from rollsound.conform.damage import Span
from rollsound.finding import Finding, Weight, heaviest

RESULT_NAME = "conform.json"
PLAN_NAME = "conform plan.json"
EARLIER_PLAN_NAME = "conform plan, the one before.json"
SHEETS = ("conform list.csv", "conform report.csv", "damaged spans.csv")
OTIO_NAME = "conform list.otio"


class ConformTrack(BaseModel):
    """One radio track of one take: where it lies on its card, and what was made of it.

    Sample n of the take lies at card sample ``offset_samples + (1 + rate_ppm / 1e6) n``. Figures that were not measured
    are null.
    """

    model_config = ConfigDict(frozen=True)

    index: int = Field(description="track in the take, from 1")
    name: str
    card: str = Field(default="", description="name of the card; empty when none fits")
    card_file: str = ""
    outcome: str = Field(
        description="placed, by model, contradicts, other mic, not covered, no card, ambiguous, not found"
    )
    action: str = Field(description="replace, mend, compare or keep")
    reason: str = ""
    offset_samples: float | None = None
    rate_ppm: float | None = None
    residual_samples: float | None = Field(default=None, description="scatter of single windows about the clock")
    uncertainty_samples: float | None = Field(default=None, description="one standard deviation of the worst place")
    confidence: float = 0.0
    coherence: float | None = None
    place: str = Field(default="track", description="what the card coincides with: the radio track, or the source")
    path_delay_samples: float = 0.0
    level_difference_db: float | None = Field(default=None, description="radio over card")
    polarity: int = 1
    replaced_samples: int = 0
    spans: tuple[Span, ...] = Field(default=(), description="damaged spans of the radio track, seen against the card")
    not_possible: tuple[str, ...] = Field(default=(), description="what was wanted and could not be done, and why")


class ConformTake(BaseModel):
    """One take and its tracks."""

    model_config = ConfigDict(frozen=True)

    recorder: tuple[str, ...] = Field(description="the recorder's file, or the files of a mono set")
    output: tuple[str, ...] = Field(default=(), description="what was written; empty when comparing")
    resumed: tuple[str, ...] = Field(default=(), description="of these, what an earlier run had finished already")
    sample_rate_hz: int
    frames: int
    start_samples: int
    timecode: str = ""
    tracks: tuple[ConformTrack, ...] = ()


class CardReport(BaseModel):
    """One card over the day."""

    model_config = ConfigDict(frozen=True)

    name: str
    files: tuple[str, ...]
    stands_for: str = Field(default="", description="the track it was found to be; empty when none")
    rate_ppm: float | None = Field(default=None, description="its clock against the recorder's, over the day")
    uncertainty_ppm: float | None = None
    takes: int = Field(default=0, description="takes it was placed in")
    note: str = Field(default="", description="steps, warm-up, or why it could not be used")


class ConformResult(BaseModel):
    """What conforming a day did."""

    model_config = ConfigDict(frozen=True)

    mode: str
    takes: tuple[ConformTake, ...]
    cards: tuple[CardReport, ...] = ()
    findings: tuple[Finding, ...] = ()
    folder: str = Field(default="", description="where mirrors, lists and a plan that was made lie")
    plan: str = Field(default="", description="the plan that was carried out")
    lists: tuple[str, ...] = Field(default=(), description="lists of what came from where")
    carried_out: bool = True

    @property
    def weight(self) -> Weight:
        """The worst weight found."""
        return heaviest(self.findings)
