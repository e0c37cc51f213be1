"""`rollsound ltc` on files, as a person runs it."""

import io
import json
from pathlib import Path

import numpy as np
import pytest
from rich.console import Console

from rollsound.actions.ltc import LtcResult, read_ltc
from rollsound.cli.app import run
from rollsound.cli.ltc import show_ltc
from rollsound.timecode import Rate, Timecode, encode_ltc, samples_of_timecode
from rollsound.wave import AudioFormat, Bext, SampleFormat, WaveWriter

RATE = Rate.parse("25")


def stripe(path: Path, late_samples: int) -> Path:
    """Two tracks, ten seconds; time code from 10:20:30:00 on the second; the file's stamp so much later."""
    label = Timecode.parse("10:20:30:00", RATE)
    code = encode_ltc(label, 250, 48000)
    sound = np.zeros((code.size, 2), np.float32)
    sound[:, 1] = code
    start = int(samples_of_timecode(label, 48000)) + late_samples
    with WaveWriter(path, AudioFormat(48000, 2, SampleFormat.PCM24), bext=Bext(time_reference=start)) as writer:
        writer.write(sound)
    return path


@pytest.fixture
def striped(tmp_path: Path) -> Path:
    return stripe(tmp_path / "36T2.wav", 100)


def test_json_names_every_frame(striped: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["ltc", str(striped), "--track", "2", "--json"]) == 0
    result = json.loads(capsys.readouterr().out)
    entries = result["entries"]
    assert entries[0]["timecode"] == "10:20:30:00"
    assert entries[0]["direction"] == "forward"
    assert abs(entries[0]["sample"]) < 1
    assert [entry["timecode"] for entry in entries[:3]] == ["10:20:30:00", "10:20:30:01", "10:20:30:02"]
    assert len(entries) >= 249
    assert result["gaps"] == []
    assert result["rate"] == "25"
    assert result["offset_samples"] == pytest.approx(100, abs=1.0)


def test_the_track_is_found(striped: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["ltc", str(striped)]) == 0
    assert "Track 2" in capsys.readouterr().out


def test_a_track_without_code_is_one_sentence(striped: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["ltc", str(striped), "--track", "1"]) == 2
    assert "No time code was found on track 1" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--track", "7"], "tracks 1 to 2"),
        (["--rate", "26.5"], "26.5"),
        (["--trak", "1"], "--trak"),
    ],
)
def test_bad_words_leave_as_one_sentence(
    striped: Path, capsys: pytest.CaptureFixture[str], arguments: list[str], words: str
) -> None:
    assert run(["ltc", str(striped), *arguments]) == 2
    said = capsys.readouterr().err
    assert words in said
    assert "Traceback" not in said


def test_a_missing_file_says_what_to_do(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["ltc", str(tmp_path / "gone.wav"), "--json"]) == 2
    error = json.loads(capsys.readouterr().out)["error"]
    assert "check the name" in error["sentence"]


def shown(result: LtcResult) -> list[str]:
    console = Console(file=io.StringIO(), width=100, force_terminal=True, color_system="standard", highlight=False)
    show_ltc(console, result)
    assert isinstance(console.file, io.StringIO)
    return console.file.getvalue().splitlines()


def test_the_answer_is_bold_and_directions_are_words(striped: Path) -> None:
    lines = shown(read_ltc(striped))
    assert lines[0].startswith("\x1b[1mTrack 2")
    assert lines[1].endswith("running forward")


@pytest.mark.parametrize(("late_s", "kind"), [(3600.0, "ltc-zone"), (5000.3, "ltc-other-clock"), (0.0, "ltc")])
def test_how_far_the_stamp_is_from_the_code_is_said_once(tmp_path: Path, late_s: float, kind: str) -> None:
    result = read_ltc(stripe(tmp_path / "36T3.wav", round(late_s * 48000)))
    assert kind in {finding.kind for finding in result.findings}
    text = " ".join(shown(result))
    assert "own time stamp" not in text
    assert text.count("file's stamp") == 1
    assert "−0.00" not in text
    assert "-0.00" not in text


def test_a_stamp_some_frames_off_is_told_in_samples_too(tmp_path: Path) -> None:
    text = " ".join(shown(read_ltc(stripe(tmp_path / "36T3.wav", 14_400))))
    assert "own time stamp is 14,400.0 samples (300.00 ms) later than the code" in text
