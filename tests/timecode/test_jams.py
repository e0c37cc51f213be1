"""Drift from jam to jam: when a device is past half a frame, what measurements teach, which jams are wanted."""

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rollsound.errors import InputError
from rollsound.timecode.jam_rates import ClockLimits, ClockRates, RateApart, RateMeasured, limits_of
from rollsound.timecode.jams import (
    COVER,
    READING_SD_FRAMES,
    DriftFrom,
    JamSeen,
    jams_wanted,
    last_known,
    rates_read,
)
from rollsound.timecode.rates import Rate

R25 = Rate.parse("25")
HOUR = 3600.0
EXACT = ClockLimits(0.0, 0.0)

# ppm: minutes until half a frame and one frame at 24, 25 and 29.97 for a clock whose rate is known.
MINUTES = {
    1.0: ((347.22, 694.44), (333.33, 666.67), (278.06, 556.11)),
    2.5: ((138.89, 277.78), (133.33, 266.67), (111.22, 222.44)),
    5.0: ((69.44, 138.89), (66.67, 133.33), (55.61, 111.22)),
    10.0: ((34.72, 69.44), (33.33, 66.67), (27.81, 55.61)),
    50.0: ((6.94, 13.89), (6.67, 13.33), (5.56, 11.12)),
}


def wrong_minutes(table: dict[float, tuple[tuple[float, float], ...]]) -> list[float]:
    bad = []
    for ppm, rows in table.items():
        for name, (half, one) in zip(("24", "25", "29.97"), rows, strict=True):
            drift = DriftFrom(9 * HOUR, Rate.parse(name), RateApart(-ppm, 0.0))
            got = [(drift.past(limit) - 9 * HOUR) / 60 for limit in (0.5, 1.0)]
            if abs(got[0] - half) > 0.00501 or abs(got[1] - one) > 0.00501:  # half of the last digit shown
                bad.append(ppm)
    return sorted(set(bad))


@pytest.mark.source("definition of ppm; minutes = frames / (fps x ppm x 1e-6 x 60), table by hand", kind="practice")
def test_minutes_until_half_a_frame() -> None:
    assert wrong_minutes(MINUTES) == []


def test_a_perturbed_minute_is_noticed() -> None:
    (first, second), *rest = MINUTES[5.0]
    assert wrong_minutes({5.0: ((first + 0.02, second), *rest), 1.0: MINUTES[1.0]}) == [5.0]


@pytest.mark.source("AES11 grade 1 and 2 (1 and 10 ppm), and 50 ppm: ms and frames over 12 h, by hand", kind="memory")
@pytest.mark.parametrize(("ppm", "frames_25", "ms"), [(1, 1.08, 43.2), (10, 10.8, 432.0), (50, 54.0, 2160.0)])
def test_twelve_hours(ppm: float, frames_25: float, ms: float) -> None:
    likeliest, sd = DriftFrom(0.0, R25, RateApart(ppm, 0.0)).offset(12 * HOUR)
    assert likeliest == pytest.approx(frames_25, rel=1e-12)
    assert likeliest / 25 * 1000 == pytest.approx(ms, rel=1e-12)
    assert sd == 0


@pytest.mark.source("JCGM 100:2008 (GUM), 4.3.7: variance a²/3 within ±a", kind="published")
def test_limits_as_a_deviation() -> None:
    assert ClockLimits(3.0, 0.0).sd_ppm ** 2 == pytest.approx(3.0)
    assert ClockRates({"a": ClockLimits(3.0, 0.0), "b": EXACT}).apart("a", "b", "day-1").sd_ppm == pytest.approx(3**0.5)


@pytest.mark.source(
    "crystal makers' tables: plain crystals ±10 to ±15 ppm more over -20 to 70 °C, TCXO 5 ppm or better",
    kind="practice",
)
def test_cold_moves_plain_crystals_only() -> None:
    assert limits_of(2.5, coldest_c=-20).day_ppm == pytest.approx(0.25)
    cold, mild = limits_of(20, coldest_c=-20, warmest_c=10), limits_of(20, coldest_c=20)
    assert cold.day_ppm == pytest.approx(math.hypot(2.0, 15 / 3**0.5))
    assert mild.day_ppm < cold.day_ppm
    assert limits_of(None).limit_ppm == 10
    with pytest.raises(InputError, match="no limit of a clock"):
        limits_of(math.nan)


@pytest.mark.source("product of two normal densities: 1/v = 1/v1 + 1/v2, m = v (m1/v1 + m2/v2)", kind="practice")
@given(
    st.floats(0.5, 40), st.lists(st.tuples(st.floats(-30, 30), st.floats(0.05, 5)), min_size=1, max_size=5),
)  # fmt: skip
def test_measurements_of_one_pair_combine_as_normals_do(limit: float, seen: list[tuple[float, float]]) -> None:
    clocks = {"a": ClockLimits(limit, 0.0), "b": EXACT}
    got = ClockRates(clocks, [RateMeasured("a", "b", "day-1", ppm, sd) for ppm, sd in seen]).apart("a", "b", "day-2")
    weights = [3 / limit**2, *(1 / sd**2 for _, sd in seen)]
    mean = sum(weight * ppm for weight, (ppm, _) in zip(weights[1:], seen, strict=True)) / sum(weights)
    # Tolerance: rounding of a matrix solved in doubles, whose condition is below 1e6 here.
    assert got.ppm == pytest.approx(mean, abs=1e-6)
    assert got.sd_ppm == pytest.approx(sum(weights) ** -0.5, rel=1e-6)


def test_what_is_measured_of_others_helps() -> None:
    """Ten cards that all run slow against the recorder tell that it is the recorder that runs fast."""
    clocks = {"recorder": ClockLimits(10, 0.1)} | {f"card {n}": ClockLimits(10, 0.1) for n in range(10)}
    seen = [RateMeasured(f"card {n}", "recorder", "day-1", -6.0, 0.01) for n in range(10)]
    camera = ClockRates(clocks | {"camera": ClockLimits(1, 0.1)}, seen).apart("camera", "recorder", "day-1")
    assert camera.ppm == pytest.approx(-6.0 * 10 / 11, abs=0.15)
    unknown = ClockRates(clocks | {"camera": ClockLimits(1, 0.1)}).apart("camera", "recorder", "day-1")
    assert camera.sd_ppm < unknown.sd_ppm / 2
    assert (unknown.ppm, unknown.measured, camera.measured) == (0, 0, 10)


def test_another_day_is_known_less_well() -> None:
    clocks = {"a": ClockLimits(10, 1.0), "b": EXACT}
    rates = ClockRates(clocks, [RateMeasured("a", "b", "day-1", 4.0, 0.001)])
    same, other = rates.apart("a", "b", "day-1"), rates.apart("a", "b", "day-2")
    assert same.ppm == pytest.approx(4.0, abs=1e-3)
    assert same.sd_ppm < 0.01
    assert other.sd_ppm == pytest.approx(math.hypot(1.0, 1.0), rel=0.05)  # two days' own parts
    turned = rates.apart("b", "a", "day-2")
    assert (turned.ppm, turned.sd_ppm) == (pytest.approx(-other.ppm), pytest.approx(other.sd_ppm))
    assert rates.apart("a", "a", "day-1").sd_ppm == 0


def test_the_uncertainty_is_honest() -> None:
    """Of invented clocks within their limits, 19 of 20 stay inside what is told before and after a measurement.

    The limits are even, not normal, so that slightly more stay inside; 400 draws count to 2 in 100.
    """
    dice = np.random.default_rng(7)
    before = after = 0
    for _ in range(400):
        base = dice.uniform(-8, 8)
        day_one, day_two = base + dice.normal(0, 0.5, 2)
        clocks = {"a": ClockLimits(8, 0.5), "b": EXACT}
        seen = RateMeasured("a", "b", "day-1", day_one + dice.normal(0, 0.3), 0.3)
        for rates in (ClockRates(clocks), ClockRates(clocks, [seen])):
            told = rates.apart("a", "b", "day-2")
            inside = abs(told.ppm - day_two) <= COVER * told.sd_ppm
            before, after = before + (inside and not rates.used), after + (inside and bool(rates.used))
    assert before >= 380
    assert 372 <= after <= 394


def test_no_crystal_is_left_out_and_a_surprise_is_told() -> None:
    stamped = RateMeasured("a", "b", "day-1", 1000.0, 0.1)
    rates = ClockRates({"a": ClockLimits(2.5, 0.2), "b": ClockLimits(1.0, 0.1)}, [stamped])
    assert rates.left_out == (stamped,)
    assert rates.apart("a", "b", "day-1").measured == 0
    assert rates.surprise(RateMeasured("a", "b", "day-1", 12.0, 0.1)) > 3
    assert rates.surprise(RateMeasured("a", "b", "day-1", 2.0, 0.1)) < 3
    with pytest.raises(InputError, match="no measurement"):
        ClockRates({}, [RateMeasured("a", "b", "day-1", math.nan, 0.1)])


@given(st.floats(-60, 60), st.floats(0, 30), st.floats(-0.45, 0.45), st.floats(0, 0.02), st.floats(0.1, 2))
def test_past_is_where_the_worst_meets_the_limit(
    ppm: float, sd: float, off: float, off_sd: float, limit: float
) -> None:
    drift = DriftFrom(1000.0, R25, RateApart(ppm, sd), off, off_sd)
    past = drift.past(limit)
    if abs(off) + COVER * off_sd >= limit:
        assert past == 1000.0
    elif abs(ppm) + sd == 0:
        assert past == math.inf
    elif past < 1e9:
        assert drift.worst(past) == pytest.approx(limit, abs=1e-6)
        assert all(drift.worst(1000 + (past - 1000) * part) < limit for part in (0.0, 0.3, 0.7, 0.999))


def test_a_look_in_between_begins_the_drift_anew() -> None:
    apart = RateApart(5.0, 0.0)
    jam, look = JamSeen("cam", "rec", 8 * HOUR), JamSeen("cam", "rec", 10 * HOUR, False, 0.2)
    assert last_known([], R25, apart) is None
    assert last_known([look], R25, apart) is None  # never jammed: nothing to begin from
    found = last_known([look, jam], R25, apart)
    assert found is not None
    assert (found.at_s, found.offset_frames, found.offset_sd_frames) == (10 * HOUR, 0.2, READING_SD_FRAMES)
    again = last_known([jam, look, JamSeen("cam", "rec", 13 * HOUR, True, 1.0)], R25, apart)
    assert again == DriftFrom(13 * HOUR, R25, apart)


def test_a_jam_log_measures_clocks() -> None:
    seen = [
        JamSeen("cam", "rec", 8 * HOUR, day="d"),
        JamSeen("cam", "rec", 8 * HOUR + 60, False, 3.0, "d"),  # too soon
        JamSeen("cam", "rec", 10 * HOUR, False, 1.0, "d"),
        JamSeen("cam", "rec", 13 * HOUR, True, 1.8, "d"),  # the last before the jam is the one that counts
        JamSeen("cam", "rec", 17 * HOUR, False, None, "d"),
        JamSeen("slate", "other", 13 * HOUR, True, 9.0, "d"),  # never jammed before
    ]
    (found,) = rates_read(seen, R25)
    assert (found.device, found.against, found.day, found.told) == ("cam", "rec", "d", "read 5.0 h after its jam")
    assert found.ppm == pytest.approx(1.8 / (25 * 5 * HOUR) * 1e6)  # 4 ppm
    assert found.sd_ppm == pytest.approx(READING_SD_FRAMES / (25 * 5 * HOUR) * 1e6)


def test_jams_go_into_the_last_break_that_serves() -> None:
    drift = DriftFrom(8 * HOUR, R25, RateApart(1.0, 0.0))  # half a frame in 5 h 33 min
    lunch, tea = (12.5 * HOUR, 13.25 * HOUR), (18 * HOUR, 18.25 * HOUR)
    wishes = jams_wanted(drift, 20 * HOUR, [tea, lunch])
    assert [(each.break_s, each.at_s) for each in wishes] == [(lunch, lunch[0]), (tea, tea[0])]
    assert jams_wanted(drift, 13 * HOUR, [lunch]) == ()
    (late,) = jams_wanted(drift, 15 * HOUR, [lunch], now_s=12.6 * HOUR)
    assert late.break_s is None
    assert late.by_s == pytest.approx(8 * HOUR + 20_000)
    hopeless = jams_wanted(DriftFrom(8 * HOUR, R25, RateApart(90.0, 0.0)), 20 * HOUR)
    assert len(hopeless) == 24


@given(st.floats(0.2, 20), st.floats(0, 5), st.lists(st.floats(8, 20), max_size=6, unique=True))
def test_wanted_jams_keep_the_limit(ppm: float, sd: float, starts: list[float]) -> None:
    apart = RateApart(ppm, sd)
    breaks = [(start * HOUR, start * HOUR + 1800) for start in starts]
    wishes = jams_wanted(DriftFrom(8 * HOUR, R25, apart), 20 * HOUR, breaks)
    times = [8 * HOUR, *(each.at_s for each in wishes)]
    if len(wishes) < 24:
        times.append(20 * HOUR)
    for here, there in pairwise(times):
        assert DriftFrom(here, R25, apart).worst(there) <= 0.5 + 1e-6
