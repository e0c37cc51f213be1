"""Exposure screening: the lines, and the words."""

from __future__ import annotations

import math
import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from vectors import goes_red, missed

from rollsound.errors import InputError
from rollsound.facts import table
from rollsound.radio.exposure import absorbed_mw, exempt_distance_m, exempt_mw, notes, older_mw, screen

CENTIMETRES = (0.5, 1.0, 1.5, 2.0, 2.5, 5)
EXEMPT = {
    0.47: (20.71, 42.57, 64.90, 87.52, 110.37, 226.9, 958.8),
    0.50: (18.99, 40.14, 62.19, 84.85, 107.97, 228.3, 1020),
    0.60: (14.70, 33.75, 54.87, 77.46, 101.21, 232.3, 1224),
    0.65: (13.14, 31.27, 51.93, 74.42, 98.38, 234.1, 1326),
    0.95: (7.72, 21.79, 40.01, 61.56, 85.99, 242.9, 1938),
    2.48: (2.72, 10.17, 22.03, 38.10, 58.28, 218.2, 3060),
}
ROWS = {(f, d): mw for f, row in EXEMPT.items() for d, mw in zip((*CENTIMETRES, 20), row, strict=True)}


def exempt(ghz: float, cm: float) -> float:
    return exempt_mw(ghz * 1e9, cm / 100)


def printed(value: float) -> float:
    """Two decimals below 200 mW, then one, then whole numbers."""
    return 0.0051 if value < 200 else 0.051 if value < 1000 else 0.51


@pytest.mark.source("47 CFR 1.1307(b)(3)(i)(B); computed", kind="published")
def test_exempt_by_distance() -> None:
    assert missed(ROWS, exempt, printed) == []
    assert goes_red(ROWS, exempt, printed)


@pytest.mark.source("device.report: 2.48 GHz, 0.5 cm, 2.72 mW", kind="published")
def test_exempt_as_a_report_has_it() -> None:
    assert exempt(2.48, 0.5) == pytest.approx(2.72, abs=0.0051)


@pytest.mark.source("47 CFR 1.1307(b)(3)(i)(B) turned round at 0.6 GHz; computed", kind="published")
def test_distance_at_which_a_power_is_exempt() -> None:
    rows = {(10,): 0.36, (20,): 0.65, (50,): 1.39, (100,): 2.47, (250,): 5.32}

    def centimetres(mw: float) -> float:
        return exempt_distance_m(mw, 600e6) * 100

    assert missed(rows, centimetres, 0.0051) == []
    assert goes_red(rows, centimetres, 0.0051)
    assert math.isnan(exempt_distance_m(5000, 600e6))


@pytest.mark.source("KDB 447498 (fcc.report): P/d sqrt f <= 3.0 or 7.5; at 5 mm and 0.6 GHz 19.4 mW", kind="published")
def test_the_older_test() -> None:
    assert older_mw(600e6, 0.005) == pytest.approx(19.4, abs=0.051)
    assert older_mw(600e6, 0.005, grams=10) == pytest.approx(19.36 * 2.5, abs=0.1)


@pytest.mark.source(
    "ICNIRP 1998: 2, 4, 10, 20 W/kg in 10 g; EU 2.0, USA 1.6 W/kg in 1 g (public tables)", kind="published"
)
def test_power_times_mass() -> None:
    rows = {(2, 10): 20.0, (4, 10): 40.0, (10, 10): 100.0, (1.6, 1): 1.6}
    assert missed(rows, absorbed_mw, 1e-9) == []
    assert goes_red(rows, absorbed_mw, 1e-9)
    limits = table("radio_exposure")["absorbed"]
    keys = ("head_public_w_kg", "limbs_public_w_kg", "head_worker_w_kg", "limbs_worker_w_kg")
    assert [limits[key] for key in keys] == [2, 4, 10, 20]
    assert (limits["body_public_w_kg"], limits["body_worker_w_kg"], limits["head_usa_w_kg"]) == (0.08, 0.4, 1.6)


@pytest.mark.source("EN 50371 scope: 20 mW; 47 CFR 1.1307(b)(3)(i)(A): 1 mW", kind="published")
def test_the_lines() -> None:
    at_contact = screen(20, 600e6, 0.005)
    europe, usa = at_contact.lines
    assert (europe.limit_mw, europe.below) == (20, True)
    assert (usa.limit_mw, usa.below) == (pytest.approx(14.70, abs=0.0051), False)
    # 10 mW is under both at contact, 50 mW and more above both
    assert screen(10, 600e6, 0.005).above == ()
    for power in (50, 100, 250):
        assert len(screen(power, 600e6, 0.005).above) == 2
    vhf = screen(10, 180e6, 0.005)
    assert [line.limit_mw for line in vhf.lines] == [20, 1]
    assert screen(0.5, 180e6, 0.005).above == ()


@settings(max_examples=60, deadline=None)
@given(st.floats(0.01, 5000), st.floats(50e6, 7e9), st.floats(0, 1))
def test_no_screening_calls_a_person_safe_or_harmed(power: float, freq: float, distance: float) -> None:
    screening = screen(power, freq, distance)
    words = f"{screening.sentence} {screening.advice} {' '.join(notes())}".lower()
    assert not re.search(r"\b(un)?safe(ly|ty)?\b|dangerous|harmless|no risk", words)
    assert "instructions" in screening.sentence
    assert "clinician" in screening.advice
    # one line or two, and told on which side
    assert ("must have tested" in screening.sentence) == bool(screening.above)


@settings(max_examples=60, deadline=None)
@given(st.floats(0.3e9, 6e9), st.floats(0, 0.4))
def test_farther_is_exempt_with_more(freq: float, distance: float) -> None:
    assert exempt_mw(freq, distance) <= exempt_mw(freq, distance + 0.01) + 1e-9


@pytest.mark.source("47 CFR 1.1307(b)(3)(i)(B): 0.5 to 40 cm, 2040 f below 1.5 GHz, 3060 mW above", kind="published")
def test_where_the_rule_begins_and_ends() -> None:
    assert exempt(0.6, 20) == exempt(0.6, 40) == pytest.approx(2040 * 0.6)
    assert exempt(1.5, 20) == exempt(1.7, 20) == exempt(5.9, 20) == 3060
    assert exempt(0.6, 0.1) == exempt(0.6, 0.5)
    row = table("radio_exposure")["by_distance"]
    assert (row["near_cm"], row["middle_cm"], row["far_cm"]) == (0.5, 20, 40)


def test_outside_of_the_rule_there_is_no_figure() -> None:
    assert math.isnan(exempt_mw(200e6, 0.01))
    assert math.isnan(exempt_mw(6.1e9, 0.01))
    for bad in (0.0, -1.0, math.nan):
        with pytest.raises(InputError, match="a power is"):
            screen(bad, 600e6, 0.005)


def test_a_figure_with_all_digits_is_told_shortly() -> None:
    assert "14.7 mW" in screen(50, 600e6, 0.005, name="Ane's pack").sentence
    assert screen(50, 600e6, 0.005, name="Ane's pack").sentence.startswith("Ane's pack: 50 mW at 600 MHz, 5 mm")
