"""Arrays in, figures and faults out: peaks, loudness, levels, overviews. Never a path, never a file."""

from rollsound.measure.analyser import Analyser, Block
from rollsound.measure.model import (
    Fault,
    FaultScanResult,
    Loudness,
    Overview,
    SurveyResult,
    TrackFaults,
    TrackMeasures,
    TrackPair,
)

__all__ = [
    "Analyser",
    "Block",
    "Fault",
    "FaultScanResult",
    "Loudness",
    "Overview",
    "SurveyResult",
    "TrackFaults",
    "TrackMeasures",
    "TrackPair",
]
