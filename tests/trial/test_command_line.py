"""The command line under hostile hands: one sentence, the right exit code, nothing half-done, no fault of ours."""

import json
import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from rollsound.actions.conform import conform
from rollsound.actions.inspect import inspect
from rollsound.actions.turnover import turnover
from rollsound.actions.verify import verify_folder
from rollsound.cli.app import run
from rollsound.errors import InputError, StorageError
from rollsound.turnover.place import only_one
from rollsound.wave import AudioFormat, SampleFormat, WaveWriter

posix = pytest.mark.skipif(os.name == "nt", reason="such files and names exist on POSIX systems only")


def recording(path: Path, seconds: float = 1.0, seed: int = 1) -> Path:
    path.parent.mkdir(parents=True, exist_ok=True)
    noise = np.random.default_rng(seed).standard_normal((int(48000 * seconds), 1)).astype(np.float32) * 0.1
    with WaveWriter(path, AudioFormat(48000, 1, SampleFormat.PCM24)) as writer:
        writer.write(noise)
    return path


@posix
@pytest.mark.parametrize(
    "arguments",
    [
        ["inspect", "pipe.wav"],
        ["inspect", "/dev/zero"],
        ["recover", "pipe.wav"],
        ["ltc", "pipe.wav"],
        ["conform", "pipe.wav", "--cards", "sound.wav", "--out", "m"],
        ["conform", "sound.wav", "--cards", "pipe.wav", "--out", "m"],
        ["conform", "sound.wav", "--cards", "cards", "--out", "m", "--plan", "pipe.wav"],
        ["conform", "sound.wav", "--cards", "cards", "--out", "m", "--takes", "/dev/zero"],
        ["conform", "sound.wav", "--cards", "cards", "--out", "m", "--wearers", "pipe.wav"],
    ],
)
def test_a_pipe_or_device_is_refused_and_never_waited_for(
    arguments: list[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    os.mkfifo("pipe.wav")
    recording(Path("sound.wav"))
    recording(Path("cards/C01/C01.wav"))
    assert run(arguments) == 2
    assert "neither a file nor a folder" in capsys.readouterr().err


@posix
def test_a_name_that_is_no_text_can_be_printed_and_is_refused_where_it_would_be_written(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = tmp_path / "odd"
    path = Path(os.fsdecode(os.fsencode(folder) + b"/\xff\xfe.wav"))
    try:
        recording(path)
    except StorageError:
        pytest.skip("this disk takes no such names")
    assert run(["inspect", str(folder), "--json"]) in (0, 1)
    found = json.loads(capsys.readouterr().out)
    assert found["files"][0]["path"].endswith("\udcff\udcfe.wav")
    with pytest.raises(InputError, match="not readable text"):
        inspect([folder], index=tmp_path / "index")
    with pytest.raises(InputError, match="not readable text"):
        conform(folder, cards=recording(tmp_path / "card.wav"), out=tmp_path / "m")


def test_nothing_is_called_whole_when_nothing_could_be_read(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "empty.wav").write_bytes(b"")
    assert run(["inspect", str(tmp_path)]) == 2
    said = capsys.readouterr()
    assert "holds" not in said.out
    assert "is empty" in said.err
    recording(tmp_path / "good.wav")
    assert run(["inspect", str(tmp_path)]) == 2
    assert capsys.readouterr().out.startswith("1 file could not be read; of the others, 1 file")


def test_one_unreadable_file_does_not_cost_the_night(tmp_path: Path) -> None:
    recorder, cards = tmp_path / "recorder", tmp_path / "cards"
    recording(recorder / "T1.wav", 2.0)
    recording(cards / "C01" / "C01_01.wav", 2.0, seed=2)
    (recorder / "T2.wav").write_bytes(b"")
    (cards / "C01" / "C01_02.wav").write_bytes(b"RIFF")
    result = conform(recorder, cards=cards, out=tmp_path / "m")
    assert [Path(take.recorder[0]).name for take in result.takes] == ["T1.wav"]
    stops = [finding for finding in result.findings if finding.kind == "unreadable"]
    assert {finding.subject for finding in stops} == {"T2.wav", "C01_02.wav"}
    assert result.weight == "stop"
    (recorder / "T1.wav").unlink()
    with pytest.raises(InputError, match="is empty"):
        conform(recorder, cards=cards, out=tmp_path / "m2")
    recording(recorder / "T1.wav", 2.0)
    with pytest.raises(InputError, match=r"is empty.*move what cannot be read out of"):
        turnover(tmp_path, tmp_path.parent / "post")


def test_conform_refuses_what_cannot_be_meant(tmp_path: Path) -> None:
    sound = recording(tmp_path / "recorder" / "T1.wav")
    recording(tmp_path / "cards" / "C01" / "C01.wav")
    cards, out = tmp_path / "cards", tmp_path / "m"
    with pytest.raises(InputError, match="named as the recorder's files and as the cards"):
        conform(sound.parent, cards=sound.parent, out=out)
    with pytest.raises(InputError, match="cannot be negative"):
        conform(sound.parent, cards=cards, out=out, place="source", path_delay_seconds=-0.003)
    assert not out.exists()
    bad = tmp_path / "plan.json"
    bad.write_bytes(b"\xff\xfe\x00")
    with pytest.raises(InputError, match="not a text file"):
        conform(sound.parent, cards=cards, out=out, plan=bad)


def test_a_plan_with_a_wrong_frame_rate_writes_nothing(tmp_path: Path) -> None:
    sound = recording(tmp_path / "recorder" / "T1.wav")
    card = recording(tmp_path / "cards" / "C01" / "C01.wav")
    conform(sound, cards=card, out=tmp_path / "m", plan_only=True)
    plan = json.loads((tmp_path / "m" / "conform plan.json").read_text("utf-8"))
    plan["takes"][0]["time_rate"] = "banana"
    plan["takes"][0]["members"][0]["output"] = str(tmp_path / "m2" / "T1.wav")
    edited = tmp_path / "edited.json"
    edited.write_text(json.dumps(plan), "utf-8")
    with pytest.raises(InputError, match="no frame rate"):
        conform(sound, cards=card, out=tmp_path / "m2", plan=edited)
    assert not list((tmp_path / "m2").rglob("*.wav"))


def test_what_a_killed_conform_left_is_cleared_and_nothing_else(tmp_path: Path) -> None:
    sound = recording(tmp_path / "recorder" / "T1.wav", 2.0)
    card = recording(tmp_path / "cards" / "C01" / "C01.wav", 2.0)
    out = tmp_path / "m"
    out.mkdir()
    ours = [out / "T1.wav.part-0123abcd", out / ".conform.json.part-0123abcd"]
    others = [out / "T9.wav.part-0123abcd", out / "T1.wav.part-notours"]
    for path in ours + others:
        path.write_bytes(b"RIFF")
    result = conform(sound, cards=card, out=out)
    assert [Path(name).name for take in result.takes for name in take.output] == ["T1.wav"]
    assert not any(path.exists() for path in ours)
    assert all(path.exists() for path in others)


@posix
def test_two_runs_do_not_conform_into_one_place(tmp_path: Path) -> None:
    sound = recording(tmp_path / "recorder" / "T1.wav")
    card = recording(tmp_path / "cards" / "C01" / "C01.wav")
    out = tmp_path / "m"
    out.mkdir()
    with only_one(out), pytest.raises(StorageError, match="another run is writing"):
        conform(sound, cards=card, out=out)
    assert not list(out.iterdir())


def test_a_folder_that_grew_is_said_in_one_line(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    card, place = tmp_path / "card7", tmp_path / "a"
    recording(card / "T1.wav", 0.1)
    assert run(["offload", str(card), "--to", str(place)]) == 0
    size = (card / "T1.wav").stat().st_size
    for number in range(7):
        (place / "card7" / "mirrors").mkdir(exist_ok=True)
        (place / "card7" / "mirrors" / f"{number}.wav").write_bytes(bytes(1000))
    capsys.readouterr()
    assert run(["verify", str(place / "card7")]) == 0
    lines = [line for line in capsys.readouterr().out.splitlines() if "watch" in line]
    assert len(lines) == 1
    assert "7 files are there but stand in no manifest, so nothing proves them: mirrors/ (7)." in lines[0]
    assert verify_folder(place / "card7").size_bytes == size
    with pytest.raises(InputError, match=r"T1\.wav is a file; name the folder"):
        verify_folder(card / "T1.wav")


def test_a_turnover_says_what_its_reports_tell(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    whole = recording(tmp_path / "day" / "T1.wav").read_bytes()
    (tmp_path / "day" / "T2.wav").write_bytes(whole[: len(whole) // 2])
    assert run(["turnover", str(tmp_path / "day"), "--to", str(tmp_path / "post")]) == 0
    assert "1 thing that would lose or spoil work" in capsys.readouterr().out
    result = turnover(tmp_path / "day", tmp_path / "post")
    assert result.stops == 1
    assert result.size_bytes == sum((tmp_path / "post" / path).stat().st_size for path in result.files)


def test_an_index_that_is_a_file(tmp_path: Path) -> None:
    sound = recording(tmp_path / "T1.wav")
    with pytest.raises(InputError, match="is a file; name a folder for the index"):
        inspect([sound], index=sound)


@posix
def test_a_reader_that_goes_away_changes_no_exit_code(tmp_path: Path) -> None:
    card = tmp_path / "card7"
    recording(card / "T1.wav", 0.1)
    for arguments in (
        ["--help"],
        ["offload", str(card), "--to", str(tmp_path / "a")],
        ["inspect", str(card), "--json"],
    ):
        ours, theirs = os.pipe()
        os.close(ours)
        command = [sys.executable, "-c", "from rollsound.cli import main; main()", *arguments]
        done = subprocess.run(command, stdout=theirs, stderr=subprocess.PIPE, text=True, timeout=60)
        os.close(theirs)
        assert (done.returncode, done.stderr) == (0, ""), arguments


@posix
def test_output_that_cannot_be_written_is_one_sentence(tmp_path: Path) -> None:
    if not Path("/dev/full").exists():
        pytest.skip("this system has no device that is always full")
    card = recording(tmp_path / "card7" / "T1.wav", 0.1).parent
    for more in ([], ["--json"]):
        with open("/dev/full", "w") as full:
            command = [sys.executable, "-c", "from rollsound.cli import main; main()", "inspect", str(card), *more]
            done = subprocess.run(command, stdout=full, stderr=subprocess.PIPE, text=True, timeout=60)
        assert done.returncode == 2
        assert "No space is left" in done.stderr
        assert "Traceback" not in done.stderr


@posix
def test_closed_streams_are_no_fault(tmp_path: Path) -> None:
    code = "import os, sys; sys.stdout = sys.stderr = sys.stdin = None; from rollsound.cli import main; main()"
    done = subprocess.run([sys.executable, "-c", code, "inspect", str(tmp_path / "gone")], timeout=60)
    assert done.returncode == 2
