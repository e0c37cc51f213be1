"""Every term of one path, in dB, by its name and with its source: the why of a number on the map."""

from __future__ import annotations

import math

import numpy as np

from rollsound.errors import InputError
from rollsound.quantities import count
from rollsound.radio import fading
from rollsound.radio.model import Ground, RadioPart
from rollsound.radio.reach.answer import Budget, Place, PlaceReach, Term
from rollsound.radio.reach.crossing import crossings, stretches
from rollsound.radio.reach.ground import check_place, ground_of
from rollsound.radio.reach.link import Link, links, notes_of
from rollsound.radio.reach.over import FAR_DB
from rollsound.radio.reach.way import gain_towards_dbi, law_of, path_loss_db, way_to


def budget(
    radio: RadioPart,
    ground: str,
    transmitter: str,
    antenna: str,
    at_m: Place,
    *,
    height_m: float = 1.2,
    layout: str | None = None,
) -> Budget:
    """A transmitter at one place, heard through one antenna.

    Parameters
    ----------
    ground, transmitter, antenna
        their ids
    at_m
        where the transmitter is
    height_m
        of the transmitter over the floor
    layout
        antennas of this layout only, where several are combined

    Raises
    ------
    InputError
        when an id is unknown, nothing hears, or the place lies outside the ground
    """
    found = place(radio, ground, transmitter, at_m, height_m=height_m, layout=layout)
    for one in found.budgets:
        if one.antenna == antenna:
            return one
    there = ", ".join(one.antenna for one in found.budgets)
    raise InputError(f"antenna '{antenna}' does not hear '{transmitter}' on the ground '{ground}'; there are: {there}")


def place(
    radio: RadioPart,
    ground: str,
    transmitter: str,
    at_m: Place,
    *,
    height_m: float = 1.2,
    layout: str | None = None,
) -> PlaceReach:
    """A transmitter at one place, heard by its receiver through all its antennas; see ``budget``."""
    drawn = ground_of(radio, ground)
    check_place(drawn, at_m, f"transmitter '{transmitter}'")
    [link] = links(radio, drawn, [transmitter], layout)
    budgets = tuple(_budget(drawn, link, number, at_m, height_m) for number in range(len(link.paths)))
    margins = [_together([budgets[number].margin_db for number in branch]) for branch in link.branches]
    return PlaceReach(
        transmitter=transmitter,
        receiver=link.receiver,
        at_m=at_m,
        budgets=budgets,
        branches=tuple(tuple(budgets[number].antenna for number in branch) for branch in link.branches),
        branch_margins_db=tuple(margins),
        level_dbm=max(one.level_dbm for one in budgets),
        margin_db=max(margins),
        share_of_time=_share(link, margins),
    )


def _budget(ground: Ground, link: Link, number: int, at_m: Place, height_m: float) -> Budget:
    path = link.paths[number]
    [floor] = [floor for branch, floor in zip(link.branches, link.floors, strict=True) if number in branch]
    [antenna_m] = path.antenna.at_m.points_m
    places = np.array([at_m], float)
    way = way_to(path.antenna, places, height_m)
    law = law_of(ground)
    loss = float(path_loss_db(ground, way, link.freq_hz)[0])
    crossed = crossings(stretches(ground.walls), antenna_m, at_m)
    walls = tuple(link.walls[number].term(link.freq_hz) for number in crossed)
    gain = float(gain_towards_dbi(path.kind, path.antenna, places)[0])
    name = f"antenna {path.antenna.id}, {path.kind.name or path.kind.id}, in this direction"
    terms = (
        *path.sent,
        Term(law.id, law.name, -loss, law.source, law.status, law.note),
        Term(
            "walls", _walls_named(len(crossed)), math.fsum(wall.db for wall in walls), "the walls crossed, one by one"
        ),
        Term("antenna", name, gain, path.kind.source, path.kind.status),
        *path.fed,
    )
    level = math.fsum(term.db for term in terms)
    margin = level - floor.noise_dbm - link.needed_db
    return Budget(
        ground=ground.id,
        transmitter=link.transmitter,
        receiver=link.receiver,
        antenna=path.antenna.id,
        at_m=at_m,
        height_m=height_m,
        distance_m=float(way.slant_m[0]),
        freq_hz=link.freq_hz,
        terms=terms,
        walls=walls,
        noise_terms=floor.terms,
        noise_parts=floor.parts,
        level_dbm=level,
        noise_dbm=floor.noise_dbm,
        needed_db=link.needed_db,
        margin_db=margin,
        share_of_time=_share(link, [margin]),
        notes=notes_of(ground, [link]),
    )


def _walls_named(crossed: int) -> str:
    return f"{count(crossed, 'wall')} crossed" if crossed else "no wall crossed"


def _together(margins_db: list[float]) -> float:
    """The margin of antennas combined on one branch: their powers add."""
    most = max(margins_db)
    return most + 10 * math.log10(math.fsum(10 ** ((margin - most) / 10) for margin in margins_db))


def _share(link: Link, margins_db: list[float]) -> float:
    """How much of the time at least one branch holds."""
    return 1 - math.prod(fading.outage(min(max(one, -FAR_DB), FAR_DB), 1, link.rician_k_db) for one in margins_db)
