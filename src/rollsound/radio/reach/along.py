"""A transmitter carried along a walking line, or all over an acting area."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Protocol, TypeVar

import numpy as np

from rollsound.errors import InputError
from rollsound.radio.model import ActingArea, Ground, RadioPart
from rollsound.radio.reach.answer import Along, Array
from rollsound.radio.reach.ground import along, ground_of, places_of
from rollsound.radio.reach.link import links
from rollsound.radio.reach.over import over


def line(
    radio: RadioPart,
    ground: str,
    line: str,
    transmitters: Sequence[str] | None = None,
    *,
    layout: str | None = None,
    step_m: float = 0.25,
) -> Along:
    """What is heard all along a walking line, from the worst of the transmitters at each place.

    Parameters
    ----------
    transmitters
        ids; all that send on this site when None
    layout
        antennas of this layout only; all antennas when None
    step_m
        between places, or a little less

    Raises
    ------
    InputError
        when an id is unknown, nothing sends or nothing hears
    """
    drawn = ground_of(radio, ground)
    walked = _named(drawn.lines, line, "walking line", drawn)
    at_m, way_m = along(walked, step_m)
    return _along(radio, drawn, walked.id, walked.name, walked.height_m, at_m, way_m, transmitters, layout)


def area(
    radio: RadioPart,
    ground: str,
    area: str,
    transmitters: Sequence[str] | None = None,
    *,
    layout: str | None = None,
    places: int = 900,
) -> Along:
    """What is heard from about so many places of an acting area, its outline among them; see ``line``."""
    drawn = ground_of(radio, ground)
    acted = area_named(drawn, area)
    at_m = places_of(acted, places)
    numbers = np.arange(len(at_m), dtype=float)
    return _along(radio, drawn, acted.id, acted.name, acted.height_m, at_m, numbers, transmitters, layout)


def area_named(ground: Ground, id: str) -> ActingArea:
    """The acting area of this id.

    Raises
    ------
    InputError
        when there is none
    """
    return _named(ground.areas, id, "acting area", ground)


class _HasId(Protocol):
    @property
    def id(self) -> str: ...


T = TypeVar("T", bound=_HasId)


def _named(items: Iterable[T], id: str, what: str, ground: Ground) -> T:
    there = tuple(items)
    found = next((item for item in there if item.id == id), None)
    if found is None:
        names = ", ".join(item.id for item in there) or "none yet"
        raise InputError(f"no {what} of the ground '{ground.id}' is called '{id}'; there are: {names}")
    return found


def _along(
    radio: RadioPart,
    ground: Ground,
    id: str,
    name: str,
    height_m: float,
    at_m: Array,
    way_m: Array,
    transmitters: Sequence[str] | None,
    layout: str | None,
) -> Along:
    heard = links(radio, ground, transmitters, layout)
    found = over(ground, heard, at_m, height_m)
    return Along(
        id=id,
        name=name,
        transmitters=tuple(one.transmitter for one in heard),
        layout=layout or "",
        at_m=at_m,
        way_m=way_m,
        level_dbm=found.level_dbm,
        margin_db=found.margin_db,
        share_of_time=found.share_of_time,
        worst=found.worst,
    )
