"""`rollsound crosscheck`: a show with log and files, mistakes in both, corrected copies, exit codes, JSON."""

from __future__ import annotations

import csv
import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from rollsound.cli.app import run
from rollsound.timecode import Rate
from rollsound.wave import AudioFormat, Bext, IXml, SampleFormat, WaveWriter, read_info

PLAN = """\
show: {title: Northbound Ferry, frame_rate: "25"}
schedule:
  days:
    - {id: day-3, number: 3, date: 2031-02-17, scenes: ["27"]}
    - {id: day-4, number: 4, date: 2031-02-18, scenes: ["31", "32"]}
rig:
  sources: [{id: boom, name: Boom 1, kind: voice}, {id: runa, name: Runa, kind: voice}]
  tracks:
    - {id: mix, number: 1, name: Mix, source: mix}
    - {id: boom, number: 2, name: Boom 1, source: boom}
    - {id: runa, number: 3, name: Runa, source: runa}
media:
  - {id: day-4-main, day: day-4, recorder: cards/recorder}
"""
FORM = AudioFormat(48_000, 3, SampleFormat.PCM16)
R25 = Rate.parse("25")


def record(show: Path, name: str, start_s: int, seconds: int = 4, **said: Any) -> Path:
    """One file of the recorder, three tracks of silence."""
    folder = show / "cards" / "recorder"
    folder.mkdir(parents=True, exist_ok=True)
    tracks = said.pop("tracks", ("Mix", "Boom 1", "Runa"))
    bext = Bext(time_reference=start_s * 48_000)
    labels = {"scene": "31", "sound_roll": "NF-04", **said}
    document = IXml.build(rate=R25, audio=FORM, tracks=tracks, bext=bext, **labels)
    with WaveWriter(folder / f"{name}.wav", FORM, bext=bext, ixml=document) as writer:
        writer.write(np.zeros((seconds * 48_000, 3), np.float32))
    return folder / f"{name}.wav"


def log(show: Path, at: str, *fields: str, kind: str = "take") -> None:
    assert run(["log", "add", str(show), kind, *fields, "--day", "day-4", "--at", at]) == 0


def log_take(show: Path, take: int, clock: str, *fields: str) -> None:
    out = f"{clock[:-1]}{int(clock[-1]) + 4}"
    log(show, clock, "scene=31", "slate=214", f"take={take}", "sound_roll=NF-04", f"timecode_in={clock}:00",
        f"timecode_out={out}:00", *fields)  # fmt: skip


@pytest.fixture
def show(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Path:
    """Three takes that agree with their files."""
    (tmp_path / "plan.yaml").write_text(PLAN, "utf-8")
    folder = tmp_path / "show"
    assert run(["new", str(folder), "--from", str(tmp_path / "plan.yaml")]) == 0
    for take in (1, 2, 3):
        record(folder, f"NF04_S214_T{take}", 36_000 + 100 * take, take=str(take), circled=take == 2)
    log_take(folder, 1, "10:01:40")
    log_take(folder, 2, "10:03:20", "circled=yes")
    log_take(folder, 3, "10:05:00")
    capsys.readouterr()
    return folder


def told(show: Path, capsys: pytest.CaptureFixture[str], *more: str, code: int = 0) -> dict[str, Any]:
    capsys.readouterr()
    assert run(["crosscheck", str(show), "--json", *more]) == code
    found: dict[str, Any] = json.loads(capsys.readouterr().out)
    return found


def test_a_day_that_agrees(show: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["crosscheck", str(show)]) == 0
    assert "Northbound Ferry, day 4: 3 takes in the log, 3 files; they agree." in capsys.readouterr().out
    result = told(show, capsys)
    assert [(each["name"], each["files"], each["by"]) for each in result["pairs"]] == [
        (f"slate 214 take {n}", [f"NF04_S214_T{n}.wav"], "time code") for n in (1, 2, 3)
    ]
    assert [each["kind"] for each in result["findings"]] == ["log and media agree"]


def test_what_is_missing_stops(show: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (show / "cards/recorder/NF04_S214_T3.wav").unlink()
    record(show, "NF04_X", 37_000, take="9")
    log(show, "18:00", "text=Runa's shout on the ramp", "scene=31", kind="promise")
    result = told(show, capsys, code=1)
    assert [each["kind"] for each in result["findings"]] == [
        "take without a file", "file without a take", "wild track promised",
    ]  # fmt: skip
    assert (result["without_file"], result["without_line"]) == (["slate 214 take 3"], ["NF04_X.wav"])


def test_corrected_copies_lie_beside(show: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    recorded = show / "cards" / "recorder"
    (recorded / "NF04_S214_T2.wav").unlink()
    source = record(show, "NF04_S214_T2", 36_200, take="7", circled=False, tracks=("Mix", "Boom 1", "Rnua"))
    late = recorded / "NF04_S214_T3.wav"
    late.unlink()
    record(show, "NF04_S214_T3", 36_300, seconds=7, take="3")
    before = {path: path.read_bytes() for path in recorded.iterdir()}
    out = tmp_path / "corrected"
    result = told(show, capsys, "--write", str(out))
    assert [(each["field"], each["right"]) for each in result["repairs"]] == [
        ("take", "log"), ("circled", "log"), ("track name", "log"), ("time code out", "file"),
    ]  # fmt: skip
    assert {path: path.read_bytes() for path in recorded.iterdir()} == before
    (written,) = result["written"]
    assert (written["outcome"], Path(written["path"]).name) == ("written", source.name)
    info = read_info(out / source.name)
    assert (info.take, info.circled, info.track_names) == ("2", True, ("Mix", "Boom 1", "Runa"))
    assert (info.scene, info.start_samples, info.frames) == ("31", 36_200 * 48_000, 4 * 48_000)
    rows = list(csv.DictReader((out / "log corrections.csv").read_text("utf-8-sig").splitlines()))
    assert [(row["field"], row["right"]) for row in rows][-1] == ("time code out", "file")
    assert rows[-1]["the file says"] == "10:05:07:00"
    assert json.loads((out / "crosscheck.json").read_text("utf-8"))["repairs"] == result["repairs"]
    again = told(show, capsys, "--write", str(out))
    assert [each["outcome"] for each in again["written"]] == ["there already"]
    assert told(show, capsys, "--write", str(recorded), code=2)["error"]["sentence"].endswith(
        "holds the recorder's own files; name another folder for the corrected copies"
    )
    (out / source.name).write_bytes(late.read_bytes())
    assert [each["outcome"] for each in told(show, capsys, "--write", str(out), code=2)["written"]] == ["failed"]


def test_who_wears_a_pack_and_is_heard_wants_a_track(
    show: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    script = """\
script:
  characters: [{id: runa, name: Runa}, {id: bram, name: Bram}]
  scenes: [{id: s31, number: "31", speaks: [{character: runa, words: 9}]}]
"""
    (tmp_path / "plan.yaml").write_text(script + PLAN, "utf-8")
    assert run(["import", str(show), str(tmp_path / "plan.yaml")]) == 0
    (show / "cards/recorder/NF04_S214_T1.wav").unlink()
    (show / "cards/recorder/NF04_S214_T2.wav").unlink()
    (show / "cards/recorder/NF04_S214_T3.wav").unlink()
    for take in (1, 2, 3):  # none of them has her, so that no take can tell of another's
        tracks = ("Mix", "Boom 1", "Track 3")
        record(show, f"NF04_S214_T{take}", 36_000 + 100 * take, take=str(take), circled=take == 2, tracks=tracks)
    log(show, "09:50", "pack=pack-1", "character=Runa", kind="wearing")
    log(show, "09:51", "pack=pack-2", "character=bram", kind="wearing")  # waits, is not in the scene
    result = told(show, capsys)
    assert [each["what"] for each in result["findings"]] == [
        f"Slate 214 take {take} has no track of Runa." for take in (1, 2, 3)
    ]


def test_a_broken_file_is_told_and_the_rest_is_done(show: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (show / "cards/recorder/NF04_S214_T9.wav").write_bytes(b"RIFF")
    result = told(show, capsys, code=1)
    assert [each["kind"] for each in result["findings"]] == ["file that cannot be read"]
    assert len(result["pairs"]) == 3


def test_the_sheet_of_takes_serves_where_the_log_has_none(
    show: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    plan = PLAN.replace("recorder: cards/recorder", "recorder: show/cards/recorder, takes_sheet: takes.csv")
    (tmp_path / "plan.yaml").write_text(plan, "utf-8")
    rows = [f"NF04_S214_T{n},31,214,{n},NF-04,{'yes' if n == 1 else 'no'}" for n in (1, 2, 3)]
    sheet = "\n".join(["file,scene,slate,take,sound_roll,circled", *rows])
    (tmp_path / "takes.csv").write_text(sheet, "utf-8")
    assert run(["crosscheck", str(tmp_path / "plan.yaml")]) == 0
    words = capsys.readouterr().out
    assert "3 takes in the sheet of takes, 3 files; 2 disagreements." in words
    assert "Slate 214 take 1: the log says circled, the file not circled." in words


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--day", "day-9"], "The schedule has no day 'day-9'; there are: day-3, day-4"),
        (["--day", "day-3"], "The plan does not say where the recorder's files of 'day-3' lie"),
    ],
)
def test_bad_input(show: Path, capsys: pytest.CaptureFixture[str], arguments: list[str], words: str) -> None:
    assert run(["crosscheck", str(show), *arguments]) == 2
    assert words in capsys.readouterr().err


def test_a_drive_that_is_not_there(show: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (show / "cards").rename(show / "gone")
    assert run(["crosscheck", str(show)]) == 2
    assert "recorder" in capsys.readouterr().err
