"""Jobs of a show: one at a time, told as they go, stopped and resumed, and never lost."""

from __future__ import annotations

import sys
import textwrap
import threading
import time
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import pytest

from rollsound.actions.running import JobRunner, JobState
from rollsound.errors import InputError, MistakesError
from rollsound.log.model import Author, JobRow

MINA = Author("Mina", "mina", "laptop")


class Kept:
    """A store of jobs in memory."""

    def __init__(self) -> None:
        self.rows: dict[str, JobRow] = {}

    def add_job(self, row: JobRow) -> None:
        self.rows[row.id] = row

    def update_job(self, row: JobRow) -> None:
        assert row.id in self.rows
        self.rows[row.id] = row

    def jobs(self) -> list[JobRow]:
        return sorted(self.rows.values(), key=lambda row: row.made, reverse=True)

    def job(self, job_id: str) -> JobRow | None:
        return self.rows.get(job_id)


def until(true: Callable[[], bool], seconds: float = 30.0) -> None:
    end = time.monotonic() + seconds
    while not true():
        assert time.monotonic() < end, "waited too long"
        time.sleep(0.01)


def pretend(tmp_path: Path, body: str) -> tuple[str, ...]:
    """A worker that does what ``body`` says."""
    script = tmp_path / "pretend.py"
    script.write_text("import sys, json, time\norder = json.loads(sys.stdin.readline())\n" + textwrap.dedent(body))
    return (sys.executable, "-u", str(script))


PATIENT = """
print(json.dumps({"progress": {"job": "pretend", "done": 1, "total": 4, "unit": "files", "label": "one"}}))
for line in sys.stdin:
    if line.strip() == "stop":
        print(json.dumps({"error": {"kind": "halted", "sentence": "Stopped as you asked."}}))
        break
"""


def test_a_folder_is_proven_by_a_real_worker(tmp_path: Path, small_day: Path) -> None:
    kept = Kept()
    runner = JobRunner(kept, reports=tmp_path)
    first = runner.start("offload", {"source": str(small_day / "cards"), "destinations": [str(tmp_path / "a")]}, MINA)
    second = runner.start("verify", {"path": str(tmp_path / "a" / "cards")}, MINA)
    assert kept.rows[second].state == JobState.WAITING
    until(lambda: kept.rows[second].state in (JobState.DONE, JobState.FAILED))
    assert [kept.rows[each].state for each in (first, second)] == [JobState.DONE, JobState.DONE]
    done = kept.rows[second].result
    assert done is not None
    assert done["sentence"] == "2 files as recorded."
    assert done["weight"] == "fine"
    assert kept.rows[first].progress["done"] == kept.rows[first].progress["total"] > 0
    assert not list(tmp_path.glob("job *.txt")), "a job that ended well leaves no report"


def test_inspecting_is_told_and_kept_in_the_index(tmp_path: Path, small_day: Path) -> None:
    news: list[JobRow] = []
    runner = JobRunner(Kept(), news.append, reports=tmp_path)
    runner.start("inspect", {"paths": [str(small_day / "recorder")], "index": str(tmp_path / "media")}, MINA)
    until(lambda: bool(news) and news[-1].state in (JobState.DONE, JobState.FAILED), 120)
    assert news[-1].error is None
    assert news[-1].result is not None
    assert news[-1].result["sentence"] == "3 files measured."
    assert any(row.progress.get("job") == "inspect" for row in news)
    assert (tmp_path / "media" / "index.json").is_file()


def test_what_cannot_be_used_is_refused_at_once(tmp_path: Path) -> None:
    kept = Kept()
    runner = JobRunner(kept, reports=tmp_path)
    with pytest.raises(MistakesError, match="the job has 3 mistakes") as raised:
        runner.start("conform", {"recorder": "day 4", "cards": "/cards", "depth": 3}, MINA)
    assert "whole path" in str(raised.value)
    with pytest.raises(MistakesError):
        runner.start("erase", {"path": "/"}, MINA)
    assert not kept.rows


def test_a_failed_job_says_why(tmp_path: Path) -> None:
    kept = Kept()
    runner = JobRunner(kept, reports=tmp_path)
    job = runner.start("verify", {"path": str(tmp_path / "gone")}, MINA)
    until(lambda: kept.rows[job].state == JobState.FAILED)
    error = kept.rows[job].error
    assert error is not None
    assert str(tmp_path / "gone") in error["sentence"]
    assert error["kind"] in ("input", "storage")


def test_stop_and_resume(tmp_path: Path) -> None:
    kept, news = Kept(), list[JobRow]()
    runner = JobRunner(kept, news.append, reports=tmp_path, command=pretend(tmp_path, PATIENT))
    job = runner.start("verify", {"path": str(tmp_path)}, MINA)
    until(lambda: any(row.progress for row in news))
    assert runner.jobs()[0].progress["label"] == "one"
    with pytest.raises(InputError, match="has not ended yet"):
        runner.resume(job)
    assert runner.stop(job).state == JobState.STOPPING
    until(lambda: kept.rows[job].state == JobState.STOPPED)
    before = len(news)
    assert runner.resume(job).state == JobState.WAITING
    until(lambda: any(row.state == JobState.RUNNING and row.progress for row in news[before:]))
    runner.stop(job)
    until(lambda: kept.rows[job].state == JobState.STOPPED)


def test_others_wait_and_may_be_taken_out(tmp_path: Path) -> None:
    kept = Kept()
    runner = JobRunner(kept, reports=tmp_path, command=pretend(tmp_path, PATIENT))
    first, second, third = (runner.start("verify", {"path": str(tmp_path)}, MINA) for _ in range(3))
    until(lambda: kept.rows[first].state == JobState.RUNNING)
    assert runner.stop(second).state == JobState.STOPPED
    runner.stop(first)
    until(lambda: kept.rows[third].state == JobState.RUNNING)
    assert kept.rows[second].state == JobState.STOPPED
    runner.stop(third)
    until(lambda: kept.rows[third].state == JobState.STOPPED)


def test_a_worker_that_dies_leaves_its_report(tmp_path: Path) -> None:
    kept = Kept()
    command = pretend(tmp_path, 'print("no json"); sys.stderr.write("broken inside"); sys.exit(70)')
    runner = JobRunner(kept, reports=tmp_path / "reports", command=command)
    job = runner.start("verify", {"path": str(tmp_path)}, MINA)
    until(lambda: kept.rows[job].state == JobState.FAILED)
    report = tmp_path / "reports" / f"job {job}.txt"
    assert report.read_text() == "broken inside"
    error = kept.rows[job].error
    assert error is not None
    assert str(report) in error["sentence"]


def test_what_ran_when_the_server_went_is_stopped_and_can_be_resumed(tmp_path: Path) -> None:
    kept = Kept()
    now = datetime.now(UTC)
    kept.add_job(JobRow("a", "verify", {"path": str(tmp_path)}, MINA, JobState.RUNNING, now, now))
    kept.add_job(JobRow("b", "verify", {"path": str(tmp_path)}, MINA, JobState.DONE, now, now))
    runner = JobRunner(kept, reports=tmp_path, command=pretend(tmp_path, 'print(json.dumps({"result": {"n": 1}}))'))
    assert {row.id: row.state for row in runner.jobs()} == {"a": JobState.STOPPED, "b": JobState.DONE}
    runner.resume("a")
    until(lambda: kept.rows["a"].state == JobState.DONE)
    assert kept.rows["a"].result == {"n": 1}


def test_closing_stops_what_runs_and_leaves_the_rest_for_later(tmp_path: Path) -> None:
    kept = Kept()
    runner = JobRunner(kept, reports=tmp_path, command=pretend(tmp_path, PATIENT))
    first, second = (runner.start("verify", {"path": str(tmp_path)}, MINA) for _ in range(2))
    until(lambda: bool(runner.jobs()[1].progress or runner.jobs()[0].progress))
    runner.close()
    assert [kept.rows[each].state for each in (first, second)] == [JobState.STOPPED, JobState.STOPPED]


def test_orders_from_many_threads_keep_their_count(tmp_path: Path) -> None:
    kept = Kept()
    runner = JobRunner(kept, reports=tmp_path, command=pretend(tmp_path, 'print(json.dumps({"result": {}}))'))
    threads = [threading.Thread(target=runner.start, args=("verify", {"path": str(tmp_path)}, MINA)) for _ in range(12)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    until(lambda: len(kept.rows) == 12 and all(row.state == JobState.DONE for row in kept.rows.values()), 60)
