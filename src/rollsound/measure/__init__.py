"""Arrays in, figures and faults out: peaks, loudness, levels, overviews. Never a path, never a file."""

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
