"""Laws of the loudness meters: cuts change nothing, channels do not touch, bad input is refused in words."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from rollsound.errors import InputError
from rollsound.measure import measure_loudness
from rollsound.measure.gating import Gating
from rollsound.measure.kweight import KWeighting, hop_edge, k_coefficients
from rollsound.measure.loudness import ProgrammeLoudness, TrackLoudness
from rollsound.measure.model import Loudness

Audio = NDArray[np.float32]


def noise(frames: int, channels: int, seed: int) -> Audio:
    """Noise whose level differs from channel to channel and wanders."""
    rng = np.random.default_rng(seed)
    swell = 10 ** (-2 + np.sin(np.arange(frames) / 9973.0))[:, np.newaxis]
    return (rng.standard_normal((frames, channels)) * swell * rng.uniform(0.01, 0.2, channels)).astype(np.float32)


def tracks(audio: Audio, rate: int, edges: list[int]) -> tuple[Loudness, ...]:
    """Each track's figures, fed in the given cuts."""
    meter = TrackLoudness(rate, audio.shape[1])
    for start, stop in pairwise(edges):
        meter.feed(audio[start:stop])
    return meter.finish()


@given(
    rate=st.sampled_from([8000, 11_025, 47_952]),
    extra=st.sampled_from([-1, 0, 1]),
    hops=st.sampled_from([0, 1, 39, 40, 41, 50, 299, 300, 310, 411]),
    cuts=st.lists(st.integers(0, 40_000), max_size=6),
    channels=st.sampled_from([1, 3]),
)
@settings(deadline=None, max_examples=60)
def test_cuts_change_nothing_at_all(rate: int, extra: int, hops: int, cuts: list[int], channels: int) -> None:
    frames = max(hop_edge(hops, rate) + extra, 0)
    audio = noise(frames, channels, hops)
    edges = [0, *sorted(min(cut, frames) for cut in cuts), frames]
    assert tracks(audio, rate, edges) == tracks(audio, rate, [0, frames])


@pytest.mark.parametrize("block", [1, 479, 480, 481, 4096])
def test_block_sizes_change_nothing_at_all(block: int) -> None:
    audio = noise(20_000, 2, 7)
    edges = [*range(0, 20_000, block), 20_000]
    assert tracks(audio, 48_000, edges) == tracks(audio, 48_000, [0, 20_000])


@pytest.mark.parametrize("channels", [2, 7, 32, 128])
def test_each_channel_equals_itself_alone(channels: int) -> None:
    audio = noise(4 * 8000, channels, channels)
    together = tracks(audio, 8000, [0, audio.shape[0]])
    for channel in range(channels):
        alone = tracks(np.ascontiguousarray(audio[:, channel : channel + 1]), 8000, [0, audio.shape[0]])[0]
        # 1e-9: the processor may fuse a multiplication and a sum for several channels and not for one
        assert together[channel].integrated_lufs == pytest.approx(alone.integrated_lufs, abs=1e-9)
        assert together[channel].max_momentary_lufs == pytest.approx(alone.max_momentary_lufs, abs=1e-9)
        assert together[channel].max_short_term_lufs == pytest.approx(alone.max_short_term_lufs, abs=1e-9)
        assert together[channel].loudness_range_lu == pytest.approx(alone.loudness_range_lu, abs=1e-9)


def test_windows_that_never_fill_have_no_loudness() -> None:
    short = measure_loudness(noise(48_000 * 2, 1, 1), 48_000)
    assert short.max_short_term_lufs == -math.inf
    assert short.loudness_range_lu == 0.0
    assert math.isfinite(short.integrated_lufs)
    shorter = measure_loudness(noise(19_199, 1, 1), 48_000)
    assert shorter == Loudness(-math.inf, 0.0, -math.inf, -math.inf)
    assert measure_loudness(noise(19_200, 1, 1), 48_000).max_momentary_lufs > -math.inf


def test_silence_after_sound_stays_quick_and_silent() -> None:
    weighting = KWeighting(48_000, 1)
    weighting.feed(noise(48_000, 1, 2))
    weighting.feed(np.zeros((48_000 * 10, 1), dtype=np.float32))
    assert weighting.feed(np.zeros((4800, 1), dtype=np.float32)).max() == 0.0


def test_a_mono_track_reads_3_lu_below_itself_on_two_sides() -> None:
    mono = noise(48_000 * 4, 1, 3)
    both = np.repeat(mono, 2, axis=1)
    gain = measure_loudness(both, 48_000).integrated_lufs - measure_loudness(mono, 48_000).integrated_lufs
    assert gain == pytest.approx(10 * math.log10(2), abs=1e-9)


def test_very_loud_and_very_quiet_blocks_find_a_place() -> None:
    meter = Gating(48_000, 2)
    hops = np.full((400, 2), 480.0)
    hops[:, 0] *= 10.0**9
    hops[:, 1] *= 10.0**-9
    meter.feed(hops)
    loud, quiet = meter.finish()
    assert loud.integrated_lufs == pytest.approx(90 - 0.691, abs=1e-6)
    assert quiet.integrated_lufs == -math.inf
    assert quiet.max_momentary_lufs == pytest.approx(-90 - 0.691, abs=1e-6)


def test_refusals_say_what_to_do() -> None:
    with pytest.raises(InputError, match="weight of each channel"):
        measure_loudness(np.zeros((10, 4)), 48_000)
    with pytest.raises(InputError, match="one for each"):
        ProgrammeLoudness(48_000, 3, (1.0,))
    with pytest.raises(InputError, match="8000 Hz or more"):
        k_coefficients(4000)
