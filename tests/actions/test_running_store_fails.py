"""The runner outlives a store that forgets its jobs or cannot keep them."""

from __future__ import annotations

import time
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from rollsound.actions.running import JobRunner, JobState
from rollsound.errors import InputError, StorageError
from rollsound.log.model import Author, JobRow


class Odd:
    """A store in memory that refuses to update."""

    def __init__(self, error: Exception) -> None:
        self.error = error
        self.rows: dict[str, JobRow] = {}

    def add_job(self, row: JobRow) -> None:
        self.rows[row.id] = row

    def update_job(self, row: JobRow) -> None:
        raise self.error

    def jobs(self) -> list[JobRow]:
        return list(self.rows.values())

    def job(self, job_id: str) -> JobRow | None:
        return self.rows.get(job_id)


ERRORS = [InputError("no job of this id"), StorageError("the disk is full", path="show", errno=28)]


@pytest.mark.parametrize("error", ERRORS)
def test_a_row_that_cannot_be_kept_ends_nothing(tmp_path: Path, error: Any) -> None:
    store = Odd(error)
    runner = JobRunner(store, reports=tmp_path)
    now = datetime.now(UTC)
    author = Author("Mina", "mina", "laptop")
    row = JobRow(id="a", kind="verify", arguments={}, author=author, state=JobState.DONE, made=now, changed=now)
    runner._put(row)
    assert ("a" in store.rows) == isinstance(error, InputError)
    runner.close()


def test_what_the_disk_did_not_take_is_known_until_the_end(tmp_path: Path) -> None:
    store = Odd(ERRORS[1])
    runner = JobRunner(store, reports=tmp_path)
    job_id = runner.start("verify", {"path": str(tmp_path / "gone")}, Author("Mina", "mina", "laptop"))
    for _ in range(600):
        row = runner.job(job_id)
        if row is not None and row.state is JobState.FAILED:
            break
        time.sleep(0.1)
    assert row is not None
    assert row.state is JobState.FAILED, "its end is told though the store still has it waiting"
    assert store.rows[job_id].state is JobState.WAITING
    assert [each.state for each in runner.jobs()] == [JobState.FAILED]
    runner.close()


def test_a_job_that_cannot_be_listened_to_leaves_no_worker_and_the_next_has_its_turn(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    class Plain(Odd):
        def update_job(self, row: JobRow) -> None:
            self.rows[row.id] = row

    runner = JobRunner(Plain(ERRORS[0]), reports=tmp_path)
    heard: list[Any] = []

    def deaf(job_id: str, process: Any) -> dict[str, Any]:
        heard.append(process)
        raise RuntimeError("deaf")

    monkeypatch.setattr(runner, "_listen", deaf)
    jobs = [runner.start("verify", {"path": str(tmp_path)}, Author("Mina", "mina", "laptop")) for _ in range(2)]
    for _ in range(600):
        rows = [runner.job(each) for each in jobs]
        if all(row is not None and row.state is JobState.FAILED for row in rows):
            break
        time.sleep(0.1)
    assert [row.state for row in rows if row is not None] == [JobState.FAILED, JobState.FAILED]
    assert all(process.returncode is not None for process in heard), "every worker was waited for"
    runner.close()
