"""Cards to takes: match, align, mirror and mend."""

from __future__ import annotations

from rollsound.conform.align import Alignment, Near, align, align_readers
from rollsound.conform.clock import ClockModel, ClockStep
from rollsound.conform.day import CardDay, DayAlignment
from rollsound.conform.match import align_day
from rollsound.conform.model import CardPiece, ClockMap, Outcome, Place, Step, TrackAlignment
from rollsound.conform.sources import CardFile, CardSource, TakeSource, card_source, take_source

__all__ = [
    "Alignment",
    "CardDay",
    "CardFile",
    "CardPiece",
    "CardSource",
    "ClockMap",
    "ClockModel",
    "ClockStep",
    "DayAlignment",
    "Near",
    "Outcome",
    "Place",
    "Step",
    "TakeSource",
    "TrackAlignment",
    "align",
    "align_day",
    "align_readers",
    "card_source",
    "take_source",
]
