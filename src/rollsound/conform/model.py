"""What aligning a day answers: where each take's sound lies on the cards, how sure that is, and why."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from rollsound.errors import InputError

KNOT_SECONDS = 0.1
"""Spacing of the knots of a curved map: linear between them differs from the curve by less than -150 dB."""


class Outcome(StrEnum):
    """How placing one track of one take ended."""

    PLACED = "placed"
    BY_MODEL = "by model"
    CONTRADICTS = "contradicts"
    OTHER_MIC = "other mic"
    NOT_COVERED = "not covered"
    NO_CARD = "no card"
    AMBIGUOUS = "ambiguous"
    NOT_FOUND = "not found"

    @property
    def usable(self) -> bool:
        """Whether sound from the card may stand in for the track."""
        return self in (Outcome.PLACED, Outcome.BY_MODEL)


class Place(StrEnum):
    """What a placed card coincides with: the radio track it stands for, or the sound at the microphone."""

    TRACK = "track"
    SOURCE = "source"


@dataclass(frozen=True, eq=False)
class ClockMap:
    """Where take samples lie in a card file: piecewise linear between knots, straight on beyond the ends.

    ``take_frames`` (K,) int64, increasing, samples from the take's start; ``card_positions`` (K,) float64, samples in
    the card file (0 = its first sample), may be negative or past its end where the card does not cover the take. Two
    knots are an exact line; a curved clock has knots no more than 100 ms apart. At most one knot pair a step apart
    (a card that lost samples) may be steep. Raises InputError for fewer than two knots or knots not in order.
    """

    take_frames: NDArray[np.int64]
    card_positions: NDArray[np.float64]

    def __post_init__(self) -> None:
        object.__setattr__(self, "take_frames", np.ascontiguousarray(self.take_frames, dtype=np.int64))
        object.__setattr__(self, "card_positions", np.ascontiguousarray(self.card_positions, dtype=np.float64))
        if self.take_frames.ndim != 1 or self.take_frames.shape != self.card_positions.shape:
            raise InputError("a clock map needs as many card positions as take frames; give two equal rows of numbers.")
        if self.take_frames.size < 2 or bool(np.any(np.diff(self.take_frames) <= 0)):
            raise InputError("a clock map needs at least two knots in rising order; give its first and last frame.")

    @classmethod
    def straight(cls, offset_samples: float, rate_ppm: float, frames: int, ratio: float = 1.0) -> ClockMap:
        """The line ``offset + ratio (1 + rate) n`` over ``frames`` take samples; ``ratio`` is card rate / take rate."""
        last = max(int(frames), 1)
        slope = ratio * (1.0 + rate_ppm * 1e-6)
        return cls(np.array([0, last], dtype=np.int64), np.array([offset_samples, offset_samples + slope * last]))

    def at(self, frames: NDArray[np.int64] | NDArray[np.float64] | float) -> NDArray[np.float64]:
        """Card positions (float64, shape of ``frames``) of take frames, whole or fractional."""
        n = np.asarray(frames, dtype=np.float64)
        knots = self.take_frames.astype(np.float64)
        i = np.clip(np.searchsorted(knots, n, side="right") - 1, 0, knots.size - 2)
        step = knots[i + 1] - knots[i]
        share = (n - knots[i]) / step
        out: NDArray[np.float64] = self.card_positions[i] + share * (
            self.card_positions[i + 1] - self.card_positions[i]
        )
        return out

    def frame_of(self, card_position: float) -> float:
        """The take frame that lies at a card position (maps rise, so there is one)."""
        p = self.card_positions
        i = int(np.clip(np.searchsorted(p, card_position, side="right") - 1, 0, p.size - 2))
        rise = p[i + 1] - p[i]
        run = float(self.take_frames[i + 1] - self.take_frames[i])
        return float(self.take_frames[i]) + (card_position - float(p[i])) / float(rise) * run

    def shifted(self, samples: float) -> ClockMap:
        """The same map with every card position moved by ``samples``."""
        return ClockMap(self.take_frames, self.card_positions + samples)

    @property
    def is_line(self) -> bool:
        """Whether two knots say it all."""
        return self.take_frames.size == 2

    @property
    def line(self) -> tuple[float, float]:
        """Offset in samples at take frame 0 and rate in ppm of the least-squares line through the knots."""
        n = self.take_frames.astype(np.float64)
        centre = n.mean()
        drift = self.card_positions - n
        spread = float(np.sum((n - centre) ** 2))
        slope = float(np.sum((n - centre) * (drift - drift.mean()))) / spread
        return float(drift.mean()) - slope * float(centre), slope * 1e6


@dataclass(frozen=True)
class Step:
    """A jump of the card against the take: where (take frame), by how much, and how closely the place is known."""

    take_frame: int
    samples: float
    place_uncertainty_frames: int


@dataclass(frozen=True, eq=False)
class CardPiece:
    """One card file's share of a take: frames ``start`` to ``stop`` (not included) lie in ``card_path`` by ``map``.

    ``map`` counts take frames from the take's start, as everywhere.
    """

    card_path: str
    card_channel: int
    start: int
    stop: int
    map: ClockMap


@dataclass(frozen=True, eq=False)
class TrackAlignment:
    """Where one track of one take lies on a card, or why it has no place there.

    Take sample n lies at ``map.at(n)`` in ``card_path``. ``offset_samples`` and ``rate_ppm`` are the map's best line
    (``rate_ppm`` against the nominal ratio ``card_rate_hz / take_rate_hz``). ``residual_samples`` is the scatter of the
    windows about the map, ``uncertainty_samples`` one standard deviation of the map's worst point. ``confidence`` 0
    to 1. ``coherence`` is the mean magnitude-squared coherence of card and track after alignment (NaN if not measured).
    ``pieces`` names every card file the take runs through, in order; the fields above tell of the longest one.
    ``polarity`` -1 means the track is the card upside down. ``path_delay_samples`` was subtracted when ``place`` is
    source, and is 0 otherwise.
    """

    take: str
    track_index: int
    track_name: str
    outcome: Outcome
    reason: str
    card_name: str = ""
    card_path: str = ""
    card_channel: int = 0
    map: ClockMap | None = None
    offset_samples: float = float("nan")
    rate_ppm: float = float("nan")
    residual_samples: float = float("nan")
    uncertainty_samples: float = float("nan")
    confidence: float = 0.0
    coherence: float = float("nan")
    polarity: int = 1
    steps: tuple[Step, ...] = ()
    pieces: tuple[CardPiece, ...] = ()
    take_rate_hz: int = 48000
    card_rate_hz: int = 48000
    place: Place = Place.TRACK
    path_delay_samples: float = 0.0
    matched_by: str = field(default="")

    @property
    def ratio(self) -> float:
        """Nominal card samples per take sample."""
        return self.card_rate_hz / self.take_rate_hz
