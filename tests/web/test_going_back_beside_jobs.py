"""A backup is not put in the show's place under a job that is under way."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import pytest

from rollsound.actions.running import JobState
from rollsound.web.desk import Desk


@pytest.mark.parametrize(("state", "status"), [(JobState.RUNNING, 400), (JobState.WAITING, 400), (JobState.DONE, 200)])
def test_a_job_under_way_is_waited_for(
    mixer: Any, desk: Desk, monkeypatch: pytest.MonkeyPatch, state: JobState, status: int
) -> None:
    assert mixer.post("/api/v1/backups").status_code == 200
    name = mixer.get("/api/v1/backups").json()["backups"][0]["name"]
    revision = desk.show.revision
    runner = SimpleNamespace(jobs=lambda: [SimpleNamespace(state=state)], close=lambda: None)
    monkeypatch.setattr(desk, "runner", runner)
    answer = mixer.post(f"/api/v1/backups/{name}/restore")
    assert answer.status_code == status, answer.text
    if status == 400:
        assert "stop it or wait for its end" in answer.json()["detail"]
        assert desk.show.revision == revision
