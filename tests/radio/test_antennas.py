"""Antennas, their patterns, and how two of them are turned."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from vectors import PRINTED_1, PRINTED_2, goes_red, missed

from rollsound.errors import InputError
from rollsound.radio.antennas import (
    antenna,
    antennas,
    direction_deg,
    gain_dbi,
    helix_beam_deg,
    helix_gain_dbi,
    pattern_db,
)
from rollsound.radio.model import AntennaPlaced, RadioPart
from rollsound.radio.polarisation import CIRCULAR_DB, between_db, turned_db
from rollsound.radio.units import wavelength_m


@pytest.mark.source("half-wave dipole 1.64 = 2.15 dBi (Terman, as quoted on a public page)", kind="published")
def test_a_dipole() -> None:
    assert antenna(None, "half-wave").gain_dbi == pytest.approx(10 * math.log10(1.64), abs=PRINTED_2)


@pytest.mark.source("log-periodic 6 to 8 dBi, whip 0 to -3 dBi, ground plane about 2 dBi", kind="memory")
def test_typical_gains() -> None:
    assert 6 <= antenna(None, "paddle").gain_dbi <= antenna(None, "log-periodic").gain_dbi <= 8
    assert -3 <= antenna(None, "whip").gain_dbi <= 0
    assert antenna(None, "ground-plane").gain_dbi == 2
    assert all(
        kind.status == "from memory" for kind in antennas().values() if kind.id not in {"isotropic", "half-wave"}
    )


@pytest.mark.source(
    "Kraus: helix of 5 turns, C = wavelength, 13 degrees: 12.4 dBic, 48.4 degrees; 12NS 11.4", kind="memory"
)
def test_a_helix() -> None:
    around = wavelength_m(600e6)
    assert helix_gain_dbi(5, 600e6, around) == pytest.approx(12.4, abs=PRINTED_1)
    assert 10 ** (helix_gain_dbi(5, 600e6, around) / 10) == pytest.approx(17.3, abs=PRINTED_1)
    assert helix_gain_dbi(5, 600e6, around, measured=True) == pytest.approx(11.4, abs=PRINTED_1)
    assert helix_beam_deg(5, 600e6, around) == pytest.approx(48.4, abs=PRINTED_1)
    assert antenna(None, "helix").gain_dbi == pytest.approx(11.4)
    assert antenna(None, "helix").circular
    with pytest.raises(InputError, match="0 turns"):
        helix_gain_dbi(0, 600e6, around)


@pytest.mark.source("-20 log cos of the angle; computed", kind="published")
def test_straight_polarisations() -> None:
    rows = {(10,): 0.13, (20,): 0.54, (30,): 1.25, (45,): 3.01, (60,): 6.02, (75,): 11.74}
    assert missed(rows, turned_db, PRINTED_2) == []
    assert goes_red(rows, turned_db, PRINTED_2)
    assert turned_db(90) == math.inf
    assert turned_db(np.array([0.0, 180.0])).tolist() == [0.0, 0.0]


@pytest.mark.source("circular to linear 3.01 dB at any angle; computed", kind="published")
def test_circular_against_straight() -> None:
    assert pytest.approx(3.01, abs=PRINTED_2) == CIRCULAR_DB
    for other in ("vertical", "horizontal", "slanted"):
        assert between_db("circular", other) == between_db(other, "circular") == CIRCULAR_DB


@pytest.mark.source("crossed polarisations keep 20 to 30 dB apart in practice", kind="memory")
def test_crossed() -> None:
    assert 20 <= between_db("vertical", "horizontal") <= 30
    assert between_db("vertical", "slanted") == pytest.approx(3.01, abs=PRINTED_2)
    assert between_db("slanted", "slanted") == between_db("circular", "circular") == 0.0


BEAMS = st.floats(20, 359)
BACKS = st.floats(4, 30)


@settings(max_examples=80, deadline=None)
@given(BEAMS, BACKS)
def test_half_power_at_half_the_beam_and_front_to_back_behind(beam: float, back: float) -> None:
    assert pattern_db(0.0, beam, back) == 0.0
    assert pattern_db(beam / 2, beam, back) == pytest.approx(3.0)
    assert pattern_db(180.0, beam, back) == pytest.approx(back)


@settings(max_examples=80, deadline=None)
@given(BEAMS, st.floats(0, 30), st.floats(-720, 720))
def test_a_pattern_is_even_goes_round_and_falls(beam: float, back: float, off: float) -> None:
    here = pattern_db(off, beam, back)
    assert 0 <= here <= back
    assert pattern_db(-off, beam, back) == pytest.approx(here, abs=1e-9)
    assert pattern_db(off + 360, beam, back) == pytest.approx(here, abs=1e-9)
    turned = abs((off + 180) % 360 - 180)
    assert pattern_db(turned * 0.9, beam, back) <= here + 1e-9


def test_an_antenna_that_hears_all_round() -> None:
    assert pattern_db(np.array([0.0, 90.0, 180.0]), 360.0, 0.0).tolist() == [0.0, 0.0, 0.0]
    assert gain_dbi(antenna(None, "half-wave"), 137.0) == pytest.approx(2.15)


def test_directions_on_a_drawing() -> None:
    assert direction_deg(0, 0, 1, 0) == 0.0
    assert direction_deg(0, 0, 0, 1) == 90.0
    assert direction_deg(0.0, 0.0, np.array([-1.0, 0.0]), np.array([0.0, -1.0])).tolist() == [180.0, -90.0]


def test_what_a_placed_antenna_is() -> None:
    placed = AntennaPlaced.model_validate({"id": "left", "at": "0, 0 m", "model": "paddle"})
    assert antenna(None, placed).id == "paddle"
    radio = RadioPart.model_validate({"antenna_kinds": [{"id": "paddle", "gain": "4 dB"}]})
    assert antenna(radio, placed).gain_dbi == 4
    assert antenna(radio, placed).status == "own"
    with pytest.raises(InputError, match="'dish' is no kind of antenna"):
        antenna(None, "dish")
