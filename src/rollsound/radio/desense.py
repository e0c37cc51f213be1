"""Strong neighbours: what a monitor or talkback transmitter, close to a receive antenna, takes from every receiver.

A strong signal drives the first stage towards its limit; the gain for the weak ones falls with it. From the same curve
that makes products (input intercept IIP3), the weak signal's gain falls to |1 − 2·P/IIP3|: 1 dB where the strong one
arrives 12.6 dB under the intercept, 3 dB at 8.4 dB under it. Near that the curve is no longer true; it says when to
move things apart, not how much is left.

Source: two-signal gain of a cubic transfer curve (standard text); noise that the neighbour itself sends beside its
carrier is not in it, as no table of it is open.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator
from dataclasses import dataclass

from rollsound.radio import antennas
from rollsound.radio.chains import antennas_of, distance_m, front, radiated_dbm
from rollsound.radio.kinds import receiver, transmitter
from rollsound.radio.levels import OUT_OF_RANGE_DB
from rollsound.radio.model import HIGH_POWER, AntennaPlaced, Ground, RadioPart, Stand, Transmitter
from rollsound.radio.pathloss import free_space_db

SOURCE = "two-signal gain of a cubic curve, from the input intercept; free space between antennas"
WATCH_DB = 1.0
STOP_DB = 3.0


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
    ground: str = ""


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
    ground: str = "",
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
    at_one_metre = radiated_dbm + gain_dbi - held_back_db - float(free_space_db(1.0, freq_hz))
    keep = 10 ** ((at_one_metre - strongest_dbm(intercept_dbm)) / 20)
    if distance_m is None:
        return Neighbour(transmitter, antenna, None, None, intercept_dbm, None, keep, ground)
    level = at_one_metre - 20 * math.log10(max(distance_m, 0.1))
    return Neighbour(
        transmitter, antenna, distance_m, level, intercept_dbm, loss_of_gain_db(level, intercept_dbm), keep, ground
    )


def neighbours(
    radio: RadioPart, sites: Collection[str] | None = None, *, standing: bool = False
) -> tuple[Neighbour, ...]:
    """Every monitor and talkback transmitter beside every receive antenna of its sites, the worst first.

    Of one antenna the receiver that bears least counts. Where a transmitter stands is known by its stand.

    Parameters
    ----------
    standing
        only those whose stand is known

    Raises
    ------
    InputError
        when a kind, an antenna or a cable is named that is not there
    """
    found: list[Neighbour] = []
    for ground in radio.grounds:
        if sites is not None and ground.id not in sites:
            continue
        for t in radio.transmitters:
            here = not t.sites or ground.id in t.sites
            if standing and not any(stand.id == t.stand for stand in ground.stands):
                continue
            if t.kind in HIGH_POWER and here and transmitter(radio, t).power_mw > 0:
                found += _beside(radio, ground, t)
    return tuple(sorted(found, key=lambda each: -(each.loss_db if each.loss_db is not None else -1.0)))


def _beside(radio: RadioPart, ground: Ground, t: Transmitter) -> Iterator[Neighbour]:
    tuning = transmitter(radio, t).tuning_hz
    freq = t.frequency_hz or ((tuning.low + tuning.high) / 2 if tuning else ground.frequency_hz)
    stand = next((stand for stand in ground.stands if stand.id == t.stand), None) if t.stand else None
    for placed in ground.antennas:
        rows = []
        for each in radio.receivers:
            if (ground, placed) not in antennas_of(each, [ground]) or not each.hears:
                continue
            behind = front(radio, each, ground, placed, freq)
            made = receiver(radio, each)
            outside = made.tuning_hz is not None and freq not in made.tuning_hz and not placed.amplifier_gain_db
            gain = _towards(radio, placed, stand)
            rows.append(
                neighbour(
                    t.id,
                    placed.id,
                    radiated_dbm=radiated_dbm(radio, t),
                    freq_hz=freq,
                    gain_dbi=gain,
                    intercept_dbm=behind.intercept_dbm,
                    held_back_db=OUT_OF_RANGE_DB if outside else 0.0,
                    distance_m=distance_m(ground, placed, t) if stand is not None else None,
                    ground=ground.id,
                )
            )
        if rows:
            yield max(rows, key=lambda each: each.keep_away_m)


def _towards(radio: RadioPart, placed: AntennaPlaced, stand: Stand | None) -> float:
    kind = antennas.antenna(radio, placed)
    if stand is None:
        return kind.gain_dbi
    bearing = antennas.direction_deg(*placed.at_m.points_m[0], *stand.at_m.points_m[0])
    return antennas.gain_dbi(kind, float(bearing) - placed.bearing_deg)
