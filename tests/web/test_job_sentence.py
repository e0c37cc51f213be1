"""The only job does not say that it waits for another."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from rollsound.actions.running import JobRunner
from rollsound.web.desk import Desk
from rollsound.web.words import w


def test_the_first_starts_and_the_second_waits(
    desk: Desk, mixer: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(JobRunner, "_work_off", lambda self: None)
    desk.runner = JobRunner(desk.show.store, reports=tmp_path)
    order = {"kind": "inspect", "arguments": {"paths": [str(tmp_path)], "index": str(tmp_path / "index.json")}}
    told = [mixer.post("/api/v1/jobs", json=order).json() for _ in range(2)]
    assert [each.get("sentence") for each in told] == [w("turnover.job_starts"), w("media.job_waiting")], told
