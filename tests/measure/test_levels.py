"""Plain sample statistics against NumPy, and the laws they keep."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from rollsound.measure import levels as levels_module
from rollsound.measure.levels import Levels, set_aside_not_numbers, without_not_numbers
from rollsound.measure.model import LevelMeasures

RATE = 8000
Audio = NDArray[np.float32]


def noise(frames: int, channels: int, seed: int) -> Audio:
    """Noise with an offset and a different level in each channel."""
    rng = np.random.default_rng(seed)
    level = np.geomspace(0.3, 0.001, channels)
    return ((rng.standard_normal((frames, channels)) + 0.1) * level).astype(np.float32)


def levels_of(audio: Audio, edges: list[int] | None = None) -> tuple[LevelMeasures, ...]:
    """The figures of each channel, fed in the given cuts."""
    meter = Levels(RATE, audio.shape[1])
    for start, stop in pairwise(edges or [0, audio.shape[0]]):
        meter.feed(audio[start:stop])
    return meter.finish()


@pytest.mark.source("numpy: max, mean, mean of squares in double precision", kind="library")
@pytest.mark.parametrize("frames", [1, 255, 256, 257, 7999, 8000, 8001, 20_000])
def test_against_numpy(frames: int) -> None:
    audio = noise(frames, 3, frames)
    double = audio.astype(np.float64)
    for channel, found in enumerate(levels_of(audio)):
        line = double[:, channel]
        # 1e-9 dB: order of sums in double precision
        assert found.sample_peak_dbfs == pytest.approx(20 * math.log10(np.abs(line).max()), abs=1e-9)
        assert found.sample_peak_at == int(np.abs(line).argmax())
        assert found.rms_dbfs == pytest.approx(10 * math.log10(np.mean(line**2)), abs=1e-9)
        assert found.dc == pytest.approx(line.mean(), rel=1e-9)
        seconds = [line[at : at + RATE] for at in range(0, frames, RATE)]
        expected = [10 * math.log10(np.mean(part**2)) for part in seconds]
        # 1e-4 dB: these are kept in single precision
        assert found.rms_by_time_dbfs == pytest.approx(np.array(expected), abs=1e-4)
        assert found.rms_by_time_dbfs != pytest.approx(np.array(expected) + 2e-4, abs=1e-4)


@pytest.mark.source("a sine's rms is its peak over the square root of two", kind="published")
def test_full_scale_sine() -> None:
    audio = np.sin(2 * np.pi * 1000 * np.arange(RATE) / RATE).astype(np.float32)[:, np.newaxis]
    found = levels_of(audio)[0]
    assert found.sample_peak_dbfs == pytest.approx(0.0, abs=1e-6)
    assert found.rms_dbfs == pytest.approx(-3.0103, abs=1e-4)
    assert found.over_full_scale == 0


def test_counts_what_is_above_full_scale() -> None:
    audio = noise(3000, 2, 1) * np.float32(0.1)
    audio[[100, 255, 256, 2999], 1] = [1.5, -1.25, 2.0, -1.0]
    first, second = levels_of(audio, [0, 101, 256, 2998, 3000])
    assert first.over_full_scale == 0
    assert second.over_full_scale == 3
    assert second.sample_peak_at == 256
    assert second.sample_peak_dbfs == pytest.approx(20 * math.log10(2.0), abs=1e-9)


def test_nothing_has_no_level() -> None:
    found = levels_of(np.zeros((0, 1), dtype=np.float32))[0]
    assert found.sample_peak_dbfs == found.rms_dbfs == -math.inf
    assert found.dc == 0.0
    assert found.rms_by_time_dbfs.size == 0


@given(
    frames=st.sampled_from([0, 1, 255, 256, 257, 7999, 8000, 8001, 9000]),
    cuts=st.lists(st.integers(0, 9000), max_size=8),
    channels=st.sampled_from([1, 2, 5, 33]),
)
@settings(deadline=None, max_examples=60)
def test_cuts_change_nothing_at_all(frames: int, cuts: list[int], channels: int) -> None:
    audio = noise(frames, channels, frames)
    edges = [0, *sorted(min(cut, frames) for cut in cuts), frames]
    for cut, whole in zip(levels_of(audio, edges), levels_of(audio), strict=True):
        assert np.array_equal(cut.rms_by_time_dbfs, whole.rms_by_time_dbfs)
        assert (cut.sample_peak_dbfs, cut.sample_peak_at, cut.rms_dbfs, cut.dc) == (
            whole.sample_peak_dbfs,
            whole.sample_peak_at,
            whole.rms_dbfs,
            whole.dc,
        )


@pytest.mark.parametrize("channels", [2, 7, 32, 128])
def test_each_channel_equals_itself_alone(channels: int) -> None:
    audio = noise(9000, channels, channels)
    for channel, found in enumerate(levels_of(audio)):
        alone = levels_of(np.ascontiguousarray(audio[:, channel : channel + 1]))[0]
        assert (found.sample_peak_dbfs, found.sample_peak_at) == (alone.sample_peak_dbfs, alone.sample_peak_at)
        assert found.rms_dbfs == alone.rms_dbfs
        assert found.dc == alone.dc


def test_rms_over_time_is_thinned_in_long_recordings(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(levels_module, "MOST_SECONDS", 4)
    audio = noise(RATE * 11 + 100, 1, 9)
    meter = Levels(RATE, 1)
    meter.feed(audio)
    found = meter.finish()[0]
    assert meter.step_seconds == 4
    expected = [
        10 * math.log10(np.mean(part.astype(np.float64) ** 2)) for part in np.split(audio, [4 * RATE, 8 * RATE])
    ]
    assert found.rms_by_time_dbfs == pytest.approx(np.array(expected), abs=1e-4)


def test_what_is_no_audio_is_counted_and_set_to_zero() -> None:
    block = noise(600, 2, 3)
    clean = block.copy()
    for place, value in [(10, np.nan), (11, np.inf), (12, -np.inf), (599, 3e38), (300, -(2.0**40))]:
        block[place, 1] = value
        clean[place, 1] = 0.0
    count, first = np.zeros(2, dtype=np.int64), np.zeros(2, dtype=np.int64)
    assert set_aside_not_numbers(block, count, first, 1000)
    assert count.tolist() == [0, 5]
    assert first[1] == 1010
    assert np.array_equal(without_not_numbers(block), clean)
    assert not set_aside_not_numbers(clean, count, first, 0)
    assert count.tolist() == [0, 5]
