"""Energy, runtime, converter current, age and Peukert, against the vectors."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rollsound.errors import InputError
from rollsound.power.energy import c_rate, energy_wh, health_after, input_current_a, needed_wh, runtime_h
from rollsound.power.peukert import (
    both_forms,
    capacity_at_ah,
    exponent_of,
    follows,
    hours_from_one_ampere,
    hours_from_rated,
    one_ampere_capacity,
)

shares = st.floats(0.1, 1.0)


@pytest.mark.source("nominal voltage times ampere-hours, as battery labels have it; B-1 computed", kind="published")
def test_energy_on_the_label() -> None:
    assert energy_wh(12.8, 150) == pytest.approx(1920)
    packs = {(7.2, 6.6): 47.52, (14.4, 6.8): 97.92, (14.8, 6.7): 99.16, (14.4, 10.4): 149.76, (14.4, 13.2): 190.08}
    for (volts, hours), wh in packs.items():
        assert energy_wh(volts, hours) == pytest.approx(wh, abs=0.005)


@pytest.mark.source("energy balance E·DoD·SoH·kT·eta/P; B-2 computed", kind="published")
def test_runtime_at_constant_power() -> None:
    assert runtime_h(1920, 85, depth=0.9, efficiency=0.92) == pytest.approx(18.703, abs=0.0005)
    assert runtime_h(1920, 86, depth=0.9, efficiency=0.92) != pytest.approx(18.703, abs=0.0005)


@pytest.mark.source("energy balance turned round; B-3 and B-4 computed", kind="published")
def test_energy_that_a_day_needs() -> None:
    cold = needed_wh(85, 12, efficiency=0.92, depth=0.9, health=0.9, cold=0.70)
    warm = needed_wh(85, 12, efficiency=0.92, depth=0.9)
    assert cold == pytest.approx(1955.4, abs=0.05)
    assert warm == pytest.approx(1231.9, abs=0.05)
    assert warm < 1920 < cold


@pytest.mark.source("P = V·I behind a converter; B-5 computed", kind="published")
def test_current_rises_as_a_battery_falls() -> None:
    volts = (14.4, 13.2, 12.8, 12.0, 11.0, 10.0)
    amperes = (7.548, 8.235, 8.492, 9.058, 9.881, 10.870)
    for v, a in zip(volts, amperes, strict=True):
        assert input_current_a(100, v, 0.92) == pytest.approx(a, abs=0.0005)
    assert c_rate(85 / 12.8, 150) == pytest.approx(0.044, abs=0.0005)


@pytest.mark.source("electrotechnik.net 2010/01, Peukert at 1 A: 100, k 1.2, 5 A: 14.5 h (B-6)", kind="published")
def test_peukert_of_one_ampere() -> None:
    assert hours_from_one_ampere(100, 1.2, 5) == pytest.approx(14.50, abs=0.005)


@pytest.mark.source("Peukert's law, rated-hours form (utilitiesbunker.com formula); B-7 computed", kind="published")
def test_peukert_of_rated_hours() -> None:
    rows = {
        2.5: (45.948, 114.87),
        5: (20.000, 100),
        10: (8.7055, 87.06),
        20: (3.7893, 75.79),
        50: (1.2619, 63.10),
    }
    for current, (hours, capacity) in rows.items():
        assert hours_from_rated(100, 20, 1.2, current) == pytest.approx(hours, rel=2e-5)
        assert capacity_at_ah(100, 20, 1.2, current) == pytest.approx(capacity, abs=0.006)
        if current != 5:  # at the rated current every exponent gives the rated hours
            assert hours_from_rated(100, 20, 1.21, current) != pytest.approx(hours, rel=2e-5)


@pytest.mark.source("electrotechnik.net 2010/01: 5 A for 20 h, 10 A about 7.5 h (B-8)", kind="published")
def test_exponent_of_two_discharges() -> None:
    assert exponent_of(5, 20, 10, 7.5) == pytest.approx(1.4150, abs=5e-5)


@pytest.mark.source("paradigmshiftnow.net: 100 Ah at 20 h, 60 Ah at 20 A (B-9)", kind="published")
def test_exponent_of_a_capacity_at_a_current() -> None:
    assert exponent_of(5, 20, 20, 60 / 20) == pytest.approx(1.3685, abs=5e-5)


@pytest.mark.source("Peukert's law, rated-hours form, AGM 7 Ah, k 1.15; B-10 computed", kind="published")
def test_peukert_of_a_small_battery() -> None:
    for current, hours, within in ((0.35, 20.00, 0.005), (1, 5.980, 5e-4), (2, 2.695, 5e-4), (3.5, 1.416, 5e-4)):
        assert hours_from_rated(7, 20, 1.15, current) == pytest.approx(hours, abs=within)


@pytest.mark.source("simple straight line to 80 %; B-11 computed", kind="memory")
def test_age_in_a_straight_line() -> None:
    assert health_after(500, 2000) == pytest.approx(0.95)
    assert health_after(0, 500) == 1
    assert health_after(100_000, 500) == 0


@pytest.mark.source("both forms of Peukert's law with the same numbers; B-12 computed", kind="published")
def test_the_two_forms_are_not_taken_for_each_other() -> None:
    forms = both_forms(100, 20, 1.2, 5)
    assert forms.rated_h == pytest.approx(20.00, abs=0.005)
    assert forms.one_ampere_h == pytest.approx(14.50, abs=0.005)
    assert "20.0 h" in forms.sentence
    assert "14.5 h" in forms.sentence


@pytest.mark.source("a page's AGM table, 'k = 1.1': 89, 79, 65, 58 Ah at C/10 to 1C, does not follow", kind="published")
def test_a_printed_table_that_does_not_follow_its_exponent() -> None:
    currents = (10.0, 20.0, 50.0, 100.0)
    assert not follows(100, 20, 1.1, currents, (89, 79, 65, 58))
    assert follows(100, 20, 1.1, currents, (93.30, 87.06, 79.43, 74.11), within_ah=0.006)
    assert exponent_of(5, 20, 100, 58 / 100) == pytest.approx(1.18, abs=0.01)


@given(st.floats(1, 500), st.floats(0.5, 100), st.floats(1, 1.5), st.floats(0.05, 50))
@settings(max_examples=50)
def test_both_forms_agree_once_the_capacity_is_turned(capacity: float, rated: float, k: float, amps: float) -> None:
    turned = one_ampere_capacity(capacity, rated, k)
    assert hours_from_one_ampere(turned, k, amps) == pytest.approx(hours_from_rated(capacity, rated, k, amps))


@given(st.floats(1, 5000), st.floats(0.1, 500), shares, shares, shares, shares)
@settings(max_examples=50)
def test_needed_energy_is_runtime_turned_round(
    wh: float, load: float, depth: float, health: float, cold: float, eta: float
) -> None:
    hours = runtime_h(wh, load, depth=depth, health=health, cold=cold, efficiency=eta)
    assert needed_wh(load, hours, depth=depth, health=health, cold=cold, efficiency=eta) == pytest.approx(wh)


def test_nonsense_is_refused_in_a_sentence() -> None:
    assert runtime_h(100, 0) == math.inf
    for wrong in (lambda: runtime_h(100, -1), lambda: runtime_h(100, 10, depth=0), lambda: input_current_a(1, 0)):
        with pytest.raises(InputError, match="write"):
            wrong()
    with pytest.raises(InputError, match="same current"):
        exponent_of(5, 20, 5, 19)
    with pytest.raises(InputError, match="above 0"):
        hours_from_rated(0, 20, 1.2, 5)
