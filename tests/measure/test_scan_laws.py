"""Streaming equals one-shot, a track equals itself alone, memory stays, every sample rate works."""

from __future__ import annotations

import tracemalloc
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rollsound.errors import InputError
from rollsound.measure.grid import Grid
from rollsound.measure.model import FaultScanResult
from rollsound.measure.scan import FaultScan
from rollsound.measure.thresholds import thresholds

RATE = 48_000


def troubled(frames: int, channels: int, seed: int = 0, rate: int = RATE) -> np.ndarray:
    """Noise with a fault of every kind, at other places in each channel."""
    rng = np.random.default_rng(seed)
    audio = rng.standard_normal((frames, channels)) * np.geomspace(0.02, 0.004, channels)
    for c in range(channels):
        for k, at in enumerate(range(rate // 7 + 101 * c, frames - rate // 5, rate // 3)):
            length = (37, 700, 2400, 5000)[k % 4]
            if k % 4 == 0:
                audio[at : at + length, c] = 0.0
            elif k % 4 == 1:
                audio[at : at + length, c] = np.clip(30 * audio[at : at + length, c], -0.3, 0.3)
            elif k % 4 == 2:
                audio[at : at + length, c] *= 12.0
            else:
                audio[at : at + 500, c] = audio[at - 500 : at, c]
            audio[at + rate // 8, c] += 0.7
    return (np.round(audio * 2**23) / 2**23).astype(np.float32)


def scan(audio: np.ndarray, edges: list[int] | None = None, rate: int = RATE) -> FaultScanResult:
    job = FaultScan(rate, audio.shape[1], 24)
    for start, stop in pairwise(edges or [0, audio.shape[0]]):
        job.feed(audio[start:stop])
    return job.finish()


def told(result: FaultScanResult) -> str:
    """Everything in it; nan equals nan."""
    return repr(result)


WHOLE = {n: troubled(n, 3) for n in (0, 1, 47, 48, 49, 11_999, 12_000, 12_001, 12_479, 12_480, 100_000)}
ANSWERS = {n: told(scan(audio)) for n, audio in WHOLE.items()}


@given(frames=st.sampled_from(sorted(WHOLE)), cuts=st.lists(st.integers(0, 100_000), max_size=6))
@settings(deadline=None, max_examples=60)
def test_cuts_change_nothing(frames: int, cuts: list[int]) -> None:
    edges = [0, *sorted(min(cut, frames) for cut in cuts), frames]
    assert told(scan(WHOLE[frames], edges)) == ANSWERS[frames]


@pytest.mark.parametrize("block", [1, 479, 4096])
def test_blocks_of_one_size(block: int) -> None:
    frames = 12_480
    assert told(scan(WHOLE[frames], [*range(0, frames, block), frames])) == ANSWERS[frames]


def test_the_answers_differ_between_sounds() -> None:
    assert len({ANSWERS[n] for n in (0, 49, 12_480, 100_000)}) == 4
    assert told(scan(troubled(100_000, 3, seed=1))) != ANSWERS[100_000]


def test_each_track_equals_itself_alone() -> None:
    audio = troubled(RATE * 14, 5)
    together = scan(audio)
    kinds = set()
    for c in range(5):
        alone = scan(np.ascontiguousarray(audio[:, c : c + 1])).tracks[0]
        with_others = together.tracks[c]
        assert [(f.kind, f.start_sample, f.length_samples) for f in alone.faults] == [
            (f.kind, f.start_sample, f.length_samples) for f in with_others.faults
        ]
        # spectra of several tracks at once may be rounded otherwise
        for mine, theirs in zip(alone.faults, with_others.faults, strict=True):
            assert mine.numbers == pytest.approx(theirs.numbers, rel=1e-4, abs=1e-6)
        assert alone.noise_floor_dbfs == with_others.noise_floor_dbfs
        assert alone.bandwidth_hz == with_others.bandwidth_hz
        kinds |= {f.kind for f in alone.faults}
    assert {"mute", "flat-top", "radio-hit", "repeat", "click"} <= kinds


@pytest.mark.parametrize("rate", [8_000, 16_000, 32_000, 44_100, 47_952, 48_048, 88_200, 96_000, 192_000])
def test_every_rate(rate: int) -> None:
    audio = troubled(rate * 5, 2, rate=rate)
    audio[2 * rate : 2 * rate + rate // 20] = 0.0
    faults = scan(audio, rate=rate).tracks[0].faults
    mutes = [f for f in faults if f.kind == "mute" and f.start_sample <= 2 * rate < f.start_sample + f.length_samples]
    assert len(mutes) == 1
    assert mutes[0].length_samples >= rate // 20
    grid = Grid(rate)
    assert 0.9e-3 < grid.moment_seconds < 1.15e-3


def test_memory_does_not_grow() -> None:
    audio = troubled(RATE * 4, 4)
    used = []
    for turns in (3, 24):
        job = FaultScan(RATE, 4, 24)
        job.feed(audio)
        tracemalloc.start()
        for _ in range(turns):
            job.feed(audio)
        used.append(tracemalloc.get_traced_memory()[1])
        tracemalloc.stop()
        job.finish()
    # the lists of found places may grow until they are full, and hum's spectra to 64 (5 MB for 32 tracks)
    assert used[1] < used[0] + 2_500_000


def test_bad_input_is_refused_with_a_sentence() -> None:
    with pytest.raises(InputError, match="8000 Hz or more"):
        FaultScan(7_999, 1, 24)
    with pytest.raises(InputError, match="side by side"):
        FaultScan(RATE, 2, 24).feed(np.zeros((5, 3), np.float32))


def test_every_threshold_says_where_it_comes_from() -> None:
    rows = thresholds()
    assert len(rows) > 40
    known = ("measured here", "common practice, no source", "from memory")
    for name, row in rows.items():
        assert row.source.startswith(known), name
        assert row.unit, name
