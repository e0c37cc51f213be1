"""Exact rates and labels, linear time code, and clocks."""

from rollsound.timecode.chain import LtcEntry, LtcGap, LtcJump, StrangeLabel
from rollsound.timecode.clocks import (
    StampError,
    clock_is_plausible,
    drift_frames,
    drift_samples,
    seconds_to_drift,
    stamp_error,
    worst_case_ppm,
)
from rollsound.timecode.decode import LtcDecoder
from rollsound.timecode.encode import encode_ltc, ltc_span
from rollsound.timecode.label import Timecode
from rollsound.timecode.proofs import proofs_of_code
from rollsound.timecode.rates import RATES, Rate
from rollsound.timecode.samples import played_rate, pulled, samples_of_timecode, timecode_of_samples

__all__ = [
    "RATES",
    "LtcDecoder",
    "LtcEntry",
    "LtcGap",
    "LtcJump",
    "Rate",
    "StampError",
    "StrangeLabel",
    "Timecode",
    "clock_is_plausible",
    "drift_frames",
    "drift_samples",
    "encode_ltc",
    "ltc_span",
    "played_rate",
    "proofs_of_code",
    "pulled",
    "samples_of_timecode",
    "seconds_to_drift",
    "stamp_error",
    "timecode_of_samples",
    "worst_case_ppm",
]
