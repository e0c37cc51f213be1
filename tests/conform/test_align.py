"""One card against one radio track: accuracy in every weather, and what must be refused."""

from __future__ import annotations

from fractions import Fraction
from functools import lru_cache

import numpy as np
import pytest
import signals as s
import soxr
from numpy.typing import NDArray
from scipy import signal

from rollsound.conform.align import Alignment, Near, align, align_readers
from rollsound.conform.coherence import Mic
from rollsound.conform.envelope import envelope_of
from rollsound.conform.readers import ArrayReader, Mono, ResampledReader

MINUTES_10 = 600.0


def placed(pair: s.Pair) -> tuple[Alignment, float]:
    """Align, and the worst distance of the map from the truth over the take."""
    found = align(pair.card, pair.radio, s.RATE)
    assert found.map is not None, found.reason
    return found, pair.worst_error(found.map.at(np.arange(pair.truth.size, dtype=np.float64)))


# The bounds are the goals set for the trade: a twentieth of a sample is a microsecond; 0.002 ppm over ten minutes is
# 0.06 sample. Seen: 0.009 and 0.0001 at 20 dB, 0.025 and 0.0007 at 0 dB, 0.05 on a bent clock.
@pytest.mark.parametrize(
    ("snr_db", "samples", "ppm"), [(20.0, 0.05, 0.002), pytest.param(0.0, 0.1, 0.005, marks=pytest.mark.soak)]
)
def test_ten_minutes_through_a_radio(snr_db: float, samples: float, ppm: float) -> None:
    found, worst = placed(s.make_pair(MINUTES_10, 1, path=s.RadioPath(snr_db=snr_db)))
    assert worst < samples
    assert abs(found.rate_ppm - 37.4) < ppm
    assert found.same_mic
    assert not found.curved
    assert worst < 5.0 * found.uncertainty_samples


@pytest.mark.parametrize("minutes", [5.0, pytest.param(10.0, marks=pytest.mark.soak)])
def test_a_clock_that_warms_up(minutes: float) -> None:
    truth = s.clock_warm_up(1234.37, 35.4, 2.0, 180.0, round(minutes * 60 * s.RATE))
    found, worst = placed(s.make_pair(minutes * 60, 1, positions=truth))
    assert worst < 0.15
    assert found.curved
    assert found.same_mic
    assert found.map is not None
    assert np.max(np.diff(found.map.take_frames)) <= 0.1 * s.RATE


@pytest.mark.parametrize("seed", [14, *(pytest.param(seed, marks=pytest.mark.soak) for seed in (15, 16))])
def test_twenty_seconds(seed: int) -> None:
    found, worst = placed(s.make_pair(20.0, seed))
    assert worst < 0.1
    assert found.same_mic


@pytest.mark.parametrize(
    "path",
    [
        s.RadioPath(muted=0.2),
        s.RadioPath(muted=0.0, bursts=0.05),
        s.RadioPath(snr_db=10.0, inverted=True),
        s.RadioPath(snr_db=0.0),
    ],
    ids=["a fifth muted", "loud bursts", "upside down", "as much noise as talk"],
)
def test_bad_radios(path: s.RadioPath) -> None:
    found, worst = placed(s.make_pair(60.0, 21, path=path, ppm=-48.2, offset=51_235.3))
    assert worst < 0.1
    assert found.same_mic
    assert found.polarity == (-1 if path.inverted else 1)


def test_a_clean_pair_is_met_to_a_thousandth() -> None:
    """Without noise, mutes and compander only the method's own errors are left."""
    clean = s.RadioPath(20.0, 20_000.0, False, 200.0, 0.0)
    _, worst = placed(s.make_pair(60.0, 21, path=clean))
    assert worst < 0.002


@pytest.mark.source("scipy.signal.sosfreqz, phase delay of Butterworth filters", kind="library")
def test_the_paths_own_delay_is_part_of_the_answer() -> None:
    """A minimum-phase radio is late; what is found is its phase delay over the band where speech is strong."""
    pair = s.make_pair(60.0, 21, path=s.RadioPath(minimum_phase=True))
    found, _ = placed(pair)
    sos = np.concatenate(
        [
            signal.butter(2, 80, "highpass", fs=s.RATE, output="sos"),
            signal.butter(4, 14_000, "lowpass", fs=s.RATE, output="sos"),
        ]
    )
    hz = np.array([1_000.0, 6_000.0])
    _, response = signal.sosfreqz(sos, worN=hz, fs=s.RATE)
    delay = -np.angle(response) / (2 * np.pi * hz) * s.RATE
    assert found.map is not None
    late = float(pair.truth[0]) - float(found.map.at(0.0))
    assert min(delay) < late < max(delay)


@pytest.mark.parametrize("lost", [480.0, -1920.0, 144_000.0])
def test_a_jump_is_found_and_placed(lost: float) -> None:
    seconds, at = 100.0, 57.0
    truth = s.clock_line(200_000.37, 7.4, round(seconds * s.RATE))
    truth[round(at * s.RATE) :] += lost
    pair = s.make_pair(seconds, 23, positions=truth)
    found = align(pair.card, pair.radio, s.RATE)
    assert found.map is not None
    assert len(found.steps) == 1
    step = found.steps[0]
    assert step.samples == pytest.approx(lost, abs=0.1)
    assert abs(step.take_frame / s.RATE - at) < 3.0
    away = np.abs(found.map.at(np.arange(truth.size, dtype=np.float64)) - truth)
    beside = np.abs(np.arange(truth.size) - at * s.RATE) > 3.0 * s.RATE
    assert np.max(away[beside]) < 0.1


@lru_cache(maxsize=3)
def two_mics(seconds: float, room: bool, talk: float, second_gain: float = 1.0) -> tuple[s.Audio, s.Audio]:
    """Two people 1.5 m apart, each with a mic that hears the other 12 dB down and 210 samples late."""
    gain = np.float32(second_gain)
    own = [s.speech(seconds, seed, talk=talk, pitch=pitch) for seed, pitch in ((30, 110.0), (31, 200.0))]
    if room:
        own = [s.in_room(x, s.room_tail(n)) for n, x in enumerate(own)]
    own[1] = own[1] * gain
    late = [np.concatenate([np.zeros(210, np.float32), x[:-210]]) * np.float32(0.25) for x in own]
    first = own[0] + late[1] + s.self_noise(own[0].size, -80.0, 1)
    second = own[1] + late[0] + s.self_noise(own[0].size, -80.0, 2)
    return first, second


# With every run each room and way of talking, and each noise; the other pairs of them in the long run.
@pytest.mark.parametrize(
    ("room", "talk", "snr_db"),
    [
        (False, 1.0, 20.0),
        (False, 0.4, 0.0),
        (True, 1.0, 0.0),
        pytest.param(False, 1.0, 0.0, marks=pytest.mark.soak),
        pytest.param(False, 0.4, 20.0, marks=pytest.mark.soak),
        pytest.param(True, 1.0, 20.0, marks=pytest.mark.soak),
    ],
)
def test_another_persons_mic_is_refused(room: bool, talk: float, snr_db: float) -> None:
    first, second = two_mics(60.0, room, talk)
    truth = s.clock_line(1234.37, 7.4, 55 * s.RATE)
    path = s.RadioPath(snr_db=snr_db)
    wrong = align(first, s.through_radio(s.sample_at(second, truth), path, 9), s.RATE)
    right = align(first, s.through_radio(s.sample_at(first, truth), path, 9), s.RATE)
    assert right.same_mic
    assert not wrong.same_mic
    assert wrong.mic.likeness < right.mic.likeness - 0.01


def test_its_line_looks_perfect_all_the_same() -> None:
    """The reason for the proof of coherence: rate right, scatter small, offset wrong by the distance."""
    first, second = two_mics(60.0, True, 1.0, 0.25)
    truth = s.clock_line(1234.37, 7.4, 55 * s.RATE)
    wrong = align(first, s.through_radio(s.sample_at(second, truth), s.RadioPath(), 9), s.RATE)
    assert wrong.found
    assert abs(wrong.rate_ppm - 7.4) < 0.05
    assert wrong.sigma_samples < 0.5
    assert abs(wrong.offset_samples - 1234.37) == pytest.approx(210.0, abs=0.5)
    assert wrong.mic.verdict is Mic.OTHER


def boom(voice: s.Audio, distance_m: NDArray[np.float64]) -> s.Audio:
    """A boom in a room: direct sound late and weak with distance, the room's tail as loud everywhere."""
    at = np.arange(voice.size) - distance_m / 343.0 * s.RATE
    direct = s.sample_at(voice, at) / distance_m.astype(np.float32)
    tail: s.Audio = direct + (s.in_room(voice, s.room_tail(8)) - voice) * np.float32(0.5)
    return tail


@pytest.mark.parametrize(
    "walk",
    [
        pytest.param(lambda u: 1.0 + 3.0 * u, id="away 1 to 4 m", marks=pytest.mark.soak),
        pytest.param(lambda u: 2.0 + 1.0 * u, id="away 2 to 3 m"),
        pytest.param(
            lambda u: 1.0 + 3.0 * np.abs((u * 3.0 % 1.0) * 2.0 - 1.0), id="to and fro", marks=pytest.mark.soak
        ),
        pytest.param(lambda u: 2.0 + 0.15 * np.sin(u * 60.0), id="sway"),
        pytest.param(lambda u: 2.0 + 0.0 * u, id="still"),
    ],
)
def test_a_boom_is_never_taken_for_a_clock(walk: object) -> None:
    voice = s.speech(60.0, 30)
    heard = boom(voice, np.asarray(walk(np.linspace(0.0, 1.0, voice.size)), np.float64))  # type: ignore[operator]
    truth = s.clock_line(1234.37, 7.4, 55 * s.RATE)
    found = align(voice, s.through_radio(s.sample_at(heard, truth), s.RadioPath(snr_db=30.0, muted=0.0), 7), s.RATE)
    assert not found.same_mic
    assert found.reason


def test_unrelated_sound_is_refused() -> None:
    one, other = s.make_pair(60.0, 41), s.make_pair(60.0, 42)
    found = align(one.card, other.radio, s.RATE)
    assert not found.found
    assert found.confidence == 0.0
    assert "2 is needed" in found.reason


@pytest.mark.parametrize("frames", [0, 1, 239, 240, 48_000, 480_000])
def test_silence_and_scraps_are_refused_in_words(frames: int) -> None:
    card = s.speech(20.0, 5)
    found = align(card, np.zeros(frames, np.float32), s.RATE)
    assert not found.found
    assert "silent" in found.reason
    assert not align(np.zeros(frames, np.float32), card, s.RATE).found


@pytest.mark.parametrize("seconds", [1.5, 3.0, 6.0])
def test_very_short_takes_are_placed_or_refused_never_misplaced(seconds: float) -> None:
    pair = s.make_pair(seconds, 51, talk=3.0, lead_s=20.0)
    found = align(pair.card, pair.radio, s.RATE)
    if found.same_mic:
        assert found.map is not None
        assert pair.worst_error(found.map.at(np.arange(pair.truth.size, dtype=np.float64))) < 0.5


@pytest.mark.parametrize(
    ("ppm", "stamp"),
    [
        (-999.001 + 3.0, Fraction(1000, 1001)),
        (1000.0 - 20.0, Fraction(1001, 1000)),
        (-40_000.0 + 3.0, Fraction(24, 25)),
        (41_666.667 + 3.0, Fraction(25, 24)),
    ],
)
def test_wrong_stamps_are_told_from_crystals(ppm: float, stamp: Fraction) -> None:
    pair = s.make_pair(40.0, 21, ppm=ppm)
    found, worst = placed(pair)
    assert worst < 0.1
    assert found.stamp == stamp
    left = ((1.0 + ppm * 1e-6) / float(stamp) - 1.0) * 1e6
    assert found.rate_ppm == pytest.approx(left, abs=0.01)


@pytest.mark.parametrize("card_hz", [44_100, 96_000])
@pytest.mark.source("soxr, very high quality resampling to 44.1 and 96 kHz", kind="library")
def test_cards_at_another_sample_rate(card_hz: int) -> None:
    """The card is resampled by a reference library, which keeps time zero at zero; 0.1 sample as for short takes."""
    pair = s.make_pair(30.0, 21)
    card = soxr.resample(pair.card, s.RATE, card_hz, quality="VHQ").astype(np.float32)
    found = align(card, pair.radio, s.RATE, card_rate_hz=card_hz)
    assert found.map is not None
    assert found.same_mic
    n = np.arange(0, pair.truth.size, 1000, dtype=np.float64)
    away = found.map.at(n) - pair.truth[::1000] * card_hz / s.RATE
    assert np.max(np.abs(away)) < 0.1 * card_hz / s.RATE
    assert found.rate_ppm == pytest.approx(37.4, abs=0.02)


class LongCard:
    """An hour of noise and talk made on demand, with a take's sound in it; remembers the longest read."""

    sample_rate_hz = s.RATE

    def __init__(self, hours: float, sound: s.Audio, at: int) -> None:
        self.frames = round(hours * 3600 * s.RATE)
        self.sound, self.at, self.longest = sound, at, 0
        self.loop = s.self_noise(1 << 20, -60.0, 3) + s.speech(30.0, 77)[: 1 << 20]

    def read_channel(self, channel: int, start: int, frames: int) -> Mono:
        self.longest = max(self.longest, frames)
        n = np.arange(start, min(start + frames, self.frames))
        # a loop that never repeats in step: its level changes with every turn
        turn = n // self.loop.size
        out = self.loop[(n * (1 + turn % 7)) % self.loop.size].copy()
        a, b = max(start, self.at), min(start + n.size, self.at + self.sound.size)
        if b > a:
            out[a - start : b - start] = self.sound[a - self.at : b - self.at]
        return out.astype(np.float32)


def test_a_long_card_is_read_in_pieces() -> None:
    pair = s.make_pair(20.0, 14)
    card = LongCard(0.5, pair.card, 50_000_123)
    found = align_readers(card, ArrayReader(pair.radio))
    assert found.map is not None
    away = found.map.at(np.arange(pair.truth.size, dtype=np.float64)) - pair.truth - card.at
    assert np.max(np.abs(away)) < 0.1
    assert card.longest <= 1 << 20
    near = align_readers(card, ArrayReader(pair.radio), near=Near(card.at, 5.0))
    assert near.offset_samples == pytest.approx(found.offset_samples, abs=0.02)


@pytest.mark.parametrize("frames", [0, 1, 239, 240, 241, 4096 * 240 + 7])
@pytest.mark.parametrize("start", [0, 13])
def test_features_do_not_depend_on_where_reading_began(frames: int, start: int) -> None:
    """A law: a span's features are those of the span alone, and each channel is itself alone."""
    x = s.speech(30.0, 77)[: frames + start]
    wide = ArrayReader(np.stack([x * 0.5, x], axis=1))
    got = envelope_of(wide, 1, start)
    alone = envelope_of(ArrayReader(np.ascontiguousarray(x[start:])))
    np.testing.assert_array_equal(got.changes, alone.changes)
    np.testing.assert_array_equal(got.levels, alone.levels)
    assert got.hops == frames // 240


@pytest.mark.parametrize(
    "ratio", [Fraction(147, 160), Fraction(2), Fraction(1001, 1000), Fraction(25, 24), Fraction(1)]
)
def test_reading_at_another_rate_does_not_depend_on_the_span(ratio: Fraction) -> None:
    x = s.speech(20.0, 5)[:60_000]
    reader = ResampledReader(ArrayReader(x), ratio, s.RATE)
    whole = reader.read_channel(0, 0, reader.frames)
    for start, frames in ((0, 1), (7, 100), (1234, 5000), (reader.frames - 50, 500)):
        part = reader.read_channel(0, start, frames)
        want = whole[start : start + frames]
        assert part.shape == want.shape
        # float32 sums in another order: 1e-6 of full scale
        assert np.max(np.abs(part - want), initial=0.0) < 1e-6


@pytest.mark.source("scipy.signal.resample_poly", kind="library")
def test_reading_at_another_rate_agrees_with_a_reference() -> None:
    t = np.arange(40_000) / s.RATE
    x = (0.5 * np.sin(2 * np.pi * 1000.0 * t)).astype(np.float32)
    got = ResampledReader(ArrayReader(x), Fraction(160, 147), 44_100).read_channel(0, 0, 30_000)
    want = signal.resample_poly(x, 147, 160)[:30_000]
    # two different low-pass filters, both flat at 1 kHz: equal to -60 dB away from the ends
    assert np.max(np.abs(got[200:-200] - want[200:-200])) < 1e-3
