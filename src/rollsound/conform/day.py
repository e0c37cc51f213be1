"""A day as matching sees it: what was tried, and what it answers."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from rollsound.conform.align import Alignment
from rollsound.conform.anchor import Base
from rollsound.conform.clock import ClockModel
from rollsound.conform.model import TrackAlignment
from rollsound.conform.sources import CardFile, CardSource, Recording, TakeSource

Key = tuple[int, int]
"""Take number and track number."""


@dataclass(frozen=True, eq=False)
class Trial:
    """One track against one recording: ``likeness`` is the correlation coefficient of their features."""

    recording: int
    card: str
    likeness: float
    alignment: Alignment


@dataclass(frozen=True, eq=False)
class Day:
    """Everything known before judging. ``times`` are take starts in recorder seconds, None without time code."""

    takes: tuple[TakeSource, ...]
    cards: tuple[CardSource, ...]
    recordings: tuple[Recording, ...]
    times: tuple[float | None, ...]
    bases: Mapping[int, Base | None]
    trials: Mapping[Key, list[Trial]]
    lively: Mapping[Key, bool]
    hints: Mapping[Key, tuple[tuple[str, ...], str]]


@dataclass(frozen=True, eq=False)
class Double:
    """A recording left out because another of the same card holds its sound at another rate or depth."""

    card: str
    used: tuple[CardFile, ...]
    left_out: tuple[CardFile, ...]
    reason: str


@dataclass(frozen=True, eq=False)
class CardDay:
    """What became of one card: takes by track it stood for, its clock, and a sentence."""

    name: str
    files: tuple[CardFile, ...]
    stands_for: tuple[tuple[str, int], ...]
    clock: ClockModel | None
    note: str
    doubles: tuple[Double, ...] = ()


@dataclass(frozen=True, eq=False)
class DayAlignment:
    """One entry a radio track of a take in ``tracks``; one a card in ``cards``."""

    tracks: tuple[TrackAlignment, ...]
    cards: tuple[CardDay, ...]

    @property
    def clocks(self) -> dict[str, ClockModel]:
        """Clock models by card name."""
        return {card.name: card.clock for card in self.cards if card.clock is not None}
