"""Cards to takes: match, align, mirror and mend."""

from __future__ import annotations

from rollsound.conform.model import CardPiece, ClockMap, Outcome, Place, Step, TrackAlignment

__all__ = ["CardPiece", "ClockMap", "Outcome", "Place", "Step", "TrackAlignment"]
