"""A whole day of an invented drama, synthesised from a seed: to show the night's work, and to prove it."""

from rollsound.demo.build import build_day
from rollsound.demo.day_four import DAY_FOUR
from rollsound.demo.scenario import Block, Card, Damage, Day, Person, Site, Take
from rollsound.demo.truth import ExpectedFinding, TrueCard, TruePiece, TrueSpan, TrueTake, TrueTrack, Truth

__all__ = [
    "DAY_FOUR",
    "Block",
    "Card",
    "Damage",
    "Day",
    "ExpectedFinding",
    "Person",
    "Site",
    "Take",
    "TrueCard",
    "TruePiece",
    "TrueSpan",
    "TrueTake",
    "TrueTrack",
    "Truth",
    "build_day",
]
