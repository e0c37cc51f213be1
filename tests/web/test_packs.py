"""The page Packs: nothing kept, a plan worked out and kept, lanes with re-rigs, the track sheet, and who may."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from callers import plain
from demo_show import Visited, visited

from rollsound.log.changes import Change, changes_between
from rollsound.log.model import Author

API = "/api/v1/packs"


@pytest.fixture(scope="module")
def ferry(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Visited]:
    with visited(tmp_path_factory.mktemp("packs")) as made:
        part = made.part("packs") if "packs" in made.desk.show.document() else {}
        if part.get("assigned"):  # the demo keeps one; here it begins with none
            change = Change("/packs/assigned", part["assigned"], [])
            made.desk.show.edit([change], Author("Ines", "ines", "this machine"), "None kept")
        yield made


def put_packs(ferry: Visited, packs: list[dict[str, Any]]) -> None:
    document = ferry.desk.show.document()
    changed = {**document, "packs": {**(document.get("packs") or {}), "packs": packs}}
    author = Author("Ines", "ines", "this machine")
    ferry.desk.show.edit(changes_between(document, changed), author, "Packs for a test")


def test_before_anything_is_kept_the_page_says_so_and_offers_to_work_it_out(ferry: Visited) -> None:
    html = ferry.mixer.get("/packs").text
    page = plain(html)
    assert "No pack plan is kept yet." in page
    assert "11 characters, 14 packs and 3 booms" in page
    assert 'data-send="POST /api/v1/packs/find"' in html
    assert ferry.mixer.get(f"{API}/tracks").status_code == 404
    assert ferry.guest.get(API).json()["kept"] is False


@pytest.mark.parametrize("role", ["crew", "guest"])
def test_crew_and_guests_read_and_change_nothing(ferry: Visited, role: str) -> None:
    who, before = getattr(ferry, role), ferry.revision()
    for path in ("/packs", "/pages/packs/part/answer", API):
        answer = who.get(path)
        assert answer.status_code == 200
        assert "data-send" not in answer.text
    assert who.post(f"{API}/find", json={}).status_code == 403
    assert ferry.revision() == before


def test_a_plan_is_worked_out_kept_shown_and_taken_back(ferry: Visited) -> None:
    done = ferry.mixer.post(f"{API}/find", json={})
    assert done.status_code == 200
    assert "No better one is possible." in done.json()["sentence"]
    html = ferry.guest.get("/packs").text
    page = plain(html)
    assert "Everybody is covered" in page
    assert "Scene 28A" in page
    assert "track 6" in page
    told = ferry.guest.get(API).json()
    assert told["kept"]
    assert len(told["days"]) == 12
    worn = {
        (cover["name"], *cover["pack_names"])
        for day in told["days"]
        for row in day["scenes"]
        for cover in row["covers"]
    }
    assert len(worn) == 11  # everybody keeps one
    one_day = plain(ferry.guest.get("/packs?day=day-4").text)
    assert "Packs of Day 4" not in plain(ferry.guest.get("/packs?day=day-6").text)
    assert "Scene 28A" not in one_day.split("Through the show")[0]
    sheet = ferry.guest.get(f"{API}/tracks?format=csv")
    assert (sheet.status_code, sheet.headers["content-type"]) == (200, "text/csv; charset=utf-8")
    assert "Runa" in sheet.text
    assert ferry.guest.get(f"{API}/tracks").content.startswith(b"%PDF")
    assert ferry.mixer.post("/api/v1/undo").status_code == 200
    assert ferry.guest.get(API).json()["kept"] is False


def test_too_few_packs_show_rerigs_and_whom_nothing_covers_and_a_failure_moves_few(ferry: Visited) -> None:
    names = [f"pack-{n:02}" for n in range(1, 15)]
    put_packs(ferry, [{"id": id, "unused": True} for id in names[4:]])
    assert ferry.mixer.post(f"{API}/find", json={}).status_code == 200
    html = ferry.guest.get("/packs").text
    page = plain(html)
    assert "not covered." in page
    assert 'class="packs-bare"' in html
    assert "packs-rerig" in html
    assert "other than before" in page
    told = ferry.guest.get(API).json()
    sentences = [rerig["sentence"] for day in told["days"] for rerig in day["rerigs"]]
    assert sentences
    assert [each for each in sentences if each not in page] == []
    put_packs(ferry, [{"id": id, "unused": True} for id in names[4:]] + [{"id": "pack-02", "out": ["day-7"]}])
    again = ferry.mixer.post(f"{API}/find", json={"near": True})
    assert again.status_code == 200
    moved = {
        (day["id"], cover["character"])
        for old, day in zip(told["days"], ferry.guest.get(API).json()["days"], strict=True)
        for was, row in zip(old["scenes"], day["scenes"], strict=True)
        for before, cover in zip(was["covers"], row["covers"], strict=True)
        if (before["packs"], before["boom"]) != (cover["packs"], cover["boom"])
    }
    assert {day for day, _ in moved} <= {"day-7"}
    assert len(moved) <= 1


def test_an_empty_show_teaches(tmp_path_factory: pytest.TempPathFactory) -> None:
    with visited(tmp_path_factory.mktemp("bare"), empty=True) as bare:
        page = plain(bare.mixer.get("/packs").text)
        assert "Nobody knows yet who is heard when." in page
        assert "the plan has no script" in page.lower()
        assert bare.mixer.post(f"{API}/find", json={}).status_code == 400
