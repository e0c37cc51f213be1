"""Resampling along a clock map: held to the analytic sine and to an outside resampler."""

from __future__ import annotations

import numpy as np
import pytest
import scipy.signal
import soxr
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from rollsound.conform.model import ClockMap
from rollsound.conform.resample import Resampler, covered, filter_bank, resample
from rollsound.errors import InputError
from rollsound.wave.model import SampleFormat
from rollsound.wave.samples import SLACK_BYTES, decode, encode

RATE = 48000
FRAMES = 200_000
SINE = pytest.mark.source("The sine itself, evaluated at the mapped positions: sin(2 pi f p(n) / fs)", kind="published")


def sine(frequency_hz: float, positions: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.sin(2 * np.pi * frequency_hz / RATE * positions)


def snr_db(got: NDArray[np.float64], true: NDArray[np.float64]) -> float:
    return float(10 * np.log10(np.sum(true**2) / np.sum((got - true) ** 2)))


def follow(frequency_hz: float, clock: ClockMap) -> float:
    """Signal to error in dB, edges left out. 377 ppm over the length visits every phase many times."""
    card = sine(frequency_hz, np.arange(FRAMES + 500.0))
    got = resample(card, clock, FRAMES)
    keep = slice(200, FRAMES - 200)
    return snr_db(got[keep], sine(frequency_hz, clock.at(np.arange(FRAMES)))[keep])


# The bounds are the goals set for the design; the filter itself reaches 166, 162 and 156 dB.
@SINE
@pytest.mark.parametrize(("frequency_hz", "at_least_db"), [(997.0, 160.0), (10_000.7, 155.0), (20_000.3, 140.0)])
@pytest.mark.parametrize("offset", [100.25, 64.0, 99.999])
def test_a_sine_stays_a_sine(frequency_hz: float, at_least_db: float, offset: float) -> None:
    assert follow(frequency_hz, ClockMap.straight(offset, 377.0, FRAMES)) >= at_least_db


@SINE
def test_an_error_of_a_nanosecond_would_be_seen() -> None:
    """The yardstick itself must be able to fail: 50 millionths of a sample are already too much at 10 kHz."""
    clock = ClockMap.straight(100.25, 377.0, FRAMES)
    got = resample(sine(10_000.7, np.arange(FRAMES + 500.0)), clock.shifted(5e-5), FRAMES)
    true = sine(10_000.7, clock.at(np.arange(FRAMES)))
    assert snr_db(got[200:-200], true[200:-200]) < 155.0


@SINE
def test_a_wandering_clock_is_followed() -> None:
    """Knots 100 ms apart along a curve: straight lines between them cost less than the filter (-150 dB)."""
    knots = np.arange(0, FRAMES + 4800, 4800)
    curve = ClockMap(knots, 120.3 + knots * (1 + 12e-6) + 0.8 * np.sin(knots / 90_000.0))
    assert follow(10_000.7, curve) >= 150.0


@SINE
@pytest.mark.parametrize(("dithered", "at_least_db"), [(True, 138.0), (False, 140.0)])
def test_into_24_bits(dithered: bool, at_least_db: float) -> None:
    """An ideal full-scale sine in 24 bits reaches 146 dB rounded and 140.4 dB with triangular dither."""
    clock = ClockMap.straight(100.25, 37.4, FRAMES)
    card = 0.999 * sine(10_000.7, np.arange(FRAMES + 500.0))
    got = resample(card, clock, FRAMES)
    raw, clipped = encode(got, SampleFormat.PCM24, 7 if dithered else None, 0)  # type: ignore[arg-type]
    padded = np.concatenate([raw, np.zeros(SLACK_BYTES, np.uint8)])
    heard = decode(padded, FRAMES, 1, SampleFormat.PCM24)[:, 0].astype(np.float64)
    true = 0.999 * sine(10_000.7, clock.at(np.arange(FRAMES)))
    assert clipped == 0
    assert snr_db(heard[200:-200], true[200:-200]) >= at_least_db


@SINE
def test_hours_into_a_card_nothing_blurs() -> None:
    """Four hours in, a double of the whole position would leave 147 dB at 10 kHz; whole and remainder keep all."""
    start, frames = 4 * 3600 * RATE, 100_000
    # The tone repeats every 48 000 samples, so the reference can be computed without losing precision either.
    clock = ClockMap.straight(-1000.5, 2.0**-16 * 1e6, 6 * 3600 * RATE)

    def tone(whole: NDArray[np.int64], part: NDArray[np.float64] | float) -> NDArray[np.float64]:
        return np.sin(2 * np.pi * (10_000 * (whole % RATE) + 10_000.0 * part) / RATE)

    resampler = Resampler(lambda at, count: tone(np.arange(at, at + count), 0.0), 10**10, clock, RATE)
    n = np.arange(start, start + frames)
    whole = n + (n >> 16) - 1001
    part = (n % 65536) / 65536 + 0.5
    assert snr_db(resampler.read(start, frames), tone(whole, part)) >= 155.0


@pytest.mark.source("scipy 1.17, signal.resample (exact for periodic sound); soxr 1.1, recipe VHQ", kind="library")
@pytest.mark.parametrize(("peer", "highest_hz", "at_least_db"), [("scipy", 16_000, 155.0), ("soxr", 10_000, 150.0)])
def test_agrees_with_outside_resamplers(peer: str, highest_hz: int, at_least_db: float) -> None:
    """Noise from 44.1 to 48 kHz. The first peer is exact here; the second's own pass band droops 1e-5 at 15 kHz."""
    rng = np.random.default_rng(3)
    frames = 44_100
    spectrum = np.fft.rfft(rng.standard_normal(frames))
    spectrum[highest_hz:] = 0
    card = 0.2 * np.fft.irfft(spectrum, frames) * np.hanning(frames)
    if peer == "scipy":
        theirs = scipy.signal.resample(card, 48_000)
    else:
        theirs = soxr.resample(card, 44_100, 48_000, quality="VHQ")
    ours = resample(card, ClockMap.straight(0.0, 0.0, theirs.size, ratio=44_100 / 48_000), theirs.size)
    assert snr_db(ours, theirs) >= at_least_db


@SINE
def test_a_card_at_twice_the_rate() -> None:
    """A 96 kHz card in a 48 kHz take: the tone stays, and what would fold down is gone."""
    clock = ClockMap.straight(64.5, 20.0, FRAMES // 2, ratio=2.0)
    tone = np.sin(2 * np.pi * 5000.0 / 96_000 * np.arange(FRAMES + 500.0))
    got = resample(tone, clock, FRAMES // 2)
    true = np.sin(2 * np.pi * 5000.0 / 96_000 * clock.at(np.arange(FRAMES // 2)))
    assert snr_db(got[200:-200], true[200:-200]) >= 140.0
    above = np.sin(2 * np.pi * 36_000.0 / 96_000 * np.arange(FRAMES + 500.0))
    folded = resample(above, clock, FRAMES // 2)[200:-200]
    assert 20 * np.log10(np.max(np.abs(folded))) < -120.0


@settings(max_examples=25, deadline=None)
@given(
    sizes=st.lists(st.sampled_from([0, 1, 63, 64, 65, 999, 4096]), min_size=1, max_size=8),
    start=st.integers(-200, 5200),
)
def test_blocks_equal_one_read(sizes: list[int], start: int) -> None:
    card = np.random.default_rng(1).standard_normal(6000)
    knots = np.arange(0, 6001, 480)
    positions = np.asarray(17.3 + knots * 1.00004 + np.sin(knots / 700.0), np.float64)
    resampler = Resampler.of_array(card, ClockMap(knots, positions))
    whole = resampler.read(start, sum(sizes))
    at, blocks = start, []
    for size in sizes:
        blocks.append(resampler.read(at, size))
        at += size
    np.testing.assert_array_equal(np.concatenate(blocks), whole)


def test_reads_only_what_the_card_has() -> None:
    """Outside the card there is silence, and its reader is never asked for it."""
    card = np.ones(1000)
    asked: list[tuple[int, int]] = []

    def fetch(start: int, frames: int) -> NDArray[np.float64]:
        asked.append((start, frames))
        return card[start : start + frames]

    clock = ClockMap.straight(-500.0, 0.0, 5000)
    got = Resampler(fetch, 1000, clock).read(0, 5000)
    assert all(start >= 0 and start + frames <= 1000 for start, frames in asked)
    assert np.all(got[:400] == 0.0)
    assert np.all(got[1600:] == 0.0)
    assert np.max(np.abs(got[600:1400] - 1.0)) < 1e-12
    assert covered(clock, 1000, 0, 5000) == (500, 1500)


@pytest.mark.parametrize(
    ("offset", "start", "stop", "expected"),
    [(0.0, 0, 10, (0, 10)), (-2.5, 0, 10, (3, 10)), (95.5, 0, 10, (0, 4)), (99.0, 0, 10, (0, 1)), (200.0, 0, 10, None)],
)
def test_coverage_ends_at_the_last_sample(
    offset: float, start: int, stop: int, expected: tuple[int, int] | None
) -> None:
    got = covered(ClockMap.straight(offset, 0.0, 10), 100, start, stop)
    assert got == expected if expected else got[0] == got[1]


@SINE
def test_a_jump_is_crossed_without_a_click() -> None:
    """A card that lost 480 samples: before and after the jump the sine is exact, across it no step is heard."""
    n = np.array([0, 24_000, 24_001, 48_000])
    clock = ClockMap(n, np.array([100.0, 24_100.0, 23_621.0, 47_620.0]))
    card = sine(300.0, np.arange(50_000.0))
    got = resample(card, clock, 48_000)
    true = sine(300.0, clock.at(np.arange(48_000)))
    assert snr_db(got[200:23_700], true[200:23_700]) > 140.0
    assert snr_db(got[24_300:47_800], true[24_300:47_800]) > 140.0
    assert np.max(np.abs(np.diff(got))) < 1.2 * 2 * np.pi * 300.0 / RATE


def test_refuses_a_map_that_runs_backwards() -> None:
    with pytest.raises(InputError, match="backwards"):
        Resampler.of_array(np.zeros(10), ClockMap(np.array([0, 100]), np.array([100.0, -100.0])))


def test_every_filter_passes_a_steady_level() -> None:
    assert np.max(np.abs(filter_bank().sum(axis=1) - 1.0)) < 1e-15
