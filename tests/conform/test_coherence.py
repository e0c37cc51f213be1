"""Coherence against its published statistics, delays against references, and the generator against a library."""

from __future__ import annotations

import numpy as np
import pytest
import signals as s
import soxr
from scipy import signal

from rollsound.conform import fine
from rollsound.conform.coarse import search, warped
from rollsound.conform.coherence import Mic, mean_square_coherence, prove_mic, without_bias
from rollsound.conform.envelope import envelope_of
from rollsound.conform.fit import fit_clock
from rollsound.conform.readers import ArrayReader
from rollsound.conform.windows import Whitened


@pytest.mark.source("Carter, Knapp & Nuttall 1973: E[MSC] = 1/N for independent windows", kind="published")
@pytest.mark.parametrize("windows", [8, 32, 120])
def test_unrelated_noise_has_the_published_bias(windows: int) -> None:
    rng = np.random.default_rng(windows)
    x, y = rng.standard_normal((2, windows, 4096)).astype(np.float32)
    value, _ = mean_square_coherence(x, y)
    # 2000 bins, neighbours related by the window: the mean's error is about 1/N / sqrt(1000), allow 5 of those
    assert float(value[1:-1].mean()) == pytest.approx(1.0 / windows, rel=0.16)
    assert without_bias(float(value[1:-1].mean()), windows) < 0.2 / windows
    assert float(value[1:-1].mean()) != pytest.approx(2.0 / windows, rel=0.16)


@pytest.mark.source("Bendat & Piersol, Random Data: MSC of a signal in noise is S / (S + N)", kind="memory")
@pytest.mark.parametrize("snr_db", [10.0, 0.0, -6.0])
def test_noise_lowers_coherence_as_published(snr_db: float) -> None:
    rng = np.random.default_rng(5)
    x = rng.standard_normal((120, 2048)).astype(np.float32)
    noise = rng.standard_normal(x.shape).astype(np.float32) * np.float32(10 ** (-snr_db / 20))
    value, _ = mean_square_coherence(x, x + noise)
    ratio = 10 ** (snr_db / 10)
    assert without_bias(float(value[1:-1].mean()), 120) == pytest.approx(ratio / (1 + ratio), abs=0.02)


@pytest.mark.source("scipy.signal.coherence", kind="library")
def test_coherence_equals_a_reference() -> None:
    """Windows of equal power, so that levelling changes nothing; the reference detrends nothing and uses our window."""
    rng = np.random.default_rng(6)
    x = rng.standard_normal((40, 1024))
    x /= np.sqrt(np.mean(x**2, axis=1, keepdims=True))
    y = 0.5 * x + rng.standard_normal(x.shape)
    y /= np.sqrt(np.mean(y**2, axis=1, keepdims=True))
    ours, _ = mean_square_coherence(x, y)
    hann = np.hanning(1026)[1:-1]
    _, want = signal.coherence(x.ravel(), y.ravel(), window=hann, nperseg=1024, noverlap=0, detrend=False)
    np.testing.assert_allclose(ours, want, atol=2e-4)  # float32 against float64
    assert np.max(np.abs(ours * 1.01 - want)) > 2e-4


@pytest.mark.source("scipy.signal.correlate", kind="library")
@pytest.mark.parametrize("lag", [0, 1, 1777, 4800])
def test_whitened_lag_of_whole_samples(lag: int) -> None:
    span = s.speech(20.0, 5)[100_000 : 100_000 + 32_768 + 4800]
    part = np.ascontiguousarray(span[lag : lag + 32_768])
    got, quality, sign = Whitened(32_768, 2400, s.RATE).lag(part, span)
    want = int(np.argmax(signal.correlate(span, part, "valid")))
    assert want == lag
    assert got == pytest.approx(want, abs=0.6)  # half a sample of its own, by design
    assert quality > 1.2
    assert sign == 1
    assert Whitened(32_768, 2400, s.RATE).lag(-part, span)[2] == -1


@pytest.mark.parametrize("delay", [-0.73, 0.0, 0.01, 0.4])
@pytest.mark.source(
    "delay by a phase ramp of the discrete Fourier transform (exact for periodic sound)", kind="published"
)
def test_phase_lag_of_a_known_fraction(delay: float) -> None:
    x = s.speech(20.0, 5)[100_000 : 100_000 + 65_536].astype(np.float64)
    ramp = np.exp(2j * np.pi * np.fft.rfftfreq(x.size) * delay)
    moved = np.fft.irfft(np.fft.rfft(x) * ramp, x.size)
    cut = slice(20_000, 20_000 + 16_384)
    got = fine.fine_lags(moved[None, cut].astype(np.float32), np.ascontiguousarray(x[None, cut], np.float32), s.RATE)
    # positive: the card position lies later than the map says, that is, the track runs ahead of the card's window
    assert got.lag[0] == pytest.approx(delay, abs=0.003)


def test_short_sinc_reads_between_samples() -> None:
    n = np.arange(9_600)
    tone = np.sin(2 * np.pi * 5_000.0 / s.RATE * n).astype(np.float32)
    at = np.linspace(1000.3, 8000.9, 7000)
    got = fine.read_along(ArrayReader(tone), 0, at)
    want = np.sin(2 * np.pi * 5_000.0 / s.RATE * at)
    assert np.max(np.abs(got - want)) < 1e-3  # -60 dB, as its docstring says


@pytest.mark.source("soxr, very high quality, constant ratio", kind="library")
def test_the_generators_interpolator_agrees_with_a_reference() -> None:
    """20 ppm over 10 s against the library: the tests' own truth must not be ours alone. -70 dB of the speech."""
    voice = s.speech(20.0, 5)[: 10 * s.RATE]
    rate = 48_000 * (1 - 20e-6)
    want = soxr.resample(voice.astype(np.float64), s.RATE, rate, quality="VHQ")[: 9 * s.RATE]
    at = np.arange(want.size) * (s.RATE / rate)
    got = s.sample_at(voice, at)
    low = signal.butter(8, 14_000, fs=s.RATE, output="sos")
    error = signal.sosfiltfilt(low, got - want)[1000:-1000]
    assert np.sqrt(np.mean(error**2)) < 10 ** (-70 / 20) * np.sqrt(np.mean(want**2))
    wrong = signal.sosfiltfilt(low, s.sample_at(voice, at + 0.05) - want)[1000:-1000]
    assert np.sqrt(np.mean(wrong**2)) > 10 ** (-70 / 20) * np.sqrt(np.mean(want**2))


def test_coarse_confidence_separates_same_from_unrelated() -> None:
    pair, other = s.make_pair(60.0, 41), s.make_pair(60.0, 42)
    card = envelope_of(ArrayReader(pair.card))
    same = search(card, warped(envelope_of(ArrayReader(pair.radio)), 1.0))
    alien = search(card, warped(envelope_of(ArrayReader(other.radio)), 1.0))
    assert same.confidence > 4.0
    assert alien.confidence < 1.5
    assert same.hops * 240 == pytest.approx(pair.truth[0], abs=480)  # 37 ppm over a minute is half a hop


def test_too_few_windows_give_no_verdict() -> None:
    few = np.ones((3, 1024), np.float32)
    assert prove_mic(few, few, np.arange(3.0), few[:0], s.RATE).verdict is Mic.UNKNOWN


def test_a_level_that_wanders_is_another_mic() -> None:
    """The same sound, but 12 dB weaker at the end: as from a boom that is walked away from, in the open."""
    rng = np.random.default_rng(2)
    x = rng.standard_normal((120, 4096)).astype(np.float32) * 0.1
    times = np.arange(120.0)
    fade = (10 ** (-0.6 * times / 120)).astype(np.float32)[:, None]
    assert prove_mic(x, x * 0.5, times, x[:0], s.RATE).verdict is Mic.SAME
    assert prove_mic(x, x * fade, times, x[:0], s.RATE).verdict is Mic.OTHER


def test_fit_chooses_line_curve_and_steps() -> None:
    rng = np.random.default_rng(4)
    frames = 600 * s.RATE
    n = np.sort(rng.uniform(0, frames, 200))
    noise = rng.normal(0, 0.05, 200)
    outliers = rng.random(200) < 0.1
    noise[outliers] = rng.uniform(-2000, 2000, int(outliers.sum()))
    line = fit_clock(n, 100.0 + 20e-6 * n + noise, frames, s.RATE, least_step=8.0)
    assert line is not None
    assert not line.curved
    assert line.steps == ()
    assert float(line.drift(np.array([0.0]))[0]) == pytest.approx(100.0, abs=0.05)
    bend = 7.0 * (1 - np.exp(-n / (180.0 * s.RATE)))
    curve = fit_clock(n, 100.0 + bend + noise, frames, s.RATE, least_step=8.0)
    assert curve is not None
    assert curve.curved
    step = fit_clock(n, 100.0 + 20e-6 * n - 480.0 * (n > 0.4 * frames) + noise, frames, s.RATE, least_step=8.0)
    assert step is not None
    assert len(step.steps) == 1
    assert step.steps[0][0] == pytest.approx(0.4 * frames, abs=10 * s.RATE)
    assert fit_clock(n[:2], n[:2], frames, s.RATE, least_step=8.0) is None
