"""Which part of a song takes cover, how fast playback ran, where it slipped, and what is missing."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.song.song_code import HZ, code, noisy, passes, silence, song, take

from rollsound.song.coverage import map_songs, united, without
from rollsound.song.speed import SpeedKind, speed_of
from rollsound.timecode import RATES


@pytest.mark.parametrize("rate", [rate for rate in RATES if rate.nominal != 25], ids=str)
def test_a_take_covers_what_its_code_says(rate) -> None:  # type: ignore[no-untyped-def]
    """Exact to the frame at every rate, drop-frame included; where the song begins, to half a sample."""
    ferry = song(rate=str(rate))
    start = ferry.start.plus(20 * rate.nominal)
    cover = map_songs([ferry], [take("T1", silence(0.5), code(str(start), 6, str(rate)))]).covers[0]
    (stretch,) = cover.stretches
    assert stretch.start_s == Fraction(20 * rate.nominal) / rate.fps
    assert stretch.end_s - stretch.start_s == Fraction(int(6 * rate.pair.fps)) / rate.pair.fps
    assert stretch.zero_sample == pytest.approx(0.5 * HZ - float(stretch.start_s) * HZ, abs=0.5)
    assert stretch.speed.kind is SpeedKind.TRUE
    assert stretch.speed.ppm == pytest.approx(0, abs=2)
    assert stretch.right


def test_bars_and_beats_of_a_take() -> None:
    cover = map_songs([song()], [take("T1", code("01:00:15:00", 10))]).covers[0]
    (stretch,) = cover.stretches
    assert cover.song.place(stretch.start_s) == "bar 9 beat 1 (01:00:15:00)"  # 96 a minute in three: 1.875 s a bar
    assert str(cover.song.position_at(stretch.end_s)) == "bar 14 beat 2"


def test_missing_parts_over_several_takes() -> None:
    takes = [
        take("T1", code("00:59:55:00", 20)),
        take("T2", code("01:00:12:00", 8)),
        take("T3", code("01:00:30:00", 6)),
    ]
    cover = map_songs([song()], takes).covers[0]
    assert cover.covered == ((0, 20), (30, 36))
    assert cover.missing == ((20, 30), (36, 40))
    assert cover.share == pytest.approx(26 / 40)
    assert cover.only_wrong == ()


def test_a_dropout_of_the_code_is_none_of_the_playback() -> None:
    sound = code("01:00:00:00", 20)
    sound[5 * HZ : 12 * HZ] = 0
    (run,) = passes(sound)
    assert (run.missing_frames, run.longest_hole_frames) == (175, 175)
    assert map_songs([song()], [take("T1", sound)]).covers[0].covered == ((0, 20),)


def test_playback_that_stood_still_is_two_passes() -> None:
    """The same hole, but the count goes on where it stopped."""
    found = passes(code("01:00:00:00", 5), silence(7), code("01:00:05:00", 5))
    assert [(run.first % 90_000, run.last % 90_000) for run in found] == [(0, 124), (125, 249)]


def test_backwards_and_off_speed_do_not_count_as_covered_right() -> None:
    takes = [
        take("T1", code("01:00:10:00", 10, reverse=True)),
        take("T2", code("01:00:10:00", 10, speed=Fraction(103, 100))),
    ]
    cover = map_songs([song()], takes).covers[0]
    back, fast = cover.stretches
    assert (back.forward, float(back.start_s), float(back.end_s)) == (False, pytest.approx(0.04), pytest.approx(10.04))
    assert back.zero_sample == pytest.approx(10.04 * HZ - 1, abs=0.5)  # sample 0 turned round is the last one
    assert fast.speed.kind is SpeedKind.VARISPEED
    assert fast.speed.ppm == pytest.approx(30_000, abs=1)
    assert cover.covered == cover.only_wrong != ()
    assert cover.covered[0][0] == 10


@pytest.mark.source("SMPTE ST 12-1:2014, rates: 1000/1001 between film and video rates", kind="published")
@pytest.mark.parametrize(("speed", "kind"), [
    (Fraction(1000, 1001), SpeedKind.PULLED), (Fraction(1001, 1000), SpeedKind.PULLED),
    (Fraction(25, 24), SpeedKind.PULLED), (Fraction(998, 1000), SpeedKind.VARISPEED),
    (Fraction(1_000_060, 1_000_000), SpeedKind.TRUE), (Fraction(1_000_500, 1_000_000), SpeedKind.VARISPEED),
])  # fmt: skip
def test_pulls_and_varispeed_are_told_apart_in_noise(speed: Fraction, kind: SpeedKind) -> None:
    sound = noisy(code("01:00:00:00", 12, "24", speed=speed), 10)
    (stretch,) = map_songs([song(rate="24")], [take("T1", sound)]).covers[0].stretches
    assert stretch.speed.kind is kind
    assert stretch.speed.ppm == pytest.approx(float((speed - 1) * 10**6), abs=6 * stretch.speed.sigma_ppm)
    assert stretch.speed.sigma_ppm < 5
    assert stretch.steady


def test_too_little_code_tells_no_speed() -> None:
    assert speed_of(1.001, 400).kind is SpeedKind.UNKNOWN
    assert speed_of(float("nan"), 1).kind is SpeedKind.UNKNOWN


def test_a_speed_changed_on_the_way_is_found_where_it_was() -> None:
    sound = np.concatenate([code("01:00:00:00", 8), code("01:00:08:00", 8, speed=Fraction(1001, 1000))])
    (stretch,) = map_songs([song()], [take("T1", sound)]).covers[0].stretches
    assert not stretch.steady
    assert [speed.kind for _, _, speed in stretch.speeds] == [SpeedKind.TRUE, SpeedKind.PULLED]
    assert stretch.speeds[1][0] == pytest.approx(8 * HZ, abs=1.2 * HZ)


@pytest.mark.parametrize("snr_db", [60, 10])
def test_a_slip_of_the_playback_without_a_jump_of_its_count(snr_db: int) -> None:
    """A player that loses 512 samples: the count goes on, the sound comes early."""
    sound = code("01:00:00:00", 20)
    sound = noisy(np.concatenate([sound[: 9 * HZ], sound[9 * HZ + 512 :]]), snr_db)
    (run,) = passes(sound)
    assert [slip.samples for slip in run.slips] == [pytest.approx(-512, abs=3)]
    assert run.slips[0].sample == pytest.approx(9 * HZ, abs=2000)


@pytest.mark.parametrize("speed", [1, Fraction(1001, 1000), Fraction(98, 100)])
def test_noise_alone_makes_no_slip(speed: Fraction) -> None:
    (run,) = passes(noisy(code("01:00:00:00", 30, speed=speed), 10))
    assert run.slips == ()
    assert len(run.runs) == 1


def test_a_hand_on_the_speed_is_no_row_of_slips() -> None:
    sound = code("01:00:00:00", 20)
    places = np.cumsum(np.linspace(0.9, 1.1, sound.size))
    (run,) = passes(np.interp(places[places < sound.size - 1], np.arange(sound.size), sound))
    assert run.slips == ()
    assert len(run.runs) > 10


def test_code_of_no_song_is_a_stranger_and_songs_side_by_side_are_kept_apart() -> None:
    first, second = song(), song("01:01:00:00", id="harbour", length=30)
    found = map_songs([first, second], [take("T1", code("07:00:00:00", 4)), take("T2", code("01:00:38:00", 30))])
    assert [(each.name, run.first // 90_000) for each, run in found.strangers] == [("T1", 7)]
    assert found.covers[0].covered == ((38, 40),)
    assert found.covers[1].covered == ((0, 8),)


def test_over_midnight() -> None:
    found = map_songs([song("23:59:50:00", length=30)], [take("T1", code("23:59:48:00", 20))])
    assert found.covers[0].covered == ((0, 18),)


INTERVALS = st.lists(st.tuples(st.integers(0, 40), st.integers(0, 40)).map(lambda ab: tuple(map(Fraction, sorted(ab)))))


@settings(deadline=None)
@given(INTERVALS)
def test_covered_and_missing_are_the_whole(intervals: list[tuple[Fraction, Fraction]]) -> None:
    covered = united(intervals)
    missing = without((Fraction(0), Fraction(40)), covered)
    assert sum(b - a for a, b in (*covered, *missing)) == 40
    for at in range(40):
        place = at + Fraction(1, 2)
        assert any(a < place < b for a, b in covered) == any(a < place < b for a, b in intervals)
        assert any(a < place < b for a, b in missing) != any(a < place < b for a, b in covered)
