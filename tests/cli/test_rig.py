"""The commands of the rig, as somebody at a keyboard meets them."""

from __future__ import annotations

import json
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest

from rollsound.cli.app import run
from rollsound.demo.example import example_plan_text


@pytest.fixture
def plan(tmp_path: Path) -> Path:
    path = tmp_path / "northbound.yaml"
    path.write_text(example_plan_text(), encoding="utf-8")
    return path


def test_the_demo_rig_proves_clean_in_all_its_combinations(plan: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["rig", str(plan), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["combinations"] == 32
    assert told["pieces"] >= 45
    assert not [each for each in told["findings"] if each["weight"] == "stop"]
    assert all(not row["missing"] for row in (*told["tracks"], *told["listeners"]))


def test_a_path_is_told_hop_by_hop_and_drawn(plan: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    drawing = tmp_path / "rig.svg"
    words = ("rig", str(plan), "--combination", "boom-1=radio", "--path", "boom-1", "--drawing", str(drawing))
    assert run([*words]) == 0
    told = capsys.readouterr().out
    assert "boom-1 to track 3 Boom 1: " in told
    assert "lossy radio" in told
    root = ET.fromstring(drawing.read_text(encoding="utf-8"))  # written a moment ago by ourselves
    lit = [each.get("data-piece") for each in root.iter() if each.get("class") == "lit" and each.get("data-piece")]
    assert {"boom-1-mic", "boom-1-plug", "rack-5", "switch-set", "recorder"} <= set(lit)


def test_every_changeover_is_told_in_the_trade_s_words(plan: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["changeovers", str(plan)]) == 0
    told = capsys.readouterr().out
    assert "no changeover costs a track, in all 32 combinations" in told
    assert "Boom 1, cable to radio: 0 re-patches, 1 unplug, 1 plug; +20 dB moves from" in told
    assert "Receivers, on the set to on the cart: 0 re-patches, 1 unplug, 1 plug." in told


def test_fallout_ranks_and_offers_cures(plan: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["fallout", str(plan), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["complete"]
    assert told["single"][0]["failed"] == ["piece:recorder"]
    remote = next(each for each in told["single"] if each["failed"] == ["link:net-remote"])
    assert remote["cure_removes"]
    pack = next(each for each in told["single"] if each["failed"] == ["piece:pack-01"])
    assert pack["uncovered"] == ["Bram"]


WRONG = {
    "from: boom-1-mic:out\n      to: recorder:digital-mic 1": (
        "from: boom-1-mic:outt\n      to: recorder:digital-mic 1",
        "names the port of Boom 1 'outt', which is not there; perhaps 'out' was meant",
    ),
    "to: track 3\n": ("to: track 30\n", "names track 30 of Main recorder, 32 tracks, which does not exist"),
    "links: [boom-1-cable]": ("links: [boom-1-cabel]", "names the link 'boom-1-cabel', which is not there"),
    "to: recorder:digital-mic 2\n": ("to: recorder:digital-mic 1\n", "where 'boom-1-cable' ends as well"),
    "to: recorder:digital-mic 3\n      length: 35 m": (
        "to: recorder:digital-mic 3\n      length: -35 m",
        "must be 0 m or more",
    ),
    "to: recorder:digital-mic 3\n      length: 35 m\n": (
        "to: recorder:digital-mic 3\n      length: 35\n",
        "needs a number and its unit",
    ),
    "from: talkback-mic:out\n      to: recorder:mic-in 8": (
        "from: talkback-mic:out\n      to: recorder:digital-mic 8",
        "put a converter between them",
    ),
}


@pytest.mark.parametrize("right", WRONG)
def test_a_mistake_is_one_sentence_with_its_line(plan: Path, capsys: pytest.CaptureFixture[str], right: str) -> None:
    wrong, sentence = WRONG[right]
    text = plan.read_text(encoding="utf-8")
    assert right in text
    plan.write_text(text.replace(right, wrong, 1), encoding="utf-8")
    assert run(["rig", str(plan)]) == 2
    told = capsys.readouterr().err
    assert sentence in told
    assert "line " in told
    assert "Traceback" not in told


def test_a_combination_or_source_that_is_not_there_is_refused(plan: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["rig", str(plan), "--combination", "boom-1=fishing"]) == 2
    assert "boom-1 has: cable, radio" in capsys.readouterr().err
    assert run(["rig", str(plan), "--path", "nobody"]) == 2
    assert "'nobody' is no source" in capsys.readouterr().err
    assert run(["rig", str(plan), "--drawing", "rig.doc"]) == 2
    assert "is no .svg file" in capsys.readouterr().err


def test_a_plan_without_a_rig_says_what_to_write(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "empty.yaml"
    path.write_text("show:\n  title: A\n", encoding="utf-8")
    assert run(["rig", str(path)]) == 2
    assert "write pieces, links and routes under 'rig'" in capsys.readouterr().err


def test_a_misspelt_field_is_told_with_its_line(plan: Path, capsys: pytest.CaptureFixture[str]) -> None:
    text = plan.read_text(encoding="utf-8")
    line = next(n for n, each in enumerate(text.splitlines(), 1) if each == "  streams:")
    plan.write_text(text.replace("\n  streams:\n", "\n  stream:\n", 1), encoding="utf-8")
    assert run(["rig", str(plan)]) == 1
    told = capsys.readouterr().err
    assert f"line {line}" in told
    assert "'stream' at rig is no field, and not looked at; perhaps 'streams' was meant." in told


def test_packs_with_cells_of_their_own_do_not_fail_together(plan: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["fallout", str(plan), "--json"]) == 0
    failed = [each["failed"] for each in json.loads(capsys.readouterr().out)["single"]]
    assert ["supply:cart"] in failed
    assert ["supply:packs"] not in failed


SMALL = """
version: 1
show: {title: Trial}
kit:
  items:
    - {id: boom, name: Boom, model: boom-mic-analogue}
    - {id: recorder, name: Recorder, model: recorder-24}
rig:
  pieces: [{id: boom}, {id: recorder, gains: {"mic-in 1": 40 dB}}]
  links: [{id: cable, from: "boom:out", to: "recorder:mic-in 1", length: 10 m}]
  routes: [{id: iso, piece: recorder, from: mic-in 1, to: track 1}]
  sources: [{id: voice, name: Bram, at: "boom:capsule", character: Bram}]
  tracks: [{id: t1, number: 1, name: Bram, source: voice}]
"""


def told_of(tmp_path: Path, capsys: pytest.CaptureFixture[str], text: str, *words: str) -> str:
    path = tmp_path / "trial.yaml"
    path.write_text(text, encoding="utf-8")
    command, *options = words
    assert run([command, str(path), *options]) in (0, 1)
    return " ".join(capsys.readouterr().out.split())


def test_no_more_is_claimed_than_was_proven(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    told = told_of(tmp_path, capsys, SMALL, "rig")
    assert "Trial: every source reaches its tracks and listeners in the one combination" in told
    assert "1 of 24 tracks are used, 0.5 GB an hour" in told
    nowhere = SMALL.replace(", source: voice", "")
    told = told_of(tmp_path, capsys, nowhere, "rig")
    assert "every source reaches" not in told
    assert "nothing was found that would stop the roll; what was not proven stands below" in told


def test_pairs_that_cost_nothing_are_said_to(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert "Two at once" not in told_of(tmp_path, capsys, SMALL, "fallout")
    assert "Two at once cost nothing that one of them would not cost alone." in told_of(
        tmp_path, capsys, SMALL, "fallout", "--pairs"
    )
