"""Noise that comes in by the antenna: ``facts/radio_noise.toml`` and the show's own environments before it."""

from __future__ import annotations

import functools

import numpy as np

from rollsound.facts import table
from rollsound.facts.rows import notes_of, read_rows, row_of, with_own
from rollsound.radio.elementwise import Array, Values, above_zero, elementwise
from rollsound.radio.model import NoiseEnvironment, RadioPart


@functools.cache
def _table() -> dict[str, NoiseEnvironment]:
    return read_rows("radio_noise", "environment", NoiseEnvironment)


def environments(radio: RadioPart | None = None) -> dict[str, NoiseEnvironment]:
    """All environments by id; one of the show goes before the table's with its id."""
    return with_own(_table(), radio.noise_environments if radio else ())


def environment(radio: RadioPart | None, id: str) -> NoiseEnvironment:
    """The environment of an id; ``quiet rural`` and ``quiet-rural`` are the same.

    Raises
    ------
    InputError
        when there is none
    """
    return row_of(environments(radio), id.replace(" ", "-"), "noise environment")


def man_made_db(env: NoiseEnvironment | str, freq_hz: float) -> float:
    """Median of man-made noise over the noise at 290 K, as the tables have it: below 0 dB where it is quiet.

    A city's changes its law above 250 MHz; an environment of the show keeps its own law throughout.

    Source: ITU-R P.372-17 up to 250 MHz; P.372-8 for the city above.
    """
    place = environment(None, env) if isinstance(env, str) else env
    rows = table("radio_noise")
    upper = rows["upper"].get(place.id)
    if upper and place.status != "own" and freq_hz / 1e6 > rows["about"]["limit_mhz"]:
        return law_db(float(upper["c_db"]), float(upper["d_db"]), freq_hz)
    return law_db(place.c_db, place.d_db, freq_hz)


@elementwise
def law_db(c_db: Array, d_db: Array, freq_hz: Array) -> Values:
    """c − d·log f, f in MHz."""
    return c_db - d_db * np.log10(above_zero(freq_hz, "a frequency") / 1e6)


def external_noise_db(env: NoiseEnvironment | str, freq_hz: float) -> float:
    """Noise of the place, over the noise at 290 K, never below 0 dB: walls, ground and people around an antenna on a
    set are about as warm as that. ``none`` is just those.
    """
    if env == "none":
        return 0.0
    return max(man_made_db(env, freq_hz), 0.0)


@elementwise
def total_noise_db(external_db: Array, noise_figure_db: Array) -> Values:
    """Noise of place and receiver together, over the noise at 290 K: f_a + f_r − 1 as ratios.

    Parameters
    ----------
    noise_figure_db
        of all behind the antenna

    Source: ITU-R P.372, eq. 1 to 3, antenna without loss, from memory.
    """
    return 10 * np.log10(10.0 ** (external_db / 10) + 10.0 ** (noise_figure_db / 10) - 1)


def note(env: NoiseEnvironment | str, freq_hz: float) -> str:
    """What to tell of the figure at a frequency; empty when there is nothing."""
    if env == "none":
        return ""
    place = environment(None, env) if isinstance(env, str) else env
    rows = table("radio_noise")
    freq_mhz = freq_hz / 1e6
    most = rows["about"]["upper_limit_mhz"] if place.id in rows["upper"] else rows["about"]["limit_mhz"]
    if place.status == "own" or freq_mhz <= most:
        return ""
    return f"Man-made noise ({place.name}) is given up to {most:g} MHz; at {freq_mhz:g} MHz it is an extrapolation."


def notes() -> tuple[str, ...]:
    """Where sources are at odds, and what nobody has verified."""
    return notes_of("radio_noise")
