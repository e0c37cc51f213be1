"""What the network may learn and keep busy; docs/security.md lists each of these."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any

import pytest

from rollsound.log.model import Author, JobRow
from rollsound.web.desk import Desk
from rollsound.web.folders import progress_told, without_folders


def test_a_job_names_no_folder_of_the_machine_to_the_network(
    guest: Any, visitors: Callable[..., Any], desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    place = "/home/ines/drive a/day 4"
    row = JobRow(
        id="one",
        kind="turnover",
        arguments={"day": place, "to": "/mnt/post house"},
        author=Author("Ines", "ines", "This machine"),
        state="failed",
        made=datetime.now(UTC),
        changed=datetime.now(UTC),
        progress={"label": f"{place}/T1.wav"},
        result={"sentence": f"{place}/T1.wav is gone", "detail": {"root": "/mnt/post house"}},
        error={"sentence": "/srv/elsewhere/T2.wav may not be opened; choose another place than /mnt/post house"},
    )

    class Runner:
        def jobs(self) -> list[JobRow]:
            return [row]

        def job(self, job_id: str) -> JobRow:
            return row

        def close(self) -> None:
            pass

    monkeypatch.setattr(desk, "runner", Runner())
    for visitor in (guest, visitors("mixer", "Second")):
        for path in (
            "/api/v1/jobs",
            "/api/v1/jobs/one",
            "/media",
            "/pages/media/part/jobs",
            "/pages/turnover/part/jobs",
        ):
            said = visitor.get(path).text
            assert not [each for each in ("/home", "ines/drive", "/mnt", "/srv", "elsewhere") if each in said], path
    said = guest.get("/api/v1/jobs/one").json()
    assert said["result"]["sentence"] == "day 4/T1.wav is gone"
    assert said["error"]["sentence"] == "T2.wav may not be opened; choose another place than post house"
    assert progress_told(row) == {"label": "day 4/T1.wav"}


def test_a_guest_has_no_text_checked_and_no_check_is_kept(mixer: Any, guest: Any, desk: Desk) -> None:
    assert guest.post("/api/v1/plan/check", json={"text": "show: {}"}).status_code == 403
    key = "k" * 20
    first = mixer.post("/api/v1/plan/check", json={"text": "show: {}"}, headers={"idempotency-key": key})
    second = mixer.post("/api/v1/plan/check", json={"text": "{"}, headers={"idempotency-key": key})
    assert first.status_code == second.status_code == 200
    assert first.json() != second.json(), "an answer that was kept would be given again"


def test_of_thousands_of_mistakes_the_first_are_told(mixer: Any) -> None:
    text = "people:\n" + "".join(f"  - id: p{n}\n    name: ''\n" for n in range(900))
    mistakes = mixer.post("/api/v1/plan/check", json={"text": text}).json()["mistakes"]
    assert len(mistakes) == 201
    assert mistakes[-1]["sentence"].startswith("and 7")


def test_a_pointer_and_a_web_address_are_no_folders() -> None:
    said = {"sentence": "see http://127.0.0.1:8060/media/x, 1/2 and C:\\shows\\a.wav", "more": ["/people"]}
    assert without_folders(said) == {
        "sentence": "see http://127.0.0.1:8060/media/x, 1/2 and a.wav",
        "more": ["/people"],
    }
