"""Hum, DC, rumble, noise floor, bandwidth and the guess at the path."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import signal

from rollsound.measure import front
from rollsound.measure.grid import Grid
from rollsound.measure.scan import FaultScan

RATE = 48_000


def scan(audio, rate=RATE):  # type: ignore[no-untyped-def]
    job = FaultScan(rate, 1, 24)
    job.feed(np.asarray(audio, np.float32).reshape(-1, 1))
    return job.finish().tracks[0]


def of(track, kind):  # type: ignore[no-untyped-def]
    return [f for f in track.faults if f.kind == kind]


@pytest.mark.parametrize("mains", [49.85, 50.0, 50.15, 60.0, 60.1])
@pytest.mark.parametrize("level_dbfs", [-70.0, -55.0])
def test_hum_under_speech(speech, mains, level_dbfs) -> None:  # type: ignore[no-untyped-def]
    voice = speech(40, 9, floor_dbfs=-75.0).astype(np.float64)
    assert of(scan(voice), "hum") == []
    t = np.arange(voice.size) / RATE
    amplitude = math.sqrt(2) * 10 ** (level_dbfs / 20)
    hum = amplitude * np.sin(2 * np.pi * mains * t) + 0.3 * amplitude * np.sin(2 * np.pi * 3 * mains * t)
    found = of(scan(voice + hum), "hum")
    assert [f.numbers["mains_hz"] for f in found] == [float(round(mains / 10) * 10)]
    # speech and room noise in the line's bins add a little; the third harmonic adds 0.4 dB
    assert found[0].level_dbfs == pytest.approx(level_dbfs + 0.4, abs=2.0)
    assert found[0].length_samples == voice.size


def test_a_voice_at_100_hz_for_a_while_is_no_hum(rounding) -> None:  # type: ignore[no-untyped-def]
    """A limit, stated: with rests shorter than the four seconds of a stretch it would be."""
    t = np.arange(45 * RATE) / RATE
    note = sum(np.sin(2 * np.pi * 100.0 * k * t) / k for k in range(1, 8)) * 0.05
    sung = np.where((t % 15) < 5, note, 0.0) + np.random.default_rng(0).standard_normal(t.size) * 1e-3
    assert of(scan(sung), "hum") == []


@pytest.mark.parametrize("level_dbfs", [-50.0, -30.0])
@pytest.mark.parametrize("sign", [1, -1])
def test_dc(speech, level_dbfs, sign) -> None:  # type: ignore[no-untyped-def]
    voice = speech(10, 2).astype(np.float64)
    assert of(scan(voice), "dc") == []
    assert of(scan(voice + 10 ** (-66 / 20)), "dc") == []
    found = of(scan(voice + sign * 10 ** (level_dbfs / 20)), "dc")
    assert found[0].level_dbfs == pytest.approx(level_dbfs, abs=0.3)
    assert math.copysign(1, found[0].numbers["dc_percent"]) == sign


def test_rumble_is_placed(speech) -> None:  # type: ignore[no-untyped-def]
    voice = speech(20, 2).astype(np.float64)
    assert of(scan(voice), "rumble") == []
    wind = signal.sosfilt(
        signal.butter(2, (5, 40), "bandpass", fs=RATE, output="sos"), np.random.default_rng(0).standard_normal(4 * RATE)
    )
    voice[8 * RATE : 12 * RATE] += 0.1 * wind / np.std(wind)
    found = of(scan(voice), "rumble")
    assert found[0].start_sample == pytest.approx(8 * RATE, abs=RATE // 4)
    assert found[-1].start_sample + found[-1].length_samples == pytest.approx(12 * RATE, abs=RATE // 3)
    assert sum(f.length_samples for f in found) > 2.5 * RATE


@pytest.mark.parametrize("level_dbfs", [-40.0, -70.0, -95.0, -120.0])
def test_noise_floor_of_noise_is_its_level(level_dbfs, rounding) -> None:  # type: ignore[no-untyped-def]
    noise = rounding(np.random.default_rng(0).standard_normal(20 * RATE) * 10 ** (level_dbfs / 20), 24)
    # the quietest tenth of stretches of 480 samples of white noise lies 0.4 dB under the mean; a bin is 0.25 dB
    assert scan(noise).noise_floor_dbfs == pytest.approx(level_dbfs - 0.4, abs=0.3)


@pytest.mark.parametrize(("edge_hz", "guess"), [(12_000, "radio"), (15_000, "radio"), (None, "cable")])
def test_bandwidth(speech, rounding, edge_hz, guess) -> None:  # type: ignore[no-untyped-def]
    voice = speech(20, 2, floor_dbfs=-65.0).astype(np.float64)
    if edge_hz:
        voice = signal.sosfilt(signal.ellip(8, 0.1, 70, edge_hz, fs=RATE, output="sos"), voice)
        voice += np.random.default_rng(0).standard_normal(voice.size) * 10 ** (-100 / 20)
    track = scan(rounding(voice, 24))
    assert track.kind_guess == guess
    # bands are 258 Hz wide
    assert track.bandwidth_hz == pytest.approx(edge_hz or 24_000, abs=600)


@pytest.mark.source("scipy.signal.lfilter and firwin", kind="library")
def test_front_equals_the_library() -> None:
    grid = Grid(RATE)
    audio = np.random.default_rng(0).standard_normal(grid.history + grid.piece).astype(np.float32)
    parts = front.Front(grid, 1)
    features = np.zeros((1, front.FEATURES, 250), np.float32)
    low = np.zeros((1, 1000), np.float32)
    lines = audio[np.newaxis].copy()
    parts.run(lines, 250, features, 0, low)
    new = audio[grid.history :].astype(np.float64).reshape(250, grid.moment)
    upper = signal.lfilter(signal.firwin(15, 8000, fs=RATE, pass_zero=False), 1, audio.astype(np.float64))
    upper = upper[grid.history :].reshape(250, grid.moment)
    steps = np.diff(audio.astype(np.float64))[grid.history - 1 :].reshape(250, grid.moment)
    thin = signal.lfilter(signal.firwin(48, 0.425 * 8000, fs=RATE), 1, audio.astype(np.float64))[grid.history :][5::6]
    half = signal.lfilter(signal.firwin(15, 0.22 * 8000, fs=8000), 1, thin)[1::2]
    # float32 sums of 48 squares
    for kind, theirs in (
        (front.FULL, (new**2).sum(axis=1)),
        (front.SUM, new.sum(axis=1)),
        (front.STEPS, (steps**2).sum(axis=1)),
        (front.HIGH, (upper**2).sum(axis=1)),
    ):
        assert features[0, kind] == pytest.approx(theirs, rel=1e-4, abs=1e-4)
        assert features[0, kind] != pytest.approx(theirs * 1.01, rel=1e-4, abs=1e-4)
    assert np.array_equal(features[0, front.PEAK], np.abs(audio[grid.history :]).reshape(250, -1).max(axis=1))
    assert features[0, front.HIGH_PEAK] == pytest.approx(np.abs(upper).max(axis=1), rel=1e-4)
    # the first values lack the earlier thinned samples that a stream would have
    assert low[0, 16:] == pytest.approx(half[16:], abs=1e-5)
