"""Arrays in, figures and faults out: peaks, loudness, levels, overviews. Never a path, never a file.

Names are fetched from their modules when they are first asked for: who only reads a plan loads no signal code.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from rollsound.measure.analyser import Analyser, Block
    from rollsound.measure.loudness import measure_loudness
    from rollsound.measure.model import (
        RADIO_FAULTS,
        Fault,
        FaultScanResult,
        Loudness,
        Overview,
        SurveyResult,
        TrackFaults,
        TrackMeasures,
        TrackPair,
    )
    from rollsound.measure.proofs import findings_of
    from rollsound.measure.survey import Survey
    from rollsound.measure.truepeak import measure_true_peak

__all__ = [
    "RADIO_FAULTS",
    "Analyser",
    "Block",
    "Fault",
    "FaultScanResult",
    "Loudness",
    "Overview",
    "Survey",
    "SurveyResult",
    "TrackFaults",
    "TrackMeasures",
    "TrackPair",
    "findings_of",
    "measure_loudness",
    "measure_true_peak",
]

_MODULES = {
    "analyser": ("Analyser", "Block"),
    "loudness": ("measure_loudness",),
    "model": (
        "RADIO_FAULTS",
        "Fault",
        "FaultScanResult",
        "Loudness",
        "Overview",
        "SurveyResult",
        "TrackFaults",
        "TrackMeasures",
        "TrackPair",
    ),
    "proofs": ("findings_of",),
    "survey": ("Survey",),
    "truepeak": ("measure_true_peak",),
}
_HOMES = {name: module for module, names in _MODULES.items() for name in names}


def __getattr__(name: str) -> Any:
    if name not in _HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    found = getattr(import_module(f"{__name__}.{_HOMES[name]}"), name)
    globals()[name] = found
    return found
