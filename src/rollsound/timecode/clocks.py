"""Clocks: how far they drift, when a frame is gone, and what is no clock but a wrong stamp.

A rate error is given in ppm: positive when the clock runs fast, that is, when it counts too many samples.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction

from rollsound.errors import InputError
from rollsound.timecode.rates import Rate

CRYSTAL_LIMIT_PPM = 100.0
"""No crystal in use is further off: plain ones are within 50 ppm, their temperature adds 10 to 15.

Source: crystal makers' tolerance classes (±10/20/30/50 ppm at 25 °C) and temperature curves.
"""


def drift_samples(ppm: float, seconds: float, sample_rate_hz: float) -> float:
    """Samples gained (or lost, negative) after ``seconds``: 5 ppm at 48 kHz gain 14.4 samples a minute."""
    return _finite(ppm) * 1e-6 * seconds * sample_rate_hz


def drift_frames(ppm: float, seconds: float, rate: Rate) -> float:
    """Frames gained (or lost, negative) after ``seconds``."""
    return drift_samples(ppm, seconds, float(rate.fps))


def seconds_to_drift(ppm: float, frames: float, rate: Rate) -> float:
    """Seconds until ``frames`` (a quarter, a half, one) are gone; infinity for a clock without error."""
    speed = abs(_finite(ppm)) * 1e-6 * float(rate.fps)
    return abs(frames) / speed if speed else math.inf


def worst_case_ppm(first_ppm: float, second_ppm: float) -> float:
    """How far two free clocks of these tolerances may be apart: they may err in opposite directions."""
    return abs(_finite(first_ppm)) + abs(_finite(second_ppm))


def _finite(ppm: float) -> float:
    if not math.isfinite(ppm):
        raise InputError(f"{ppm} ppm is no clock error; give a number")
    return ppm


@dataclass(frozen=True)
class StampError:
    """A rate that no crystal makes: the file was made at another rate than it claims.

    ``ratio`` is the exact speed that explains it, ``crystal_ppm`` what is left for the clocks.
    """

    kind: str
    ratio: Fraction
    crystal_ppm: float
    sentence: str

    @property
    def ppm(self) -> float:
        """The stamp error alone."""
        return float((self.ratio - 1) * 1_000_000)


# A positive rate means too many samples for the time that passed: the sound plays slow and long.
_STAMPS: tuple[tuple[str, Fraction, str], ...] = (
    ("pull up", Fraction(1001, 1000), "1001/1000, as of 48048 Hz stamped 48000, or 24 frames run at 23.976"),
    ("pull down", Fraction(1000, 1001), "1000/1001, as of 47952 Hz stamped 48000, or 23.976 frames run at 24"),
    ("25 at 24", Fraction(25, 24), "25/24, as of 25-frame material run at 24"),
    ("24 at 25", Fraction(24, 25), "24/25, as of 24-frame material run at 25"),
    ("25 at 23.976", Fraction(25_025, 24_000), "25 over 23.976, as of 25-frame material run at 23.976"),
    ("23.976 at 25", Fraction(24_000, 25_025), "23.976 over 25, as of 23.976-frame material run at 25"),
    ("48 as 44.1", Fraction(480, 441), "480/441, as of 48 kHz stamped 44.1"),
    ("44.1 as 48", Fraction(441, 480), "441/480, as of 44.1 kHz stamped 48"),
    ("double as single", Fraction(2), "2, as of 96 kHz stamped 48"),
    ("single as double", Fraction(1, 2), "1/2, as of 48 kHz stamped 96"),
)


def stamp_error(ppm: float) -> StampError | None:
    """Tell a wrong stamp from a crystal.

    Parameters
    ----------
    ppm : float
        measured rate of one recording against another, or of its time code against its label

    Returns
    -------
    StampError or None
        None when the rate may be a crystal, or is explained by no known ratio (see ``clock_is_plausible``)
    """
    speed = 1.0 + _finite(ppm) * 1e-6
    for kind, ratio, words in _STAMPS:
        left_ppm = (speed / float(ratio) - 1.0) * 1e6
        if abs(left_ppm) <= CRYSTAL_LIMIT_PPM:
            sentence = f"The rate is {ppm:+.1f} ppm, which no crystal makes: it is the ratio {words}"
            return StampError(kind, ratio, left_ppm, sentence)
    return None


def clock_is_plausible(ppm: float) -> bool:
    """True when two free-running crystals can differ by so much."""
    return abs(_finite(ppm)) <= CRYSTAL_LIMIT_PPM
