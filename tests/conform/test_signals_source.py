"""The tests' own interpolator, held against sound whose value is known at every place, and against a library."""

from __future__ import annotations

import numpy as np
import pytest
import signals as s
import soxr
from scipy import signal


def test_a_tone_has_its_value_between_the_samples() -> None:
    """Better than -90 dB to 16 kHz, on a clock that runs fast, anywhere between two samples."""
    n = np.arange(20_000, dtype=np.float64)
    positions = s.clock_line(100.37, 1234.5, 15_000)
    for hz in (50.0, 1_000.0, 9_000.0, 16_000.0):
        turn = 2 * np.pi * hz / s.RATE
        found = s.sample_at(np.sin(turn * n).astype(np.float32), positions)
        assert np.max(np.abs(found - np.sin(turn * positions))) < 10 ** (-90 / 20), hz


def test_whole_places_give_the_samples_and_beyond_the_ends_is_silence() -> None:
    x = s.speech(20.0, 5)[48_000:96_000]
    found = s.sample_at(x, np.arange(-100.0, x.size + 100.0))
    assert np.array_equal(found[100:-100], x)
    assert not found[:76].any()
    assert not found[-76:].any()


@pytest.mark.source("soxr, very high quality resampling to 44.1 kHz", kind="library")
def test_speech_at_another_rate_agrees_with_the_library() -> None:
    low = signal.butter(8, 12_000, fs=s.RATE, output="sos")  # well below where the two filters differ
    x = signal.sosfiltfilt(low, s.speech(20.0, 5)).astype(np.float32)
    want = soxr.resample(x, s.RATE, 44_100, quality="VHQ")[1000:80_000]
    found = s.sample_at(x, np.arange(1000, 80_000) * (s.RATE / 44_100))
    assert np.max(np.abs(found - want)) < 0.3 * 10 ** (-80 / 20)  # of speech that peaks at 0.3
