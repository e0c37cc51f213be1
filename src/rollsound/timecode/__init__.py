"""Exact rates and labels, linear time code, and clocks."""

from rollsound.timecode.encode import encode_ltc, ltc_span
from rollsound.timecode.label import Timecode
from rollsound.timecode.rates import RATES, Rate
from rollsound.timecode.samples import played_rate, pulled, samples_of_timecode, timecode_of_samples

__all__ = [
    "RATES",
    "Rate",
    "Timecode",
    "encode_ltc",
    "ltc_span",
    "played_rate",
    "pulled",
    "samples_of_timecode",
    "timecode_of_samples",
]
