"""The noise of a place: levels, spread and tones of signals whose answer is known, at any block size."""

from __future__ import annotations

import math

import numpy as np
import pytest

from rollsound.errors import InputError
from rollsound.measure.place.noise import NoiseFigures, PlaceNoise, together
from rollsound.measure.place.octaves import MIDDLES_HZ, edges_hz
from rollsound.measure.place.weighting import a_weight_db

RATE = 16_000


def measured(x: np.ndarray, rate: int = RATE, block: int = 8192) -> NoiseFigures:
    noise = PlaceNoise(rate)
    for at in range(0, x.size, block):
        noise.feed(x[at : at + block])
    return noise.finish()


def sine(freq_hz: float, seconds: float, rate: int = RATE) -> np.ndarray:
    return np.asarray(np.sin(2 * np.pi * freq_hz * np.arange(round(seconds * rate)) / rate))


@pytest.mark.source(
    "definition: a sine of amplitude a has a mean square of a^2 / 2; IEC 61672-1 weights", kind="published"
)
@pytest.mark.parametrize("band", [1, 3, 4, 6])
def test_a_tone_in_the_middle_of_an_octave_reads_its_own_level(band: int) -> None:
    freq = MIDDLES_HZ[band]
    found = measured(0.1 * sine(freq, 10.0) + 1e-7 * np.random.default_rng(0).standard_normal(10 * RATE))
    level = 20 * math.log10(0.1) - 10 * math.log10(2)
    assert found.octaves_db[band] == pytest.approx(level, abs=0.1)
    assert found.laeq_db == pytest.approx(level + float(a_weight_db(freq)), abs=0.1)
    assert found.exceeded_db(50) == pytest.approx(found.laeq_db, abs=0.15), "a steady level is exceeded as it is"
    assert found.tones[0].freq_hz == pytest.approx(freq, abs=0.2)
    assert found.tones[0].level_db == pytest.approx(level, abs=0.1)


def test_white_noise_has_3_db_more_in_every_octave() -> None:
    x = 0.01 * np.random.default_rng(2).standard_normal(12 * 48_000)
    found = measured(x, 48_000, 65_536)
    for at, level in enumerate(found.octaves_db):
        low, high = edges_hz(at)
        # the skirts of the filter let in 4.7 % of power from beside the octave (Butterworth of the sixth order)
        wanted = -40.0 + 10 * math.log10((high - low) / 24_000) + 10 * math.log10(math.pi / 6 / math.sin(math.pi / 6))
        assert level == pytest.approx(wanted, abs=0.3 if at > 1 else 0.8)
    assert found.tones == ()


def test_percentiles_tell_how_long_it_is_loud() -> None:
    quiet, loud = 1e-4 * sine(1000.0, 16.0, 8000), 1e-2 * sine(1000.0, 4.0, 8000)
    found = measured(np.concatenate([quiet, loud]), 8000)
    assert found.exceeded_db(10) == pytest.approx(-43.0, abs=0.2)
    assert found.exceeded_db(50) == pytest.approx(-83.0, abs=0.2)
    assert found.exceeded_db(90) == pytest.approx(-83.0, abs=0.2)
    assert found.laeq_db == pytest.approx(-43.0 - 10 * math.log10(5), abs=0.1)
    assert len(found.by_time_db) == 20
    assert found.highest_db == pytest.approx(-43.0, abs=0.1)


@pytest.mark.parametrize("block", [777, 16_000, 200_000])
def test_blocks_do_not_matter(block: int) -> None:
    x = 0.02 * np.random.default_rng(5).standard_normal(100_001)
    whole, parts = measured(x, block=x.size), measured(x, block=block)
    assert parts.laeq_db == pytest.approx(whole.laeq_db, abs=1e-9)
    assert parts.octaves_db == pytest.approx(whole.octaves_db, abs=1e-9, nan_ok=True)
    np.testing.assert_array_equal(parts.histogram, whole.histogram)
    assert parts.by_time_db == pytest.approx(whole.by_time_db, abs=1e-9)


def test_hum_is_named_with_its_harmonics_and_a_passing_note_is_not() -> None:
    rng = np.random.default_rng(7)
    x = 1e-3 * rng.standard_normal(30 * RATE)
    for harmonic, level in ((1, 2e-3), (2, 1e-3), (3, 5e-4)):
        x += level * sine(49.97 * harmonic, 30.0)
    x += 5e-4 * sine(2345.0, 30.0)
    x[5 * RATE : 9 * RATE] += 5e-3 * sine(700.0, 4.0)
    found = {round(tone.freq_hz): tone for tone in measured(x).tones}
    assert {50, 100, 150, 2345} <= set(found)
    assert 700 not in found, "what sounds for 4 of 30 s does not stay"
    assert [found[f].harmonic for f in (50, 100, 150)] == [1, 2, 3]
    assert found[50].what == "mains 50 Hz, harmonic 1"
    assert found[2345].mains_hz == 0.0
    # white noise of 1e-6 over 8 kHz, in the critical band of 100 Hz
    noise_db = 10 * math.log10(1e-6 * 100 / 8000)
    assert found[50].over_db == pytest.approx(10 * math.log10(2e-6) - noise_db, abs=1.0)
    wide = 10 * math.log10(1e-6 * 0.2 * 2345 / 8000)
    assert found[2345].over_db == pytest.approx(10 * math.log10(1.25e-7) - wide, abs=1.0)


def test_sixty_hertz_is_not_called_fifty() -> None:
    x = 1e-3 * np.random.default_rng(8).standard_normal(12 * RATE) + 2e-3 * (sine(60.0, 12.0) + sine(120.0, 12.0))
    assert {tone.mains_hz for tone in measured(x).tones} == {60.0}


def test_several_recordings_are_one_weighed_by_their_length() -> None:
    a, b = measured(1e-2 * sine(1000.0, 15.0)), measured(1e-3 * sine(1000.0, 5.0))
    both = together([a, b])
    assert both.seconds == 20.0
    assert both.laeq_db == pytest.approx(a.laeq_db + 10 * math.log10(0.75 + 0.25 * 0.01), abs=0.01)
    assert both.exceeded_db(90) == pytest.approx(b.laeq_db, abs=0.2)
    with pytest.raises(InputError, match="no recording"):
        together([])


@pytest.mark.parametrize(
    ("x", "sentence"),
    [
        (np.zeros(10 * RATE), "digital silence"),
        (sine(1000.0, 2.0), "lasts 2.0 s"),
        (np.zeros(0), "lasts 0.0 s"),
        (np.where(np.arange(10 * RATE) == 8000, np.nan, 0.1), "no numbers, the first at 0.500 s"),
        (np.where(np.arange(10 * RATE) == 8000, np.inf, 0.1), "no numbers"),
    ],
)
def test_what_tells_nothing_is_refused(x: np.ndarray, sentence: str) -> None:
    with pytest.raises(InputError, match=sentence):
        measured(x)


def test_a_rate_too_low_is_refused() -> None:
    with pytest.raises(InputError, match="8000 Hz or more"):
        PlaceNoise(4_000)


def test_memory_does_not_grow_with_length() -> None:
    noise = PlaceNoise(8_000)
    block = 0.01 * np.random.default_rng(1).standard_normal(8_000)
    for _ in range(8_000):
        noise._seconds.feed(block[:1].repeat(8_000))
    steps, step_s = noise._seconds.finish()
    assert len(steps) <= 7_200
    assert step_s == 2.0
