"""Exact rates and labels, linear time code, and clocks.

Names are fetched from their modules when they are first asked for: who only wants a rate loads no decoder.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
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

_MODULES = {
    "chain": (
        "LtcEntry",
        "LtcGap",
        "LtcJump",
        "StrangeLabel",
    ),
    "clocks": (
        "StampError",
        "clock_is_plausible",
        "drift_frames",
        "drift_samples",
        "seconds_to_drift",
        "stamp_error",
        "worst_case_ppm",
    ),
    "decode": ("LtcDecoder",),
    "encode": (
        "encode_ltc",
        "ltc_span",
    ),
    "label": ("Timecode",),
    "proofs": ("proofs_of_code",),
    "rates": (
        "RATES",
        "Rate",
    ),
    "samples": (
        "played_rate",
        "pulled",
        "samples_of_timecode",
        "timecode_of_samples",
    ),
}
_HOMES = {name: module for module, names in _MODULES.items() for name in names}


def __getattr__(name: str) -> Any:
    if name not in _HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    found = getattr(import_module(f"{__name__}.{_HOMES[name]}"), name)
    globals()[name] = found
    return found
