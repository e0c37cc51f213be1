"""What reaches an ear and what a day of it comes to, against published tables and computed figures."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rollsound.errors import InputError
from rollsound.rig.hearing import (
    at_ear_db,
    by_power_db,
    day,
    day_dba,
    dose_percent,
    drive_dbu,
    frames,
    inside,
    into_load_db,
    may_last_h,
    mean_dba,
    milliwatts,
    pascals,
    weekly_hours,
    weekly_percent,
)
from rollsound.rig.paths import SOUND_M_S
from rollsound.rig.volts import dbu_of_volts, spl_of_pascals, volts_of_dbu

A_DAY = ((6.0, 82.0), (1.5, 88.0), (0.5, 94.0))


def _hours(text: str) -> float:
    parts = [float(each) for each in text.split(":")]
    return sum(each / 60**at for at, each in enumerate(parts))


@pytest.mark.source("NIOSH 98-126, formula of dose and TWA; equal energy", kind="published")
def test_a_day_by_niosh() -> None:
    dose = dose_percent(A_DAY)
    assert dose == pytest.approx(125.0, abs=0.05)
    assert mean_dba(dose) == pytest.approx(85.97, abs=0.005)
    assert day_dba(A_DAY) == pytest.approx(85.96, abs=0.006)


@pytest.mark.source("29 CFR 1910.95, appendix A", kind="published")
def test_the_same_day_by_osha() -> None:
    assert [may_last_h(level, "osha") for _, level in A_DAY] == pytest.approx([24.25, 10.556, 4.595], abs=0.003)
    dose = dose_percent(A_DAY, "osha")
    assert dose == pytest.approx(49.83, abs=0.01)
    assert mean_dba(dose, "osha") == pytest.approx(84.98, abs=0.006)


@pytest.mark.source("NIOSH 98-126, formula of dose and TWA", kind="published")
def test_a_long_day_of_shooting() -> None:
    dose = dose_percent(((10, 83), (2, 90)))
    assert dose == pytest.approx(158.1, abs=0.05)
    assert mean_dba(dose) == pytest.approx(86.99, abs=0.005)


@pytest.mark.source("an exercise that is published with 29 CFR 1910.95", kind="published")
def test_a_published_day_by_osha() -> None:
    dose = dose_percent(((4, 90), (2, 95), (2, 85)), "osha")
    assert dose == pytest.approx(112.5)
    assert mean_dba(dose, "osha") == pytest.approx(90.85, abs=0.005)


@pytest.mark.source("29 CFR 1910.95: 6.1 h as its table rounds, 6.063 h by its formula", kind="published")
def test_the_rounded_table_and_the_formula_differ() -> None:
    assert dose_percent(((8, 92),), "osha") == pytest.approx(131.95, abs=0.005)
    assert 100 * 8 / round(may_last_h(92, "osha"), 1) == pytest.approx(131.1, abs=0.05)


@pytest.mark.source("NIOSH 98-126 and 29 CFR 1910.95: 15 min and 120 min at 100 dBA", kind="published")
def test_how_long_a_loud_level_may_last() -> None:
    assert may_last_h(100, "niosh") * 60 == pytest.approx(15.0)
    assert may_last_h(100, "osha") * 60 == pytest.approx(120.0)


@pytest.mark.source("NIOSH 98-126, table of durations", kind="published")
@pytest.mark.parametrize(
    ("level", "told"),
    [
        (80, "25:24"), (82, "16:00"), (85, "8:00"), (88, "4:00"), (91, "2:00"), (94, "1:00"), (95, "0:47:37"),
        (97, "0:30"), (98, "0:23:49"), (100, "0:15"), (103, "0:07:30"), (106, "0:03:45"), (110, "0:01:29"),
    ],
)  # fmt: skip
def test_the_published_durations(level: float, told: str) -> None:
    assert may_last_h(level) == pytest.approx(_hours(told), rel=0.005)


@pytest.mark.source("29 CFR 1910.95, table G-16a, rounded as printed", kind="published")
@pytest.mark.parametrize(
    ("level", "hours"),
    [(80, 32), (85, 16), (88, 10.6), (90, 8), (92, 6.1), (95, 4), (97, 3.0), (100, 2), (105, 1), (110, 0.5)],
)
def test_the_published_hours(level: float, hours: float) -> None:
    assert round(may_last_h(level, "osha"), 1) == pytest.approx(hours)


@pytest.mark.source(
    "29 CFR 1910.95, table G-16a: 15 min at 115 dBA; copies print 21.1 and 21.2 h at 83", kind="published"
)
def test_the_published_hours_where_a_decimal_does_not_tell_them() -> None:
    assert may_last_h(115, "osha") == pytest.approx(0.25)
    assert may_last_h(83, "osha") == pytest.approx(21.11, abs=0.005)


@pytest.mark.source("Directive 2003/10/EC, article 3: 112, 140 and 200 Pa; computed", kind="published")
@pytest.mark.parametrize(("pressure", "level"), [(112, 134.96), (140, 136.90), (200, 140.00)])
def test_peak_pressures(pressure: float, level: float) -> None:
    assert spl_of_pascals(pressure) == pytest.approx(level, abs=0.005)
    assert pascals(level) == pytest.approx(pressure, rel=1e-3)


@pytest.mark.source("SCENIHR 2008, table 3: what equals 85 dBA over 8 h; computed", kind="published")
@pytest.mark.parametrize(
    ("level", "minutes", "over_a_day"),
    [
        (88, 240, 84.99),
        (91, 120, 84.98),
        (94, 60, 84.97),
        (97, 30, 84.96),
        (100, 15, 84.95),
        (105, 5, 85.18),
        (111, 1, 84.19),
    ],
)
def test_what_equals_the_upper_action_value(level: float, minutes: float, over_a_day: float) -> None:
    assert day_dba(((minutes / 60, level),)) == pytest.approx(over_a_day, abs=0.006)


@pytest.mark.source("ITU-T H.870: 1.6 Pa²h in seven days; computed", kind="published")
@pytest.mark.parametrize(
    ("level", "hours"), [(80, 40.0), (85, 12.65), (89, 5.036), (95, 1.265), (100, 0.400), (110, 0.040)]
)
def test_a_week_s_allowance(level: float, hours: float) -> None:
    assert weekly_hours(level) == pytest.approx(hours, rel=5e-4)
    assert weekly_hours(75, "mode-2") == pytest.approx(40.0, rel=1e-3)


@pytest.mark.source("ITU-T H.870, mode 1; computed", kind="published")
def test_a_day_out_of_a_week_s_allowance() -> None:
    assert weekly_percent(((8, 85),)) == pytest.approx(63.2, abs=0.05)


@pytest.mark.source(
    "a data sheet: 102 dB at 1 mW; computed. A page's 113 dB for 50 mW at 100 dB is wrong", kind="published"
)
def test_sound_level_by_power() -> None:
    levels = [by_power_db(102, power) for power in (2, 4, 10, 20)]
    assert levels == pytest.approx([105, 108, 112, 115], abs=0.05)
    assert by_power_db(100, 50) == pytest.approx(116.99, abs=0.005)


@pytest.mark.source("P = U²/Z, SPL = S + 10 lg P; computed", kind="published")
@pytest.mark.parametrize(
    ("sensitivity", "ohm", "volts", "mw", "level"),
    [
        (100, 32, 0.1, 0.3125, 94.95),
        (100, 32, 1.0, 31.25, 114.95),
        (110, 16, 0.1, 0.625, 107.96),
        (110, 16, 0.5, 15.625, 121.94),
        (98, 250, 1.0, 4.0, 104.02),
    ],
)
def test_sound_level_by_voltage(sensitivity: float, ohm: float, volts: float, mw: float, level: float) -> None:
    assert milliwatts(volts, ohm) == pytest.approx(mw)
    assert at_ear_db(dbu_of_volts(volts), sensitivity, ohm) == pytest.approx(level, abs=0.005)
    assert by_power_db(sensitivity, mw) == pytest.approx(level, abs=0.005)


@pytest.mark.source("U for 85 dB; computed", kind="published")
@pytest.mark.parametrize(("sensitivity", "ohm", "mv", "dbu"), [(100, 32, 31.8, -27.73), (110, 16, 7.11, -40.74)])
def test_the_voltage_of_a_level(sensitivity: float, ohm: float, mv: float, dbu: float) -> None:
    assert drive_dbu(85, sensitivity, ohm) == pytest.approx(dbu, abs=0.006)
    assert volts_of_dbu(drive_dbu(85, sensitivity, ohm)) * 1000 == pytest.approx(mv, rel=2e-3)


@pytest.mark.source("20 lg of Z/(Z + 10 ohm); computed", kind="published")
def test_an_amplifier_s_own_resistance() -> None:
    assert into_load_db(10, 16) == pytest.approx(-4.22, abs=0.005)
    assert into_load_db(10, 32) == pytest.approx(-2.36, abs=0.005)


@pytest.mark.source("ITU-R BT.1359-1; computed", kind="published")
@pytest.mark.parametrize(("ms", "at_24"), [(45, 1.08), (125, 3.00), (90, 2.16), (185, 4.44)])
def test_offsets_in_frames(ms: float, at_24: float) -> None:
    assert frames(ms / 1e3, 24) == pytest.approx(at_24, abs=0.005)


@pytest.mark.source("EBU R37, figures in a specialist's table; computed", kind="published")
def test_offsets_in_frames_of_television() -> None:
    assert (frames(0.040, 25), frames(0.060, 25)) == pytest.approx((1.0, 1.5))


@pytest.mark.source("ITU-R BT.1359-1; three frames at 24 a second are 125 ms", kind="published")
def test_a_late_picture_makes_sound_early() -> None:
    early_s = 3 / 24
    assert early_s * 1e3 == pytest.approx(125.0)
    assert not inside(early_s, "detectable")
    assert not inside(early_s, "acceptable")
    assert inside(early_s - 0.125, "detectable")  # once the sound is delayed by as much


@pytest.mark.source("343.4 m/s at 20 °C; ITU-R BT.1359-1 and EBU R37", kind="published")
def test_a_camera_s_own_microphone_far_from_the_scene() -> None:
    late_s = 10.0 / SOUND_M_S
    assert late_s * 1e3 == pytest.approx(29.1, abs=0.05)
    assert inside(-late_s, "detectable")
    assert inside(-late_s, "transmission")
    assert not inside(-late_s, "stage")


def test_a_day_passes_the_action_values_in_turn() -> None:
    assert [day(((8.0, level),)).action for level in (79.9, 80.0, 85.0, 87.0)] == ["", "lower", "upper", "limit"]
    assert day(()).day_dba == -math.inf
    assert mean_dba(0.0) == -math.inf
    with pytest.raises(InputError, match="less than none"):
        day(((-1.0, 80.0),))
    with pytest.raises(InputError, match="no rule on noise"):
        may_last_h(80, "nobody")


@settings(max_examples=40, deadline=None)
@given(
    st.lists(st.tuples(st.floats(0.05, 12), st.floats(60, 110)), min_size=1, max_size=5),
    st.floats(0.1, 20),
)
def test_louder_or_longer_is_never_less(hours: list[tuple[float, float]], more: float) -> None:
    louder = [(each, level + more) for each, level in hours]
    for rule in ("niosh", "osha", "eu"):
        assert dose_percent(louder, rule) > dose_percent(hours, rule)
        assert dose_percent([*hours, (more, 70.0)], rule) > dose_percent(hours, rule)
    assert day_dba(louder) == pytest.approx(day_dba(hours) + more)
