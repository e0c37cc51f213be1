"""Speech, calibration and noisy hours against the published figures and a few laws."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rollsound.errors import InputError
from rollsound.measure import place
from rollsound.measure.place.calibration import by_reading, by_sensitivity, by_tone
from rollsound.measure.place.hours import clock, overlaps
from rollsound.measure.place.kinds import guess
from rollsound.measure.place.model import NoisyHours
from rollsound.measure.place.speech import (
    by_distance_db,
    critical_distance_m,
    farthest_boom_m,
    intelligibility,
    speech_at,
)

RATE = 16_000
OCTAVES_42 = (60.0, 60.0, 60.0, 45.0, 43.0, 41.0, 39.0, 60.0)


def tone(freq_hz: float = 1000.0, seconds: float = 5.0, level: float = 0.1) -> np.ndarray:
    return np.asarray(level * np.sin(2 * np.pi * freq_hz * np.arange(round(seconds * RATE)) / RATE))


@pytest.mark.source(
    "ISO 9921:2003, annex E, as quoted after UNE-EN ISO 9921:2004; inverse distance law", kind="published"
)
@pytest.mark.parametrize(
    ("effort", "level"), [("relaxed", 54), ("normal", 60), ("raised", 66), ("loud", 72), ("very loud", 78)]
)
def test_vocal_efforts(effort: str, level: float) -> None:
    assert speech_at(1.0, effort).speech_dba == pytest.approx(level)


@pytest.mark.source("20 lg of distance, computed", kind="published")
@pytest.mark.parametrize(
    ("distance", "db"),
    [
        (0.05, 26.02),
        (0.15, 16.48),
        (0.2, 13.98),
        (0.3, 10.46),
        (0.5, 6.02),
        (0.6, 4.44),
        (2, -6.02),
        (3, -9.54),
        (4, -12.04),
    ],
)
def test_the_inverse_distance_law(distance: float, db: float) -> None:
    assert by_distance_db(distance) == pytest.approx(db, abs=0.006)


@pytest.mark.source(
    "60 dBA at 1 m, microphone at 0.6 m: 64.44 dB SPL, -61.32 dBu from 20 mV/Pa, computed", kind="published"
)
def test_normal_speech_at_a_boom_and_what_its_microphone_gives() -> None:
    spl = speech_at(0.6, "normal").speech_dba
    assert spl == pytest.approx(64.44, abs=0.005)
    # with 65.32 dB of gain it lies at +4 dBu, which is -20 dBFS where full scale is +24 dBu
    stated = by_sensitivity(20.0, 65.32, 24.0)
    reads_dbfs = spl - stated.full_scale_db_spl + 10 * math.log10(2)
    assert reads_dbfs == pytest.approx(-20.0, abs=0.01)
    assert by_sensitivity(20.0, 61.32, 24.0).full_scale_db_spl == pytest.approx(stated.full_scale_db_spl + 4.0)


@pytest.mark.source("boom from 0.6 m to 3 m: -13.98 dB, computed", kind="published")
def test_a_boom_that_goes_back() -> None:
    assert by_distance_db(3.0, 0.6) == pytest.approx(-13.98, abs=0.005)


@pytest.mark.source("ISO 9921:2003, annex E: normal voice, 2 m, L_SIL 42: 11.98 dB, sufficient", kind="published")
def test_intelligibility_by_the_speech_interference_level() -> None:
    heard = speech_at(2.0, "normal", noise_octaves_db=OCTAVES_42)
    assert heard.interference_db == pytest.approx(11.98, abs=0.005)
    assert heard.intelligibility == "sufficient"
    assert heard.speech_to_noise_db is None
    assert heard.serves is None
    grades = [intelligibility(db) for db in (21.1, 21.0, 15.0, 14.9, 10.0, 9.9, 3.0, 2.9)]
    assert grades == ["excellent", "good", "good", "sufficient", "sufficient", "poor", "poor", "bad"]


@pytest.mark.source("60 dBA at 1 m in a place of 35 dBA: 25 dB at 1 m, 29 dB at 0.6 m, computed", kind="published")
def test_speech_over_the_noise_of_a_place() -> None:
    at_1_m, at_boom = place.speech_at(1.0, "normal", 35.0), place.speech_at(0.6, "normal", 35.0)
    assert at_1_m.speech_to_noise_db == pytest.approx(25.0)
    assert at_boom.speech_to_noise_db == pytest.approx(29.44, abs=0.005)
    assert at_1_m.serves
    assert place.farthest_boom_m("normal", 35.0).distance_m == pytest.approx(10 ** ((25 - 21) / 20))


@pytest.mark.source("r_c = 0.141 sqrt(Q A / 4 / 0.25 ...) = 0.057 sqrt(Q V / T) with A = 0.161 V / T", kind="published")
def test_the_critical_distance() -> None:
    volume, time = 900.0, 1.2
    area = 0.161 * volume / time
    assert critical_distance_m(time, volume, directivity=1.0) == pytest.approx(math.sqrt(area / 16 / math.pi), rel=0.01)
    heard = speech_at(critical_distance_m(time, volume), "normal", reverberation_s=time, volume_m3=volume)
    assert heard.direct_to_reverberant_db == pytest.approx(0.0, abs=1e-9)
    assert heard.serves is False
    found = farthest_boom_m("normal", 30.0, reverberation_s=time, volume_m3=volume)
    assert found.limited_by == "room"
    assert found.distance_m == pytest.approx(critical_distance_m(time, volume) / 1.9953, rel=1e-4)
    assert "common practice" in found.source
    assert "6 dB over the room" in found.criterion


@given(
    st.sampled_from(["relaxed", "normal", "raised", "loud", "very loud"]),
    st.floats(15, 75),
    st.floats(0.1, 8),
    st.floats(20, 50_000),
    st.floats(0, 8),
)
def test_the_farthest_boom_serves_and_a_step_further_does_not(
    effort: str, noise: float, time: float, volume: float, pickup: float
) -> None:
    found = farthest_boom_m(effort, noise, reverberation_s=time, volume_m3=volume, pickup_db=pickup)
    assert found.distance_m is not None
    if 0.02 <= found.distance_m <= 900:
        known = {"reverberation_s": time, "volume_m3": volume, "pickup_db": pickup}
        assert speech_at(found.distance_m * 0.999 + 1e-6, effort, noise, **known).serves or found.distance_m < 0.03
        assert not speech_at(found.distance_m * 1.01, effort, noise, **known).serves


def test_nothing_known_limits_nothing() -> None:
    assert farthest_boom_m("normal").distance_m is None
    assert farthest_boom_m("normal", reverberation_s=1.0).distance_m is None


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        (lambda: speech_at(0.0), "none to reckon with"),
        (lambda: speech_at(1.0, "whispered"), "no vocal effort"),
        (lambda: critical_distance_m(0.0, 10.0), "more than nothing"),
        (lambda: by_sensitivity(0.0), "more than nothing"),
        (lambda: by_sensitivity(math.nan), "more than nothing"),
    ],
)
def test_what_cannot_be_is_refused(call: object, sentence: str) -> None:
    with pytest.raises(InputError, match=sentence):
        call()  # type: ignore[operator]


@pytest.mark.source(
    "a digital microphone whose full scale is 130 dB SPL reads 94 dB SPL at -36 dBFS, computed", kind="published"
)
def test_what_94_db_reads_ties_levels() -> None:
    found = by_reading(-36.0)
    assert found.full_scale_db_spl - 10 * math.log10(2) == pytest.approx(130.0)


@pytest.mark.parametrize(("freq", "level"), [(1000.0, 94.0), (1000.0, 114.0), (250.0, 124.0)])
def test_a_calibrators_tone_ties_levels(freq: float, level: float) -> None:
    rng = np.random.default_rng(0)
    x = np.r_[np.zeros(RATE), tone(freq), np.zeros(RATE // 2)] + 1e-4 * rng.standard_normal(RATE * 13 // 2)
    x[100:200] += 0.02 * rng.standard_normal(100)
    found = by_tone(x, RATE, level)
    assert found.full_scale_db_spl == pytest.approx(level - 20 * math.log10(0.1) + 10 * math.log10(2), abs=0.03)
    assert found.freq_hz == pytest.approx(freq, abs=0.5)
    assert f"{level:g} dB SPL" in found.told


@pytest.mark.parametrize(
    ("x", "sentence"),
    [
        (np.zeros(RATE * 3), "only silence"),
        (np.full(RATE * 3, 0.25), "no pure tone"),
        (tone(seconds=0.4), "for 5 s or more"),
        (0.1 * np.random.default_rng(0).standard_normal(RATE * 5), "no pure tone"),
        (np.clip(20 * tone(), -1, 1), "is clipped"),
        (tone() * np.linspace(0.01, 1, RATE * 5) ** 2, "no level that stays"),
        (np.full(RATE * 3, np.nan), "no numbers"),
    ],
)
def test_a_tone_that_calibrates_nothing_is_refused(x: np.ndarray, sentence: str) -> None:
    with pytest.raises(InputError, match=sentence):
        by_tone(x, RATE)


def test_a_recording_is_known_by_its_sound() -> None:
    rng = np.random.default_rng(1)
    noise = 0.01 * rng.standard_normal(RATE * 8)
    clap = 1e-4 * rng.standard_normal(RATE * 4)
    clap[RATE : 2 * RATE] += 0.5 * rng.standard_normal(RATE) * 10 ** (-6 * np.arange(RATE) / RATE)
    hum = tone(50.0, 8.0) + noise
    slam = np.r_[clap, 1e-4 * rng.standard_normal(RATE * 60)]
    assert guess([slam], RATE) == "noise", "one burst in a minute is a door"
    assert [guess([x[:5000], x[5000:]], RATE) for x in (noise, clap, tone(), hum)] == ["noise", "clap", "tone", "noise"]


def hours(first: str, last: str, date: str = "") -> NoisyHours:
    return NoisyHours.model_validate({"id": "bells", "from": first, "to": last, "what": "bells", "date": date})


@pytest.mark.parametrize(
    ("noisy", "call", "wrap", "minutes"),
    [
        (hours("07:45", "08:30"), "07:00", "19:00", 45),
        (hours("05:00", "07:30"), "07:00", "19:00", 30),
        (hours("22:00", "06:00"), "07:00", "19:00", 0),
        (hours("22:00", "06:00"), "18:00", "02:00", 240),
        (hours("01:00", "03:00"), "18:00", "02:00", 60),
        (hours("22:00", "06:00"), "05:00", "23:00", 120),
        (hours("12:00", "13:00", "2031-02-18"), "07:00", "19:00", 60),
        (hours("12:00", "13:00", "2031-02-19"), "07:00", "19:00", 0),
    ],
)
def test_noisy_hours_against_a_day(noisy: NoisyHours, call: str, wrap: str, minutes: int) -> None:
    assert sum(each.minutes for each in overlaps([noisy], call, wrap, "2031-02-18")) == minutes


def test_times_over_midnight_are_written_as_times_of_day() -> None:
    (found,) = overlaps([hours("01:00", "03:00")], "18:00", "02:00")
    assert (clock(found.from_min), clock(found.to_min)) == ("01:00", "02:00")
