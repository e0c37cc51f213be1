"""Reverberation of decays whose length is known, of a library's room, and of what must be called invalid."""

from __future__ import annotations

import math
import warnings
from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray

from rollsound.errors import InputError
from rollsound.measure.place.decay import Decay, decay_of, decays, middle_t_s
from rollsound.measure.place.impulses import BurstFinder, from_onsets, is_clipped, onset
from rollsound.measure.place.octaves import backwards
from rollsound.measure.place.sweep import exponential, impulse_of, read_words

RATE = 24_000
F64 = NDArray[np.float64]
Decaying = Callable[..., F64]
ONE_K = 4


@pytest.mark.source(
    "ISO 3382-1:2009, 5.3: the slope of a pure exponential decay is its reverberation time", kind="memory"
)
@pytest.mark.parametrize("time_s", [0.25, 0.8, 2.5])
@pytest.mark.parametrize("noise_db", [-90.0, -60.0])
def test_a_straight_decay_has_its_own_time(time_s: float, noise_db: float, decaying: Decaying) -> None:
    found = decays([decaying(time_s, seed, noise_db=noise_db, rate=RATE) for seed in range(4)], RATE, (3, 4, 5, 6))
    assert [each.octave for each in found] == [3, 4, 5, 6]
    for each in found:
        assert each.holds == "T30", each.why
        # the spread of one decay in a narrow octave: sigma of T30 is 0.55 T sqrt(2.52 / (4 B T)) (ISO 3382-2, 7.1)
        width = 0.707 * 1000 * 2 ** (each.octave - 4)
        sigma = 0.55 * math.sqrt(2.52 / (4 * width * time_s))
        assert each.t30.time_s == pytest.approx(time_s, rel=0.02 + 2 * sigma)
        assert each.t20.time_s == pytest.approx(time_s, rel=0.02 + 3 * sigma)
        assert each.edt.time_s == pytest.approx(time_s, rel=0.02 + 5 * sigma)
        assert each.range_db == pytest.approx(-noise_db, abs=8.0)
        assert each.curve_db[0] == 0.0
    assert middle_t_s(found) == pytest.approx(time_s, rel=0.08)


def test_a_time_that_is_wrong_is_noticed(decaying: Decaying) -> None:
    found = decay_of([decaying(0.8, 1, rate=RATE)], RATE, 5)
    assert found.t30.time_s != pytest.approx(0.9, rel=0.05)


@pytest.mark.source(
    "ISO 3382-2:2008, 5.3.2: the noise 35 dB under the start for T20 and 45 dB for T30", kind="published"
)
@pytest.mark.parametrize(("noise_db", "holds"), [(-60.0, "T30"), (-40.0, "T20"), (-28.0, "")])
def test_noise_takes_away_first_t30_then_t20(noise_db: float, holds: str, decaying: Decaying) -> None:
    found = decay_of([decaying(1.0, seed, noise_db=noise_db, rate=RATE) for seed in range(2)], RATE, 5)
    assert found.holds == holds
    if holds:
        assert found.t_s == pytest.approx(1.0, rel=0.06)
    else:
        assert math.isnan(found.t_s)
        assert "and T20 needs 35 dB" in found.why
    if holds == "T20":
        assert "and T30 needs 45 dB" in found.why


@pytest.mark.source(
    "ISO 3382-2:2008, annex B: curvature over 10 % or 10 permille off is far from straight", kind="published"
)
@pytest.mark.parametrize("knee_db", [-10.0, -15.0, -20.0, -25.0])
def test_a_decay_of_two_slopes_is_invalid(knee_db: float, decaying: Decaying) -> None:
    pulses = [decaying(0.5, seed, late_s=2.0, knee_db=knee_db, length_s=4.0, rate=RATE) for seed in range(3)]
    for each in decays(pulses, RATE, (3, 4, 5)):
        assert each.holds == "", each
        assert math.isnan(each.t_s)
        assert "curved" in each.why or "no straight line" in each.why


def test_a_knee_under_the_noise_is_not_seen(decaying: Decaying) -> None:
    pulses = [
        decaying(0.5, seed, late_s=2.0, knee_db=-70.0, noise_db=-55, length_s=3.0, rate=RATE) for seed in range(3)
    ]
    assert decay_of(pulses, RATE, 5).holds == "T30"


def test_a_place_drier_than_the_filter_is_said_to_be(decaying: Decaying) -> None:
    found = decay_of([decaying(0.03, 0, length_s=1.0, rate=RATE)], RATE, 0)
    assert found.holds == ""


def test_weak_claps_do_not_spoil_the_strong(decaying: Decaying) -> None:
    strong = [decaying(0.6, seed, noise_db=-60, rate=RATE) for seed in range(3)]
    weak = [decaying(0.6, 9, noise_db=-20, rate=RATE)]
    alone, both = decay_of(strong, RATE, ONE_K), decay_of(strong + weak, RATE, ONE_K)
    assert both.impulses == alone.impulses == 3
    assert both.t_s == alone.t_s
    assert alone.spread_s < 0.1


@pytest.mark.parametrize("x", [np.zeros(0), np.zeros(2400), np.ones(2400), np.zeros(3), np.r_[1.0, np.zeros(4800)]])
def test_what_does_not_decay_has_no_time(x: F64) -> None:
    found: Decay = decay_of([x], RATE, ONE_K)
    assert found.holds == ""
    assert math.isnan(found.t_s)


@pytest.fixture(scope="module")
def simulated() -> tuple[F64, int]:
    """A room of a general room acoustics library, by image sources and rays."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        acoustics = pytest.importorskip("pyroomacoustics")
    size = [7.0, 5.0, 3.2]
    absorption, order = acoustics.inverse_sabine(0.6, size)
    room = acoustics.ShoeBox(size, fs=RATE, materials=acoustics.Material(absorption), max_order=order)
    room.add_source([2.0, 1.7, 1.5])
    room.add_microphone([5.1, 3.3, 1.6])
    room.compute_rir()
    return np.asarray(room.rir[0][0], np.float64), RATE


@pytest.mark.source("pyroomacoustics, ShoeBox and measure_rt60", kind="library")
def test_a_room_of_a_library_has_the_time_the_library_measures(simulated: tuple[F64, int]) -> None:
    acoustics = pytest.importorskip("pyroomacoustics")
    response, rate = simulated
    for octave in (4, 5, 6):
        start = response[onset(response) :]
        wanted = acoustics.experimental.measure_rt60(backwards(start, octave, rate), fs=rate, decay_db=20)
        found = decay_of([start], rate, octave)
        # theirs has no noise to take off and fits between two points of the curve, ours along it
        assert found.t20.time_s == pytest.approx(wanted, rel=0.08)


def found_in(x: F64) -> int:
    """How many claps are found."""
    finder = BurstFinder(RATE)
    finder.feed(x)
    return len(finder.segments())


def recording(decaying: Decaying, gaps: tuple[float, ...], time_s: float = 0.5, level: float = 0.5) -> F64:
    """Claps in a quiet room, the first after a second."""
    rng = np.random.default_rng(4)
    total = 1.0 + sum(gaps) + 2.5
    x = 1e-4 * rng.standard_normal(round(total * RATE))
    at = 1.0
    for number, gap in enumerate((*gaps, 0.0)):
        pulse = decaying(time_s, number, noise_db=-200, rate=RATE)
        pulse = level * pulse / np.abs(pulse).max()
        first = round(at * RATE)
        x[first : first + pulse.size] += pulse[: x.size - first]
        at += gap
    return x


@pytest.mark.parametrize("block", [1000, 65_536])
def test_claps_are_found_where_they_are(block: int, decaying: Decaying) -> None:
    x = recording(decaying, (2.0, 2.5))
    finder = BurstFinder(RATE)
    for at in range(0, x.size, block):
        finder.feed(x[at : at + block])
    segments = finder.segments()
    assert [round(each.start_sample / RATE + 0.05, 2) for each in segments] == pytest.approx([1.0, 3.0, 5.5], abs=0.02)
    assert finder.stands_out_db() > 40
    pulses = from_onsets([x[each.start_sample : each.stop_sample] for each in segments])
    found = decay_of(pulses, RATE, 5)
    assert found.holds == "T30"
    assert found.t_s == pytest.approx(0.5, rel=0.06)
    assert found.impulses == 3


@pytest.mark.parametrize(
    ("x", "sentence"),
    [
        (np.zeros(RATE * 3), "nothing but silence"),
        (np.zeros(0), "nothing but silence"),
        (0.1 * np.random.default_rng(0).standard_normal(RATE * 3), "holds no clap"),
        (np.r_[1e-4 * np.ones(RATE), 0.5, np.zeros(500)], "ends too soon"),
        (np.r_[0.1, np.nan, 0.1], "no numbers"),
    ],
)
def test_a_recording_without_claps_is_refused(x: F64, sentence: str) -> None:
    with pytest.raises(InputError, match=sentence):
        found_in(x)


def test_a_clipped_clap_is_known_from_a_loud_one(decaying: Decaying) -> None:
    pulse = decaying(0.4, 2, rate=RATE)
    pulse /= np.abs(pulse).max()
    assert not is_clipped(0.99 * pulse)
    assert is_clipped(np.clip(6.0 * pulse, -1.0, 1.0 - 2**-15))
    assert is_clipped(0.5 * np.clip(6.0 * pulse, -1.0, 1.0)), "clipped before, and turned down after"
    assert not is_clipped(np.zeros(10))


@pytest.mark.source(
    "A. Farina, AES 108th Convention (2000): a deconvolved sweep is the impulse response", kind="memory"
)
def test_a_sweep_gives_back_the_decay_it_was_played_in(decaying: Decaying) -> None:
    from scipy import signal

    played = exponential(50.0, 11_000.0, 4.0, RATE)
    room = decaying(0.7, 3, noise_db=-200, rate=RATE)
    heard = signal.fftconvolve(np.r_[played, np.zeros(room.size)], room)[: played.size + 2 * RATE]
    heard = 0.3 * heard / np.abs(heard).max()
    bent = heard + 0.05 * heard**2  # a loudspeaker's second harmonic
    delayed = np.r_[np.zeros(RATE // 2), bent] + 1e-4 * np.random.default_rng(0).standard_normal(bent.size + RATE // 2)
    found = impulse_of(delayed, played, RATE)
    assert set(found.octaves) >= {1, 2, 3, 4, 5, 6}
    for octave in (4, 5, 6):
        each = decay_of([found.samples], RATE, octave)
        direct = decay_of([room], RATE, octave)
        assert each.t_s == pytest.approx(direct.t_s, rel=0.04)


def test_octaves_that_the_sweep_leaves_out_are_not_told() -> None:
    played = exponential(400.0, 6_000.0, 2.0, RATE)
    heard = np.r_[played, np.zeros(RATE)] + 1e-5 * np.random.default_rng(1).standard_normal(3 * RATE)
    found = impulse_of(0.5 * heard, played, RATE)
    assert {4, 5, 6} <= set(found.octaves)
    assert not {0, 1, 2, 7} & set(found.octaves)


@pytest.mark.parametrize(
    ("heard", "sentence"),
    [
        (lambda sweep: sweep, "record until the place has rung out"),
        (lambda sweep: np.zeros(sweep.size + RATE), "nothing but silence"),
        (lambda sweep: np.clip(3 * np.r_[sweep, np.zeros(RATE)], -1, 1), "is clipped"),
        (lambda sweep: 0.1 * np.random.default_rng(0).standard_normal(sweep.size + RATE), "does not hold the sweep"),
        (lambda sweep: np.full(sweep.size + RATE, np.nan), "no numbers"),
        (lambda sweep: np.r_[np.zeros(RATE), 0.5, np.zeros(sweep.size)], "does not hold the sweep"),
        (lambda sweep: np.r_[np.zeros(RATE), 0.9 * sweep[::-1]], "does not hold the sweep"),
        (lambda sweep: np.r_[0.9 * exponential(40.0, 8_000.0, 1.0, RATE), np.zeros(RATE)], "does not hold the sweep"),
        (lambda sweep: 0.5 * np.sin(np.arange(sweep.size + RATE)), "does not hold the sweep"),
    ],
)
def test_a_sweep_that_is_none_is_refused(heard: Callable[[F64], F64], sentence: str) -> None:
    sweep = exponential(100.0, 8_000.0, 1.0, RATE)
    with pytest.raises(InputError, match=sentence):
        impulse_of(heard(sweep), sweep, RATE)


@pytest.mark.parametrize("text", ["50 Hz to 16 kHz in 10 s", "50-16000 Hz in 10 s", "50 Hz - 16 kHz in 10 s"])
def test_a_sweep_is_told_in_words(text: str) -> None:
    assert read_words(text) == (50.0, 16_000.0, 10.0)


@pytest.mark.parametrize("text", ["", "sweep", "50 Hz in 10 s", "a to b in c"])
def test_words_that_tell_no_sweep_are_refused(text: str) -> None:
    with pytest.raises(InputError):
        read_words(text)


def test_a_sweep_that_cannot_be_is_refused() -> None:
    with pytest.raises(InputError, match="is none at"):
        exponential(50.0, 20_000.0, 10.0, RATE)
