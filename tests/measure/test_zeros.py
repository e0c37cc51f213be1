"""Mutes, repeats, dead and silent tracks."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import ndimage

from rollsound.measure.model import Fault
from rollsound.measure.scan import FaultScan

RATE = 48_000


def scan(audio, bits=24):  # type: ignore[no-untyped-def]
    job = FaultScan(RATE, 1, bits)
    for start in range(0, audio.size, 9973):
        job.feed(audio[start : start + 9973].reshape(-1, 1))
    return job.finish().tracks[0].faults


def of(kind: str, faults: tuple[Fault, ...]) -> list[Fault]:
    return [f for f in faults if f.kind == kind]


@pytest.mark.source("scipy.ndimage.label finds the runs", kind="library")
@pytest.mark.parametrize(
    ("bits", "lengths"), [(24, (32, 33, 48, 500, 4800, 30_000)), (16, (480, 481, 960, 4800, 30_000))]
)
def test_mutes_are_found_to_the_sample(speech, bits, lengths) -> None:  # type: ignore[no-untyped-def]
    voice = speech(20, 5, peak_dbfs=-6.0, floor_dbfs=-50.0, bits=bits)
    for k, length in enumerate(lengths):
        at = (2 + 3 * k) * RATE + 17
        voice[at : at + length] = 0.0
    marked, _ = ndimage.label(voice == 0.0)
    spans = [(s[0].start, s[0].stop - s[0].start) for s in ndimage.find_objects(marked)]
    wanted = [span for span in spans if span[1] >= lengths[0]]
    found = of("mute", scan(voice, bits))
    assert len(wanted) == len(lengths)
    assert [(f.start_sample, f.length_samples) for f in found] == wanted
    with pytest.raises(AssertionError):
        assert [(f.start_sample + 1, f.length_samples) for f in found] == wanted


@pytest.mark.parametrize(("bits", "length"), [(24, 31), (16, 479)])
def test_shorter_runs_are_not_called_mutes(speech, bits, length) -> None:  # type: ignore[no-untyped-def]
    voice = speech(6, 5, peak_dbfs=-6.0, floor_dbfs=-50.0, bits=bits)
    voice[3 * RATE : 3 * RATE + length] = 0.0
    assert of("mute", scan(voice, bits)) == []


@pytest.mark.parametrize("floor_dbfs", [-68, -100, -120, -130])
@pytest.mark.parametrize("bits", [24, 16])
def test_natural_runs_stay_under_the_threshold(rounding, floor_dbfs, bits) -> None:  # type: ignore[no-untyped-def]
    noise = rounding(np.random.default_rng(2).standard_normal(30 * RATE) * 10 ** (floor_dbfs / 20), bits)
    marked, count = ndimage.label(noise == 0.0)
    longest = max(ndimage.sum_labels(np.ones(noise.size), marked, np.arange(1, count + 1)), default=0.0)
    if bits == 24:
        assert longest < 32
    # quiet 16-bit noise is one long run of zeros, and still no mute: nothing is heard around it
    assert of("mute", scan(noise, bits)) == []


def test_a_16_bit_fade_to_nothing_is_no_mute(rounding) -> None:  # type: ignore[no-untyped-def]
    t = np.arange(6 * RATE) / RATE
    fade = np.clip(np.abs(t - 3.0) - 0.5, 0, 1) ** 2
    sound = rounding(0.3 * np.sin(2 * np.pi * 300 * t) * fade, 16)
    assert np.sum(sound == 0.0) > 10_000
    assert of("mute", scan(sound, 16)) == []


def test_a_late_start_is_no_mute_and_quiet_gaps_are_left(speech, rounding) -> None:  # type: ignore[no-untyped-def]
    voice = speech(6, 5)
    voice[:RATE] = 0.0
    assert of("mute", scan(voice)) == []
    noise = rounding(np.random.default_rng(2).standard_normal(4 * RATE) * 10 ** (-70 / 20), 24)
    noise[RATE : RATE + 4800] = 0.0
    assert of("mute", scan(noise)) == []


def test_silent_dead_and_dying(speech, rounding) -> None:  # type: ignore[no-untyped-def]
    rng = np.random.default_rng(3)
    assert [f.kind for f in scan(np.zeros(3 * RATE, np.float32))] == ["silent"]
    hiss = rounding(rng.standard_normal(3 * RATE) * 10 ** (-98 / 20), 24)
    assert [f.kind for f in scan(hiss)] == ["dead"]
    voice = speech(9, 5)
    voice[5 * RATE :] = rounding(rng.standard_normal(4 * RATE) * 10 ** (-98 / 20), 24)
    dead = of("dead", scan(voice))
    assert len(dead) == 1
    assert dead[0].start_sample == pytest.approx(5 * RATE, abs=48)
    assert of("dead", scan(speech(9, 5))) == []


@pytest.mark.parametrize("length", [128, 240, 480, 1024, 2048])
def test_repeated_stretches(speech, length) -> None:  # type: ignore[no-untyped-def]
    voice = speech(16, 6, floor_dbfs=-60.0)
    places = [(1 + k) * RATE + 31 * k for k in range(14)]
    for at in places:
        voice[at : at + length] = voice[at - length : at]
    found = of("repeat", scan(voice))
    # anchors are chosen by content, one in 64 samples: a stretch of 128 has none in one case of seven
    assert len(found) >= (10 if length == 128 else 13)
    for f in found:
        assert min(abs(f.start_sample - at) for at in places) <= 2
        assert f.numbers["lag_samples"] == length
        assert f.length_samples == pytest.approx(length, abs=2)


def test_tones_do_not_repeat_and_16_bit_quiet_does_not(rounding) -> None:  # type: ignore[no-untyped-def]
    t = np.arange(5 * RATE) / RATE
    assert of("repeat", scan(rounding(0.1 * np.sin(2 * np.pi * 1000 * t), 24))) == []
    quiet = rounding(np.random.default_rng(2).standard_normal(10 * RATE) * 10 ** (-92 / 20), 16)
    assert of("repeat", scan(quiet, 16)) == []
