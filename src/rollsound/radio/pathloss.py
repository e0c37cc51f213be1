"""What distance takes from a signal, in dB: free space, over ground, indoors, through walls, along a street.

Coefficients come from ``facts/radio_paths.toml``, which says what edition each is of and where it may be used.
"""

from __future__ import annotations

import functools
from dataclasses import dataclass

import numpy as np

from rollsound.errors import InputError
from rollsound.facts import table
from rollsound.radio.elementwise import Array, Values, above_zero, elementwise, not_negative
from rollsound.radio.units import wavelength_m


@dataclass(frozen=True)
class SitePath:
    """Coefficients of a loss known for a kind of place: 10·α·log d + β + 10·γ·log f, d in m and f in GHz."""

    id: str
    name: str
    alpha: float
    beta_db: float
    gamma: float
    sigma_db: float
    """How far single places scatter around it."""
    freq_ghz: tuple[float, float]
    distance_m: tuple[float, float]
    source: str
    status: str
    note: str = ""


@dataclass(frozen=True)
class FloorsPath:
    """Coefficients of the older indoor form for one band and use: distance exponent N, and loss by floors."""

    setting: str
    freq_ghz: float
    exponent_n: float | None
    floors_db: tuple[float, ...]
    """Of 1, 2, 3 floors; what is not listed goes on by the last step."""
    source: str
    status: str
    note: str = ""


@functools.cache
def site_paths() -> dict[str, SitePath]:
    """Kinds of places by id, such as ``office-out-of-sight`` and ``street-in-sight``."""
    rows = table("radio_paths")["site"]
    return {
        name: SitePath(id=name, **row | {"freq_ghz": tuple(row["freq_ghz"]), "distance_m": tuple(row["distance_m"])})
        for name, row in rows.items()
    }


@functools.cache
def floor_paths() -> tuple[FloorsPath, ...]:
    """Rows of the older indoor form."""
    return tuple(
        FloorsPath(**row | {"floors_db": tuple(row["floors_db"]), "exponent_n": row.get("exponent_n")})
        for row in table("radio_paths")["floors"]
    )


@elementwise
def free_space_db(distance_m: Array, freq_hz: Array) -> Values:
    """Loss of free space; 0 dB nearer than λ/4π, where the formula does not hold.

    Parameters
    ----------
    distance_m, freq_hz
        broadcast against each other

    Raises
    ------
    InputError
        when a distance is below 0 or a frequency is not above it

    Source: ITU-R P.525: 20 log(4πdf/c).
    """
    distance = not_negative(distance_m, "a distance")
    ratio = 4 * np.pi * distance / np.asarray(wavelength_m(freq_hz))
    return 20 * np.log10(np.maximum(ratio, 1.0))


@elementwise
def two_ray_db(distance_m: Array, freq_hz: Array, height_a_m: Array, height_b_m: Array) -> Values:
    """Loss over flat ground that reflects all with its phase turned (−1), exact; infinite where both paths cancel.

    Parameters
    ----------
    distance_m
        along the ground

    Source: Rappaport and Jakes, textbook form, from memory.
    """
    length = np.asarray(wavelength_m(freq_hz))
    distance = not_negative(distance_m, "a distance")
    a, b = above_zero(height_a_m, "a height"), above_zero(height_b_m, "a height")
    direct = np.maximum(np.hypot(distance, a - b), length / (4 * np.pi))
    # The difference of the two, written so that it does not drown in their length far away.
    longer = np.hypot(distance, a + b)
    apart = 4 * a * b / (direct + longer)
    turn = np.exp(-2j * np.pi * apart / length)
    field = np.abs(1 / direct - turn / longer) * length / (4 * np.pi)
    with np.errstate(divide="ignore"):
        return np.asarray(-20 * np.log10(np.minimum(field, 1.0)))


@elementwise
def two_ray_far_db(distance_m: Array, height_a_m: Array, height_b_m: Array) -> Values:
    """What the loss over flat ground comes to far beyond the break point: 40 log d − 20 log(h1·h2).

    Source: Rappaport, textbook form, from memory.
    """
    a, b = above_zero(height_a_m, "a height"), above_zero(height_b_m, "a height")
    return np.asarray(40 * np.log10(above_zero(distance_m, "a distance")) - 20 * np.log10(a * b))


@elementwise
def break_point_m(freq_hz: Array, height_a_m: Array, height_b_m: Array) -> Values:
    """Where the loss over flat ground begins to rise by 40 dB a decade: 4·h1·h2/λ. Some texts write 4π for 4.

    Source: textbook form, from memory.
    """
    a, b = above_zero(height_a_m, "a height"), above_zero(height_b_m, "a height")
    return 4 * a * b / np.asarray(wavelength_m(freq_hz))


@elementwise
def log_distance_db(distance_m: Array, freq_hz: Array, exponent: Array) -> Values:
    """Loss of free space at one metre and 10·n dB a decade from there on: the form that a walk test is fitted to."""
    distance = np.maximum(not_negative(distance_m, "a distance"), 1e-3)
    near = free_space_db(np.minimum(distance, 1.0), freq_hz)
    return near + 10 * above_zero(exponent, "an exponent") * np.log10(np.maximum(distance, 1.0))


@elementwise
def indoor_db(distance_m: Array, freq_hz: Array, place: str = "office-out-of-sight") -> Values:
    """Loss within one floor of a building, for a kind of place: the median over places.

    In sight it may be less than free space: walls and floors lead the wave along.

    Parameters
    ----------
    place
        an id of ``site_paths``: office, corridor or industrial, each ``-in-sight`` or ``-out-of-sight``

    Raises
    ------
    InputError
        when the place is not known

    Source: ITU-R P.1238-11 and later, site-general, frequency in GHz.
    """
    return _site_db(site_path(place), distance_m, freq_hz)


@elementwise
def street_db(distance_m: Array, freq_hz: Array, place: str = "street-in-sight") -> Values:
    """Loss between two people in a street, both under the roofs: the median over places.

    In sight it may be less than free space: the houses lead the wave along.

    Source: ITU-R P.1411-11, 4.1.1, which begins at 0.8 GHz: below, the formula is stretched.
    """
    return _site_db(site_path(place), distance_m, freq_hz)


def site_path(place: str) -> SitePath:
    """The coefficients of a kind of place.

    Raises
    ------
    InputError
        when there is none of that id
    """
    if place not in site_paths():
        raise InputError(f"'{place}' is no kind of place with a path loss; there are: {', '.join(site_paths())}")
    return site_paths()[place]


def site_formula_db(path: SitePath, distance_m: float, freq_hz: float) -> float:
    """The formula alone, as it is printed, at any distance."""
    return float(_formula(path, np.asarray(distance_m, float), np.asarray(freq_hz, float)))


def _site_db(path: SitePath, distance_m: Array, freq_hz: Array) -> Values:
    distance = not_negative(distance_m, "a distance")
    begins = path.distance_m[0]
    measured = _formula(path, np.maximum(distance, begins), above_zero(freq_hz, "a frequency"))
    # Nearer than anybody measured, the wave spreads as in free space up to the first value.
    nearer = 20 * np.log10(np.clip(distance / begins, 1e-6, 1.0))
    return np.asarray(np.maximum(measured + nearer, 0.0))


def _formula(path: SitePath, distance: Array, freq: Array) -> Array:
    return np.asarray(10 * path.alpha * np.log10(distance) + path.beta_db + 10 * path.gamma * np.log10(freq / 1e9))


@elementwise
def indoor_floors_db(distance_m: Array, freq_hz: Array, setting: str = "office", floors: Array | float = 0) -> Values:
    """Loss indoors through floors, older form: 20 log f(MHz) + N log d + Lf(n) − 28.

    The row of the nearest listed band is taken: none is published below 900 MHz, so there it is an approximation.

    Parameters
    ----------
    setting
        ``residential``, ``office`` or ``commercial``
    floors
        how many lie between, the same for all

    Raises
    ------
    InputError
        when no row is listed for the setting, or floors are no whole number

    Source: ITU-R P.1238 up to edition 10.
    """
    many = int(np.max(floors))
    if not np.all(np.asarray(floors) == many) or many < 0:
        raise InputError("floors between two places are a whole number, 0 or more, the same for all of them")
    freq = above_zero(freq_hz, "a frequency")
    distance = np.maximum(not_negative(distance_m, "a distance"), 1.0)
    middle = float(np.exp(np.mean(np.log(freq))))
    exponent = _nearest(setting, middle, False).exponent_n or 0.0
    between = floors_db(_nearest(setting, middle, True), many) if many else 0.0
    return 20 * np.log10(freq / 1e6) + exponent * np.log10(distance) + between - 28


def floors_db(row: FloorsPath, floors: int) -> float:
    """What so many floors take; beyond the last listed, by the last step again."""
    if floors <= 0 or not row.floors_db:
        return 0.0
    if floors <= len(row.floors_db):
        return row.floors_db[floors - 1]
    step = row.floors_db[-1] - (row.floors_db[-2] if len(row.floors_db) > 1 else 0.0)
    return row.floors_db[-1] + step * (floors - len(row.floors_db))


def _nearest(setting: str, freq_hz: float, with_floors: bool) -> FloorsPath:
    rows = [row for row in floor_paths() if row.setting == setting]
    rows = [row for row in rows if (row.floors_db if with_floors else row.exponent_n is not None)]
    if not rows:
        known = ", ".join(sorted({row.setting for row in floor_paths()}))
        raise InputError(f"no indoor loss is listed for '{setting}'; there are: {known}")
    return min(rows, key=lambda row: abs(np.log(row.freq_ghz * 1e9 / freq_hz)))


@elementwise
def multi_wall_db(
    distance_m: Array, freq_hz: Array, walls_db: Array | float = 0.0, floors: Array | float = 0.0,
    floor_db: Array | float = 18.3, floor_curve: Array | float = 0.46, constant_db: Array | float = 0.0,
) -> Values:  # fmt: skip
    """Free space, and what the walls and floors between take.

    Parameters
    ----------
    walls_db
        the sum of the walls crossed (``materials``)
    floors
        how many lie between; together they take ``k^[(k+2)/(k+1) − b]·Lf``
    constant_db
        close to zero; 37 dB belongs to another, simplified formula and is never added to free space

    Source: COST 231 final report, indoor multi-wall model; floor 18.3 dB and b 0.46 are fits at 1.8 GHz.
    """
    many = not_negative(floors, "a number of floors")
    through = np.power(many, (many + 2) / (many + 1) - floor_curve) * floor_db
    return np.asarray(free_space_db(distance_m, freq_hz)) + constant_db + walls_db + np.where(many > 0, through, 0.0)


def path_notes(place: str, freq_hz: float, distance_m: tuple[float, float] | None = None) -> tuple[str, ...]:
    """What to tell when a kind of place is used outside what was measured: one sentence each."""
    path = site_path(place)
    notes = []
    low, high = path.freq_ghz
    if not low <= freq_hz / 1e9 <= high:
        notes.append(
            f"The loss for {path.name} is given for {low:g} to {high:g} GHz; at {freq_hz / 1e6:g} MHz it is "
            "an extrapolation."
        )
    near, far = path.distance_m
    if distance_m is not None and (distance_m[0] < near or distance_m[1] > far):
        notes.append(
            f"The loss for {path.name} is given for {near:g} to {far:g} m; nearer or farther it is an extrapolation."
        )
    return tuple(notes)
