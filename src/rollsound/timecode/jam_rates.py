"""How far two clocks run apart, from their data sheets and from everything that was measured of them so far.

Before anything is measured, a clock's rate is anywhere within its data sheet's limits. Every measurement (a card that
conform placed, a device that was looked at hours after its jam) is a difference of two clocks on one day, with its
uncertainty. All of them together, as normal distributions, give the difference of any two clocks on any day: a
measurement narrows the clocks it saw, and a little every clock that was ever compared with those.

On another day a clock is not quite what it was: a part of its rate belongs to the day alone (temperature, supply,
age), and no measurement of another day narrows that part.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from rollsound.errors import InputError
from rollsound.timecode.clocks import clock_is_plausible

USUAL_LIMIT_PPM = 10.0
"""Of a professional clock whose error is not written (Digital Interface Handbook, ch. 6)."""
CONTROLLED_PPM = 5.0
"""What is better than this is a temperature-controlled crystal, whose limit covers its temperature.

Source: crystal makers' notes on TCXO classes (5 ppm or better).
"""
_PLAIN_COLD_PPM = 15.0  # more, over -20 to 70 °C: crystal makers' tables of plain crystals, ±10 to ±15 ppm
_ROOM_C, _SPAN_C = 25.0, 45.0
_DAY_SHARE = 0.1  # of the limit, from one day to another: an assumption, no source
_LEAST_SD_PPM = 1e-4  # keeps measurements that claim to be exact from contradicting each other


@dataclass(frozen=True)
class ClockLimits:
    """What is known of a clock before it was measured.

    ``limit_ppm`` is its data sheet's, either side; ``day_ppm`` one standard deviation of what belongs to one day alone.
    """

    limit_ppm: float = USUAL_LIMIT_PPM
    day_ppm: float = USUAL_LIMIT_PPM * _DAY_SHARE

    @property
    def sd_ppm(self) -> float:
        """The limits as one standard deviation.

        Source: JCGM 100:2008, 4.3.7: a value that is as likely anywhere within ±a has the variance a²/3.
        """
        return self.limit_ppm / math.sqrt(3)


def limits_of(
    limit_ppm: float | None, *, coldest_c: float | None = None, warmest_c: float | None = None
) -> ClockLimits:
    """Limits from a data sheet's figure and the temperatures of the day.

    Parameters
    ----------
    limit_ppm
        either side; the usual one when it is not written
    coldest_c, warmest_c
        of the place; a plain crystal gains or loses up to 15 ppm more, in proportion to the way from 25 °C
    """
    limit = USUAL_LIMIT_PPM if limit_ppm is None else abs(limit_ppm)
    if not math.isfinite(limit):
        raise InputError(f"{limit_ppm} ppm is no limit of a clock; give a number such as 2.5 ppm")
    away = max((abs(each - _ROOM_C) for each in (coldest_c, warmest_c) if each is not None), default=0.0)
    by_cold = 0.0 if limit <= CONTROLLED_PPM else _PLAIN_COLD_PPM * min(1.0, away / _SPAN_C)
    return ClockLimits(limit, math.hypot(limit * _DAY_SHARE, by_cold / math.sqrt(3)))


@dataclass(frozen=True)
class RateMeasured:
    """One measurement: ``device`` ran ``ppm`` faster than ``against`` on a day, give or take one deviation."""

    device: str
    against: str
    day: str
    ppm: float
    sd_ppm: float
    told: str = ""
    """How it was measured, for people."""


@dataclass(frozen=True)
class RateApart:
    """How much faster one clock runs than another: the likeliest, and one standard deviation."""

    ppm: float
    sd_ppm: float
    measured: int = 0
    """Measurements that bear on it at all."""


class ClockRates:
    """The rates of all clocks, known as well as data sheets and measurements allow.

    Parameters
    ----------
    clocks
        limits by device; one that is not listed has the usual ones
    measured
        what no pair of crystals can be (a wrong stamp) is left out, see ``left_out``
    """

    def __init__(self, clocks: Mapping[str, ClockLimits], measured: Sequence[RateMeasured] = ()) -> None:
        self._clocks = dict(clocks)
        for each in measured:
            if not (math.isfinite(each.ppm) and math.isfinite(each.sd_ppm)) or each.sd_ppm < 0:
                raise InputError(f"{each.ppm} ± {each.sd_ppm} ppm of {each.device} is no measurement of a clock")
        self.used = tuple(each for each in measured if clock_is_plausible(each.ppm) and each.device != each.against)
        self.left_out = tuple(each for each in measured if each not in self.used)
        pairs = [(each.device, each.against, each.day) for each in self.used]
        noise = [max(each.sd_ppm, _LEAST_SD_PPM) ** 2 for each in self.used]
        spread = np.array([[self._shared(one, two) for two in pairs] for one in pairs]).reshape(len(pairs), len(pairs))
        self._pairs = pairs
        self._values = np.array([each.ppm for each in self.used])
        self._spread = spread + np.diag(noise)

    def limits(self, device: str) -> ClockLimits:
        """What was known of a clock beforehand."""
        return self._clocks.get(device, ClockLimits())

    def apart(self, device: str, against: str, day: str) -> RateApart:
        """How much faster ``device`` runs than ``against`` on a day."""
        asked = (device, against, day)
        before = self._shared(asked, asked)
        if not self._pairs:
            return RateApart(0.0, math.sqrt(before))
        shared = np.array([self._shared(asked, each) for each in self._pairs])
        weights = np.linalg.solve(self._spread, shared)
        left = max(before - float(shared @ weights), 0.0)
        return RateApart(float(weights @ self._values), math.sqrt(left), int(np.count_nonzero(shared)))

    def surprise(self, measured: RateMeasured) -> float:
        """How far a measurement lies outside what data sheets allow, in standard deviations: above 3 is suspect."""
        pair = (measured.device, measured.against, measured.day)
        return abs(measured.ppm) / math.sqrt(self._shared(pair, pair) + max(measured.sd_ppm, _LEAST_SD_PPM) ** 2)

    def _shared(self, one: tuple[str, str, str], two: tuple[str, str, str]) -> float:
        """Covariance of two differences before anything was measured, in ppm²."""
        (a, b, day), (c, d, other) = one, two
        same_day = day == other
        return self._of(a, c, same_day) - self._of(a, d, same_day) - self._of(b, c, same_day) + self._of(b, d, same_day)

    def _of(self, one: str, two: str, same_day: bool) -> float:
        if one != two:
            return 0.0
        limits = self.limits(one)
        return limits.sd_ppm**2 + (limits.day_ppm**2 if same_day else 0.0)
