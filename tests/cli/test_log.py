"""The log of the day on the command line: written, changed, taken back, listed, exported; bad input in a sentence."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path
from typing import Any

import pytest

from rollsound.cli.app import run
from rollsound.log import read_takes

PLAN = """\
show: {title: Northbound Ferry}
people:
  - {id: ines, name: Ines, role: mixer}
  - {id: tarek, name: Tarek, role: crew}
schedule:
  days:
    - {id: day-3, number: 3, date: 2031-02-17}
    - {id: day-4, number: 4, date: 2031-02-18}
"""
OFF_TURN = ["take", "scene=31", "slate=214", "take=1", "sound_roll=NF-04", "timecode_in=12:38:08:00"]


@pytest.fixture
def show(tmp_path: Path) -> str:
    """A show with two days."""
    plan = tmp_path / "plan.yaml"
    plan.write_text(PLAN)
    folder = str(tmp_path / "ferry")
    assert run(["new", folder, "--from", str(plan)]) == 0
    return folder


Said = pytest.CaptureFixture[str]


def told(capsys: Said, *arguments: str, code: int = 0) -> Any:
    """What a command of the log answers as JSON."""
    capsys.readouterr()
    assert run(["log", *arguments, "--json"]) == code
    return json.loads(capsys.readouterr().out)


def test_a_take_is_written_changed_listed_and_taken_back(show: str, capsys: Said) -> None:
    written = told(capsys, "add", show, *OFF_TURN, "--day", "day-4", "--at", "12:38:41")
    (line,) = written["lines"]
    assert (line["day"], line["local"], line["person"], line["words"]) == (
        "day-4",
        "12:38:41",
        "Ines",
        "Slate 214 take 1",
    )
    told(capsys, "edit", show, line["id"], "circled=yes", "track_notes.3=rustle", "--as", "Tarek")
    capsys.readouterr()
    assert run(["log", "list", show]) == 0
    assert "Slate 214 take 1, circled, 12:38:08:00, track 3: rustle  (Ines; take-2)" in capsys.readouterr().out
    told(capsys, "undo", show, "--as", "Tarek")
    assert "circled" not in told(capsys, "list", show)["lines"][0]["fields"]
    told(capsys, "redo", show, "--as", "Tarek")
    removed = told(capsys, "remove", show, line["id"])
    assert removed["lines"] == []
    assert told(capsys, "list", show)["lines"] == []
    told(capsys, "undo", show)
    (again,) = told(capsys, "list", show, "--kind", "take", "--day", "day-4")["lines"]
    assert again["fields"]["circled"] is True
    capsys.readouterr()
    assert run(["history", show, "--values"]) == 0
    said = capsys.readouterr().out
    assert "Slate 214 take 1: circled yes, track notes 3: rustle" in said
    assert "take-2 of the log, circled: nothing → true" in said
    assert run(["history", show, "--path", "/log/take-2/fields/circled", "--json"]) == 0
    assert len(json.loads(capsys.readouterr().out)["entries"]) == 6


def test_how_the_day_stands(show: str, capsys: Said) -> None:
    for at, *words in (
        ("11:50", "wearing", "pack=pack-01", "character=Bram", "mic_place=chest", "power_mw=10"),
        ("12:00", "battery", "item=pack-01", "percent=100"),
        ("12:01", "changeover", "changeover=boom-1", "position=radio"),
        ("12:02", "jam", "device=slate", "source=recorder", "timecode=12:02:00:00"),
        ("12:05", "promise", "text=Ferry horn"),
        ("14:00", "wearing", "pack=pack-01", "character=Haru"),
    ):
        assert run(["log", "add", show, *words, "--day", "day-4", "--at", at]) == 0
    before = told(capsys, "now", show, "--day", "day-4", "--at", "13:00")
    assert [(row["pack"], row["character"]) for row in before["wearing"]] == [("pack-01", "Bram")]
    assert [row["fields"]["text"] for row in before["promises"]] == ["Ferry horn"]
    after = told(capsys, "now", show, "--day", "day-4")
    assert [row["character"] for row in after["wearing"]] == ["Haru"]
    assert after["batteries"][0]["percent"] == 100
    assert after["positions"][0]["position"] == "radio"
    assert after["jams"][0]["source"] == "recorder"
    assert after["next"]["take"] == "1"
    capsys.readouterr()
    assert run(["log", "now", show, "--day", "day-4", "--at", "13:00"]) == 0
    said = capsys.readouterr().out
    for words in ("Next on day-4: 1 take 1", "pack-01: Bram, chest, 10 mW, since 11:50", "slate: jammed 12:02", "horn"):
        assert words in said


def test_what_is_odd_is_told_and_never_refused(show: str, capsys: Said) -> None:
    assert run(["log", "add", show, *OFF_TURN, "timecode_out=12:37:00:00", "--day", "day-4"]) == 0
    assert run(["log", "add", show, *OFF_TURN, "--day", "day-9"]) == 0
    found = [each["kind"] for each in told(capsys, "list", show)["findings"]]
    assert found == ["day not in the plan", "duplicate take", "time code running backwards"]


def test_the_log_is_taken_away_as_csv_json_and_pdf(show: str, capsys: Said, tmp_path: Path) -> None:
    fields = [*OFF_TURN, "files=NF04_S214_T1.wav", "note==1+1", "circled=yes"]
    assert run(["log", "add", show, *fields, "--day", "day-4"]) == 0
    assert run(["log", "add", show, "note", "text=Rain", "--day", "day-4"]) == 0
    sheet = tmp_path / "takes.csv"
    assert told(capsys, "export", show, str(sheet))["takes"] == 1
    (row,) = read_takes(sheet)
    assert (row.file, row.slate, row.circled, row.sound_roll) == ("NF04_S214_T1.wav", "214", True, "NF-04")
    assert row.note == "'=1+1"  # no formula in a spreadsheet
    every = tmp_path / "all.csv"
    assert told(capsys, "export", show, str(every), "--all-lines")["lines"] == 2
    rows = list(csv.DictReader(io.StringIO(every.read_text("utf-8-sig"))))
    assert [each["kind"] for each in rows] == ["take", "note"]
    told(capsys, "export", show, str(tmp_path / "log.json"), "--day", "day-4")
    assert len(json.loads((tmp_path / "log.json").read_text())["lines"]) == 2
    for name in ("a.pdf", "b.pdf"):
        told(capsys, "export", show, str(tmp_path / name), "--day", "day-4")
    assert (tmp_path / "a.pdf").read_bytes()[:5] == b"%PDF-"
    assert (tmp_path / "a.pdf").read_bytes() == (tmp_path / "b.pdf").read_bytes()


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["add", "{show}", "takes"], "names a kind 'takes', which is not there; perhaps 'take' was meant"),
        (["add", "{show}", "take", "slat=3"], "slat: is not known here; there are: scene, slate"),
        (["add", "{show}", "take", "slate"], "'slate' is no field; write name=value"),
        (["add", "{show}", "take", "note=a", "note.b=c"], "'note.b=c' cannot stand beside another note"),
        (["add", "{show}", "take", "--at", "25:00"], "'25:00' is no time; write a time of day"),
        (["add", "{show}", "take", "--day", "Day 4"], "'Day 4' is no id of a day"),
        (["add", "{show}", "temperature", "temperature_c=cold"], "temperature_c: should be a number, not 'cold'"),
        (["edit", "{show}", "take-9", "note=a"], "the log has no line 'take-9'"),
        (["remove", "{show}", "take-9"], "the log has no line 'take-9'"),
        (["undo", "{show}"], "the log has nothing of Ines to take back"),
        (["list", "{show}", "--kind", "roll"], "the log has no kind 'roll'"),
        (["export", "{show}", "log.doc"], "a log is written as .csv, .json or .pdf, not as log.doc"),
        (["export", "{show}", "log.csv"], "has no lines; there is nothing to write"),
        (["list", "{show}/nowhere"], "holds no show"),
    ],
)
def test_bad_input_is_told_in_one_sentence(show: str, capsys: Said, arguments: list[str], words: str) -> None:
    capsys.readouterr()
    assert run(["log", *(each.format(show=show) for each in arguments)]) == 2
    said = capsys.readouterr()
    assert words in said.err.replace("The log", "the log").replace("A log", "a log")
    assert "Traceback" not in said.err
