"""Jobs through the interface: who may start what, progress to every browser, stop and resume."""

from __future__ import annotations

import re
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from rollsound.actions.running import JobRunner
from rollsound.web.api.jobs import news_to
from rollsound.web.desk import Desk

PATIENT = """
import json, sys
order = json.loads(sys.stdin.readline())
news = {"job": "verify", "done": 1, "total": 4, "unit": "files", "label": "one.wav"}
print(json.dumps({"progress": news}), flush=True)
for line in sys.stdin:
    if line.strip() == "stop":
        print(json.dumps({"error": {"kind": "halted", "sentence": "Stopped as you asked."}}), flush=True)
        break
"""


@pytest.fixture
def told(desk: Desk, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[list[tuple[str, Any]]]:
    """A desk with a runner whose jobs go on until they are stopped; what the live stream was told."""
    heard: list[tuple[str, Any]] = []
    publish = desk.live.publish
    monkeypatch.setattr(desk.live, "publish", lambda topic, data: (heard.append((topic, data)), publish(topic, data)))
    script = tmp_path / "patient.py"
    script.write_text(PATIENT)
    desk.runner = JobRunner(
        desk.show.store,
        news_to(desk.live, desk.show.folder),
        reports=tmp_path / "reports",
        command=(sys.executable, str(script)),
    )
    yield heard
    desk.runner.close()


def until(client: Any, job: str, state: str) -> dict[str, Any]:
    end = time.monotonic() + 30
    while True:
        found: dict[str, Any] = client.get(f"/api/v1/jobs/{job}").json()
        if found["state"] == state and (state != "running" or found["progress"]):
            return found
        assert time.monotonic() < end, found
        time.sleep(0.02)


def test_start_watch_stop_and_resume(
    desk: Desk, told: list[tuple[str, Any]], mixer: Any, guest: Any, tmp_path: Path
) -> None:
    started = mixer.post("/api/v1/jobs", json={"kind": "verify", "arguments": {"path": str(tmp_path)}})
    assert started.status_code == 200
    job = started.json()["id"]
    assert until(guest, job, "running")["progress"]["label"] == "one.wav"
    page = guest.get("/media").text
    assert "25 %" in page
    assert f"/api/v1/jobs/{job}/stop" not in page, "a guest has no button for it"
    assert f"/api/v1/jobs/{job}/stop" in mixer.get("/pages/media/part/jobs").text
    assert guest.post(f"/api/v1/jobs/{job}/stop").status_code == 403
    assert mixer.post(f"/api/v1/jobs/{job}/resume").status_code == 400
    assert mixer.post(f"/api/v1/jobs/{job}/stop").json()["state"] in ("stopping", "stopped")
    until(mixer, job, "stopped")
    assert f"/api/v1/jobs/{job}/resume" in mixer.get("/media").text
    assert mixer.post(f"/api/v1/jobs/{job}/resume").status_code == 200
    until(mixer, job, "running")
    assert {topic for topic, _ in told} >= {"jobs", "media", "ready"}
    states = [data["state"] for topic, data in told if topic == "jobs"]
    assert re.fullmatch(
        r"(waiting )+(running )+(stopping )*(running |stopping )*stopped (waiting )+(running ?)+", " ".join(states)
    )
    assert desk.show.store.job(job) is not None


def test_paths_are_named_on_the_machine_alone(
    told: list[tuple[str, Any]], crew: Any, visitors: Any, tmp_path: Path
) -> None:
    order = {"kind": "verify", "arguments": {"path": str(tmp_path)}}
    assert crew.post("/api/v1/jobs", json=order).status_code == 403
    other = visitors("mixer", "Second")
    refused = other.post("/api/v1/jobs", json=order)
    assert refused.status_code == 403
    assert "only on that machine" in refused.json()["detail"]
    sneaky = other.post("/api/v1/jobs", json={**order, "media": "day-4"})
    assert sneaky.status_code == 403, "naming a day gives no leave to name paths beside it"


def test_every_mistake_of_an_order_is_told_at_once(told: list[tuple[str, Any]], mixer: Any) -> None:
    answer = mixer.post("/api/v1/jobs", json={"kind": "conform", "arguments": {"recorder": "here", "mode": "erase"}})
    assert answer.status_code == 422
    places = {each["place"].split(", ")[-1] for each in answer.json()["mistakes"]}
    assert {"recorder", "cards", "out", "mode"} <= places
    assert mixer.post("/api/v1/jobs", json={"kind": "erase"}).status_code == 422
    assert mixer.get("/api/v1/jobs/none").status_code == 404
    assert mixer.post("/api/v1/jobs/none/stop").status_code == 404


def test_places_come_one_a_line_and_empty_fields_were_not_given(
    told: list[tuple[str, Any]], mixer: Any, tmp_path: Path
) -> None:
    fields = {"source": str(tmp_path), "destinations": "/mnt/a\n\n /mnt/b \n", "name": "", "also_md5": False}
    job = mixer.post("/api/v1/jobs", json={"kind": "offload", "arguments": fields}).json()["id"]
    until(mixer, job, "running")
    assert job in {each["id"] for each in mixer.get("/api/v1/jobs").json()}


def test_a_lan_mixer_may_have_a_day_of_the_plan_measured(
    told: list[tuple[str, Any]], mixer: Any, visitors: Any
) -> None:
    mixer.post("/api/v1/media", json={"id": "day-4", "recorder": "day 4"})
    answer = visitors("mixer", "Second").post("/api/v1/jobs", json={"kind": "inspect", "media": "day-4"})
    assert answer.status_code == 200
    lacking = mixer.post("/api/v1/jobs", json={"kind": "conform", "media": "day-4"})
    assert lacking.status_code == 400
    assert "cards, conformed" in lacking.json()["detail"]


def test_a_show_that_is_only_read_says_so(mixer: Any) -> None:
    answer = mixer.post("/api/v1/jobs", json={"kind": "verify", "arguments": {"path": "/x"}})
    assert answer.status_code == 409
    assert mixer.get("/media").status_code == 200
