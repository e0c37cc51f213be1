"""The runner outlives a store that forgets its jobs or cannot keep them."""

from __future__ import annotations

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
