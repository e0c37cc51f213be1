"""Live against guide in files: a take with its guide, two bare files, and what cannot be done."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from tests.actions.song_takes import PLAN, label, wav
from tests.song.sung import HZ, WARPS, Sung, sung

from rollsound.actions.guide import guide, guide_files
from rollsound.actions.plan_read import read_plan
from rollsound.cli.app import run


@pytest.fixture(scope="module")
def pair() -> Sung:
    made = sung(WARPS["line by line"], lines=2)
    return Sung(made.guide[: 17 * HZ], made.live[: 17 * HZ], made.at_s, made.late_s)


@pytest.fixture(scope="module")
def show(tmp_path_factory: pytest.TempPathFactory, pair: Sung) -> Path:
    folder = tmp_path_factory.mktemp("guide")
    (folder / "plan.yaml").write_text(PLAN.replace("songs:\n  songs:", "songs:\n  limit: 60 ms\n  songs:"), "utf-8")
    (folder / "ferry.csv").write_text("bar,tempo,meter\n1,96,3/4\n9,end,\n", "utf-8")
    tracks = {"Mix L": pair.live, "Leila": pair.live, "Playback": pair.guide, "Time code": label("00:59:59:00", 17)}
    wav(folder / "recorder/36T1.wav", tracks)
    wav(folder / "recorder/36T2.wav", {"Leila": pair.live})
    wav(folder / "recorder/31T1.wav", {"Leila": pair.live}, scene="31")
    return folder / "plan.yaml"


def test_a_sung_take_is_told_by_bars(show: Path) -> None:
    result = guide(read_plan(show))
    (voice,) = result.voices
    assert (voice.take, voice.track_name, voice.guide, voice.song) == ("36T1", "Leila", "Playback", "ferry")
    assert [each.verdict for each in voice.phrases][:2] == ["in time", "late"]
    assert voice.phrases[0].bar.startswith("bar 1 beat 1")  # code and tune begin a second into the take
    assert voice.phrases[1].bar.startswith("bar 5 beat 1")
    assert voice.phrases[1].late_ms == pytest.approx(90, abs=4)
    assert "bar 5 beat 1" in result.findings[0].what
    assert any("36T2.wav has no track of a guide" in note for note in result.notes)
    assert all("31T1" not in note for note in result.notes)


def test_on_the_command_line(show: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    plot = tmp_path / "guide.svg"
    assert run(["guide", str(show), "--take", "36T1", "--track", "Leila", "--limit-ms", "95", "--plot", str(plot)]) == 0
    told = capsys.readouterr().out
    assert "0 of 2 phrases off by more than 95 ms, on 1 track" in told
    assert "Leila on 36T1, against Playback" in plot.read_text("utf-8")
    assert run(["guide", str(show), "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["voices"][0]["phrases"][1]["verdict"] == "late"


def test_two_bare_files_and_two_tracks_of_one(show: Path, tmp_path: Path, pair: Sung) -> None:
    live = wav(tmp_path / "live.wav", {"Leila": np.concatenate([np.zeros(2 * HZ, np.float32), pair.live])})
    other = wav(tmp_path / "guide.wav", {"Voice": pair.guide})
    (voice,) = guide_files(live, other).voices
    assert voice.begins_s == pytest.approx(2.0, abs=0.1)
    assert voice.begins_s * 1000 + voice.phrases[0].late_ms == pytest.approx(2000, abs=5)
    take = show.parent / "recorder/36T1.wav"
    (voice,) = guide_files(take, live_tracks=["2"], guide_track="Playback").voices
    assert voice.phrases[1].late_ms == pytest.approx(90, abs=4)


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["plan.yaml", "--take", "99T9"], "no take '99T9' lies in the media of"),
        (["plan.yaml", "--take", "36T1", "--track", "Nobody"], "has no track 'Nobody'; it has Mix L, Leila"),
        (["plan.yaml", "--take", "36T2"], "has no track named as a guide"),
        (["plan.yaml", "--day", "day-9"], "has no day 'day-9'"),
        (["plan.yaml", "--limit-ms", "0"], "a limit of 0 ms is no use"),
        (["plan.yaml", "recorder/36T1.wav"], "is no sound"),
        (["plan.yaml", "--plot", "x.gif"], "written as .png, .svg or .pdf"),
        (["recorder/36T2.wav"], "has no track named as a guide"),
        (["recorder/36T1.wav", "--day", "day-1"], "go with a show's folder"),
        (["recorder/36T2.wav", "noise.wav"], "have no music in common"),
        (["recorder/gone.wav"], "is not there"),
    ],
)
def test_what_cannot_be_done_gets_one_sentence(
    show: Path, arguments: list[str], told: str, capsys: pytest.CaptureFixture[str]
) -> None:
    noise = show.parent / "noise.wav"
    if not noise.exists():
        wav(noise, {"Noise": np.random.default_rng(1).normal(0, 0.1, 5 * HZ).astype(np.float32)})
    given = [str(show.parent / each) if each.endswith((".wav", ".yaml")) else each for each in arguments]
    assert run(["guide", *given]) == 2
    assert told.casefold() in capsys.readouterr().err.casefold()
