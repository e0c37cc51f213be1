"""The noise that a branch of a receiver hears: of the place, of what stands near its antennas, of itself."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from rollsound.errors import InputError
from rollsound.radio import cascade, noise
from rollsound.radio.antennas import gain_dbi
from rollsound.radio.kinds import ReceiverResolved
from rollsound.radio.model import Ground, NoiseSource, RadioPart
from rollsound.radio.reach.answer import Term
from rollsound.radio.reach.crossing import Stretches, crossings
from rollsound.radio.reach.feeder import Feeder
from rollsound.radio.reach.through import WallLoss
from rollsound.radio.reach.way import off_axis_deg
from rollsound.radio.units import DIPOLE_DBI

MEASURED_AT_M = 10.0
NEAREST_M = 0.5
_MOST_FIGURE_DB = 100.0


@dataclass(frozen=True)
class Floor:
    """The noise of one branch at the receiver's input; ``terms`` add up to it, ``parts`` are what it is made of."""

    noise_dbm: float
    thermal_dbm: float
    terms: tuple[Term, ...]
    parts: tuple[Term, ...]
    notes: tuple[str, ...] = ()


def floor_at(
    radio: RadioPart,
    ground: Ground,
    feeders: Sequence[Feeder],
    receiver: ReceiverResolved,
    freq_hz: float,
    walls: Sequence[WallLoss],
    lines: Stretches,
) -> Floor:
    """The noise of a branch that some antennas are combined to.

    Notes
    -----
    Over the noise of a resistor at 290 K, at the receiver's input: of every antenna its share of the combiner times its
    gain times (place + what its amplifier and cable add), and once what the receiver adds. With one antenna this is
    Friis' cascade behind an antenna that hears the place.
    """
    _check(receiver.noise_figure_db, f"receiver '{receiver.id}'")
    for one in feeders:
        _check(one.placed.amplifier_noise_db, f"the amplifier of antenna '{one.placed.id}'")
    env = "none" if ground.noise == "none" else noise.environment(radio, ground.noise)
    place_db = noise.external_noise_db(env, freq_hz)
    thermal_dbm = float(cascade.thermal_noise_dbm(receiver.width_hz))
    total, gain = _ratio(receiver.noise_figure_db) - 1, 0.0
    near_parts: list[Term] = []
    for one in feeders:
        near = [(source, _heard(source, one, freq_hz, walls, lines)) for source in ground.noise_sources]
        outside = _ratio(place_db) * (1 + sum(over for _, over in near))
        adds = _ratio(cascade.noise_figure_db(one.stages)) - 1 if one.stages else 0.0
        total += _ratio(one.gain_db) / len(feeders) * (outside + adds)
        gain += _ratio(one.gain_db) / len(feeders)
        near_parts += [_near_part(source, one, place_db + _db(over)) for source, over in near if over > 0]
    width = f"noise at 290 K in {receiver.width_hz / 1e3:g} kHz"
    added, fed = "ITU-R P.372, eq. 1 to 3; Friis 1944", "amplifier, cable, connectors, splitter"
    terms = (
        Term("thermal", width, thermal_dbm, "k·T0·B", "computed"),
        Term("rise", "place and receiver over it, at the antenna", _db(total / gain), added, "from memory"),
        Term("feeder", "from the antenna to the receiver", _db(gain), fed, "computed"),
    )
    named = ground.noise if ground.noise != "none" else "walls and people around as warm as 290 K"
    source, status = ("", "computed") if isinstance(env, str) else (env.source, env.status)
    system = _system(feeders, receiver)
    parts = (
        Term("place", f"noise of the place: {named}", place_db, source, status, noise.note(env, freq_hz)),
        *near_parts,
        Term("receiver", "noise figure of the receiver", receiver.noise_figure_db, receiver.source, receiver.status),
        Term("system", "noise figure of all behind the antenna", system, "Friis 1944", "from memory"),
    )
    note = noise.note(env, freq_hz)
    return Floor(thermal_dbm + _db(total), thermal_dbm, terms, parts, (note,) if note else ())


def _check(figure_db: float, whose: str) -> None:
    if not 0 <= figure_db <= _MOST_FIGURE_DB:
        raise InputError(
            f"{whose} has a noise figure of {figure_db:g} dB; it lies between 0 and {_MOST_FIGURE_DB:g} dB"
        )


def _near_part(source: NoiseSource, feeder: Feeder, over_290k_db: float) -> Term:
    name = f"{source.name or source.id} at antenna {feeder.placed.id}"
    return Term(f"near-{source.id}", name, over_290k_db, "as measured ten metres away", "own")


def _system(feeders: Sequence[Feeder], receiver: ReceiverResolved) -> float:
    """Noise figure behind the antennas; with several combined, of all of them as one."""
    gain = sum(_ratio(one.gain_db) for one in feeders) / len(feeders)
    adds = sum(
        _ratio(one.gain_db) / len(feeders) * (_ratio(cascade.noise_figure_db(one.stages)) - 1)
        for one in feeders
        if one.stages
    )
    return _db(1 + (adds + _ratio(receiver.noise_figure_db) - 1) / gain)


def _heard(source: NoiseSource, feeder: Feeder, freq_hz: float, walls: Sequence[WallLoss], lines: Stretches) -> float:
    """What a source adds at an antenna, over the noise of the place, as a ratio.

    Its rise was measured with a dipole ten metres away, with nothing between; from there it falls with distance
    squared, and walls and the antenna's direction count as for any signal.
    """
    [antenna_m], [at_m] = feeder.placed.at_m.points_m, source.at_m.points_m
    rise = max(_ratio(source.rise_db) - 1, 0.0)
    far = max(math.dist(antenna_m, at_m), NEAREST_M) / MEASURED_AT_M
    off = off_axis_deg(feeder.placed, np.array([at_m]))[0]
    through = sum(walls[number].loss_db(freq_hz) for number in crossings(lines, antenna_m, at_m))
    return rise / far**2 * _ratio(gain_dbi(feeder.kind, float(off)) - DIPOLE_DBI - through)


def _ratio(db: float) -> float:
    return float(10.0 ** (db / 10))


def _db(ratio: float) -> float:
    return 10 * math.log10(ratio) if ratio > 0 else -math.inf
