"""Damage found against the card: what was put in is found, what is sound is left alone."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import signals
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from rollsound.conform.bands import BAND_EDGES_HZ, BANDS, band_levels, hop_frames
from rollsound.conform.damage import CHUNK_HOPS, Damage, DamageScan, Span, ZeroRuns, damaged_spans
from rollsound.conform.model import ClockMap
from rollsound.conform.resample import resample

RATE = 48_000
SECONDS = 70.0


Samples = NDArray[np.float64]


def aligned(pair: object) -> Samples:
    card = pair.card.astype(np.float64)  # type: ignore[attr-defined]
    frames = pair.radio.size  # type: ignore[attr-defined]
    return resample(card, ClockMap.straight(1234.37, 37.4, frames), frames)


def in_24_bits(samples: NDArray[np.floating]) -> Samples:
    return np.round(samples.astype(np.float64) * 2**23) / 2**23


@pytest.fixture(scope="module")
def clean() -> tuple[Samples, Samples]:
    """A minute of speech over a companded link at 20 dB, and its card at the recorder's clock."""
    pair = signals.make_pair(SECONDS, 5, path=signals.RadioPath(muted=0.0))
    return in_24_bits(pair.radio), aligned(pair)


def marked(spans: tuple[Span, ...], frames: int) -> NDArray[np.bool_]:
    out = np.zeros(frames, bool)
    for span in spans:
        out[span.start_sample : span.stop_sample] = True
    return out


@pytest.mark.source(
    "Recall and false alarms measured on a 2:1 link with 6 dB bursts: 99.2 % and 0 at 9 dB", kind="practice"
)
@pytest.mark.parametrize("path", [{"muted": 0.05}, {"bursts": 0.05}, {"bursts": 0.05, "minimum_phase": True}])
def test_finds_what_was_put_in(path: dict[str, float]) -> None:
    """5 to 200 ms holes and bursts over a twentieth of the time, over a companded link."""
    kind = signals.RadioPath(**{"muted": 0.0, **path})
    pair = signals.make_pair(SECONDS, 5, path=kind)
    sound = signals.make_pair(SECONDS, 5, path=replace(kind, muted=0.0, bursts=0.0)).radio
    bad = pair.radio != sound
    spans = damaged_spans(in_24_bits(pair.radio), aligned(pair), RATE)
    found = marked(spans, bad.size)
    assert np.mean(found[bad]) >= 0.992
    # What is marked beyond the damage itself is the reach of the windows: up to 20 ms around each of about 35 bursts.
    assert np.mean(found & ~bad) < 0.015
    wanted = Damage.MUTE if "muted" in path else Damage.BURST
    assert np.mean([span.kind is wanted for span in spans]) > 0.9


def test_leaves_sound_material_alone(clean: tuple[Samples, Samples]) -> None:
    assert damaged_spans(*clean, RATE) == ()


@pytest.mark.parametrize("name", ["off", "wide", "quiet link"])
def test_leaves_other_links_alone(name: str) -> None:
    kinds = {
        "off": {"companded": False},
        "wide": {"high_hz": 18_000.0},
        "quiet link": {"snr_db": 30.0, "low_hz": 120.0},
    }
    pair = signals.make_pair(SECONDS, 9, path=signals.RadioPath(muted=0.0, **kinds[name]))
    spans = damaged_spans(in_24_bits(pair.radio), aligned(pair), RATE)
    assert sum(span.length_samples for span in spans) / pair.radio.size < 0.001


def loud_part(card: Samples, length: int) -> int:
    """A place where the card speaks."""
    energy = np.concatenate([[0.0], np.cumsum(card[: 60 * RATE] ** 2)])
    return int(np.argmax((energy[length:] - energy[:-length])[RATE : 50 * RATE])) + RATE


@pytest.mark.parametrize(("seconds", "kind"), [(0.15, Damage.DROPOUT), (2.0, Damage.COLLAPSE)])
def test_a_level_that_falls(clean: tuple[Samples, Samples], seconds: float, kind: Damage) -> None:
    """30 dB down, not to zero: short it is a dropout, long a collapse."""
    radio, card = clean[0].copy(), clean[1]
    length = round(seconds * RATE)
    start = loud_part(card, length)
    radio[start : start + length] *= 10 ** (-30 / 20)
    spans = damaged_spans(radio, card, RATE)
    hit = np.mean(marked(spans, radio.size)[start : start + length])
    # Pauses inside two seconds of speech cannot be told from a fallen level; they need not be marked.
    assert hit > (0.95 if seconds < 1 else 0.5)
    assert kind in [span.kind for span in spans]
    longest = max(spans, key=lambda span: span.length_samples)
    assert longest.expected_dbfs - longest.level_dbfs > 12.0


@pytest.mark.source(
    "Longest run of zeros of white noise in 24 bits at -130 dBFS: 11; in 16 bits at -100 dBFS: 266", kind="practice"
)
def test_zeros_that_noise_leaves_are_no_mutes() -> None:
    rng = np.random.default_rng(2)
    for bits, level_db in ((24, -130.0), (24, -100.0), (16, -100.0)):
        scale = 2 ** (bits - 1)
        noise = np.round(rng.standard_normal(20 * RATE) * 10 ** (level_db / 20) * scale) / scale
        runs = ZeroRuns(bits)
        assert runs.feed(noise) + runs.finish() == []


@pytest.mark.parametrize(
    ("bits", "length", "found"), [(24, 31, False), (24, 32, True), (16, 479, False), (16, 480, True)]
)
@pytest.mark.parametrize("block", [1, 7, 4096])
def test_zero_runs_to_the_sample(bits: int, length: int, found: bool, block: int) -> None:
    samples = np.full(3000, 0.25)
    samples[1000 : 1000 + length] = 0.0
    runs = ZeroRuns(bits)
    got = [run for at in range(0, 3000, block) for run in runs.feed(samples[at : at + block])] + runs.finish()
    assert got == ([(1000, 1000 + length)] if found else [])


@pytest.mark.parametrize("burst_dbfs", [None, -45.0])
def test_noise_that_comes_and_goes_with_the_sound(burst_dbfs: float | None) -> None:
    """An expander lifts the link's noise with a loud voice, to 43 dB under it: heard by nobody, and not damage.

    A real burst over the same singing, twenty decibels louder in the upper bands, still is.
    """
    rng = np.random.default_rng(12)
    n = np.arange(40 * RATE)
    voice = sum(np.sin(2 * np.pi * 440.0 * k / RATE * n) / k**2 for k in range(1, 9))
    card = 0.08 * voice * (0.55 + 0.45 * np.sin(2 * np.pi * n / (1.7 * RATE)))
    gain = np.maximum(np.abs(card), 1e-3)
    for _ in range(2):
        gain = np.convolve(gain.reshape(-1, 480).max(axis=1), np.ones(9) / 9, mode="same").repeat(480)
    radio = card + gain * 10 ** (-37 / 20) * rng.standard_normal(n.size)
    start = 10 * RATE
    if burst_dbfs is not None:
        radio[start : start + 4_800] += 10 ** (burst_dbfs / 20) * rng.standard_normal(4_800)
    spans = damaged_spans(in_24_bits(radio), card + 1e-5 * rng.standard_normal(n.size), RATE)
    if burst_dbfs is None:
        assert spans == ()
    else:
        (span,) = spans
        assert span.kind is Damage.BURST
        assert span.start_sample <= start < start + 4_800 <= span.stop_sample


def test_a_dead_radio_is_one_span(clean: tuple[Samples, Samples]) -> None:
    """Receiver noise at -90 dBFS while the card speaks: all of it, and no gain is learnt from it."""
    noise = in_24_bits(np.random.default_rng(8).standard_normal(clean[1].size) * 10 ** (-90 / 20))
    scan = DamageScan(RATE)
    scan.feed(noise, clean[1])
    result = scan.finish()
    (span,) = result.spans
    assert (span.start_sample, span.length_samples, span.kind) == (0, noise.size, Damage.COLLAPSE)
    assert np.isnan(result.level_difference_db)


def test_a_silent_card_mends_nothing(clean: tuple[Samples, Samples]) -> None:
    radio, card = clean[0].copy(), clean[1].copy()
    start = loud_part(card, 4800)
    radio[start : start + 4800] = 0.0
    card[start - 4800 : start + 9600] = 0.0
    span = next(s for s in damaged_spans(radio, card, RATE) if s.kind is Damage.MUTE)
    assert not span.mend
    assert span.reason == "the card is silent there too"
    assert (span.start_sample, span.stop_sample) == (start, start + 4800)


def test_damage_before_anybody_speaks(clean: tuple[Samples, Samples]) -> None:
    """Half a minute of quiet first: it is judged once speech has told what the link does."""
    pause = np.random.default_rng(4).standard_normal(40 * RATE) * 10 ** (-75 / 20)
    card = np.concatenate([pause * 0.1, clean[1][: 20 * RATE]])
    radio = np.concatenate([in_24_bits(pause), clean[0][: 20 * RATE]])
    rng = np.random.default_rng(6)
    radio[10 * RATE : 10 * RATE + 4800] += rng.standard_normal(4800) * 10 ** (-40 / 20)
    spans = damaged_spans(radio, card, RATE)
    burst = next(span for span in spans if span.start_sample <= 10 * RATE < span.stop_sample)
    assert burst.kind is Damage.BURST
    assert burst.stop_sample >= 10 * RATE + 4800


@settings(max_examples=12, deadline=None)
@given(sizes=st.lists(st.sampled_from([1, 479, 480, 481, 4800, 50_000, 300_000]), min_size=1, max_size=6))
def test_blocks_equal_one_feed(clean: tuple[Samples, Samples], sizes: list[int]) -> None:
    frames = min(35 * RATE + 77, clean[0].size)
    radio, card = clean[0][:frames].copy(), clean[1][:frames]
    radio[RATE : RATE + 999] = 0.0
    radio[CHUNK_HOPS * 480 - 500 : CHUNK_HOPS * 480 + 700] = 0.0
    radio[5 * RATE : 5 * RATE + 2000] += 0.3
    whole = damaged_spans(radio, card, RATE)
    scan, at = DamageScan(RATE), 0
    while at < frames:
        for size in sizes:
            scan.feed(radio[at : at + size], card[at : at + size])
            at += size
        if max(sizes) < 4800 and at > 20_000:
            sizes = [300_000]
    assert scan.finish().spans == whole
    assert any(s.start_sample <= CHUNK_HOPS * 480 - 500 and s.stop_sample >= CHUNK_HOPS * 480 + 700 for s in whole)


@pytest.mark.parametrize("frames", [0, 1, 239, 240, 479, 480, 481])
def test_very_short_takes(frames: int) -> None:
    scan = DamageScan(RATE)
    scan.feed(np.full(frames, 0.1), np.full(frames, 0.1))
    result = scan.finish()
    assert result.spans == ()
    assert result.compared_frames == frames


@pytest.mark.source("RMS of a sine: amplitude over the square root of two", kind="published")
@pytest.mark.parametrize("band", range(BANDS))
@pytest.mark.parametrize("rate", [44_100, 48_000, 96_000])
def test_a_sine_reads_its_level(band: int, rate: int) -> None:
    """In the middle of a band, a sine of -20 dBFS peak reads -23 dB there; 0.1 dB for the window's skirts."""
    hop = hop_frames(rate)
    middle = (BAND_EDGES_HZ[band] + BAND_EDGES_HZ[band + 1]) / 2
    levels = band_levels(0.1 * np.sin(2 * np.pi * middle / rate * np.arange(20 * hop)), rate)
    assert levels.shape == (19, BANDS)
    assert np.max(np.abs(levels[:, band] + 23.01)) < 0.1
