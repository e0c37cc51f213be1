"""The waveform's zooms against NumPy over the whole, at awkward lengths, and with the store overflowing."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from rollsound.measure.levels import Levels
from rollsound.measure.model import Overview
from rollsound.measure.overview import OverviewStore, most_bins

RATE = 8000
Audio = NDArray[np.float32]


def noise(frames: int, channels: int) -> Audio:
    """Noise whose level climbs."""
    rng = np.random.default_rng(frames)
    return (rng.standard_normal((frames, channels)) * np.linspace(0.01, 0.3, frames)[:, np.newaxis]).astype(np.float32)


def overview_of(audio: Audio, edges: list[int] | None = None, bins: int | None = None) -> Overview:
    """The overview of an array, fed in the given cuts."""
    store = OverviewStore(RATE, audio.shape[1], bins)
    meter = Levels(RATE, audio.shape[1], store)
    for start, stop in pairwise(edges or [0, audio.shape[0]]):
        meter.feed(audio[start:stop])
    meter.finish()
    return store.finish()


def check(found: Overview, audio: Audio) -> None:
    """Compare every zoom with the whole array."""
    assert found.frames == audio.shape[0]
    for size, lowest, highest, rms in zip(found.frames_per_bin, found.lowest, found.highest, found.rms, strict=True):
        parts = [audio[at : at + size] for at in range(0, audio.shape[0], size)]
        assert len(parts) == lowest.shape[0]
        for part, low, high, power in zip(parts, lowest, highest, rms, strict=True):
            assert np.array_equal(low, part.min(axis=0))
            assert np.array_equal(high, part.max(axis=0))
            # 1e-5: energies are kept in single precision
            assert power == pytest.approx(np.sqrt((part.astype(np.float64) ** 2).mean(axis=0)), rel=1e-5)


@pytest.mark.source("numpy: min, max and root mean square of each bin", kind="library")
@pytest.mark.parametrize("frames", [1, 255, 256, 257, 8000, 70_001])
@pytest.mark.parametrize("channels", [1, 3])
def test_against_numpy(frames: int, channels: int) -> None:
    audio = noise(frames, channels)
    found = overview_of(audio)
    check(found, audio)
    with pytest.raises(AssertionError):
        check(found, np.concatenate([audio[:-1], [[0.5] * channels]]).astype(np.float32))


@pytest.mark.parametrize("frames", [16 * 256 - 1, 16 * 256, 16 * 256 + 1, 40_000, 70_001])
def test_a_full_store_halves_its_detail(frames: int) -> None:
    audio = noise(frames, 2)
    found = overview_of(audio, bins=16)
    check(found, audio)
    assert found.lowest[0].shape[0] <= 17
    assert found.frames_per_bin[0] > 256 or frames < 16 * 256


@given(
    frames=st.sampled_from([0, 1, 255, 256, 257, 5000]),
    cuts=st.lists(st.integers(0, 5000), max_size=6),
)
@settings(deadline=None, max_examples=40)
def test_cuts_change_nothing_at_all(frames: int, cuts: list[int]) -> None:
    audio = noise(frames, 2)
    edges = [0, *sorted(min(cut, frames) for cut in cuts), frames]
    cut, whole = overview_of(audio, edges, bins=8), overview_of(audio, bins=8)
    assert cut.frames_per_bin == whole.frames_per_bin
    for ours, theirs in zip(
        (*cut.lowest, *cut.highest, *cut.rms), (*whole.lowest, *whole.highest, *whole.rms), strict=True
    ):
        assert np.array_equal(ours, theirs)


@pytest.mark.parametrize(("channels", "bins"), [(1, 32_768), (32, 32_768), (33, 16_384), (128, 8192)])
def test_memory_has_a_bound(channels: int, bins: int) -> None:
    assert most_bins(channels) == bins
    assert bins * channels * 3 * 4 <= 13_000_000
