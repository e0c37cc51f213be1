"""The one shape of an answer: every check of every field returns Findings, and every face shows the same objects."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Annotated

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field

from rollsound.wrong import pointer


def _figure(value: object) -> object:
    return math.nan if value is None else value


Figure = Annotated[float, BeforeValidator(_figure)]
"""A measured number. JSON has no infinity and no not-a-number: both are written as null, read back as not-a-number."""


class Area(StrEnum):
    """The six areas that a day is judged in."""

    SIGNAL = "signal"
    RADIO = "radio"
    REACH = "reach"
    POWER = "power"
    SYNC = "sync"
    MEDIA = "media"


class Weight(StrEnum):
    """How much a finding matters."""

    STOP = "stop"
    WATCH = "watch"
    FINE = "fine"


class Ref(BaseModel):
    """A place to look or listen: a file, a track in it (1-based, 0 for all) and a span in samples."""

    model_config = ConfigDict(frozen=True)

    path: str = ""
    track: int = 0
    start_sample: int = 0
    length_samples: int = 0
    timecode: str = ""


class Finding(BaseModel):
    """One answer of one check.

    ``numbers`` hold the figures behind the sentence, each with its unit in the key; ``source`` names the document
    (or "common practice, no source") that the judgement rests on.
    """

    model_config = ConfigDict(frozen=True)

    area: Area
    weight: Weight
    subject: str = Field(description="what it is about: a take, a track, a card, a file")
    kind: str = Field(description="short stable name of the check, for programs")
    what: str = Field(description="one sentence: what was found and where")
    why: str = ""
    remedy: str = ""
    source: str = ""
    numbers: dict[str, Figure] = Field(default_factory=dict)
    refs: tuple[Ref, ...] = ()


def about_plan(
    area: Area,
    weight: Weight,
    subject: str,
    kind: str,
    what: str,
    *,
    why: str = "",
    remedy: str = "",
    at: Sequence[str] = (),
    source: str = "the plan",
    numbers: Mapping[str, float] | None = None,
) -> Finding:
    """A finding about a place in the plan.

    Parameters
    ----------
    at
        the place by names and ids, its part first: ``rig``, ``links``, ``boom-1-cable``
    numbers
        figures behind it, each with its unit at the end of its name
    """
    return Finding(
        area=area,
        weight=weight,
        subject=subject,
        kind=kind,
        what=what,
        why=why,
        remedy=remedy,
        source=source,
        numbers=dict(numbers or {}),
        refs=(Ref(path=f"plan#{pointer(at)}"),) if at else (),
    )


@dataclass(frozen=True)
class AboutPlan:
    """Makes findings about one part of the plan, with an area and a source of their own where nothing else is said."""

    area: Area
    part: str = ""
    """Stands before every place; empty where places begin with their part."""
    source: str = "the plan"

    def __call__(
        self,
        weight: Weight,
        subject: str,
        kind: str,
        what: str,
        *,
        why: str = "",
        remedy: str = "",
        at: Sequence[str] = (),
        area: Area | None = None,
        part: str | None = None,
        source: str | None = None,
        numbers: Mapping[str, float] | None = None,
    ) -> Finding:
        """One finding; as ``about_plan``, with ``at`` inside of the part."""
        inside = self.part if part is None else part
        return about_plan(
            self.area if area is None else area,
            weight,
            subject,
            kind,
            what,
            why=why,
            remedy=remedy,
            at=(inside, *at) if at and inside else at,
            source=self.source if source is None else source,
            numbers=numbers,
        )


def heaviest(findings: Iterable[Finding]) -> Weight:
    """The weight of the worst finding; fine when there is none."""
    weights = {finding.weight for finding in findings}
    for weight in (Weight.STOP, Weight.WATCH):
        if weight in weights:
            return weight
    return Weight.FINE
