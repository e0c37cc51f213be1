"""The one pass over a file gives what each meter gives alone, whatever the cuts, and bad floats poison nothing."""

from __future__ import annotations

import math
import tracemalloc
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from rollsound.errors import InputError
from rollsound.measure import Survey, SurveyResult, measure_loudness, measure_true_peak

RATE = 48_000
Audio = NDArray[np.float32]


def noise(frames: int, channels: int, seed: int = 0) -> Audio:
    """Noise at a different level in each channel."""
    rng = np.random.default_rng(seed)
    return (rng.standard_normal((frames, channels)) * np.geomspace(0.2, 0.01, channels)).astype(np.float32)


def survey(audio: Audio, edges: list[int] | None = None, float_samples: bool = False) -> SurveyResult:
    """The result for an array, fed in the given cuts."""
    job = Survey(RATE, audio.shape[1], 32 if float_samples else 24, float_samples=float_samples)
    for start, stop in pairwise(edges or [0, audio.shape[0]]):
        job.feed(audio[start:stop])
    return job.finish()


def test_holds_what_each_meter_gives_alone() -> None:
    audio = noise(RATE * 4, 3)
    found = survey(audio)
    assert found.frames == RATE * 4
    assert found.overview is not None
    assert found.overview.frames == RATE * 4
    for channel, track in enumerate(found.tracks):
        line = np.ascontiguousarray(audio[:, channel])
        loudness = measure_loudness(line, RATE)
        assert track.integrated_lufs == pytest.approx(loudness.integrated_lufs, abs=1e-9)
        assert track.max_short_term_lufs == pytest.approx(loudness.max_short_term_lufs, abs=1e-9)
        assert track.true_peak_dbtp == pytest.approx(measure_true_peak(line)[0], abs=1e-5)
        assert track.sample_peak_dbfs == pytest.approx(20 * math.log10(float(np.abs(line).max())), abs=1e-6)
        assert track.rms_by_time.shape == (4,)


@given(
    frames=st.sampled_from([0, 1, 4095, 4096, 4097, 50_000]),
    cuts=st.lists(st.integers(0, 50_000), max_size=5),
)
@settings(deadline=None, max_examples=15)
def test_cuts_change_nothing(frames: int, cuts: list[int]) -> None:
    audio = noise(frames, 2, frames)
    edges = [0, *sorted(min(cut, frames) for cut in cuts), frames]
    for cut, whole in zip(survey(audio, edges).tracks, survey(audio).tracks, strict=True):
        assert cut.integrated_lufs == whole.integrated_lufs
        assert cut.max_momentary_lufs == whole.max_momentary_lufs
        assert cut.sample_peak_dbfs == whole.sample_peak_dbfs
        assert cut.rms_dbfs == whole.rms_dbfs
        # the peak between samples is single precision
        assert cut.true_peak_dbtp == pytest.approx(whole.true_peak_dbtp, abs=1e-5)


def test_bad_floats_poison_nothing() -> None:
    audio = noise(RATE, 2)
    clean = audio.copy()
    audio[500, 1], audio[501, 1], audio[40_000, 1] = np.nan, np.inf, 3e38
    clean[[500, 501, 40_000], 1] = 0.0
    bad, good = survey(audio, float_samples=True), survey(clean, float_samples=True)
    assert bad.tracks[0].not_numbers == 0
    track, expected = bad.tracks[1], good.tracks[1]
    assert track.not_numbers == 3
    fault = next(fault for fault in track.faults if fault.kind == "not-a-number")
    assert (fault.start_sample, fault.numbers["samples"]) == (500, 3)
    for name in ("integrated_lufs", "true_peak_dbtp", "sample_peak_dbfs", "rms_dbfs", "dc", "max_momentary_lufs"):
        assert getattr(track, name) == getattr(expected, name)
        assert math.isfinite(getattr(track, name))
    assert bad.overview is not None
    assert np.isfinite(bad.overview.rms[0]).all()


def test_takes_any_shape_of_number_and_one_dimension() -> None:
    job = Survey(RATE, 1, 24, overview=False)
    job.feed(np.full(1000, 0.5))
    job.feed(np.full((1000, 1), -0.5, dtype=np.float32))
    found = job.finish()
    assert found.overview is None
    assert found.frames == 2000
    assert found.tracks[0].sample_peak_dbfs == pytest.approx(20 * math.log10(0.5))
    assert found.tracks[0].dc == pytest.approx(0.0)


def test_128_channels() -> None:
    found = survey(noise(RATE // 2, 128))
    assert len(found.tracks) == 128
    assert found.tracks[0].integrated_lufs > found.tracks[127].integrated_lufs + 20


def test_refusals_say_what_is_wrong() -> None:
    with pytest.raises(InputError, match="129 channels"):
        Survey(RATE, 129, 24)
    with pytest.raises(InputError, match="0 channels"):
        Survey(RATE, 0, 24)
    with pytest.raises(InputError, match="side by side"):
        Survey(RATE, 2, 24).feed(np.zeros((10, 3)))


# Of levels by the second an hour is 3600 small arrays; the audio of that hour would be 230 MB. The same growth shows
# in a fifth of it.
@pytest.mark.parametrize(("minutes", "most"), [(12, 200_000), pytest.param(60, 1_000_000, marks=pytest.mark.soak)])
def test_memory_does_not_grow_with_length(minutes: int, most: int) -> None:
    minute = noise(8000 * 60, 2) * np.float32(0.1)
    job = Survey(8000, 2, 24)
    tracemalloc.start()
    try:
        for _ in range(3):
            job.feed(minute)
        early, _ = tracemalloc.get_traced_memory()
        tracemalloc.reset_peak()
        for _ in range(minutes):
            job.feed(minute)
        late, peak = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert late - early < most
    assert peak - early < 20_000_000
