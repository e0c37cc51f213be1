"""The song map of files: a small show on the disk, and the demo's sung take against its truth."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from tests.actions.song_takes import HZ, PLAN, RATE, label, wav

from rollsound.actions.plan_read import read_plan
from rollsound.actions.songmap import songmap
from rollsound.cli.app import run
from rollsound.demo.day_four import DAY_FOUR
from rollsound.demo.example import example_plan_text
from rollsound.demo.recorder import LTC_STARTS_S, PLAYBACK_TIMECODE, _music
from rollsound.demo.scenario import MUSIC
from rollsound.demo.script import SONG_STARTS_S
from rollsound.demo.show import lay_radio_files
from rollsound.finding import Weight
from rollsound.timecode import ltc_span


@pytest.fixture
def show(tmp_path: Path) -> Path:
    """Two takes of a song of ten seconds, with eight of them; a take without code; one that is broken."""
    (tmp_path / "plan.yaml").write_text(PLAN, "utf-8")
    (tmp_path / "ferry.csv").write_text("bar,tempo,meter\n1,96,4/4\n5,end,\n", "utf-8")
    voice = np.random.default_rng(3).normal(0, 0.05, 6 * HZ).astype(np.float32)
    day = ltc_span(36_000 * HZ, 6 * HZ, HZ, RATE)  # the recorder's own time of day, on a track as well
    wav(tmp_path / "recorder/36T1.wav", {"Runa": voice, "Day": day, "Aux": label("00:59:58:00", 6)})
    wav(tmp_path / "recorder/36T2.wav", {"Runa": voice, "Time code": label("01:00:06:00", 5)})
    wav(tmp_path / "recorder/36T3.wav", {"Runa": voice, "Day": day})
    (tmp_path / "recorder/36T4.wav").write_bytes(b"RIFF")
    return tmp_path / "plan.yaml"


def test_the_map_of_a_day(show: Path) -> None:
    result = songmap(read_plan(show), day="day-1")
    (song,) = result.songs
    assert [(each.take, each.track, each.span.start_timecode) for each in song.stretches] == [
        ("36T1", 3, "00:59:58:00"),
        ("36T2", 2, "01:00:06:00"),
    ]
    assert [(each.start_timecode, each.end_timecode, each.start_bar) for each in song.missing] == [
        ("01:00:04:00", "01:00:06:00", "bar 2 beat 3.4")
    ]
    assert song.bars == 4
    assert song.covered_share == pytest.approx(0.8)
    kinds = {each.kind: each.weight for each in result.findings}
    assert kinds == {
        "song covered": Weight.WATCH,
        "song code": Weight.WATCH,  # 36T3: the time of day is no playback
        "song take read": Weight.WATCH,
        "song speed": Weight.FINE,
    }


def test_on_the_command_line(show: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    picture = tmp_path / "songs.svg"
    assert run(["songmap", str(show), "--picture", str(picture)]) == 0
    told = capsys.readouterr().out
    assert "0 of 1 song whole; 4 takes looked at, 2 with time code of a playback" in told
    assert "missing  bar 2 beat 3.4 to bar 3 beat 2.6, 01:00:04:00 to 01:00:06:00, 2.0 s" in told
    assert "Ferry: 80 % on 2 takes; 2.0 s are missing" in picture.read_text("utf-8")
    assert run(["songmap", str(show), "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["songs"][0]["stretches"][0]["zero_sample"] == pytest.approx(
        96_000, abs=0.5
    )


@pytest.mark.parametrize(
    ("change", "told"),
    [
        (("ferry.csv, ", "gone.csv, "), "gone.csv is not there"),
        (('"01:00:00:00"', '"25:00:00:00"'), "25:00:00:00 does not exist at 25"),
        (('"01:00:00:00"', '""'), "has no start_timecode"),
    ],
)
def test_a_song_that_is_wrong_is_told_and_the_rest_still_done(show: Path, change: tuple[str, str], told: str) -> None:
    show.write_text(PLAN.replace(*change), "utf-8")
    result = songmap(read_plan(show))
    plan = next(each for each in result.findings if each.kind == "song plan")
    assert told in plan.what
    assert result.with_code == 2


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["--day", "day-9"], "has no day 'day-9'; it has day-1 and day-2"),
        (["--picture", "songs.gif"], "written as .png, .svg or .pdf"),
    ],
)
def test_what_cannot_be_done_gets_one_sentence(
    show: Path, arguments: list[str], told: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["songmap", str(show), *arguments]) == 2
    assert told in capsys.readouterr().err


def test_no_songs_and_no_media(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    plan = tmp_path / "plan.yaml"
    plan.write_text("show: {title: Ferry}\n", "utf-8")
    assert run(["songmap", str(plan)]) == 2
    assert "has no songs; write them under 'songs'" in capsys.readouterr().err
    plan.write_text(PLAN.replace("tempo_map: ferry.csv, ", ""), "utf-8")
    assert run(["songmap", str(plan)]) == 0
    assert "None of the media is there" in capsys.readouterr().out


def test_the_demos_song_is_found_where_its_generator_put_it(tmp_path: Path) -> None:
    """Its truth: where the code begins, where the first beat lies, and that the song is sixteen bars of three."""
    take = next(each for each in DAY_FOUR.takes if each.sung)
    frames = round(take.seconds * HZ)
    music = _music(DAY_FOUR, take, frames, 4)
    wav(tmp_path / "drive a/day 4/recorder" / f"{take.file}.wav", {MUSIC[2]: music[MUSIC[2]]}, scene=take.scene)
    (tmp_path / "plan.yaml").write_text(example_plan_text(), "utf-8")
    lay_radio_files(tmp_path)
    result = songmap(read_plan(tmp_path / "plan.yaml"), day="day-4")
    song = result.songs[0]
    (stretch,) = song.stretches
    assert (stretch.span.start_timecode, stretch.start_sample) == (
        PLAYBACK_TIMECODE,
        pytest.approx(LTC_STARTS_S * HZ, abs=0.05),
    )
    assert stretch.zero_sample == pytest.approx(SONG_STARTS_S * HZ, abs=0.05)
    assert (song.bars, song.length_s, song.missing) == (16, 30.0, ())
    assert stretch.right
    assert result.songs[1].bars == 25
