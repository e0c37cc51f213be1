"""What happens between a transmitter and an antenna: distance, the surroundings' law, direction. Arrays over places."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from rollsound.radio import antennas, pathloss
from rollsound.radio.model import AntennaKind, AntennaPlaced, Ground
from rollsound.radio.reach.answer import Array, Term

NEAREST_M = 0.1
"""Nearer than this no law of distance holds: the antennas touch."""
MOST_DB = 300.0
INDOOR, STREET = "office-out-of-sight", "street-in-sight"


@dataclass(frozen=True)
class Way:
    """From many places to one antenna."""

    flat_m: Array
    """How far apart on the drawing."""
    slant_m: Array
    """How far apart with the heights."""
    height_m: float
    antenna_height_m: float


def way_to(placed: AntennaPlaced, at_m: Array, height_m: float) -> Way:
    """The way from places of shape (places, 2), ``height_m`` over the floor."""
    [(x, y)] = placed.at_m.points_m
    antenna_height_m = float(placed.height_m)
    flat_m = np.hypot(at_m[:, 0] - x, at_m[:, 1] - y)
    slant_m = np.maximum(np.hypot(flat_m, antenna_height_m - height_m), NEAREST_M)
    return Way(flat_m, slant_m, height_m, antenna_height_m)


def path_loss_db(ground: Ground, way: Way, freq_hz: float) -> Array:
    """Loss of the way by the ground's surroundings, or by its fitted exponent, without walls; 0 dB or more.

    The indoor law is one of offices where nothing is drawn: it counts ordinary walls, so draw only what is heavier, or
    choose ``multi-wall`` and draw all. The street law is one with a free view; houses are drawn as walls.
    """
    if ground.exponent is None and ground.surroundings == "two-ray":
        heights = max(way.height_m, NEAREST_M), max(way.antenna_height_m, NEAREST_M)
        # over a floor both ways may cancel altogether, which no real floor does
        return np.minimum(pathloss.two_ray_db(np.maximum(way.flat_m, NEAREST_M), freq_hz, *heights), MOST_DB)
    if ground.exponent is not None:
        return pathloss.log_distance_db(way.slant_m, freq_hz, ground.exponent)
    if ground.surroundings == "indoor":
        return pathloss.indoor_db(way.slant_m, freq_hz, INDOOR)
    if ground.surroundings == "street":
        return pathloss.street_db(way.slant_m, freq_hz, STREET)
    return pathloss.free_space_db(way.slant_m, freq_hz)


def floors_term(ground: Ground, placed: AntennaPlaced, freq_hz: float) -> Term:
    """What the decks or storeys between the actors and an antenna take: fewer dB for each further one."""
    name = f"floors between: {placed.floors}"
    if ground.floor_loss_db is not None:
        return Term(
            "floors", name, 0.0 - placed.floors * float(ground.floor_loss_db), "as written at the ground", "own"
        )
    between = pathloss.multi_wall_db(1.0, freq_hz, 0.0, placed.floors) - pathloss.free_space_db(1.0, freq_hz)
    note = "fitted at 1.8 GHz to storeys of houses; a steel deck takes far more: measure it, and write it at the ground"
    return Term("floors", name, 0.0 - between, "COST 231 final report, multi-wall: 18.3 dB, b 0.46", "opened", note)


def first_metre_db(slant_m: Array, freq_hz: Array | float) -> Array:
    """Free-space loss of the first metre, from where a fitted exponent counts."""
    return pathloss.free_space_db(np.minimum(slant_m, 1.0), freq_hz)


def off_axis_deg(placed: AntennaPlaced, at_m: Array) -> Array:
    """How many degrees each place lies away from where a placed antenna looks."""
    [(x, y)] = placed.at_m.points_m
    off: Array = np.degrees(np.arctan2(at_m[:, 1] - y, at_m[:, 0] - x)) - placed.bearing_deg
    return off


def gain_towards_dbi(kind: AntennaKind, placed: AntennaPlaced, at_m: Array) -> Array:
    """Gain of a placed antenna towards each place."""
    down = antennas.pattern_db(off_axis_deg(placed, at_m), kind.beam_deg, kind.front_to_back_db)
    return float(kind.gain_dbi) - down


def law_of(ground: Ground) -> Term:
    """Which law counts, with its source, as a term without its figure."""
    if ground.exponent is not None:
        name = f"way: free space for a metre, then an exponent of {ground.exponent:.2f}"
        return Term("path", name, 0.0, "walk test of this ground, or as written at it", "own")
    if ground.surroundings in _SITES:
        site = pathloss.site_path(_SITES[ground.surroundings])
        return Term("path", f"way: {site.name}", 0.0, site.source, site.status, site.note)
    return Term("path", *_LAWS[ground.surroundings])


_SITES = {"indoor": INDOOR, "street": STREET}
_LAWS: dict[str, tuple[str, float, str, str, str]] = {
    "free space": ("way: free space", 0.0, "Recommendation ITU-R P.525", "opened", ""),
    "multi-wall": (
        "way: free space between the walls drawn",
        0.0,
        "Recommendation ITU-R P.525; walls as in COST 231, with its constant at 0 dB",
        "opened",
        "",
    ),
    "two-ray": ("way: direct and over the floor", 0.0, "two-ray form of Rappaport and Jakes", "from memory", ""),
}


def way_notes(ground: Ground, freqs_hz: Sequence[float]) -> tuple[str, ...]:
    """Where the law is stretched beyond what it was made for, in sentences."""
    if ground.exponent is not None or ground.surroundings not in _SITES:
        return ()
    site = pathloss.site_path(_SITES[ground.surroundings])
    drawn = ground.surroundings == "indoor" and len(ground.walls) > 0
    walls = ("The indoor law counts ordinary walls by itself; walls that are drawn come on top.",) if drawn else ()
    reach = (site.distance_m[0], max(ground.width_m, ground.depth_m))
    told = {note: None for freq in freqs_hz for note in pathloss.path_notes(site.id, freq, reach)}
    return (*walls, *told)
