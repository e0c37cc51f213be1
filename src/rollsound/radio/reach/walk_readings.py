"""The readings of a walk test made ready: where, through which antenna, at what level; what cannot be used is told."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from rollsound.errors import InputError
from rollsound.quantities import count
from rollsound.radio.model import Ground, Reading
from rollsound.radio.reach.answer import Place, SetAside
from rollsound.radio.reach.ground import within
from rollsound.radio.reach.link import Link
from rollsound.radio.reach.over import share_of_time

LEAST_READINGS = 4
HEIGHT_M = 1.2
HIGHEST_DBM = 20.0
"""No radio microphone gives more at a receiver's input, even with both antennas touching."""


@dataclass(frozen=True)
class Usable:
    """A reading that can be used. ``paths`` are the places, in its link, of the antennas it may have come through."""

    id: str
    at_m: Place
    link: Link
    paths: tuple[int, ...]
    level_dbm: float
    weight: float
    from_quality: bool = False


def usable(
    ground: Ground, links: Sequence[Link], readings: Sequence[Reading]
) -> tuple[tuple[Usable, ...], tuple[SetAside, ...]]:
    """Sort out readings.

    Raises
    ------
    InputError
        when fewer than four are left to fit to
    """
    found: list[Usable] = []
    aside: list[SetAside] = []
    seen: set[str] = set()
    for reading in readings:
        sorted_out = _sorted(ground, links, reading)
        if reading.id in seen:
            sorted_out = "another reading has the same id; give each its own"
        seen.add(reading.id)
        if isinstance(sorted_out, str):
            aside.append(SetAside(reading.id, sorted_out))
        else:
            found.append(sorted_out)
    if len(found) < LEAST_READINGS:
        why = "".join(f"; {one.id}: {one.why}" for one in aside[:3])
        more = f"; and {count(len(aside) - 3, 'more reading')}" if len(aside) > 3 else ""
        raise InputError(
            f"a walk test of '{ground.id}' needs {LEAST_READINGS} readings or more that can be used; "
            f"{len(found)} of {len(readings)} can be{why}{more}"
        )
    return tuple(found), tuple(aside)


def _sorted(ground: Ground, links: Sequence[Link], reading: Reading) -> Usable | str:
    at_m = _place(ground, reading)
    if isinstance(at_m, str):
        return at_m
    link = _link(links, reading)
    if isinstance(link, str):
        return link
    paths = tuple(number for number, path in enumerate(link.paths) if reading.antenna in ("", path.antenna.id))
    if not paths:
        return f"no antenna '{reading.antenna}' hears {link.sender.name} on this ground; correct the antenna's id"
    if reading.level_dbm is not None:
        wrong = _absurd(reading.level_dbm, link)
        return wrong or Usable(reading.id, at_m, link, paths, float(reading.level_dbm), 1.0)
    if reading.quality_percent is None:
        return "it has neither level nor quality; write what the receiver showed"
    level = _from_quality(reading.quality_percent, link)
    if isinstance(level, str):
        return level
    return Usable(reading.id, at_m, link, paths, level, 0.5, from_quality=True)


def _place(ground: Ground, reading: Reading) -> Place | str:
    if reading.at_m is not None:
        [at_m] = reading.at_m.points_m
    elif reading.stand:
        stand = next((one for one in ground.stands if one.id == reading.stand), None)
        if stand is None:
            return f"no stand is called '{reading.stand}'; draw it, or write the place"
        [at_m] = stand.at_m.points_m
    else:
        return "it has neither a place nor a stand; write where it was taken"
    if not within(ground, at_m):
        return (
            f"it lies at {at_m[0]:g}, {at_m[1]:g} m, outside the ground, which is {ground.width_m:g} m wide and "
            f"{ground.depth_m:g} m deep; correct the place"
        )
    return at_m


def _link(links: Sequence[Link], reading: Reading) -> Link | str:
    if reading.transmitter:
        named = next((link for link in links if link.transmitter == reading.transmitter), None)
        return named or f"no transmitter '{reading.transmitter}' sends on this ground; correct the transmitter's id"
    if len(links) > 1:
        return f"it names no transmitter, and {len(links)} send on this ground; name the one that was carried"
    return links[0]


def _absurd(level_dbm: float, link: Link) -> str:
    if not math.isfinite(level_dbm):
        return "its level is no number; write what the receiver showed, such as -62 dBm"
    if level_dbm > HIGHEST_DBM:
        return f"a level of {level_dbm:g} dBm is more than any receiver is given; check its sign and its unit"
    if level_dbm < link.floors[0].thermal_dbm:
        return (
            f"a level of {level_dbm:g} dBm lies under any receiver's noise, {link.floors[0].thermal_dbm:.0f} dBm in "
            "this width; check its unit"
        )
    return ""


def _from_quality(quality_percent: float, link: Link) -> float | str:
    """The level whose share of time is this quality, with all branches alike."""
    share = quality_percent / 100
    if not 0.01 <= share <= 0.999:
        return (
            f"a quality of {quality_percent:g} % tells only that the level was "
            f"{'high' if share > 0.5 else 'low'} enough for it, not how much; write the level"
        )
    low, high = -60.0, 60.0
    for _ in range(60):
        middle = 0.5 * (low + high)
        held = share_of_time(link, np.full((len(link.branches), 1), middle))[0]
        low, high = (low, middle) if held >= share else (middle, high)
    return high + link.needed_db + float(np.mean([floor.noise_dbm for floor in link.floors]))
