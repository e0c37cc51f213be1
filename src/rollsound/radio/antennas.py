"""Antennas and what they give in a direction: ``facts/radio_antennas.toml`` and the show's own before it."""

from __future__ import annotations

import functools

import numpy as np

from rollsound.errors import InputError
from rollsound.facts.rows import notes_of, read_rows, row_of, with_own
from rollsound.radio.elementwise import Array, Values, elementwise
from rollsound.radio.model import AntennaKind, AntennaPlaced, RadioPart
from rollsound.radio.units import wavelength_m

_HALF_POWER_DB = 3.0


@functools.cache
def _table() -> dict[str, AntennaKind]:
    return read_rows("radio_antennas", "antenna", AntennaKind)


def antennas(radio: RadioPart | None = None) -> dict[str, AntennaKind]:
    """All kinds of antennas by id; one of the show goes before the table's with its id."""
    return with_own(_table(), radio.antenna_kinds if radio else ())


def antenna(radio: RadioPart | None, placed: AntennaPlaced | str) -> AntennaKind:
    """What kind a placed antenna is, or the kind of an id.

    Raises
    ------
    InputError
        when there is none
    """
    return row_of(antennas(radio), placed if isinstance(placed, str) else placed.model, "kind of antenna")


def gain_dbi(kind: AntennaKind, off_deg: float = 0.0) -> float:
    """Gain in a direction so many degrees away from where the antenna looks."""
    return kind.gain_dbi - pattern_db(off_deg, kind.beam_deg, kind.front_to_back_db)


@elementwise
def pattern_db(off_deg: Array, beam_deg: Array, front_to_back_db: Array) -> Values:
    """How far the gain lies under the best one, in a direction ``off_deg`` degrees away from it.

    3 dB at half the beam width, then falling until it is down by front-to-back. A beam so wide that it would not be
    down by that much straight behind falls more steeply, so that it just is. A beam of 360° takes nothing anywhere.

    Source: parabola in decibels as in 3GPP TR 38.901, table 7.3-1, from memory.
    """
    off = np.abs((off_deg + 180) % 360 - 180)
    beam = np.minimum(beam_deg, 360.0)
    behind = np.maximum(front_to_back_db, 0.0)
    half = np.minimum(_HALF_POWER_DB, behind)
    with np.errstate(divide="ignore", invalid="ignore"):
        steep = np.where(
            (beam < 360) & (behind > half), np.log(behind / half) / np.log(np.maximum(360 / beam, 1 + 1e-9)), 2.0
        )
        fall = half * np.power(2 * off / beam, np.maximum(steep, 2.0))
    return np.where(beam >= 360, 0.0, np.minimum(fall, behind))


@elementwise
def direction_deg(from_x_m: Array, from_y_m: Array, to_x_m: Array, to_y_m: Array) -> Values:
    """Bearing from one place to another: 0 to the right, 90 up the drawing."""
    return np.degrees(np.arctan2(to_y_m - from_y_m, to_x_m - from_x_m))


def helix_gain_dbi(
    turns: int, freq_hz: float, circumference_m: float, pitch_deg: float = 13.0, *, measured: bool = False
) -> float:
    """Gain of a helix along its axis, over a source of the same circular polarisation (dBic).

    Parameters
    ----------
    measured
        with the factor 12 that measured ones come to, in place of 15

    Raises
    ------
    InputError
        when it has no turn

    Source: Kraus, from memory: 15·N·S·C²/λ³.
    """
    if turns < 1:
        raise InputError(f"a helix of {turns} turns is no antenna; write how many it has")
    around = circumference_m / wavelength_m(freq_hz)
    spacing = around * float(np.tan(np.radians(pitch_deg)))
    return 10 * float(np.log10((12 if measured else 15) * turns * spacing * around**2))


def helix_beam_deg(turns: int, freq_hz: float, circumference_m: float, pitch_deg: float = 13.0) -> float:
    """Beam width of a helix between the directions of half power.

    Source: Kraus, from memory: 52°/(C·√(N·S)), in wavelengths.
    """
    around = circumference_m / wavelength_m(freq_hz)
    spacing = around * float(np.tan(np.radians(pitch_deg)))
    return 52.0 / (around * float(np.sqrt(turns * spacing)))


def notes() -> tuple[str, ...]:
    """What nobody has verified."""
    return notes_of("radio_antennas")
