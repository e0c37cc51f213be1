"""True peak against the published filter, the published test signals, and ideal interpolation by a library."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pyebur128
import pytest
import soxr
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy import signal

from rollsound.measure import measure_true_peak
from rollsound.measure.truepeak import PHASES, TruePeak

RATE = 48_000
Audio = NDArray[np.float32]

# EBU Tech 3341 prints "+0.2 / -0.4 dB" beside every true-peak case.
OVER_DB, UNDER_DB = 0.2, 0.4

PRINTED = """
0.0017089843750 0.0109863281250 -0.0196533203125 0.0332031250000 -0.0594482421875 0.1373291015625
0.9721679687500 -0.1022949218750 0.0476074218750 -0.0266113281250 0.0148925781250 -0.0083007812500
-0.0291748046875 0.0292968750000 -0.0517578125000 0.0891113281250 -0.1665039062500 0.4650878906250
0.7797851562500 -0.2003173828125 0.1015625000000 -0.0582275390625 0.0330810546875 -0.0189208984375
-0.0189208984375 0.0330810546875 -0.0582275390625 0.1015625000000 -0.2003173828125 0.7797851562500
0.4650878906250 -0.1665039062500 0.0891113281250 -0.0517578125000 0.0292968750000 -0.0291748046875
-0.0083007812500 0.0148925781250 -0.0266113281250 0.0476074218750 -0.1022949218750 0.9721679687500
0.1373291015625 -0.0594482421875 0.0332031250000 -0.0196533203125 0.0109863281250 0.0017089843750
"""
TABLE = np.array(PRINTED.split(), dtype=np.float64).reshape(4, 12)


def by_convolution(channel: Audio, table: NDArray[np.float64] = TABLE) -> float:
    """Annex 2 written out: four convolutions, the greatest magnitude, never below the samples themselves."""
    values = [np.convolve(channel.astype(np.float64), phase) for phase in table]
    top = max(float(np.abs(value).max()) for value in values)
    return 20 * math.log10(max(top, float(np.abs(channel).max())))


def noise(frames: int, channels: int, seed: int) -> Audio:
    """Noise with a slow swell, so that some stretches can climb and most cannot."""
    rng = np.random.default_rng(seed)
    swell = 0.05 + 0.4 * np.abs(np.sin(np.arange(frames) / 997.0))[:, np.newaxis]
    return (rng.standard_normal((frames, channels)) * swell).astype(np.float32)


@pytest.mark.source("ITU-R BS.1770-5, annex 2, table of the order 48 4-phase filter", kind="published")
def test_filter_is_the_table() -> None:
    ours = np.concatenate([PHASES, PHASES[1:, ::-1], PHASES[:1, ::-1]])
    assert np.array_equal(ours, TABLE)
    for place in range(48):
        wrong = TABLE.ravel().copy()
        wrong[place] += 2.0**-13
        assert not np.array_equal(ours.ravel(), wrong)


@pytest.mark.source("ITU-R BS.1770-5, annex 2, by numpy.convolve", kind="library")
@pytest.mark.parametrize("frames", [1, 10, 11, 12, 63, 64, 65, 1000, 20_000])
def test_short_cuts_change_nothing(frames: int) -> None:
    audio = noise(frames, 3, frames)
    for channel, found in enumerate(measure_true_peak(audio)):
        # 1e-5 dB: single precision
        assert found == pytest.approx(by_convolution(audio[:, channel]), abs=1e-5)


@pytest.mark.source("ITU-R BS.1770-5, annex 2, by numpy.convolve", kind="library")
def test_a_wrong_tap_is_noticed() -> None:
    audio = noise(20_000, 1, 4)
    noticed = 0
    for phase in range(2):
        for tap in range(12):
            wrong = PHASES.copy()
            wrong[phase, tap] += 0.01
            meter = TruePeak(1, wrong)
            meter.feed(audio)
            noticed += abs(meter.finish()[0][0] - by_convolution(audio[:, 0])) > 1e-5
    # a tap of the pair that does not hold this signal's peak may go unseen
    assert noticed >= 12


def tapered(audio: NDArray[np.float64], rate: int = RATE) -> Audio:
    """Fade 0.1 s in and out."""
    ramp = np.minimum(np.arange(audio.size) / (0.1 * rate), 1.0)
    return (audio * ramp * ramp[::-1]).astype(np.float32)


def steady(cycles_per_sample: float, amplitude: float, degrees: float) -> Audio:
    """One second of a sine at a fraction of the sample rate."""
    return tapered(amplitude * np.sin(2 * np.pi * cycles_per_sample * np.arange(RATE) + math.radians(degrees)))


def within(found: float, expected: float) -> bool:
    """Inside the tolerance that Tech 3341 prints."""
    return expected - UNDER_DB <= found <= expected + OVER_DB


@pytest.mark.source("EBU Tech 3341, table 1, cases 15 to 19", kind="published")
@pytest.mark.parametrize(
    ("cycles", "amplitude", "degrees", "expected"),
    [
        (1 / 4, 0.50, 0.0, -6.0),
        (1 / 4, 0.50, 45.0, -6.0),
        (1 / 6, 0.50, 60.0, -6.0),
        (1 / 8, 0.50, 67.5, -6.0),
        (1 / 4, 1.41, 45.0, 3.0),
    ],
    ids=["case 15", "case 16", "case 17", "case 18", "case 19"],
)
def test_steady_tones(cycles: float, amplitude: float, degrees: float, expected: float) -> None:
    audio = steady(cycles, amplitude, degrees)
    assert within(measure_true_peak(audio)[0], expected)
    assert not within(measure_true_peak(audio * np.float32(10 ** (0.7 / 20)))[0], expected)
    assert not within(measure_true_peak(audio * np.float32(10 ** (-0.7 / 20)))[0], expected)


def spliced() -> NDArray[np.float64]:
    """At 4 x 48 kHz: a sine of fs/6 at 0.50 with one period of fs/4 at 1.0 put in at a zero crossing, band-limited."""
    long, short = 24, 16
    carrier = 0.5 * np.sin(2 * np.pi * np.arange(long * 1000) / long)
    burst = np.sin(2 * np.pi * np.arange(short) / short)
    whole = np.concatenate([carrier, burst, carrier])
    return np.asarray(np.convolve(whole, signal.firwin(1023, 0.25 * 0.95), mode="same"))


@pytest.mark.source("EBU Tech 3341, table 1, cases 20 to 23", kind="published")
@pytest.mark.parametrize("offset", range(4))
def test_a_peak_between_the_samples(offset: int) -> None:
    audio = tapered(spliced()[offset::4])
    assert within(measure_true_peak(audio)[0], 0.0)
    state = pyebur128.R128State(1, RATE, pyebur128.MeasurementMode.MODE_TRUE_PEAK)
    state.add_frames(audio, audio.size)
    # 0.1 dB: the library's filter is another one
    assert measure_true_peak(audio)[0] == pytest.approx(20 * math.log10(pyebur128.get_true_peak(state, 0)), abs=0.1)
    assert not within(measure_true_peak(audio * np.float32(10 ** (0.5 / 20)))[0], 0.0)


@pytest.mark.source("soxr, very high quality, 16-fold: the ideal interpolation", kind="library")
@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("rate", [44_100, 48_000, 96_000])
def test_against_ideal_interpolation(seed: int, rate: int) -> None:
    rng = np.random.default_rng(seed)
    low_pass = signal.firwin(255, 18_000, fs=rate)
    audio = tapered(np.convolve(rng.standard_normal(rate // 2), low_pass, mode="same") * 0.2, rate)
    ideal = 20 * math.log10(float(np.abs(soxr.resample(audio.astype(np.float64), 1, 16, "VHQ")).max()))
    # the tolerance that Tech 3341 prints for the four-fold filter
    assert within(measure_true_peak(audio)[0], ideal)


def test_never_below_the_samples() -> None:
    lone = np.zeros(100, dtype=np.float32)
    lone[50] = -0.8
    assert measure_true_peak(lone)[0] == pytest.approx(20 * math.log10(0.8), abs=1e-5)


def test_silence_and_nothing_have_no_peak() -> None:
    assert measure_true_peak(np.zeros((0, 2))) == (-math.inf, -math.inf)
    assert measure_true_peak(np.zeros((500, 2))) == (-math.inf, -math.inf)


def test_says_where() -> None:
    audio = noise(30_000, 2, 8) * np.float32(0.1)
    audio[12_345:12_349, 1] = [0.6, 0.9, 0.9, 0.6]
    meter = TruePeak(2)
    meter.feed(audio)
    level, place = meter.finish()[1]
    assert level > 20 * math.log10(0.9)
    assert 12_346 <= place <= 12_347


@given(
    frames=st.sampled_from([0, 1, 10, 11, 12, 63, 64, 65, 127, 128, 129, 700]),
    cuts=st.lists(st.integers(0, 700), max_size=8),
    channels=st.sampled_from([1, 2, 3, 8, 33]),
)
@settings(deadline=None, max_examples=60)
def test_cuts_change_nothing(frames: int, cuts: list[int], channels: int) -> None:
    audio = noise(frames, channels, frames + channels)
    meter = TruePeak(channels)
    edges = [0, *sorted(min(cut, frames) for cut in cuts), frames]
    for start, stop in pairwise(edges):
        meter.feed(audio[start:stop])
    found = meter.finish()
    whole = TruePeak(channels)
    whole.feed(audio)
    for cut, once in zip(found, whole.finish(), strict=True):
        assert cut[0] == pytest.approx(once[0], abs=1e-5)


@pytest.mark.parametrize("channels", [2, 7, 32, 128])
def test_each_channel_equals_itself_alone(channels: int) -> None:
    audio = noise(3000, channels, channels)
    together = measure_true_peak(audio)
    for channel in range(channels):
        alone = measure_true_peak(np.ascontiguousarray(audio[:, channel]))[0]
        assert together[channel] == pytest.approx(alone, abs=1e-5)
