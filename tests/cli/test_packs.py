"""`rollsound packs`: the plan worked out, told, kept, re-planned when a pack fails, on paper, and what is refused."""

from __future__ import annotations

import csv
import json
from pathlib import Path
from typing import Any

import pytest

from rollsound.actions.packs import kept_findings
from rollsound.actions.packs_gather import PacksOfShow
from rollsound.actions.plan_read import read_plan
from rollsound.actions.ready_fields import fields_proven
from rollsound.cli.app import run

PLAN = """\
show: {title: Northbound Ferry}
sites: [{id: quay, name: Quay}, {id: chapel, name: Chapel}]
script:
  characters:
    - {id: bram, name: Bram, principal: true}
    - {id: idris, name: Idris, also: [IDRIS (LOUD)]}
    - {id: runa, name: Runa, kind: child}
    - {id: crew, name: Crew, kind: group}
  scenes:
    - id: s4
      number: "4"
      eighths: 8
      place: Quay
      speaks: [{character: bram, words: 40}, {character: idris, words: 20}]
    - id: s5
      number: "5"
      eighths: 4
      place: Quay
      speaks: [{character: runa, words: 40}, {character: bram, words: 4}]
    - id: s6
      number: "6A"
      eighths: 8
      place: Chapel
      speaks: [{character: idris, words: 40}, {character: bram, words: 9, off: voice over}, {character: crew, words: 6}]
      sings: [{character: runa, words: 30, lines: 4}]
    - {id: s9, number: "9", eighths: 8, omitted: true, speaks: [{character: bram, words: 40}]}
schedule:
  days:
    - id: day-1
      number: 1
      date: 2031-02-14
      site: quay
      moves: [chapel]
      call: "08:00"
      wrap: "19:00"
      scenes: ["4", "5", "6A", "9", "77"]
      breaks: [{from: "13:00", to: "13:45", note: lunch}]
    - {id: day-2, number: 2, date: 2031-02-15, site: quay, scenes: ["4"]}
rig:
  pieces: [{id: tx-1, transmitter: pack-01}, {id: lav-1}, {id: plug-1, transmitter: boom-1}]
  links: [{id: l1, from: "lav-1:out", to: "tx-1:in"}]
  sources:
    - {id: bram-voice, at: "lav-1:capsule"}
    - {id: pack-02}
    - {id: boom-1-voice, at: "plug-1:in"}
  tracks:
    - {id: t3, number: 3, name: Boom 1, source: boom-1-voice}
    - {id: t6, number: 6, name: Bram, source: bram-voice}
    - {id: t7, number: 7, name: Second, source: pack-02}
radio:
  transmitters:
    - {id: pack-01, name: Pack 1, wearer: bram}
    - {id: pack-02, name: Pack 2}
    - {id: pack-03, name: Pack 3, wearer: Piano}
    - {id: boom-1, name: Boom 1, kind: boom}
    - {id: singers, name: Monitor, kind: monitor}
"""


@pytest.fixture
def text(tmp_path: Path) -> Path:
    """The plan as a text."""
    path = tmp_path / "plan.yaml"
    path.write_text(PLAN, "utf-8")
    return path


def told(capsys: pytest.CaptureFixture[str], *words: str, exit_code: int = 0) -> dict[str, Any]:
    capsys.readouterr()
    assert run(["packs", *words, "--json"]) == exit_code
    found: dict[str, Any] = json.loads(capsys.readouterr().out)
    return found


def covers(result: dict[str, Any]) -> dict[str, dict[str, str]]:
    """Who has what, by day and scene."""
    return {
        f"{day['id']} {row['scene']}": {
            cover["name"]: "+".join(cover["packs"]) or cover["boom_name"] or "nobody" for cover in row["covers"]
        }
        for day in result["days"]
        for row in day["scenes"]
    }


def test_what_is_asked_comes_from_script_schedule_radio_and_rig(text: Path) -> None:
    task = PacksOfShow(read_plan(text).plan).task
    assert [(each.id, each.track, each.spare) for each in task.packs] == [
        ("pack-01", 6, False),
        ("pack-02", 7, False),
        ("pack-03", 0, True),
    ]
    assert [(each.name, each.track) for each in task.booms] == [("Boom 1", 3)]
    assert [(slot.day, slot.scene, slot.gap, slot.gap_name) for slot in task.slots] == [
        ("day-1", "4", "day", ""),
        ("day-1", "5", "break", "lunch"),
        ("day-1", "6A", "move", "the move to Chapel"),
        ("day-2", "4", "day", ""),
    ]
    assert [voice.character for voice in task.slots[2].voices] == ["idris", "crew", "runa"]  # no voice over
    assert task.voices(2)["runa"].sings
    assert PacksOfShow(read_plan(text).plan).named == {"pack-01": "bram"}
    assert task.character["crew"].rather_boom


def test_the_plan_is_told_and_proven(text: Path, capsys: pytest.CaptureFixture[str]) -> None:
    result = told(capsys, str(text))
    assert covers(result) == {
        "day-1 4": {"Bram": "pack-01", "Idris": "pack-02"},
        "day-1 5": {"Runa": "pack-02", "Bram": "pack-01"},
        "day-1 6A": {"Idris": "pack-01", "Runa": "pack-02", "Crew": "Boom 1"},
        "day-2 4": {"Bram": "pack-01", "Idris": "pack-02"},
    }
    assert result["proved"]
    assert [(each["id"], each["value"]) for each in result["levels"] if each["value"]] == [("rerigs", 2), ("pairs", 4)]
    kinds = {each["kind"]: each["weight"] for each in result["findings"]}
    assert kinds["pack plan"] == "watch"  # scene 77 is not in the script
    assert kinds["sung scene ready"] == "watch"
    assert run(["packs", str(text)]) == 0
    screen = capsys.readouterr().out
    assert "Northbound Ferry: 4 scenes, 4 characters, 3 packs, 1 boom: everybody is covered; 2 re-rigs" in screen
    assert "Day 1, in lunch before scene 5: Pack 2 goes from Idris to Runa." in " ".join(screen.split())


def test_a_kept_plan_stands_in_the_text_and_changes_least_when_a_pack_fails(
    text: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before = told(capsys, str(text), "--save")
    assert before["saved"] == f"Saved in {text}."
    assert told(capsys, str(text), "--save")["saved"].endswith("nothing was to change.")
    assert covers(told(capsys, str(text), "--kept")) == covers(before)
    assert [each.kind for each in kept_findings(read_plan(text).plan) if each.weight == "stop"] == []
    after = told(capsys, str(text), "--replan", "--without", "pack-01", "--day", "day-2", "--save")
    assert covers(after) == {"day-2 4": {"Bram": "pack-03", "Idris": "pack-02"}}
    kept = covers(told(capsys, str(text), "--kept"))
    assert kept == {**covers(before), **covers(after)}


def test_in_a_show_it_is_an_edit_that_can_be_undone(
    text: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    show = tmp_path / "show"
    assert run(["new", str(show), "--from", str(text)]) == 0
    revision = told(capsys, str(show), "--save")["revision"]
    assert len(read_plan(show).plan.packs.assigned) == 4
    assert run(["undo", str(show)]) == 0
    assert read_plan(show).plan.packs.assigned == ()
    assert read_plan(show).revision == revision + 1


def test_who_is_not_covered_is_told_with_day_and_scene_and_exit_1(
    text: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    result = told(capsys, str(text), "--without", "pack-02", "pack-03", "boom-1", exit_code=1)
    (bare,) = (each for each in result["given"] if each["level"] == "uncovered" and each["scene"] == "6A")
    assert bare["sentence"] == "Day 1, scene 6A: nothing covers Runa (30 words) and Crew (6 words)."
    assert bare["cure"] == "Bring 2 more packs on day 1, or 1 more boom."


def test_the_track_sheet_has_every_voice_on_its_track(text: Path, tmp_path: Path) -> None:
    sheet, paper = tmp_path / "tracks.csv", tmp_path / "tracks.pdf"
    assert run(["packs", str(text), "--track-sheet", str(sheet)]) == 0
    with sheet.open(encoding="utf-8-sig", newline="") as file:
        rows = list(csv.DictReader(file))
    here = [(row["track"], row["name"], row["pack or boom"], row["sings"]) for row in rows if row["scene"] == "6A"]
    assert here == [("6", "Idris", "Pack 1", ""), ("7", "Runa", "Pack 2", "yes"), ("3", "Crew", "Boom 1", "")]
    assert run(["packs", str(text), "--track-sheet", str(paper)]) == 0
    assert paper.read_bytes().startswith(b"%PDF-")


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (["--day", "day-9"], "the schedule has no day 'day-9'; there are: day-1, day-2"),
        (["--without", "pack-1"], "--without names the pack or boom 'pack-1', which is not there"),
        (["--replan"], "has no pack plan to stay near to"),
        (["--kept"], "keeps no pack plan"),
        (["--kept", "--save"], "--kept tells the plan as it is"),
        (["--effort", "-1"], "--effort is -1"),
        (["--track-sheet", "tracks.doc"], "the track sheet is written as .pdf or .csv, not as tracks.doc"),
    ],
)
def test_what_cannot_be_asked_is_one_sentence(
    text: Path, words: list[str], sentence: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["packs", str(text), *words]) == 2
    assert sentence.casefold() in " ".join(capsys.readouterr().err.split()).casefold()


@pytest.mark.parametrize(
    ("written", "sentence"),
    [
        ("show: {title: Northbound Ferry}\n", "the plan has no script"),
        (PLAN[: PLAN.index("schedule:")], "no day of the schedule has a scene in which somebody is heard"),
    ],
)
def test_a_plan_without_script_or_scenes_says_what_to_do(
    tmp_path: Path, written: str, sentence: str, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "bare.yaml").write_text(written, "utf-8")
    assert run(["packs", str(tmp_path / "bare.yaml")]) == 2
    assert sentence.casefold() in " ".join(capsys.readouterr().err.split()).casefold()


def test_ready_holds_the_kept_plan_against_the_script(text: Path, tmp_path: Path) -> None:
    assert run(["packs", str(text), "--save"]) == 0
    proven = {proof.what: proof for proof in fields_proven(tmp_path / "before", read_plan(text).plan)}
    assert {told.finding.weight for told in proven["packs: everybody covered"].told} == {"fine"}
    saved = text.read_text("utf-8")
    later = PLAN.replace("{character: runa, words: 40}", "{character: crew, words: 12}")
    text.write_text(later + saved[saved.index("\npacks:") :], "utf-8")
    proven = {proof.what: proof for proof in fields_proven(tmp_path / "after", read_plan(text).plan)}
    (told,) = proven["packs: everybody covered"].told
    assert told.finding.what == "Day 1, scene 5: nothing covers Crew (12 words)."
    assert proven["packs: pack plan kept"].told[0].place.path == "/packs/assigned"


def test_units_of_one_date_share_no_pack(text: Path) -> None:
    split = PLAN.replace(
        "    - {id: day-2, number: 2, date: 2031-02-15,", "    - {id: day-1b, unit: second, date: 2031-02-14,"
    )
    text.write_text(f"{split}packs: {{packs: [{{id: pack-02, unit: second}}]}}\n", "utf-8")
    task = PacksOfShow(read_plan(text).plan).task
    assert [pack.id for pack in task.packs_on("day-1")] == ["pack-01", "pack-03"]
    assert [pack.id for pack in task.packs_on("day-1b")] == ["pack-02"]


def test_a_track_that_two_have_and_packs_off_the_tracks_are_told(
    text: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text.write_text(f"{PLAN}packs: {{packs: [{{id: pack-03, track: 6}}]}}\n", "utf-8")
    (wrong,) = (each for each in PacksOfShow(read_plan(text).plan).wrong if each.at[0] == "packs")
    assert f"{wrong.path} {wrong.sentence}" == (
        "/packs/packs/pack-03/track is 6, where pack-01 is too; give each a track of its own"
    )
    text.write_text(f"{PLAN}packs: {{tracks: [6, 7]}}\n", "utf-8")
    told_notes = told(capsys, str(text))["notes"]
    assert "Left out, as no track under 'tracks' of the packs part has them: Pack 3." in told_notes


def test_wishes_bear_on_the_characters(text: Path) -> None:
    wishes = (
        "packs: {dual_principals: true, packs: [{id: pack-03, small: true, spare: false, track: 9}], wishes: ["
        "{id: runa, track: 9, no_pack: ['6a']}, {id: idris, boom_only: true}, {id: crew, boom: false, weight: 3}]}\n"
    )
    text.write_text(f"{PLAN}{wishes}", "utf-8")
    task = PacksOfShow(read_plan(text).plan).task
    assert task.character["bram"].dual
    assert (task.character["runa"].small, task.character["runa"].track) == (True, 9)
    assert not task.may_wear("runa", 2)
    assert task.character["idris"].boom_only
    assert (task.character["crew"].rather_boom, task.character["crew"].weight) == (False, 3)
    assert (task.pack["pack-03"].small, task.pack["pack-03"].spare) == (True, False)
