"""Conductors, drop, fuses, short circuit and inrush, against the vectors."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rollsound.errors import InputError
from rollsound.power import conductors, drop, fuses
from rollsound.power.model import Wire

FORMULA = {10: 3.277, 12: 5.211, 14: 8.285, 16: 13.174, 18: 20.948, 20: 33.308, 22: 52.962, 24: 84.213}
PUBLISHED = {10: 3.277, 12: 5.210, 14: 8.284, 16: 13.176, 18: 20.948, 20: 33.301, 22: 52.953, 24: 84.219}


@pytest.mark.source("wire gauge table of a physics reference, matching ASTM B258; formula computed", kind="published")
def test_gauges() -> None:
    for number, ohm in FORMULA.items():
        assert conductors.gauge_ohm_km(number) == pytest.approx(ohm, abs=6e-4)
        assert conductors.of_gauge(number).ohm_km == pytest.approx(PUBLISHED[number], abs=6e-4)
    assert conductors.gauge_diameter_mm(10) == pytest.approx(2.588, abs=5e-4)
    assert conductors.gauge_mm2(18) == pytest.approx(0.823, abs=5e-4)
    assert conductors.of_gauge(5).ohm_km == conductors.gauge_ohm_km(5)


@pytest.mark.source("IEC 60228 correction table: 5, 25, 40, 60, 70 °C", kind="published")
def test_resistance_by_temperature() -> None:
    for degrees, factor in ((5, 1.064), (25, 0.980), (40, 0.926), (60, 0.862), (70, 0.833)):
        assert 1 / conductors.at_temperature(1, degrees) == pytest.approx(factor, abs=6e-4)


@pytest.mark.source("IEC 60228 class 5, 12.8 V, 8 A, 5 m; D-1 computed", kind="published")
def test_drop_by_section() -> None:
    rows = {0.75: (2.080, 16.25), 1.0: (1.560, 12.19), 1.5: (1.064, 8.31), 2.5: (0.638, 4.99), 4: (0.396, 3.09)}
    rows |= {6: (0.264, 2.06), 10: (0.153, 1.19)}
    for size, (volts, percent) in rows.items():
        lost = drop.drop_v(5, 8, conductors.of_section(size).ohm_km)
        assert lost == pytest.approx(volts, abs=6e-4)
        assert 100 * lost / 12.8 == pytest.approx(percent, abs=0.006)


@pytest.mark.source("dV = 2·L·I·R' turned round, IEC 60228; D-2 computed", kind="published")
def test_section_for_a_drop() -> None:
    assert drop.most_ohm_km(5, 8, 0.03 * 12.8) == pytest.approx(4.80)
    chosen = drop.smallest_for_drop(5, 8, 0.03 * 12.8)
    assert chosen is not None
    assert chosen.mm2 == 6
    assert drop.smallest_for_drop(500, 80, 0.1) is None


@pytest.mark.source("ASTM B258 gauge 14, 10 A, 3 m; D-3 computed", kind="published")
def test_drop_in_a_gauge() -> None:
    assert drop.drop_v(3, 10, conductors.of_gauge(14).ohm_km) == pytest.approx(0.497, abs=5e-4)


@pytest.mark.source("IEC 60228 correction to 60 °C; D-4 computed", kind="published")
def test_drop_in_a_warm_wire() -> None:
    warm = conductors.at_temperature(conductors.of_section(2.5).ohm_km, 60)
    assert drop.drop_v(5, 8, warm) == pytest.approx(0.7405, abs=6e-5)


@pytest.mark.source("constant power at the far end, V = (V0 + sqrt(V0² - 4RP))/2; D-5 computed", kind="published")
def test_constant_power_at_the_far_end() -> None:
    loop = conductors.of_section(4).ohm_km / 1000 * 10
    assert loop == pytest.approx(0.0495)
    end = drop.far_end(12.8, loop, 100 / 0.92)
    assert end.voltage_v == pytest.approx(12.365, abs=5e-4)
    assert end.current_a == pytest.approx(8.791, abs=5e-4)
    assert end.most_w == pytest.approx(827.5, abs=0.05)
    assert not end.collapses
    assert drop.far_end(12.8, loop, 828).collapses
    assert drop.least_source_v(end.voltage_v, loop, 100 / 0.92) == pytest.approx(12.8)


@pytest.mark.source("published chart: 12 V, 10 A, 21 ft round trip, 10 %: 16 AWG (D-6)", kind="published")
def test_a_chart_of_gauges_holds() -> None:
    length_m = 21 / 2 * conductors.FEET_M
    lost = {n: drop.drop_v(length_m, 10, conductors.of_gauge(n).ohm_km) for n in (16, 18)}
    assert lost[16] == pytest.approx(0.843, abs=6e-4)
    assert lost[18] == pytest.approx(1.341, abs=6e-4)
    assert lost[16] < 1.2 < lost[18]


@pytest.mark.source("marinehowto.com: 14.4 V less 3 % is 13.97 V (D-7)", kind="published")
def test_three_percent_of_a_charging_voltage() -> None:
    most = drop.most_ohm_km(3, 10, 0.03 * 14.4)
    assert 14.4 - drop.drop_v(3, 10, most) == pytest.approx(13.968, abs=5e-4)


@pytest.mark.source("page on wire sizes: 12 V, 0.36 V lost is 3 % (D-8)", kind="published")
def test_three_percent_of_twelve_volts() -> None:
    most = drop.most_ohm_km(4, 5, 0.36)
    assert drop.drop_v(4, 5, most) / 12 == pytest.approx(0.03)


@pytest.mark.source(
    "forum on mains leads: 13 A, 50 m of 1.5 mm², about 19 V; 29 mV/A/m at 70 °C (D-9)", kind="published"
)
def test_a_long_mains_lead() -> None:
    assert pytest.approx(18.85) == 29e-3 * 13 * 50
    assert drop.drop_v(50, 13, 29 / 2) == pytest.approx(18.85)
    assert drop.drop_v(50, 13, 29 / 2) / 230 == pytest.approx(0.082, abs=5e-4)
    assert drop.drop_v(50, 13, conductors.of_section(1.5).ohm_km) == pytest.approx(17.29, abs=5e-3)


@pytest.mark.source(
    "fuse at least 1.25 times a continuous load (two pages, NEC practice); D-10 computed", kind="published"
)
def test_least_fuse() -> None:
    assert fuses.least_a(12) == pytest.approx(15)
    assert fuses.choose(12, 20).fuse_a == 15


@pytest.mark.source("fuse rule at the battery's lowest voltage, UK flex table; D-11 computed", kind="published")
def test_fuse_at_the_lowest_voltage() -> None:
    worst = 100 / 0.92 / 11.0
    assert worst == pytest.approx(9.881, abs=5e-4)
    choice = fuses.choose(worst, conductors.of_section(1.5).carries_a)
    assert choice.least_a == pytest.approx(12.35, abs=5e-3)
    assert choice.fuse_a == 15
    assert fuses.choose(worst, conductors.of_section(1.0).carries_a).fuse_a is None
    assert "thicker" in fuses.choose(worst, 10).sentence
    assert fuses.choose(60, None).fuse_a is None


@pytest.mark.source("drop, not heat, sets the size; D-12 computed", kind="published")
def test_drop_sets_the_size() -> None:
    worst = 100 / 0.92 / 11.0
    lost = {mm2: drop.drop_v(5, worst, conductors.of_section(mm2).ohm_km) for mm2 in (1.5, 4)}
    assert lost[1.5] == pytest.approx(1.314, abs=5e-4)
    assert lost[4] == pytest.approx(0.489, abs=5e-4)
    assert lost[1.5] / 11 == pytest.approx(0.119, abs=6e-4)
    assert lost[4] / 11 == pytest.approx(0.044, abs=5e-4)


@pytest.mark.source("Ohm's law; D-13 computed", kind="published")
def test_short_circuit() -> None:
    assert drop.short_circuit_a(12.8, 0.006) == pytest.approx(2133, abs=0.5)


@pytest.mark.source("RC charging; D-14 computed", kind="published")
def test_inrush() -> None:
    rush = drop.inrush(12.8, 4700e-6, 0.05)
    assert rush.peak_a == pytest.approx(256)
    assert rush.energy_j == pytest.approx(0.385, abs=5e-4)
    assert rush.time_constant_s == pytest.approx(235e-6)
    assert rush.i2t_a2s == pytest.approx(7.70, abs=5e-3)


@given(st.floats(6, 30), st.floats(0.001, 0.5), st.floats(0, 300))
@settings(max_examples=50)
def test_far_end_keeps_its_books(source_v: float, loop: float, load: float) -> None:
    end = drop.far_end(source_v, loop, load)
    assert end.collapses == (load > end.most_w * (1 + 1e-12)) or math.isclose(load, end.most_w)
    if not end.collapses:
        assert end.voltage_v * end.current_a == pytest.approx(load)
        assert source_v - end.current_a * loop == pytest.approx(end.voltage_v)


@given(st.floats(0.5, 30), st.floats(1, 120))
@settings(max_examples=50)
def test_a_chosen_section_is_the_smallest_that_serves(length: float, load: float) -> None:
    chosen = drop.smallest_section(length, load, 12.0, 11.0)
    for size in conductors.sections():
        if "flexible" not in conductors.sections()[size]:
            continue
        end = drop.far_end(12.0, conductors.of_section(size).ohm_km / 1000 * 2 * length, load)
        serves = not end.collapses and end.voltage_v >= 11.0
        if chosen is None or size < chosen.mm2:
            assert not serves
        elif size == chosen.mm2:
            assert serves


def test_a_wire_of_the_plan() -> None:
    wire = Wire.model_validate({"length": "5 m", "section": "2.5 mm²"})
    assert conductors.loop_ohm(wire, 60) * 8 == pytest.approx(0.7405, abs=6e-5)
    assert conductors.of_wire(Wire.model_validate({"length": "5 m", "awg": 14})).name == "14 AWG"
    assert conductors.of_wire(wire.model_copy(update={"carries_a": 31.0})).carries_a == 31
    with pytest.raises(InputError, match="without a size"):
        conductors.of_wire(Wire.model_validate({"length": "5 m"}))
    with pytest.raises(InputError, match="no standard section"):
        conductors.of_section(3.3)
    assert conductors.notes()
