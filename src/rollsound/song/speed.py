"""How fast playback ran: true, off by a clock, pulled by a known ratio, or by hand; and how well that is known."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

from rollsound.quantities import signed
from rollsound.timecode.clocks import CRYSTAL_LIMIT_PPM

MOST_SIGMA_PPM = 150.0
"""A speed less well known than this tells no 0.1 % pull from true speed: 1000 ppm lie between, and clocks take 100."""
SIGMAS = 2.0


class SpeedKind(StrEnum):
    """What made the speed."""

    TRUE = "true"
    PULLED = "pulled"
    VARISPEED = "varispeed"
    UNKNOWN = "unknown"


_RATIOS: tuple[tuple[Fraction, str], ...] = (
    (Fraction(1000, 1001), "pulled down by 0.1 %, as 24-frame material run at 23.976, or 48 kHz clocked at 47.952"),
    (Fraction(1001, 1000), "pulled up by 0.1 %, as 23.976-frame material run at 24, or 48 kHz clocked at 48.048"),
    (Fraction(25, 24), "24-frame material run at 25"),
    (Fraction(24, 25), "25-frame material run at 24"),
    (Fraction(25_025, 24_000), "23.976-frame material run at 25"),
    (Fraction(24_000, 25_025), "25-frame material run at 23.976"),
    (Fraction(441, 480), "a 48 kHz file played at 44.1 kHz"),
    (Fraction(480, 441), "a 44.1 kHz file played at 48 kHz"),
)
"""Speeds with a cause. Source: 1000/1001 of SMPTE ST 12-1's rates; common practice of film and television transfer."""


@dataclass(frozen=True)
class Speed:
    """A speed against the song's rate by the recorder's clock: 1 is true. ``sigma_ppm`` is of the measurement alone.

    ``ratio`` is the exact speed that a pull stands for; 1 for what two clocks explain.
    """

    measured: float
    sigma_ppm: float
    kind: SpeedKind
    ratio: Fraction
    words: str

    @property
    def ppm(self) -> float:
        """Faster than true, in millionths."""
        return (self.measured - 1.0) * 1e6

    @property
    def clock_ppm(self) -> float:
        """What the ratio leaves for the clocks of player and recorder."""
        return (self.measured / float(self.ratio) - 1.0) * 1e6

    @property
    def cents(self) -> float:
        """What it does to the pitch, in hundredths of a semitone."""
        return 1200.0 * math.log2(self.measured) if self.measured > 0 else 0.0

    @property
    def is_true(self) -> bool:
        """Whether the clocks explain it."""
        return self.kind is SpeedKind.TRUE


def speed_of(measured: float, sigma_ppm: float) -> Speed:
    """Tell what a measured speed is.

    A pull is a ratio of the trade that leaves no more than a crystal can be off; the same speed set by hand looks no
    different. Anything else beyond a crystal is varispeed.
    """
    if not math.isfinite(measured) or measured <= 0 or not sigma_ppm <= MOST_SIGMA_PPM:
        return Speed(measured, sigma_ppm, SpeedKind.UNKNOWN, Fraction(1), "too little code to tell its speed")
    slack = CRYSTAL_LIMIT_PPM + SIGMAS * sigma_ppm
    ppm = (measured - 1.0) * 1e6
    if abs(ppm) <= slack:
        return Speed(measured, sigma_ppm, SpeedKind.TRUE, Fraction(1), "true speed")
    for ratio, words in _RATIOS:
        if abs((measured / float(ratio) - 1.0) * 1e6) <= slack:
            return Speed(measured, sigma_ppm, SpeedKind.PULLED, ratio, words)
    percent = signed(100.0 * (measured - 1.0), 2 if abs(ppm) >= 1000 else 3)
    return Speed(measured, sigma_ppm, SpeedKind.VARISPEED, Fraction(1), f"varispeed {percent} %")
