"""A place as it sounds: its noise, its tones, its reverberation, and how far a boom may be from a voice in it.

Arrays in, figures out. Names are fetched from their modules when they are first asked for.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from rollsound.measure.place.calibration import Calibration, by_sensitivity, by_tone
    from rollsound.measure.place.decay import Decay, decay_of
    from rollsound.measure.place.hours import Overlap, overlaps
    from rollsound.measure.place.model import SiteSound
    from rollsound.measure.place.noise import NoiseFigures, PlaceNoise
    from rollsound.measure.place.speech import Farthest, SpeechAt, critical_distance_m, farthest_boom_m, speech_at

__all__ = [
    "Calibration",
    "Decay",
    "Farthest",
    "NoiseFigures",
    "Overlap",
    "PlaceNoise",
    "SiteSound",
    "SpeechAt",
    "by_sensitivity",
    "by_tone",
    "critical_distance_m",
    "decay_of",
    "farthest_boom_m",
    "overlaps",
    "speech_at",
]

_MODULES = {
    "calibration": ("Calibration", "by_sensitivity", "by_tone"),
    "decay": ("Decay", "decay_of"),
    "hours": ("Overlap", "overlaps"),
    "model": ("SiteSound",),
    "noise": ("NoiseFigures", "PlaceNoise"),
    "speech": ("Farthest", "SpeechAt", "critical_distance_m", "farthest_boom_m", "speech_at"),
}
_HOMES = {name: module for module, names in _MODULES.items() for name in names}


def __getattr__(name: str) -> Any:
    if name not in _HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    found = getattr(import_module(f"{__name__}.{_HOMES[name]}"), name)
    globals()[name] = found
    return found
