"""`rollsound script`: breakdown, revision, schedule, decisions on names, keeping, and what cannot be read."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from rollsound.actions.ready_fields import fields_proven
from rollsound.cli.app import run
from rollsound.show.folder import Show

PLAN = """\
show: {title: Northbound Ferry}
people:
  - {id: ines, name: Ines, role: mixer}
sites:
  - {id: car-deck, name: Steel car deck}
  - {id: quay, name: Quay at Skarvik}
schedule:
  days:
    - {id: day-1, number: 1, date: 2031-02-14, site: car-deck, scenes: ["4", "5"], note: kept}
"""
SCRIPT = """Title: Northbound Ferry
Draft date: White, 1 February

INT. CAR DECK - NIGHT #4#

A telephone rings.

RUNA
Where is Idris?

IDRIS
Here.

EXT. QUAY - DAY #5#

RUNNA
~Northbound, over the bar
"""
BLUE = SCRIPT.replace("White, 1", "Blue, 8").replace("Here.", "Here, and Haru with me.\n\nHARU\nGood evening.")


@pytest.fixture
def show(tmp_path: Path) -> Path:
    """A show with one day, and a script beside it that it does not know."""
    (tmp_path / "plan.yaml").write_text(PLAN, "utf-8")
    (tmp_path / "white.fountain").write_text(SCRIPT, "utf-8")
    (tmp_path / "blue.fountain").write_text(BLUE, "utf-8")
    assert run(["new", str(tmp_path / "show"), "--from", str(tmp_path / "plan.yaml")]) == 0
    return tmp_path / "show"


def told(capsys: pytest.CaptureFixture[str], *words: str | Path, code: int = 0) -> dict[str, Any]:
    capsys.readouterr()
    assert run(["script", *map(str, words), "--json"]) == code
    found: dict[str, Any] = json.loads(capsys.readouterr().out)
    return found


def refused(capsys: pytest.CaptureFixture[str], *words: str | Path) -> str:
    capsys.readouterr()
    assert run(["script", *map(str, words)]) == 2
    err = capsys.readouterr().err
    assert err.count("\n") == 1
    return err


def test_a_script_is_told_kept_and_taken_back(show: Path, capsys: pytest.CaptureFixture[str]) -> None:
    white = show.parent / "white.fountain"
    first = told(capsys, show, white)
    assert (first["saved"], first["revision"], first["draft"]) == (None, None, "White, 1 February")
    assert told(capsys, show)["scenes"] == []
    assert run(["script", str(show)]) == 0
    assert "no script yet" in capsys.readouterr().out
    saved = told(capsys, show, white, "--save")["saved"]
    assert saved["revision"] == 2
    assert (show / "script" / "white.fountain").read_bytes() == white.read_bytes()
    kept = told(capsys, show)
    assert kept["scenes"] == first["scenes"]
    assert kept["file"] == "script/white.fountain"
    assert "nothing was to change" in told(capsys, show, white, "--save")["saved"]["sentence"]
    assert run(["undo", str(show)]) == 0
    assert told(capsys, show)["scenes"] == []


def test_a_revision_says_what_it_costs(show: Path, capsys: pytest.CaptureFixture[str]) -> None:
    told(capsys, show, show.parent / "white.fountain", "--save")
    revision = told(capsys, show, show.parent / "blue.fountain")["revision"]
    assert [each["number"] for each in revision["scenes"]] == ["4"]
    assert revision["new_characters"] == ["Haru"]
    assert [(each["day"], each["newly_needed"]) for each in revision["days"]] == [("day-1", ["Haru"])]
    assert run(["script", str(show), str(show.parent / "blue.fountain")]) == 0
    words = capsys.readouterr().out
    assert "Scene 4 is changed (on day 1): Idris speaks 4 words more; Haru now speaks here, 2 words." in words
    assert "Day 1: Haru to be wired who had nothing to say; 3 at once in one scene instead of 2" in words
    assert "Nothing was saved" in words


def test_names_are_merged_or_kept_as_two_by_whoever_is_asked(show: Path, capsys: pytest.CaptureFixture[str]) -> None:
    white = show.parent / "white.fountain"
    assert [(each["keep"], each["other"]) for each in told(capsys, show, white)["offers"]] == [("Runa", "Runna")]
    one = told(capsys, show, white, "--same", "Runna=Runa", "--save")
    assert one["offers"] == []
    assert [each["name"] for each in one["characters"]] == ["Runa", "Idris"]
    assert [each["name"] for each in told(capsys, show, white)["characters"]] == ["Runa", "Idris"]
    assert run(["undo", str(show)]) == 0
    two = told(capsys, show, white, "--apart", "Runna=Runa", "--save")
    assert two["offers"] == []
    assert len(two["characters"]) == 3
    assert told(capsys, show, white)["offers"] == []


def test_a_schedule_is_laid_over_the_plans(show: Path, capsys: pytest.CaptureFixture[str]) -> None:
    sheet = show.parent / "days.csv"
    sheet.write_text(
        "Day;Date;Where;Sc.;Call\n1;2031-02-14;Steel car deck;4;07:30\n2;2031-02-15;quay at skarvik;5, 9;08:00\n"
        "3;2031-02-16;Moon;4;08:00\n"
    )
    words = ["--schedule", sheet, "--column", "site=Where"]
    result = told(capsys, show, show.parent / "white.fountain", *words, "--save")
    assert [(each["id"], each["scenes"], each["sites"], each["change"]) for each in result["days"]] == [
        ("day-1", ["4"], ["car-deck"], "changed"),
        ("day-2", ["5", "9"], ["quay"], "new"),
        ("day-3", ["4"], [], "new"),
    ]
    assert any("'Moon' is no site" in each["sentence"] for each in result["remarks"])
    assert [each["subject"] for each in result["findings"] if each["kind"] == "scene of the script"] == ["day 2"]
    capsys.readouterr()
    assert run(["export", str(show)]) == 0
    assert "note: kept" in capsys.readouterr().out


def test_a_breakdown_sheet_keeps_what_it_does_not_tell(show: Path, capsys: pytest.CaptureFixture[str]) -> None:
    told(capsys, show, show.parent / "white.fountain", "--save")
    sheet = show.parent / "breakdown.csv"
    sheet.write_text("Scene,Pages,Set\n4,2 3/8,Car deck\n5,4/8,Quay\n")
    scenes = told(capsys, show, sheet)["scenes"]
    assert [(each["number"], each["eighths"]) for each in scenes] == [("4", 19), ("5", 4)]
    assert [each["name"] for each in scenes[0]["speaks"]] == ["Runa", "Idris"]


def test_a_plan_text_keeps_its_comments(show: Path, capsys: pytest.CaptureFixture[str]) -> None:
    text = show.parent / "plan.yaml"
    text.write_text("# ours\n" + PLAN, "utf-8")
    told(capsys, text, show.parent / "white.fountain", "--save")
    assert text.read_text("utf-8").startswith("# ours\n")
    assert len(told(capsys, text)["scenes"]) == 2


def test_what_cannot_be_read_is_one_sentence(show: Path, capsys: pytest.CaptureFixture[str]) -> None:
    prose = show.parent / "prose.fountain"
    prose.write_text("Dear all, the ferry leaves at six.\n", "utf-8")
    assert "holds no scene" in refused(capsys, show, prose)
    assert "is not there" in refused(capsys, show, show.parent / "none.fountain")
    white = show.parent / "white.fountain"
    assert "o character is called 'Bram'" in refused(capsys, show, white, "--same", "Bram=Runa")
    assert "two sides" in refused(capsys, show, white, "--same", "Bram")
    picture = show.parent / "a.fountain"
    picture.write_bytes(b"%PDF-1.7 \x00\x01")
    assert "PDF" in refused(capsys, show, picture)


def test_half_a_file_in_another_encoding_is_read_as_far_as_it_goes(
    show: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    half = show.parent / "half.fountain"
    half.write_bytes("INT. DECK - DAY #4#\n\nBÉLA\nHalló.\n\n/* cut\n\nRUNA\nStill".encode("cp1252"))
    result = told(capsys, show, half)
    assert [each["name"] for each in result["characters"]] == ["Béla", "Runa"]
    sentences = [each["sentence"] for each in result["remarks"]]
    assert any("1252" in each for each in sentences)
    assert any("never closed" in each for each in sentences)


def test_ready_tells_what_script_and_schedule_prove(show: Path, capsys: pytest.CaptureFixture[str]) -> None:
    told(capsys, show, show.parent / "white.fountain", "--save")
    with Show.open(show, read_only=True) as opened:
        proofs = {each.what: each for each in fields_proven(opened.folder, opened.plan())}
    assert {"script: scene of the script", "script: scene scheduled", "script: character twice"} <= set(proofs)
    (twice,) = proofs["script: character twice"].told
    assert twice.finding.subject == "Runna"
    assert twice.place.path == "/script/characters/runna"
