"""Which rate a stretch of time code runs at: the code itself never says.

Three witnesses: the frame number before the seconds change (certain, whatever the speed), the drop-frame flag, and the
bit rate, which tells 23.976 from 24 and 29.97 from 30 because they lie 1000 ppm apart and crystals within 100. Pairs of
frames above 30 per second look like the half rate; only the user can say that 25 means 50.
"""

from __future__ import annotations

import math

from rollsound.timecode.rates import RATES, Rate

_SINGLE = tuple(rate for rate in RATES if rate.nominal <= 30)


def nearest_nominal(fps: float) -> int:
    """24, 25 or 30, whichever the measured frame rate is closest to in proportion."""
    return min((24, 25, 30), key=lambda nominal: abs(math.log(fps / nominal)))


def infer_rate(fps: float, nominal: int | None, drop: bool) -> Rate:
    """The rate of the trade nearest to a measured frame rate.

    Parameters
    ----------
    fps : float
        measured frames per second
    nominal : int or None
        labels per second where a change of seconds has been seen
    drop : bool
        the drop-frame flag of the words; it stands for nominal 30 where nothing else is known
    """
    if nominal is None:
        nominal = 30 if drop else nearest_nominal(fps)
    choices = [rate for rate in _SINGLE if rate.nominal == nominal and rate.drop == (drop and nominal == 30)]
    return min(choices, key=lambda rate: abs(math.log(fps / float(rate.fps))))
