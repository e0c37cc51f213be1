"""Powers and field strengths in the units that licences use."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from vectors import PRINTED_2, goes_red, missed

from rollsound.errors import InputError
from rollsound.radio.units import (
    dbm_of_field,
    dbm_of_mw,
    eirp_of_erp_mw,
    in_unit_dbm,
    mw_of_dbm,
    wavelength_m,
)

DBM = {(1,): 0.0, (2,): 3.01, (10,): 10.0, (20,): 13.01, (50,): 16.99, (100,): 20.0, (250,): 23.98, (1000,): 30.0}
FIELD = {(68, 500e6): -63.20, (68, 600e6): -64.78, (68, 650e6): -65.47, (68, 700e6): -66.12}


@pytest.mark.source("definition of dBm; computed", kind="published")
def test_milliwatts_as_dbm() -> None:
    assert missed(DBM, dbm_of_mw, PRINTED_2) == []
    assert goes_red(DBM, dbm_of_mw, PRINTED_2)


@pytest.mark.source(
    "e.i.r.p. = e.r.p. x 1.64 = e.r.p. + 2.15 dB (Terman, as quoted on a public page)", kind="published"
)
def test_effective_radiated_power_in_both_ways_of_counting() -> None:
    assert eirp_of_erp_mw(50.0) == pytest.approx(82.0, abs=0.01)
    assert eirp_of_erp_mw(10.0) == pytest.approx(16.4, abs=0.01)
    assert in_unit_dbm(dbm_of_mw(50.0), "e.r.p.", "e.i.r.p.") == pytest.approx(19.14, abs=PRINTED_2)
    # a ratio of 1.64 is 2.148 dB, printed as 2.15
    assert dbm_of_mw(eirp_of_erp_mw(50.0)) == pytest.approx(in_unit_dbm(16.98970, "e.r.p.", "e.i.r.p."), abs=0.003)


@pytest.mark.source("68 dBuV/m for radio microphones (CEPT 1997, quoted in Adv. Radio Sci. 6, 2008)", kind="published")
def test_field_strength_as_power_of_an_antenna_of_no_gain() -> None:
    assert missed(FIELD, dbm_of_field, PRINTED_2) == []
    assert goes_red(FIELD, dbm_of_field, PRINTED_2)


def test_field_strength_follows_from_the_wave() -> None:
    # E²/(120π) times λ²/(4π), E = 1 V/m at 600 MHz
    watts = 1.0 / (120 * math.pi) * wavelength_m(600e6) ** 2 / (4 * math.pi)
    # 120π Ω stands for 376.73 Ω: 0.0005 dB
    assert dbm_of_field(120.0, 600e6) == pytest.approx(10 * math.log10(watts * 1e3), abs=0.005)


def test_conducted_power_goes_through_the_antenna() -> None:
    assert in_unit_dbm(17.0, "conducted", "e.i.r.p.", gain_dbi=-3.0) == pytest.approx(14.0)
    assert in_unit_dbm(17.0, "e.r.p.", "conducted", gain_dbi=2.15) == pytest.approx(17.0)


@settings(max_examples=50, deadline=None)
@given(st.floats(-120, 60), st.sampled_from(["e.r.p.", "e.i.r.p.", "conducted"]), st.floats(-10, 10))
def test_units_go_round(power_dbm: float, unit: str, gain: float) -> None:
    there = in_unit_dbm(power_dbm, unit, "e.i.r.p.", gain)  # type: ignore[arg-type]
    assert in_unit_dbm(there, "e.i.r.p.", unit, gain) == pytest.approx(power_dbm, abs=1e-9)  # type: ignore[arg-type]
    assert dbm_of_mw(mw_of_dbm(power_dbm)) == pytest.approx(power_dbm, abs=1e-9)


def test_numbers_give_numbers_and_arrays_arrays() -> None:
    assert isinstance(dbm_of_mw(50), float)
    assert isinstance(dbm_of_mw(power_mw=np.float64(50)), float)
    many = dbm_of_mw(np.array([1.0, 10.0]))
    assert isinstance(many, np.ndarray)
    assert many.tolist() == pytest.approx([0.0, 10.0])
    assert dbm_of_field(np.zeros((2, 1)), np.full(3, 600e6)).shape == (2, 3)


@pytest.mark.parametrize("bad", [0.0, -1.0, math.nan, math.inf])
def test_what_is_no_power_is_refused(bad: float) -> None:
    with pytest.raises(InputError, match="a power is"):
        dbm_of_mw(bad)
    with pytest.raises(InputError, match="a frequency is"):
        wavelength_m(np.array([600e6, bad]))
    with pytest.raises(InputError, match=r"write e\.r\.p\."):
        in_unit_dbm(10.0, "mW", "e.r.p.")  # type: ignore[arg-type]
    with pytest.raises(InputError, match="no number"):
        in_unit_dbm(math.nan, "e.r.p.", "e.i.r.p.")
