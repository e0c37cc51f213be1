"""`rollsound callsheet`: what the plan says of a day on one sheet, and what it does not say yet."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from rollsound.actions.callsheet import callsheet
from rollsound.actions.callsheet_papers import sheet_data, sheet_pdf
from rollsound.actions.plan_read import read_plan
from rollsound.cli.app import run

PLAN = """\
show: {title: Northbound Ferry, unit: Main unit, frame_rate: "25"}
people:
  - {id: ines, name: Ines Kallio-Barros, job: Production sound mixer, role: mixer, contact: channel 1}
  - {id: henrike, name: Henrike Vos, job: Director, role: guest}
sites:
  - id: quay
    name: Quay at Skarvik
    temperature: -9 to -1 °C
    note: One kilometre of open harbour
    sound:
      laeq: 41 dBA
      boom: 70 cm
      noisy_hours: [{id: horn, from: "12:00", to: "12:05", what: the noon ferry's horn, level: 88 dBA}]
  - {id: chapel, name: Timber chapel}
script:
  characters:
    - {id: bram, name: Bram}
    - {id: runa, name: Runa}
    - {id: haru, name: Haru, kind: child}
    - {id: okello, name: Okello}
    - {id: master, name: Harbour master, kind: voice only}
  scenes:
    - id: s31
      number: "31"
      heading: EXT. QUAY - DUSK
      eighths: 13
      dual: true
      speaks:
        - {character: bram, words: 40}
        - {character: runa, words: 120}
        - {character: haru, words: 9}
        - {character: master, words: 5}
      cues: [{kind: vehicle}, {kind: vehicle}]
    - {id: s36, number: "36", heading: INT. CHAPEL, sings: [{character: okello, words: 60}], songs: [harbour]}
schedule:
  days:
    - id: day-4
      number: 4
      date: 2031-02-18
      site: quay
      moves: [chapel]
      scenes: ["31", "36"]
      call: "08:00"
      wrap: "19:00"
      breaks: [{from: "13:00", to: "13:45", note: lunch}]
    - {id: day-5, scenes: ["99"]}
kit:
  items:
    - {id: recorder, name: Main recorder, model: recorder-32}
    - {id: slate, name: Slate, clock: own, clock_error: 2.5 ppm}
    - {id: box, name: Stage box, draw: 8 W, input: 10-18 V}
rig:
  pieces: [{id: ears, item: box}]
  sources: [{id: pack-1, name: Pack 1}]
  tracks: [{id: six, number: 6, name: Iso 6, source: pack-1}]
  feeds: [{id: dir, listener: Director, hears: Mix, at: "ears:out", gain: -6 dB, hours: 8}]
  changeovers: [{id: boom-1, name: Boom 1, positions: [{id: cable}, {id: radio, name: by radio}]}]
radio:
  transmitters:
    - {id: pack-1, name: Pack 1, frequency: 470.1 MHz, power: 50 mW, worn: belt-back, wearer: Bram, sites: [quay]}
    - {id: pack-2, name: Pack 2, frequency: 471.2 MHz, spare_frequencies: [473.875 MHz], wearer: Runa}
    - {id: pack-3, name: Pack 3}
    - {id: pack-9, name: Pack 9, frequency: 480 MHz, sites: [elsewhere]}
  receivers: [{id: rack, name: Rack, channels: 2, hears: [pack-1, pack-2]}]
power:
  batteries: [{id: block, name: Block, voltage: 14.4 V, capacity: 98 Wh, count: 9}]
  supplies: [{id: stage, name: Stage, battery: block, feeds: [{id: box, item: box}]}]
  phases: [{id: lunch, from: "13:00", to: "13:45", state: idle, break: true}]
songs:
  ltc_track: Time code
  songs: [{id: harbour, title: Harbour song, start_timecode: "01:00:00:00", scenes: ["36"]}]
"""
KEPT = """\
packs:
  packs: [{id: pack-1, track: 6}, {id: pack-2, track: 7}]
  assigned:
    - {id: a, day: day-4, scene: "31", packs: {bram: [pack-2], runa: [pack-1, pack-3]}, boom: [haru]}
    - {id: b, day: day-4, scene: "36", nobody: [okello]}
"""


def written(tmp_path: Path, text: str = PLAN) -> Path:
    path = tmp_path / "plan.yaml"
    path.write_text(text.replace("sites: [elsewhere]", "sites: [chapel-2]"), "utf-8")
    return path


@pytest.fixture
def plan(tmp_path: Path) -> Path:
    """A plan of two sites, two scenes and a song, without a pack plan."""
    return written(tmp_path)


def told(path: Path, capsys: pytest.CaptureFixture[str], *more: str) -> dict[str, Any]:
    capsys.readouterr()
    assert run(["callsheet", str(path), "--day", "day-4", "--json", *more]) == 0
    found: dict[str, Any] = json.loads(capsys.readouterr().out)
    return found


def test_everything_of_the_day_is_there(plan: Path, capsys: pytest.CaptureFixture[str]) -> None:
    sheet = told(plan, capsys)
    assert (sheet["date"], sheet["call"], sheet["wrap"], sheet["unit"]) == (
        "Tuesday 18 February 2031", "08:00", "19:00", "Main unit",
    )  # fmt: skip
    assert sheet["breaks"] == ["lunch 13:00 to 13:45"]
    quay, chapel = sheet["places"]
    assert (quay["temperature"], sheet["coldest_c"]) == ("−9 to −1 °C", -9)
    assert quay["sound"] == (
        "background 41 dBA; boom at 70 cm planned; 12:00 to 12:05 the noon ferry's horn, 88 dBA"
    )  # fmt: skip
    assert (chapel["temperature"], chapel["sound"]) == ("", "")
    first, sung = sheet["scenes"]
    assert first["speaks"] == ["Runa 120", "Bram 40", "Haru 9", "Harbour master 5"]
    assert (first["dual"], first["cues"], first["wired"]) == (True, ["vehicle"], ["Bram: Pack 1", "Runa: Pack 2"])
    assert (sung["sings"], sung["songs"]) == (["Okello 60"], ["Harbour song"])
    (song,) = sheet["playback"]
    assert (song["scenes"], song["start_timecode"], song["ltc_track"]) == (["36"], "01:00:00:00", "Time code")
    assert [each["id"] for each in sheet["packs"]] == ["pack-1", "pack-2", "pack-3"]
    assert (sheet["packs"][0]["mhz"], sheet["packs"][0]["track"], sheet["packs"][0]["worn"]) == (
        470.1, "6 Iso 6", "belt back",
    )  # fmt: skip
    assert (sheet["packs"][1]["spares_mhz"], sheet["packs"][1]["heard_by"]) == ([473.875], ["Rack"])
    assert [each["name"] for each in sheet["crew"]] == ["Ines Kallio-Barros"]  # the director is no sound crew
    assert [(each["listener"], each["gain"]) for each in sheet["monitors"]] == [("Director", "−6 dB")]
    assert sheet["changeovers"][0]["positions"] == ["cable", "by radio"]
    assert [each["in_break"] for each in sheet["batteries"]] == [True]
    assert sheet["batteries"][0]["what"] == ["Stage: 1 × Block"]
    (jam,) = sheet["jams"]
    assert (jam["device"], jam["told"][0]) == ("Slate", "at the call, 08:00")
    assert len(jam["told"]) > 1
    for words in ("Start listening at a low level", "no permission", "lithium"):
        assert any(words in each for each in sheet["cautions"]), words


def test_what_is_not_planned_is_said(plan: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert told(plan, capsys)["not_planned"] == [
        "The pack plan is not made for this day; who wears what by the radio part is shown.",
        "Heard, and without a pack by the radio part: Haru (31) and Okello (36). A boom must cover them.",
        "Without a frequency: Pack 3. Leave what is on this list switched off.",
    ]
    assert run(["callsheet", str(plan), "--day", "day-5", "--json"]) == 0
    bare = json.loads(capsys.readouterr().out)
    assert (bare["date"], bare["scenes"][0]["in_script"]) == ("", False)
    words = " ".join(bare["not_planned"])
    for each in ("no date", "Call or wrap", "No site", "Scene 99 is not in the script part"):
        assert each in words, each


def test_a_plan_of_days_alone(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = written(tmp_path, "schedule: {days: [{id: day-4, number: 4}]}\n")
    sheet = told(path, capsys)
    words = " ".join(sheet["not_planned"])
    for each in ("No scenes", "No transmitter", "No monitor feed", "Power is not planned", "jam times are not known"):
        assert each in words, each
    assert sheet["cautions"] == []


def test_the_pack_plan_goes_before_the_radio_part(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    sheet = told(written(tmp_path, PLAN + KEPT), capsys)
    first, sung = sheet["scenes"]
    assert (first["wired"], first["booms"], first["without"]) == (
        ["Bram: Pack 2", "Runa: Pack 1 and Pack 3"],
        ["Haru"],
        [],
    )
    assert (sung["wired"], sung["without"]) == ([], ["Okello"])
    assert [each["wearers"] for each in sheet["packs"]] == [["Runa (31)"], ["Bram (31)"], ["Runa (31)"]]
    assert [each["track"] for each in sheet["packs"][:2]] == ["6", "7"]
    assert not any("pack plan" in each for each in sheet["not_planned"])
    half = KEPT[: KEPT.index("    - {id: b")]
    sheet = told(written(tmp_path, PLAN + half), capsys)
    assert sheet["scenes"][1]["without"] == []
    assert "The pack plan does not have scene 36; who is wired there is not known." in sheet["not_planned"]


def test_the_sheet_is_written(plan: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "day 4.pdf"
    assert run(["callsheet", str(plan), "--day", "day-4", "--to", str(out)]) == 0
    words = capsys.readouterr().out
    assert words.startswith(
        "Northbound Ferry, day 4, Tuesday 18 February 2031, 08:00 to 19:00: 2 scenes, 1 sung, at Quay at Skarvik and "
        "Timber chapel; 3 things not planned yet."
    )
    assert f"Written: {out}" in words
    result = callsheet(read_plan(plan), day="day-4")
    assert out.read_bytes() == sheet_pdf(result)
    assert out.read_bytes().startswith(b"%PDF")
    data = sheet_data(result)
    assert (data["scenes"][0]["length"], data["scenes"][0]["notes"]) == (
        "1 5/8",
        "two speak at once; listen for vehicle",
    )
    assert data["verdict"] == "2 scenes, 1 sung, at Quay at Skarvik and Timber chapel."


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--day", "day-9"], "The schedule has no day 'day-9'; there are: day-4, day-5"),
        (["--day", "day-4", "--to", "sheet.doc"], "A call sheet is written as .pdf, not as sheet.doc"),
    ],
)
def test_bad_input(plan: Path, capsys: pytest.CaptureFixture[str], arguments: list[str], words: str) -> None:
    assert run(["callsheet", str(plan), *arguments]) == 2
    assert words in capsys.readouterr().err


def test_a_plan_without_days(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["callsheet", str(written(tmp_path, "show: {title: Bare}\n"))]) == 2
    assert "The plan has no days" in capsys.readouterr().err
