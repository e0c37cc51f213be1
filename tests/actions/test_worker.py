"""The process that does one job: its lines, its stop, and its end when nobody listens any more."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from rollsound.actions.worker_jobs import JobAnswer, perform
from rollsound.actions.worker_kinds import InspectJob, job_of
from rollsound.finding import Weight
from rollsound.progress import Event, Progress

COMMAND = (sys.executable, "-P", "-m", "rollsound.actions.worker")


def run(orders: str) -> tuple[int, list[dict[str, object]]]:
    done = subprocess.run(COMMAND, input=orders, capture_output=True, text=True, timeout=120, check=False)
    return done.returncode, [json.loads(line) for line in done.stdout.splitlines()]


@pytest.mark.parametrize("order", ["", "{", "[]", '{"kind": "verify"}', '{"kind": "erase", "arguments": {}}'])
def test_an_order_that_makes_no_sense_gets_one_sentence(order: str) -> None:
    code, lines = run(order + "\n")
    assert code == 2
    assert len(lines) == 1
    assert lines[0]["error"]["sentence"]  # type: ignore[index]


def test_a_stop_is_heard(small_day: Path, tmp_path: Path) -> None:
    order = {"kind": "inspect", "arguments": {"paths": [str(small_day)], "index": str(tmp_path / "index")}}
    code, lines = run(json.dumps(order) + "\nstop\n")
    assert code == 130
    assert lines[-1]["error"]["kind"] == "halted"  # type: ignore[index]


def test_it_does_not_outlive_who_started_it(small_day: Path, tmp_path: Path) -> None:
    """The input ends when its starter dies, and that stops it as a stop does."""
    order = {"kind": "inspect", "arguments": {"paths": [str(small_day)], "index": str(tmp_path / "index")}}
    code, lines = run(json.dumps(order) + "\n")
    assert code == 130
    assert lines[-1]["error"]["kind"] == "halted"  # type: ignore[index]


def test_inspecting_answers_in_one_sentence(small_day: Path, tmp_path: Path) -> None:
    job = job_of("inspect", {"paths": [str(small_day / "recorder")], "index": str(tmp_path / "index")})
    assert isinstance(job, InspectJob)
    heard: list[Event] = []
    answer = perform(job, Progress(heard.append))
    assert isinstance(answer, JobAnswer)
    assert answer.sentence == "3 files measured."
    assert answer.weight is Weight.FINE
    assert heard[-1].done >= 0.99 * heard[-1].total > 0, "a file's head is not measured"


def test_a_file_that_cannot_be_read_stops_and_is_told(small_day: Path, tmp_path: Path) -> None:
    broken = tmp_path / "broken.wav"
    broken.write_bytes(b"RIFF")
    paths = [str(small_day / "recorder"), str(broken)]
    answer = perform(job_of("inspect", {"paths": paths, "index": str(tmp_path / "index")}), Progress())
    assert answer.sentence == "4 files measured. 1 file could not be read."
    assert answer.weight is Weight.STOP
