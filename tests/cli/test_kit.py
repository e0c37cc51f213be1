"""The kit on the command line: the answer first, papers where they are wanted, bad input in one sentence."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from rollsound.cli.app import run

PLAN = """\
show: {title: Northbound Ferry}
kit:
  items:
    - id: trolley
      name: Folding trolley
      model: trolley-stairs
      travels_in: Chapel load
    - id: recorder
      name: Bag recorder
      model: recorder-16
      travels_in: Chapel load
    - id: block
      name: Block for the cart
      model: battery-lifepo4-150
      count: 2
  moves:
    - id: steps
      name: Chapel steps
      load: chapel load
      steps: 8
"""


@pytest.fixture
def plan(tmp_path: Path) -> Path:
    path = tmp_path / "plan.yaml"
    path.write_text(PLAN, "utf-8")
    return path


def test_the_answer_comes_first(plan: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["kit", str(plan)]) == 0
    told = capsys.readouterr().out
    first, *_ = told.splitlines()
    assert first == "Northbound Ferry: 4 pieces, 52 kg, and batteries of 3.8 kWh; nothing would stop it."
    assert "Chapel steps: 1.9 kg over 8 steps by one person on Folding trolley" in told
    assert "Stairs lie outside the lifting filter" in told
    assert "△ watch  Block for the cart, 1920 Wh: over 160 Wh" in told
    assert "Caution: Lifting figures are a filter, not limits" in told
    assert "check the operator, and your local rules" in told


def test_a_flight_that_cannot_be_is_a_stop(plan: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["kit", str(plan), "--travel-date", "2026-04-12"]) == 1
    assert "1 thing would stop it" in capsys.readouterr().out


def test_json_is_the_same_answer(plan: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["kit", str(plan), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["whole"]["pieces"] == 4
    assert {row["id"]: row["baggage"] for row in told["batteries"]} == {"block": "not as baggage"}
    assert told["customs"] is None
    assert told["further_notes"]


def test_papers_are_written_where_they_are_wanted(plan: Path, capsys: pytest.CaptureFixture[str]) -> None:
    before = plan.read_bytes()
    labels = plan.with_name("labels.pdf")
    assert run(["kit", str(plan), "--labels", str(labels)]) == 0
    assert f"Written: {labels}" in capsys.readouterr().out
    assert labels.read_bytes().startswith(b"%PDF")
    listed = plan.with_name("list.csv")
    assert run(["kit", str(plan), "--carnet", str(listed)]) == 1  # nothing in it has a value
    assert "A draft" in listed.read_text("utf-8")
    assert plan.read_bytes() == before


@pytest.mark.parametrize(
    ("arguments", "sentence"),
    [
        (["--travel-date", "soon"], "The travel date 'soon' is no date; write it as 2026-03-27."),
        (
            ["--carnet", "list.xls"],
            "The customs' list is written as .pdf or .csv, not as list.xls; choose one of them.",
        ),
    ],
)
def test_bad_words_are_one_sentence(
    plan: Path, arguments: list[str], sentence: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["kit", str(plan), *arguments]) == 2
    assert capsys.readouterr().err.strip() == sentence


def test_a_plan_with_mistakes_tells_their_lines(plan: Path, capsys: pytest.CaptureFixture[str]) -> None:
    plan.write_text(PLAN.replace("load: chapel load", "load: choir").replace("recorder-16", "recorder-17"), "utf-8")
    assert run(["kit", str(plan)]) == 2
    told = capsys.readouterr().err
    assert "has 2 mistakes: line 10, items recorder, model" in told
    assert "line 19, moves steps, load" in told
