"""`rollsound power` on the screen: answer first, then batteries, wires, charging; exit codes; JSON; the chart."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from rollsound.cli.app import run

PLAN = """\
show: {title: Northbound Ferry}
sites:
  - {id: quay, name: Quay at Skarvik, temperature: "-9 to -1 °C"}
schedule:
  days:
    - {id: day-1, number: 1, site: quay, call: "07:30", wrap: "18:30"}
kit:
  items:
    - {id: box, name: Stage box, draw: 30 W, input: 10-18 V}
power:
  batteries:
    - {id: block, name: Block, voltage: 14.4 V, capacity: 98 Wh, count: COUNT, charge_power: 50 W}
  supplies:
    - id: stage
      name: Stage
      battery: block
      swappable_running: true
      feeds:
        - {id: box, item: box, wire: {length: 2 m, section: 2.5 mm², fuse: 5 A}}
  sockets:
    - {id: hotel, name: Hotel, most: 350 W, temperature: 15 to 20 °C, attended: true}
"""


def written(tmp_path: Path, count: int) -> Path:
    path = tmp_path / "plan.yaml"
    path.write_text(PLAN.replace("COUNT", str(count)), "utf-8")
    return path


def test_a_day_that_power_carries(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["power", str(written(tmp_path, 8))]) == 0
    told = capsys.readouterr().out
    assert told.startswith("Northbound Ferry, day 1, 07:30 to 18:30, down to −9 °C: power carries the day")
    for words in ("Batteries in use", "are the fewest", "1 in use and 5 spares, 8 owned", "Wires", "Charging, by need"):
        assert words in told
    assert "local code" in told
    assert "Caution: Charge lithium batteries where somebody is there" in told


def test_a_day_that_stops(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["power", str(written(tmp_path, 2)), "--day", "day-1"]) == 1
    told = capsys.readouterr().out
    assert "power does not carry the day; 2 stops" in told
    assert "■ stop" in told
    assert "4 missing" in told


def test_json_is_the_whole_result(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["power", str(written(tmp_path, 2)), "--json"]) == 1
    told = json.loads(capsys.readouterr().out)
    assert told["batteries"][0]["sets_given"] == 2
    assert {each["area"] for each in told["findings"]} == {"power"}


def test_a_chart_is_written(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["power", str(written(tmp_path, 2)), "--chart", str(tmp_path / "day.svg")]) == 1
    assert (tmp_path / "day.svg").read_text("utf-8").startswith("<svg")
    assert "Drawn: " in capsys.readouterr().out
    assert run(["power", str(written(tmp_path, 2)), "--chart", str(tmp_path / "day.bmp")]) == 2


@pytest.mark.parametrize(
    ("before", "after", "words"),
    [
        ("battery: block", "battery: blok", "line 16, supplies stage, battery: names the batteries 'blok'"),
        ("capacity: 98 Wh, ", "", "line 12, batteries block: has"),
        ("length: 2 m", "length: 2", "line 19"),
        ("section: 2.5 mm²", "section: 3 mm²", "no standard section"),
    ],
)
def test_bad_input_is_one_sentence(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], before: str, after: str, words: str
) -> None:
    path = written(tmp_path, 2)
    path.write_text(path.read_text("utf-8").replace(before, after), "utf-8")
    assert run(["power", str(path)]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert words in " ".join(err.split())
    assert "Traceback" not in err


def test_a_day_that_is_not_there_and_a_file_that_is_none(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["power", str(written(tmp_path, 2)), "--day", "day-7"]) == 2
    assert run(["power", str(tmp_path / "nothing.yaml")]) == 2
    assert "Traceback" not in capsys.readouterr().err
