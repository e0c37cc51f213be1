"""What carrying out a plan answers: what came from where, levels before and after, and what could not be done."""

from __future__ import annotations

from enum import StrEnum

from pydantic import BaseModel, ConfigDict

from rollsound.conform.damage import Span
from rollsound.conform.model import Outcome, Place
from rollsound.conform.plan import Action, Mode


class Origin(StrEnum):
    """Where a stretch of a track comes from."""

    RECORDER = "recorder"
    CARD = "card"


class Segment(BaseModel):
    """Take frames ``start_sample`` to ``stop_sample`` of a track, all from one place; fades lie inside.

    ``source_start`` is the position in the source file of the first frame (samples of that file, with a fraction for
    cards), ``rate_ppm`` how much faster than the take it is read; ``ratio`` is source rate over take rate.
    """

    model_config = ConfigDict(frozen=True)

    start_sample: int
    stop_sample: int
    origin: Origin
    path: str
    channel: int
    source_start: float
    rate_ppm: float = 0.0
    ratio: float = 1.0
    source_frames: int = 0
    fade_in_samples: int = 0
    fade_out_samples: int = 0
    note: str = ""


class TrackOutcome(BaseModel):
    """One track after its take was carried out.

    ``level_difference_db`` is radio over card. ``spans`` are all damaged spans that were found, with ``after_dbfs``
    where they were mended. ``not_possible`` holds one sentence for each thing that was wanted and could not be done.
    """

    model_config = ConfigDict(frozen=True)

    index: int
    name: str
    action: Action
    outcome: Outcome
    reason: str = ""
    card_name: str = ""
    output: str = ""
    segments: tuple[Segment, ...] = ()
    spans: tuple[Span, ...] = ()
    compared_samples: int = 0
    replaced_samples: int = 0
    clipped_samples: int = 0
    level_difference_db: float | None = None
    gain_db: float = 0.0
    polarity: int = 1
    place: Place = Place.TRACK
    path_delay_samples: float = 0.0
    offset_samples: float | None = None
    rate_ppm: float | None = None
    residual_samples: float | None = None
    uncertainty_samples: float | None = None
    coherence: float | None = None
    confidence: float = 0.0
    not_possible: tuple[str, ...] = ()


class TakeOutcome(BaseModel):
    """A take after it was carried out. ``resumed`` names outputs that an earlier run had finished already."""

    model_config = ConfigDict(frozen=True)

    take: str
    mode: Mode
    sample_rate_hz: int
    frames: int
    start_samples: int
    time_rate: str
    digest: str
    outputs: tuple[str, ...] = ()
    resumed: tuple[str, ...] = ()
    tracks: tuple[TrackOutcome, ...] = ()
