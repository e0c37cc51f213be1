"""What the review of a show works with, and what it answers."""

from __future__ import annotations

from typing import Literal

from pydantic import BaseModel, ConfigDict, Field

from rollsound.finding import Area, Finding, Weight, heaviest


class _Frozen(BaseModel):
    model_config = ConfigDict(frozen=True)


class Place(_Frozen):
    """Where to look: a place in the plan, or a spot in a take. A face makes its own way there of it."""

    page: Literal[
        "plan", "script", "radio", "reach", "rig", "power", "kit", "floor", "takes", "take", "media", "song",
        "turnover", "settings",
    ]  # fmt: skip
    name: str = Field(default="", description="what it is called: a take's name, a day")
    id: str = Field(
        default="", description="id of the take, of the day's media or of the site; what fails, as piece:rack"
    )
    path: str = Field(default="", description="JSON Pointer into the plan, with ids in place of positions")
    track: int = Field(default=0, description="from 1; 0 for the take as a whole")
    start_sample: int = 0
    length_samples: int = 0


class Told(_Frozen):
    """A finding, and where to look for it. ``also`` is where the same shows too."""

    finding: Finding
    place: Place | None = None
    also: tuple[Place, ...] = ()


class Proof(_Frozen):
    """One check that has run. It holds when it found nothing that weighs."""

    area: Area
    what: str = Field(description="what was checked, in words that several checks may share")
    told: tuple[Told, ...] = ()
    recorded: bool = Field(default=False, description="it judges what is recorded already, not what is to come")

    @property
    def weight(self) -> Weight:
        """The worst that it found."""
        return heaviest(told.finding for told in self.told)

    @property
    def holds(self) -> bool:
        """Whether it found nothing that weighs."""
        return self.weight is Weight.FINE


class AreaFigure(_Frozen):
    """The one number that says most about an area, what it is, and how what it tells weighs."""

    figure: str
    sentence: str
    weight: Weight = Weight.FINE


class AreaAnswer(_Frozen):
    """One of the six areas."""

    area: Area
    figure: str = Field(description="a number with its unit; empty when nothing is proven")
    sentence: str
    weight: Weight
    holds: int
    total: int


class Held(_Frozen):
    """Checks of one kind that hold."""

    area: Area
    what: str
    count: int


class Verdict(_Frozen):
    """The answer of Ready."""

    sentence: str
    lede: str
    areas: tuple[AreaAnswer, ...]
    findings: tuple[Told, ...] = Field(description="what weighs, heaviest first")
    held: tuple[Held, ...] = Field(default=(), description="what holds, by kind")
    gaps: tuple[str, ...] = Field(default=(), description="what could not be proven yet, each one sentence")
    holds: int = Field(description="proofs that hold")
    total: int = Field(description="proofs there are")

    @property
    def stops(self) -> int:
        """Findings that would lose or spoil work."""
        return sum(told.finding.weight is Weight.STOP for told in self.findings)

    @property
    def watches(self) -> int:
        """Findings that deserve a look."""
        return sum(told.finding.weight is Weight.WATCH for told in self.findings)
