"""Flat tops: every run found where it is, none where there is none, and what filtering hides is not claimed."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import ndimage, signal

from rollsound.measure.scan import FaultScan

RATE = 48_000


def faults(audio, bits=24, float_samples=False):  # type: ignore[no-untyped-def]
    job = FaultScan(RATE, 1, bits, float_samples=float_samples)
    job.feed(audio.reshape(-1, 1))
    return [f for f in job.finish().tracks[0].faults if f.kind in ("clip", "flat-top", "over-full-scale")]


def runs_by_labelling(audio, top, shortest):  # type: ignore[no-untyped-def]
    """Runs of samples at the clipping level, counted by an image-labelling library."""
    marked, count = ndimage.label(np.abs(audio) >= top)
    sizes = ndimage.sum_labels(np.ones(audio.size), marked, np.arange(1, count + 1))
    # a run that crosses from one rail to the other would be one label: none does within one sample here
    return int(np.sum(sizes >= shortest)), int(np.sum(sizes[sizes >= shortest]))


@pytest.mark.source("scipy.ndimage.label counts the runs", kind="library")
@pytest.mark.parametrize(("ceiling_dbfs", "kind"), [(0.0, "clip"), (-4.0, "flat-top"), (-20.0, "flat-top")])
@pytest.mark.parametrize("bits", [24, 16])
def test_every_run_is_found(speech, rounding, bits, ceiling_dbfs, kind) -> None:  # type: ignore[no-untyped-def]
    top = 10 ** (ceiling_dbfs / 20)
    voice = speech(10, 1, peak_dbfs=-1.0).astype(np.float64) * 2.5 * top
    cut = rounding(np.clip(voice, -top, top), bits)
    step = 2.0 ** (1 - bits)
    runs, samples = runs_by_labelling(cut, top - 1.5 * step, 5 if bits == 16 else 3)
    assert runs > 60
    found = faults(cut, bits)
    assert {f.kind for f in found} == {kind}
    # a run may be missed or two merged where the wave only grazes the ceiling: 98 % is asked for
    assert sum(f.numbers["runs"] for f in found) == pytest.approx(runs, rel=0.02)
    assert sum(f.numbers["flat_samples"] for f in found) == pytest.approx(samples, rel=0.02)
    assert max(f.level_dbfs for f in found) == pytest.approx(ceiling_dbfs, abs=0.01)
    # and the spans lie over the runs: every span begins at a sample of the ceiling
    assert all(abs(cut[f.start_sample]) >= top - 2 * step for f in found)
    # the count is of this sound, not of any: 10 % less gain is other runs
    other, _ = runs_by_labelling(rounding(np.clip(voice * 0.6, -top, top), bits), top - 1.5 * step, 3)
    with pytest.raises(AssertionError):
        assert sum(f.numbers["runs"] for f in found) == pytest.approx(other, rel=0.02)


@pytest.mark.parametrize("hz", [20.0, 50.0, 100.0, 997.0, 1000.0, 6000.0, 12_000.0])
@pytest.mark.parametrize("bits", [24, 16])
def test_whole_sines_have_no_flat_tops(rounding, hz, bits) -> None:  # type: ignore[no-untyped-def]
    t = np.arange(3 * RATE) / RATE
    for level in (0.99, 0.5, 0.05):
        assert faults(rounding(level * np.sin(2 * np.pi * hz * t + 0.3), bits), bits) == []


def test_clipping_that_went_through_a_high_pass_is_not_claimed(speech, rounding) -> None:  # type: ignore[no-untyped-def]
    """A limit of the method, stated: the tops are tilted and no longer flat."""
    voice = np.clip(speech(8, 1, peak_dbfs=-1.0) * 2.5, -0.5, 0.5)
    tilted = signal.sosfilt(signal.butter(2, 80, "highpass", fs=RATE, output="sos"), voice)
    assert faults(rounding(0.7 * tilted, 24)) == []


def test_float_over_full_scale_is_told_and_is_no_clipping(speech) -> None:  # type: ignore[no-untyped-def]
    voice = speech(6, 2, peak_dbfs=-1.0) * np.float32(2.0)
    found = faults(voice, 32, float_samples=True)
    assert {f.kind for f in found} == {"over-full-scale"}
    assert max(f.numbers["over_db"] for f in found) == pytest.approx(20 * np.log10(np.abs(voice).max()), abs=1e-4)
    assert faults(voice * np.float32(0.4), 32, float_samples=True) == []
