"""Strong neighbours: what a monitor or talkback transmitter, close to a receive antenna, takes from every receiver.

A strong signal drives the first stage towards its limit; the gain for the weak ones falls with it. From the same curve
that makes products (input intercept IIP3), the weak signal's gain falls to |1 − 2·P/IIP3|: 1 dB where the strong one
arrives 12.6 dB under the intercept, 3 dB at 8.3 dB under it. Near that the curve is no longer true; it says when to
move things apart, not how much is left.

Source: two-signal gain of a cubic transfer curve (standard text); noise that the neighbour itself sends beside its
carrier is not in it, as no table of it is open.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

SOURCE = "two-signal gain of a cubic curve, from the input intercept; free space between antennas"
WATCH_DB = 1.0
STOP_DB = 3.0
_FREE_SPACE_1M_1MHZ = 20 * math.log10(4 * math.pi * 1e6 / 299_792_458.0)


def loss_of_gain_db(strong_dbm: float, intercept_dbm: float) -> float:
    """What a strong signal takes from the gain for weak ones; infinite where the stage is driven to its end."""
    left = 1 - 2 * 10 ** ((strong_dbm - intercept_dbm) / 10)
    return math.inf if left <= 0 else -20 * math.log10(left)


def strongest_dbm(intercept_dbm: float, loss_db: float = WATCH_DB) -> float:
    """The strong signal at which the gain falls by so much."""
    return intercept_dbm + 10 * math.log10((1 - 10 ** (-loss_db / 20)) / 2)


@dataclass(frozen=True)
class Neighbour:
    """A transmitter and a receive antenna."""

    transmitter: str
    antenna: str
    distance_m: float | None
    """None where nobody says where the transmitter stands."""
    level_dbm: float | None
    """At the first stage behind the antenna."""
    intercept_dbm: float
    loss_db: float | None
    keep_away_m: float
    """Where it takes 1 dB, in the open."""


def neighbour(
    transmitter: str,
    antenna: str,
    *,
    radiated_dbm: float,
    freq_hz: float,
    gain_dbi: float,
    intercept_dbm: float,
    held_back_db: float = 0.0,
    distance_m: float | None = None,
) -> Neighbour:
    """One transmitter beside one antenna, nothing between them.

    Parameters
    ----------
    radiated_dbm
        e.i.r.p.
    gain_dbi
        of the receive antenna, towards the transmitter
    intercept_dbm
        input intercept of all that follows the antenna
    held_back_db
        by filters before the first stage
    """
    at_one_metre = radiated_dbm + gain_dbi - held_back_db - _FREE_SPACE_1M_1MHZ - 20 * math.log10(freq_hz / 1e6)
    keep = 10 ** ((at_one_metre - strongest_dbm(intercept_dbm)) / 20)
    if distance_m is None:
        return Neighbour(transmitter, antenna, None, None, intercept_dbm, None, keep)
    level = at_one_metre - 20 * math.log10(max(distance_m, 0.1))
    return Neighbour(
        transmitter, antenna, distance_m, level, intercept_dbm, loss_of_gain_db(level, intercept_dbm), keep
    )
