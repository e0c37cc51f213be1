"""What arrives at each receiver from every transmitter, and what its stages bear: the ground that levels stand on.

Nothing stands in the way here: free space, the body's usual share, the antenna's best direction. So products come out
as strong as they get; walls only make them weaker. Where somebody knows better, levels can be given.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from rollsound.radio import antennas, cables, cascade, noise
from rollsound.radio.kinds import receiver, transmitter, worn
from rollsound.radio.levels import OUT_OF_RANGE_DB, Chain
from rollsound.radio.model import AntennaPlaced, Ground, RadioPart, Receiver, Transmitter
from rollsound.radio.pathloss import free_space_db
from rollsound.radio.points import Points
from rollsound.radio.units import dbm_of_mw

USUAL_DISTANCE_M = 5.0
"""From a transmitter to an antenna, where no ground says it."""
NEAREST_M = 0.5
_DIPOLE = AntennaPlaced.model_construct(id="", model="half-wave", at_m=Points(((0.0, 0.0),)))


@dataclass(frozen=True)
class Front:
    """One antenna of one receiver, and all stages behind it."""

    receiver: str
    antenna: str
    gain_dbi: float
    before_db: float
    """Gain from the antenna to the receiver's input; below 0 a loss."""
    intercept_dbm: float
    """Third order, of all stages, at the antenna."""
    noise_dbm: float
    """At the antenna, in the receiver's width, with the noise of the place."""


def chains(
    radio: RadioPart,
    carriers_hz: Mapping[str, int],
    *,
    sites: Collection[str] | None = None,
    distances_m: Mapping[str, float] | None = None,
    levels_dbm: Mapping[str, Mapping[str, float]] | None = None,
) -> tuple[Chain, ...]:
    """Every receiver with every antenna it has on the grounds; one that has none is taken as usual.

    Parameters
    ----------
    distances_m
        from a transmitter, by id, to every antenna; before what the ground says
    levels_dbm
        by receiver and transmitter: the level at the receiver's input, before anything computed

    Raises
    ------
    InputError
        when a kind, an antenna or a cable is named that is not there
    """
    sending = []
    for t in radio.transmitters:
        sent = radiated_dbm(radio, t) if t.id in carriers_hz else -math.inf
        if sent > -math.inf:
            sending.append(_Sending(t, carriers_hz[t.id], sent - worn(radio, t).loss_db))
    grounds = [g for g in radio.grounds if sites is None or g.id in sites]
    result = []
    for each in radio.receivers:
        hears = tuple(name for name in each.hears if name in carriers_hz)
        if not hears:
            continue
        given = (levels_dbm or {}).get(each.id, {})
        for ground, placed in antennas_of(each, grounds):
            here = [s for s in sending if ground is None or not s.t.sites or ground.id in s.t.sites]
            if any(s.t.id in hears for s in here):
                result.append(_chain(radio, each, hears, ground, placed, here, distances_m or {}, given))
    return tuple(result)


@dataclass(frozen=True)
class _Sending:
    """A transmitter, its carrier, and what leaves the body that wears it."""

    t: Transmitter
    freq_hz: int
    leaves_dbm: float


def antennas_of(each: Receiver, grounds: Iterable[Ground]) -> list[tuple[Ground | None, AntennaPlaced]]:
    """The antennas of a receiver: those it names; on a ground where it names none, all; without any, a usual one."""
    found: list[tuple[Ground | None, AntennaPlaced]] = []
    for ground in grounds:
        named = [placed for placed in ground.antennas if placed.id in each.antennas]
        found += [(ground, placed) for placed in named or ground.antennas]
    return found or [(None, _DIPOLE)]


def front(radio: RadioPart, each: Receiver, ground: Ground | None, placed: AntennaPlaced, freq_hz: float) -> Front:
    """The stages of one receiver behind one antenna."""
    made = receiver(radio, each)
    stages = _stages(radio, placed, freq_hz) if placed.id else []
    before = cascade.gain_db(stages)
    every = [*stages, cascade.Stage("receiver", 0.0, made.noise_figure_db, made.intercept_dbm)]
    place = 0.0
    if ground is not None and ground.noise != "none":
        place = noise.external_noise_db(noise.environment(radio, ground.noise), freq_hz)
    over = noise.total_noise_db(place, cascade.noise_figure_db(every))
    return Front(
        each.id,
        placed.id,
        antennas.antenna(radio, placed).gain_dbi,
        before,
        cascade.intercept_dbm(every),
        float(cascade.thermal_noise_dbm(made.width_hz)) + float(over),
    )


def distance_m(ground: Ground | None, placed: AntennaPlaced, t: Transmitter) -> float:
    """From where a transmitter stands, or from the middle of where actors go, to an antenna."""
    if ground is None:
        return USUAL_DISTANCE_M
    stand = next((stand for stand in ground.stands if stand.id == t.stand), None) if t.stand else None
    if stand is not None:
        spots, height = [stand.at_m.points_m[0]], 1.0
    else:
        spots = [_middle(area.outline_m.points_m) for area in ground.areas]
        height = 1.2
    if not spots:
        return USUAL_DISTANCE_M
    x, y = placed.at_m.points_m[0]
    apart = [math.hypot(x - a, y - b, placed.height_m - height) for a, b in spots]
    return max(min(apart), NEAREST_M)


def _middle(points: tuple[tuple[float, float], ...]) -> tuple[float, float]:
    return sum(x for x, _ in points) / len(points), sum(y for _, y in points) / len(points)


def radiated_dbm(radio: RadioPart, t: Transmitter) -> float:
    """E.i.r.p. of a transmitter before the body takes its share; minus infinity for one without power."""
    made = transmitter(radio, t)
    return float(dbm_of_mw(made.power_mw)) + made.gain_dbi if made.power_mw > 0 else -math.inf


def _chain(
    radio: RadioPart,
    each: Receiver,
    hears: tuple[str, ...],
    ground: Ground | None,
    placed: AntennaPlaced,
    sending: Sequence[_Sending],
    distances: Mapping[str, float],
    given: Mapping[str, float],
) -> Chain:
    made = receiver(radio, each)
    freq = np.array([s.freq_hz for s in sending], np.float64)
    behind = front(radio, each, ground, placed, float(freq[[s.t.id in hears for s in sending]].mean()))
    away = [max(distances.get(s.t.id, distance_m(ground, placed, s.t)), NEAREST_M) for s in sending]
    level = np.array([s.leaves_dbm for s in sending]) - np.asarray(free_space_db(np.array(away), freq))
    level += behind.gain_dbi + behind.before_db
    if made.tuning_hz is not None and not placed.amplifier_gain_db:
        level -= np.where((freq < made.tuning_hz.low) | (freq > made.tuning_hz.high), OUT_OF_RANGE_DB, 0.0)
    levels = {s.t.id: given.get(s.t.id, float(at)) for s, at in zip(sending, level, strict=True)}
    return Chain(
        receiver=each.id,
        hears=tuple(name for name in hears if name in levels),
        levels_dbm=levels,
        intercept_dbm=behind.intercept_dbm + behind.before_db,
        noise_dbm=behind.noise_dbm + behind.before_db,
        needed_db=made.needed_db,
        width_hz=round(made.width_hz),
        selectivity_db=made.selectivity_db,
    )


def _stages(radio: RadioPart, placed: AntennaPlaced, freq_hz: float) -> list[cascade.Stage]:
    stages = []
    if placed.amplifier_gain_db:
        stages.append(
            cascade.Stage(
                "amplifier", placed.amplifier_gain_db, placed.amplifier_noise_db, placed.amplifier_intercept_dbm
            )
        )
    cable = cables.loss_db(cables.cable(radio, placed.cable), placed.cable_length_m, freq_hz)
    loss = cable + cables.connectors_db(placed.connectors, freq_hz) + cables.splitter_db(placed.split_ways)
    return [*stages, cascade.passive("cable, connectors and splitter", loss)]
