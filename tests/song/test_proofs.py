"""What is told of songs and takes: each finding when it should be, and none when nothing is wrong."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from tests.song.song_code import HZ, code, silence, song, take

from rollsound.finding import Finding, Weight
from rollsound.song.coverage import SongTake, map_songs
from rollsound.song.proofs import proofs
from rollsound.wrong import Wrong


def told(*takes: SongTake, songs=None, wrong=()) -> dict[str, Finding]:  # type: ignore[no-untyped-def]
    found = proofs(map_songs(songs or [song(length=10)], takes), wrong)
    return {each.kind: each for each in found}


def test_a_whole_song_at_true_speed_is_fine() -> None:
    found = told(take("T1", code("00:59:58:00", 14)))
    assert {kind: each.weight for kind, each in found.items()} == {
        "song covered": Weight.FINE,
        "song speed": Weight.FINE,
    }
    assert found["song covered"].what == "All of Ferry is on 1 take."


def test_what_is_missing_is_told_in_bars() -> None:
    each = told(take("T1", code("01:00:00:00", 4)), take("T2", code("01:00:07:12", 2.52)))["song covered"]
    assert each.weight is Weight.WATCH
    assert each.what == "3.5 s of Ferry are on no take: bar 3 beat 1.4 (01:00:04:00) to bar 4 beat 3.97 (01:00:07:12)."
    assert each.numbers["missing_s"] == pytest.approx(3.48)


@pytest.mark.parametrize(("speed", "weight", "words"), [
    (Fraction(1000, 1001), Weight.STOP, "pulled down by 0.1 %"),
    (Fraction(97, 100), Weight.WATCH, "varispeed −3.00 %"),
])  # fmt: skip
def test_speeds_that_are_not_true(speed: Fraction, weight: Weight, words: str) -> None:
    found = told(take("T1", code("01:00:00:00", 11, speed=speed)))
    assert found["song speed"].weight is weight
    assert words in found["song speed"].what
    assert "on takes whose playback was off speed" in found["song at true speed"].what


def test_a_speed_that_slips_and_a_buffer_that_is_lost() -> None:
    slipping = np.concatenate([code("01:00:00:00", 6), code("01:00:06:00", 6, speed=Fraction(1001, 1000))])
    each = told(take("T1", slipping))["song speed"]
    assert each.weight is Weight.STOP
    assert "the speed of Ferry slipped: from" in each.what
    lost = code("01:00:00:00", 12)
    lost = np.concatenate([lost[: 5 * HZ], lost[5 * HZ + 1024 :]])
    each = told(take("T1", lost))["song slipped"]
    assert each.weight is Weight.STOP
    assert "lost 21.3 ms at 4.9" in each.what or "lost 21.3 ms at 5.0" in each.what


def test_other_songs_rates_and_scenes() -> None:
    each = told(take("T1", code("05:00:00:00", 5)))["song known"]
    assert each.what == "T1 carries the time code of another song: 05:00:00:00 to 05:00:04:24."
    each = told(take("T1", code("01:00:00:00", 5, "30")))["song known"]
    assert "counts 30 frames a second, and Ferry is written at 25" in each.why
    other = song("02:00:00:00", id="harbour", length=10)
    each = told(
        take("T1", code("02:00:00:00", 5)),
        songs=[song(length=10), other.__class__(**{**other.__dict__, "scenes": ("40",)})],
    )
    assert "scene 36, which sings Ferry, but its time code is of Harbour" in each["song of the scene"].what


def test_no_code_backwards_and_no_length() -> None:
    noise = np.random.default_rng(1).normal(0, 0.1, 5 * HZ).astype(np.float32)
    each = told(take("T1", noise), take("T2", silence(3), scene="31"))["song code"]
    assert each.what.startswith("No time code of the playback was found on T1, in a scene that sings Ferry")
    found = told(take("T1", code("01:00:05:00", 4, reverse=True)))
    assert "ran backwards on T1" in found["song backwards"].what
    assert found["song covered"].what == "No take covers any part of Ferry yet."
    assert (
        "how long Ferry is" in told(take("T1", code("01:00:05:00", 4)), songs=[song(length=None)])["song length"].what
    )


def test_what_cannot_be_read_and_what_is_wrong_in_the_plan_costs_nothing_else() -> None:
    broken = SongTake("T2", "T2.wav", "36", HZ, 0, 0, (), trouble="its header is gone")
    wrong = [Wrong(("songs", "songs", "ferry", "tempo_map"), "map.csv is empty")]
    found = told(take("T1", code("01:00:00:00", 10)), broken, wrong=wrong)
    assert found["song take read"].what == "T2 was not looked at: its header is gone."
    assert found["song plan"].what == "The songs part, songs ferry, tempo_map: map.csv is empty."
    assert found["song covered"].weight is Weight.FINE


def test_nothing_to_prove_proves_nothing() -> None:
    assert proofs(map_songs([], [take("T1", silence(1))])) == []
