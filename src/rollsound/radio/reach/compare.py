"""Two layouts side by side: antennas on the set or at the cart, passive or powered, a longer or a thinner cable."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from rollsound.errors import InputError
from rollsound.quantities import signed
from rollsound.radio.model import AntennaPlaced, RadioPart
from rollsound.radio.points import Points
from rollsound.radio.reach.along import area, line
from rollsound.radio.reach.answer import WANTED_SHARE, Along, Comparison, Difference, Place, ReachMap, Side
from rollsound.radio.reach.ground import check_place, ground_of
from rollsound.radio.reach.reach_map import reach_map
from rollsound.written import Written


def compare(
    first: Side,
    second: Side,
    transmitters: Sequence[str] | None = None,
    *,
    points: tuple[int, int] = (100, 100),
    wanted: float = WANTED_SHARE,
) -> Comparison:
    """The difference in dB and in share of time: on each acting area, on each walking line, over the whole ground.

    Both sides must have the same ground, as they are compared place by place; areas and lines are those that both
    have.

    Raises
    ------
    InputError
        when the grounds differ in size, or one of the sides cannot be computed
    """
    grounds = [ground_of(side.radio, side.ground) for side in (first, second)]
    if (grounds[0].width_m, grounds[0].depth_m) != (grounds[1].width_m, grounds[1].depth_m):
        raise InputError(
            f"'{first.name}' and '{second.name}' are grounds of different sizes; compare layouts of one ground"
        )
    found: list[Difference] = []
    for kind, ask, ids in (
        ("area", area, [[one.id for one in ground.areas] for ground in grounds]),
        ("line", line, [[one.id for one in ground.lines] for ground in grounds]),
    ):
        for id in (one for one in ids[0] if one in ids[1]):
            sides = [ask(side.radio, side.ground, id, transmitters, layout=side.layout) for side in (first, second)]
            found.append(_difference(id, sides[0].name or id, kind, sides, (first, second), wanted))
    maps = [
        reach_map(side.radio, side.ground, transmitters, layout=side.layout, points=points) for side in (first, second)
    ]
    found.append(_difference(grounds[0].id, "the whole ground", "ground", maps, (first, second), wanted))
    return Comparison(first.name, second.name, maps[0].transmitters, tuple(found), (maps[0], maps[1]))


def layouts(
    radio: RadioPart,
    ground: str,
    first: str,
    second: str,
    transmitters: Sequence[str] | None = None,
    *,
    points: tuple[int, int] = (100, 100),
    wanted: float = WANTED_SHARE,
) -> Comparison:
    """Compare two layouts of one ground by their names."""
    sides = [Side(name, radio, ground, name) for name in (first, second)]
    return compare(sides[0], sides[1], transmitters, points=points, wanted=wanted)


def with_cable(
    radio: RadioPart, ground: str, antenna: str, *, cable: str | None = None, length_m: float | None = None
) -> RadioPart:
    """The same with another cable at one antenna, or with more or less of it."""
    changes: dict[str, Any] = {}
    if cable is not None:
        changes["cable"] = cable
    if length_m is not None:
        if not 0 <= length_m <= 10_000:
            raise InputError(f"a cable of {length_m:g} m cannot be used; write its length in metres, such as 20")
        changes["cable_length_m"] = Written(length_m, f"{length_m:g} m")
    return _with_antenna(radio, ground, antenna, changes)


def with_amplifier(
    radio: RadioPart, ground: str, antenna: str, *, gain_db: float, noise_db: float | None = None
) -> RadioPart:
    """The same with an amplifier at one antenna, or without when ``gain_db`` is 0."""
    for name, value in (("gain", gain_db), ("noise figure", noise_db or 0.0)):
        if not -60 <= value <= 60:
            raise InputError(f"a {name} of {value:g} dB cannot be used; amplifiers at antennas give 3 to 30 dB")
    changes: dict[str, Any] = {"amplifier_gain_db": Written(gain_db, f"{gain_db:g} dB")}
    if noise_db is not None:
        changes["amplifier_noise_db"] = Written(noise_db, f"{noise_db:g} dB")
    return _with_antenna(radio, ground, antenna, changes)


def moved(radio: RadioPart, ground: str, antenna: str, at_m: Place) -> RadioPart:
    """The same with one antenna elsewhere on the ground."""
    check_place(ground_of(radio, ground), at_m, f"antenna '{antenna}'")
    return _with_antenna(radio, ground, antenna, {"at_m": Points((at_m,))})


def with_power(radio: RadioPart, transmitter: str, power_mw: float) -> RadioPart:
    """The same with one transmitter at another power."""
    if not any(one.id == transmitter for one in radio.transmitters):
        raise InputError(f"no transmitter is called '{transmitter}'")
    if not 0 < power_mw <= 100_000:
        raise InputError(f"a power of {power_mw:g} mW cannot be used; write it in milliwatts, such as 10")
    power = Written(power_mw, f"{power_mw:g} mW")
    changed = tuple(
        one.model_copy(update={"power_mw": power}) if one.id == transmitter else one for one in radio.transmitters
    )
    return radio.model_copy(update={"transmitters": changed})


def _with_antenna(radio: RadioPart, ground: str, antenna: str, changes: dict[str, Any]) -> RadioPart:
    drawn = ground_of(radio, ground)
    if not any(one.id == antenna for one in drawn.antennas):
        there = ", ".join(one.id for one in drawn.antennas) or "none yet"
        raise InputError(f"no antenna of the ground '{ground}' is called '{antenna}'; there are: {there}")
    antennas: tuple[AntennaPlaced, ...] = tuple(
        one.model_copy(update=changes) if one.id == antenna else one for one in drawn.antennas
    )
    after = drawn.model_copy(update={"antennas": antennas})
    return radio.model_copy(update={"grounds": tuple(after if one.id == ground else one for one in radio.grounds)})


def _difference(
    id: str,
    name: str,
    kind: str,
    sides: Sequence[Along] | Sequence[ReachMap],
    named: tuple[Side, Side],
    wanted: float,
) -> Difference:
    one, other = sides
    margins = [float(np.median(side.margin_db)) for side in sides]
    gain = float(np.median(other.margin_db - one.margin_db))
    weakest = [float(side.share_of_time.min()) for side in sides]
    held = [float(np.mean(side.share_of_time >= wanted)) for side in sides]
    sentence = (
        f"{name}: {named[1].name} gives {signed(gain, 1)} dB over {named[0].name} at the median place; the weakest "
        f"place holds {100 * weakest[1]:.1f} % of the time against {100 * weakest[0]:.1f} %, and "
        f"{100 * held[1]:.0f} % of the places hold {100 * wanted:g} % of the time against {100 * held[0]:.0f} %"
    )
    return Difference(id, kind, gain, margins[0], margins[1], weakest[0], weakest[1], held[0], held[1], sentence)
