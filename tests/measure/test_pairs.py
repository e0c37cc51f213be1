"""Twins, opposite polarity, mics on one voice, strangers; time code tracks."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from scipy import signal

from rollsound.measure.scan import FaultScan
from rollsound.measure.timecode_track import looks_like_code
from rollsound.timecode import Rate, Timecode, encode_ltc

RATE = 48_000


def scan(*tracks, bits=24):  # type: ignore[no-untyped-def]
    audio = np.stack([np.asarray(t, np.float32) for t in tracks], axis=1)
    job = FaultScan(RATE, audio.shape[1], bits)
    job.feed(audio)
    return job.finish()


def test_exact_and_scaled_twins(speech, rounding) -> None:  # type: ignore[no-untyped-def]
    a, b = speech(15, 1), speech(15, 2)
    pairs = scan(a, b, a, rounding(a * 0.5, 24)).pairs
    told = {(p.first, p.second): p for p in pairs}
    assert set(told) == {(0, 2), (0, 3), (2, 3)}
    assert {p.kind for p in pairs} == {"duplicate"}
    assert told[0, 2].numbers["exact"] == 1.0
    assert told[0, 3].numbers["exact"] == 0.0
    assert told[0, 3].correlation > 0.999


@pytest.mark.parametrize("lag", [-300, -7, 0, 25, 139, 420])
@pytest.mark.parametrize("sign", [1, -1])
def test_lag_and_polarity(speech, lag, sign) -> None:  # type: ignore[no-untyped-def]
    rng = np.random.default_rng(0)
    voice = speech(15, 3).astype(np.float64)
    near = voice + rng.standard_normal(voice.size) * 1e-4
    # another mic hears it later, duller, and with its own noise
    far = sign * signal.lfilter([0.5, 0.3, 0.1], 1, np.roll(voice, lag)) + rng.standard_normal(voice.size) * 3e-4
    (pair,) = scan(near, far).pairs
    assert pair.kind == ("correlated" if sign > 0 else "inverted") or (abs(lag) <= 48 and pair.kind == "duplicate")
    assert np.sign(pair.correlation) == sign
    # the low stream has 12 samples; its correlation is interpolated eightfold
    assert pair.lag_samples == pytest.approx(lag, abs=3)
    assert pair.lag_samples != pytest.approx(lag + 30, abs=3)


def test_strangers_and_bleed_make_no_claim(speech) -> None:  # type: ignore[no-untyped-def]
    a, b = (speech(20, s).astype(np.float64) for s in (4, 5))
    assert scan(a, b).pairs == ()
    # two lavs at 1.5 m: each hears the other 12 dB down and 210 samples later
    one, two = a + 0.25 * np.roll(b, 210), b + 0.25 * np.roll(a, 210)
    assert scan(one, two).pairs == ()
    # one machine that both hear, and one slam
    t = np.arange(a.size) / RATE
    engine = sum(np.sin(2 * np.pi * 50 * k * t) for k in range(1, 12)) * 0.002
    slam = np.zeros(a.size)
    slam[5 * RATE : 6 * RATE] = np.random.default_rng(0).standard_normal(RATE) * np.exp(-np.arange(RATE) / 3000)
    assert scan(a + engine + 0.3 * slam, b + engine + 0.3 * np.roll(slam, 400)).pairs == ()


@pytest.mark.source("scipy.signal.coherence, 0.5 s frames", kind="library")
def test_coherence_equals_the_library(speech) -> None:  # type: ignore[no-untyped-def]
    rng = np.random.default_rng(0)
    base = signal.sosfilt(
        signal.butter(2, (150, 3000), "bandpass", fs=RATE, output="sos"), rng.standard_normal(20 * RATE)
    )
    a, b = base + 0.3 * rng.standard_normal(base.size), base + 0.3 * rng.standard_normal(base.size)
    (pair,) = scan(0.1 * a, 0.1 * b).pairs
    f, c = signal.coherence(a, b, fs=RATE, nperseg=24_576, noverlap=0)
    theirs = float(np.mean(c[(f >= 200) & (f < 1600)]))
    # our bias is taken out (1 in 37 frames of 1 - coherence), theirs is not
    assert pair.numbers["coherence"] == pytest.approx(theirs, abs=0.02)
    assert pair.numbers["coherence"] != pytest.approx(theirs * 0.9, abs=0.02)


@pytest.mark.source("SMPTE ST 12-1 as encoded by rollsound.timecode, held there against libltc", kind="published")
@pytest.mark.parametrize("rate", ["23.976", "24", "25", "29.97", "29.97DF", "30"])
@pytest.mark.parametrize("level_dbfs", [-3.0, -18.0, -40.0])
def test_time_code_is_recognised(speech, rounding, rate, level_dbfs) -> None:  # type: ignore[no-untyped-def]
    named = Rate.parse(rate)
    code = encode_ltc(Timecode.parse("10:20:30:00", named), 130, RATE, level_dbfs=level_dbfs)
    noisy = code + np.random.default_rng(0).standard_normal(code.size) * 10 ** (level_dbfs / 20) * 0.02
    band = signal.sosfilt(signal.butter(1, (40, 10_000), "bandpass", fs=RATE, output="sos"), noisy)
    for sound in (code, noisy, band):
        track = scan(rounding(sound, 24)).tracks[0]
        assert track.kind_guess == "time code"
        assert track.faults == ()


def test_code_that_stops_is_told_and_voices_are_not_code(speech) -> None:  # type: ignore[no-untyped-def]
    code = encode_ltc(Timecode.parse("10:20:30:00", Rate.parse("25")), 200, RATE)
    code[3 * RATE : 3 * RATE + 4800] = 0.0
    track = scan(code).tracks[0]
    assert track.kind_guess == "time code"
    assert [f.kind for f in track.faults] == ["mute"]
    for seed in range(3):
        voice = speech(10, seed)
        assert scan(voice).tracks[0].kind_guess != "time code"
    t = np.arange(4800) / RATE
    assert not looks_like_code(np.sign(np.sin(2 * np.pi * 1000 * t)).astype(np.float32), RATE)
    assert not looks_like_code(np.zeros(4800, np.float32), RATE)


def test_human_voices_raise_no_alarm() -> None:
    """Where the operating system has the speaker-test voices, all of them are clean."""
    folder = Path("/usr/share/sounds/alsa")
    soundfile = pytest.importorskip("soundfile")
    files = sorted(folder.glob("*_*.wav")) if folder.is_dir() else []
    if not files:
        pytest.skip("no recorded voices on this machine")
    voice = np.concatenate([np.concatenate([soundfile.read(f)[0], np.zeros(9600)]) for f in files])
    noise = np.random.default_rng(0).standard_normal(voice.size) * 10 ** (-75 / 20)
    assert [f for f in scan(0.5 * voice + noise).tracks[0].faults if f.confidence >= 0.5] == []
