"""Rooms, noise, radio paths and card clocks, each alone."""

from __future__ import annotations

import numpy as np
import pytest
import scipy.signal
from hypothesis import given, settings
from hypothesis import strategies as st

from rollsound.demo.card import CardHead, clock_of, file_limits
from rollsound.demo.chance import add_hiss, generator
from rollsound.demo.radio import LEAD, path_filter, transmit
from rollsound.demo.room import ROOMS, hops, impulse, reverberate
from rollsound.demo.scenario import Card, Site
from rollsound.demo.song import hertz, part, song_seconds

RATE = 48000


@pytest.mark.source("scipy.signal.group_delay", kind="library")
@pytest.mark.parametrize("delay", [140.64, 149.28, 156.96])
def test_a_radio_path_has_one_delay(delay: float) -> None:
    taps = path_filter(delay).astype(float)
    hz = np.array([500.0, 1000.0, 4000.0, 10_000.0])
    _, lag = scipy.signal.group_delay((taps, [1.0]), w=hz, fs=RATE)
    # float32 taps and a band edge at 14 kHz leave a few thousandths of a sample
    assert np.abs(lag - delay).max() < 0.02
    _, gain = scipy.signal.freqz(taps, worN=np.array([1000.0, 8000.0, 16_000.0]), fs=RATE)
    level = 20 * np.log10(np.abs(gain))
    assert abs(level[0]) < 1.0
    assert abs(level[1]) < 1.0
    assert level[2] < -30.0


def test_a_compander_gives_the_level_back_and_leaves_noise() -> None:
    t = np.arange(RATE * 2 + LEAD) / RATE
    tone = (0.1 * np.sin(2 * np.pi * 1000 * t)).astype(np.float32)
    tone[RATE + LEAD :] = 0.0
    heard = transmit(tone, 140.0, 4, "test")
    loud, quiet = heard[RATE // 4 : RATE // 2], heard[-RATE // 4 :]
    assert 20 * np.log10(loud.std() / (0.1 / np.sqrt(2))) == pytest.approx(0.0, abs=1.0)
    assert -100 < 20 * np.log10(quiet.std()) < -70
    # the residue: noise under the tone is well above the noise without it
    spectrum = np.abs(np.fft.rfft(loud * np.hanning(loud.size)))
    f = np.fft.rfftfreq(loud.size, 1 / RATE)
    away = spectrum[(f > 3000) & (f < 12_000)]
    still = np.abs(np.fft.rfft(quiet * np.hanning(quiet.size)))[(f > 3000) & (f < 12_000)]
    assert 20 * np.log10(np.median(away) / np.median(still)) > 10.0


@pytest.mark.parametrize("cut", [1.0, 0.35, 0.02])
def test_hiss_has_its_level(cut: float) -> None:
    out = np.zeros(RATE * 10, np.float32)
    add_hiss(out, 0.01, cut, 0.0, 77)
    assert out.std() == pytest.approx(0.01, rel=0.05)
    assert abs(out.mean()) < 0.001


@pytest.mark.source("decay by backward integration, as ISO 3382 does it", kind="memory")
@pytest.mark.parametrize("site", [Site.DECK, Site.CHAPEL])
def test_rooms_decay_as_long_as_they_say(site: Site) -> None:
    response = impulse(site, (0.0, 0.0), 4, "x").astype(float)
    left = 10 * np.log10(np.cumsum(response[::-1] ** 2)[::-1] / np.sum(response**2))
    # from -5 to -20 dB: the tail is cut off further down
    span = np.flatnonzero((left < -5) & (left > -20))
    slope = np.polyfit(span / RATE, left[span], 1)[0]
    assert -60.0 / slope == pytest.approx(ROOMS[site].decay_s, rel=0.3)


@pytest.mark.source("scipy.signal.fftconvolve", kind="library")
def test_reverberation_is_a_convolution() -> None:
    rng = np.random.default_rng(3)
    send = rng.standard_normal(200_003).astype(np.float32)
    responses = [rng.standard_normal(n).astype(np.float32) for n in (1000, 24_000)]
    got = [
        np.concatenate(parts)
        for parts in zip(*(reverberate(send, responses, k) for k in hops(send, responses)), strict=True)
    ]
    for response, wet in zip(responses, got, strict=True):
        expected = scipy.signal.fftconvolve(send.astype(float), response.astype(float))[: send.size]
        # single precision over a transform of 2^17
        assert np.abs(wet - expected).max() < 2e-5 * np.abs(expected).max() * 10


CARD = Card("C9", "Runa", ((0.01, 2.0),), 37.4)


def through(card: Card, sound: np.ndarray, blocks: list[int]) -> np.ndarray:  # type: ignore[type-arg]
    head = CardHead(card, card.spans[0], 4)
    parts, at = [], 0
    for size in [*blocks, sound.size]:
        piece = sound[at : at + size]
        if piece.size:
            parts.append(head.feed(piece, at))
        at += piece.size
    return np.concatenate(parts)


@pytest.mark.source("the sine itself", kind="library")
@pytest.mark.parametrize("hz", [997.0, 10_000.0])
def test_a_card_hears_a_sine_on_its_own_clock(hz: float) -> None:
    t = np.arange(RATE * 2 + 4800)
    heard = through(CARD, (0.5 * np.sin(2 * np.pi * hz * t / RATE)).astype(np.float32), [])
    clock = clock_of(CARD, CARD.spans[0])
    expected = 0.5 * np.sin(2 * np.pi * hz * clock.day_of(np.arange(heard.size, dtype=float)) / RATE)
    error = (heard - expected)[100:-100]
    # the card's own noise lies at -98 dBFS
    assert 20 * np.log10(error.std() / (0.5 / np.sqrt(2))) < -85.0


@settings(max_examples=12, deadline=None)
@given(blocks=st.lists(st.integers(1, 40_000), max_size=5))
def test_a_card_in_blocks_is_the_card_at_once(blocks: list[int]) -> None:
    quiet = Card("C9", "Runa", ((0.01, 1.2),), -33.0, warm_up_ppm=100.0, warm_up_tau_s=0.5, rejam_s=0.6, rejam_lost=700)
    sound = np.random.default_rng(5).standard_normal(RATE + 20_000).astype(np.float32)
    whole, pieces = through(quiet, sound, []), through(quiet, sound, blocks)
    assert whole.size == pieces.size
    # positions are counted from another sample in each block, which moves the last bits of a single-precision sum
    assert np.abs(whole - pieces).max() < 5e-6


@given(st.floats(0.0, 2e7))
def test_a_clock_and_its_inverse(day_sample: float) -> None:
    card = Card("C3", "Runa", ((2.6, 400.0),), -7.5, warm_up_ppm=2.0, rejam_s=206.0, rejam_lost=11_760)
    clock = clock_of(card, card.spans[0])
    t = day_sample + clock.start
    if clock.rejam <= t < clock.rejam + card.rejam_lost:
        return
    # double precision at 2e7 samples
    assert float(clock.day_of(clock.place(t))) == pytest.approx(t, abs=1e-6)


def test_a_split_card_goes_on_without_a_gap() -> None:
    card = Card("C1", "Bram", ((3.1, 81.4), (81.4, 192.3)), 3.7)
    assert file_limits(card, card.spans[0])[1] == file_limits(card, card.spans[1])[0]


def test_chance_depends_on_its_names_alone() -> None:
    assert generator(4, "a", 1).integers(1 << 30) == generator(4, "a", 1).integers(1 << 30)
    assert generator(4, "a", 1).integers(1 << 30) != generator(4, "a", 2).integers(1 << 30)
    assert generator(4, "a", 1).integers(1 << 30) != generator(5, "a", 1).integers(1 << 30)


@pytest.mark.source("equal temperament from A4 = 440 Hz", kind="practice")
def test_the_song_is_in_tune_and_in_time() -> None:
    assert hertz(1) == pytest.approx(440.0)
    assert hertz(8) == pytest.approx(880.0)
    for name in ("tune", "alto", "tenor", "bass", "fiddle"):
        notes = part(name)
        assert notes[-1][0] + notes[-1][1] == pytest.approx(song_seconds() - 1.5)
        assert all(60 < hz < 1200 for _, _, hz in notes)
