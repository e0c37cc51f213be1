"""`rollsound jams`: devices from kit and log, what conform measured, breaks, findings, exit codes, JSON."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from rollsound.cli.app import run
from rollsound.log.entries import PAGE_CLOCK

PLAN = """\
show: {title: Northbound Ferry, frame_rate: "25"}
schedule:
  days:
    - {id: day-1, number: 1, date: 2031-02-14, call: "08:00", wrap: "20:00"}
    - {id: day-2, number: 2, date: 2031-02-15, call: "08:00", wrap: "20:00"}
kit:
  items:
    - {id: recorder, name: Main recorder, model: recorder-32}
    - {id: cam-a, name: Camera A, kind: camera, clock: own, clock_error: 2.5 ppm}
    - {id: pack-5, name: Pack 5, model: body-pack}
power:
  phases:
    - {id: lunch, from: "10:00", to: "10:45", break: true}
media:
  - {id: day-1-main, day: day-1, conformed: mirrors}
"""


@pytest.fixture
def show(tmp_path: Path) -> Path:
    """A show with two days and no jams yet."""
    (tmp_path / "plan.yaml").write_text(PLAN, "utf-8")
    assert run(["new", str(tmp_path / "show"), "--from", str(tmp_path / "plan.yaml")]) == 0
    return tmp_path / "show"


def told(show: Path, capsys: pytest.CaptureFixture[str], *more: str) -> dict[str, Any]:
    capsys.readouterr()
    assert run(["jams", str(show), "--json", *more]) == 0
    found: dict[str, Any] = json.loads(capsys.readouterr().out)
    return found


def log(show: Path, day: str, at: str, *fields: str) -> None:
    assert run(["log", "add", str(show), "jam", *fields, "--day", day, "--at", at]) == 0


def conformed(show: Path, *cards: dict[str, object]) -> None:
    (show / "mirrors").mkdir(exist_ok=True)
    (show / "mirrors" / "conform.json").write_text(json.dumps({"cards": cards}), "utf-8")


def test_before_the_day_a_jam_at_the_call_is_taken(show: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["jams", str(show), "--day", "day-2"]) == 0
    words = capsys.readouterr().out
    assert "Northbound Ferry, day 2, 08:00 to 20:00, 25 fps: 1 of 1 device to jam again before wrap." in words
    assert "Camera A, jammed at the call (08:00), may be past half a frame at" in words
    assert "at lunch (10:00 to 10:45)" in words
    assert "No jam is logged on this day" in words
    assert "Pack 5" not in words  # a card in a pack is placed by its sound


def test_the_log_says_what_was_jammed_and_teaches(show: Path, capsys: pytest.CaptureFixture[str]) -> None:
    log(show, "day-1", "08:00", "device=Camera A", "source=Main recorder")
    log(show, "day-1", "16:00", "device=cam-a", "source=recorder", "offset_frames=1.44")  # 2 ppm over eight hours
    log(show, "day-1", "08:05", "device=B camera")
    result = told(show, capsys, "--day", "day-1")
    by_name = {row["name"]: row for row in result["devices"]}
    camera, other = by_name["Camera A"], by_name["B camera"]
    assert (camera["jammed"], camera["source_name"], camera["measured"]) == ("16:00", "Main recorder", 1)
    assert camera["ppm"] == pytest.approx(2.0, abs=0.3)
    assert camera["give_or_take_ppm"] < 0.8
    assert "16:00" < camera["past"] < "18:46"  # 2 ppm alone is half a frame in 2 h 47 min
    (wanted,) = [each for each in result["findings"] if each["subject"] == "Camera A" and each["kind"] == "jam wanted"]
    assert wanted["what"].startswith("Camera A, jammed 16:00, will be past half a frame at ")
    assert (other["limit_written"], other["limit_ppm"]) == (False, 10)
    assert other["past"] < "09:00"
    off = [each for each in result["findings"] if each["kind"] == "time code was off"]
    assert [each["what"] for each in off] == ["Camera A was 1.44 frames ahead of Main recorder at 16:00."]
    fresh = told(show, capsys, "--day", "day-2")["devices"][0]
    assert fresh["ppm"] == pytest.approx(2.0, abs=0.4)
    assert fresh["give_or_take_ppm"] > camera["give_or_take_ppm"]  # another day is known less well


def test_what_conform_measured_narrows_the_recorder(show: Path, capsys: pytest.CaptureFixture[str]) -> None:
    before = told(show, capsys, "--day", "day-2")["devices"][0]
    cards = [{"name": f"C{n:02}", "rate_ppm": -0.8, "uncertainty_ppm": 0.01, "takes": 3} for n in range(1, 13)]
    stamp: dict[str, object] = {"name": "C20", "rate_ppm": -31_000.0, "uncertainty_ppm": 0.01, "takes": 3}
    conformed(show, *cards, stamp)
    after = told(show, capsys, "--day", "day-2")
    assert after["devices"][0]["give_or_take_ppm"] < before["give_or_take_ppm"]
    assert after["devices"][0]["ppm"] < 0  # cards run slow against the recorder: it is fast, and a camera falls behind
    assert [each["used"] for each in after["measured"]] == [True] * 12 + [False]
    (wrong,) = [each for each in after["findings"] if each["kind"] == "clock outside its limits"]
    assert "It was left out" in wrong["what"]
    (show / "mirrors" / "conform.json").write_text("{", "utf-8")
    assert "is no result of conform and was left out" in told(show, capsys)["notes"][0]


def test_points_follow_the_day(show: Path, capsys: pytest.CaptureFixture[str]) -> None:
    row = told(show, capsys, "--day", "day-1")["devices"][0]
    points = row["points"]
    assert [points[0]["at"], points[1]["at"], points[-1]["at"]] == ["08:00", "09:00", "20:00"]
    assert [each["give_or_take_frames"] for each in points] == sorted(each["give_or_take_frames"] for each in points)
    assert points[-1]["give_or_take_frames"] == row["wrap_give_or_take_frames"]


def test_bad_input(show: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["jams", str(show), "--day", "day-9"]) == 2
    assert "The schedule has no day 'day-9'; there are: day-1, day-2" in capsys.readouterr().err
    assert run(["jams", str(show / "nothing")]) == 2


def test_a_plan_of_nothing_says_so(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "bare.yaml").write_text("show: {title: Bare}\n", "utf-8")
    assert run(["jams", str(tmp_path / "bare.yaml")]) == 0
    words = capsys.readouterr().out
    assert "no time code device is known" in words
    assert "Call or wrap is not written; 07:00 to 19:00 was taken." in words


def test_the_clock_of_the_page_that_logs_takes_is_no_device(show: Path, capsys: pytest.CaptureFixture[str]) -> None:
    log(show, "day-1", "08:00", "device=Camera A", "source=Main recorder")
    log(show, "day-1", "08:01", f"device={PAGE_CLOCK}", "timecode=08:01:00:00")
    assert {each["device"] for each in told(show, capsys, "--day", "day-1")["devices"]} == {"cam-a"}
