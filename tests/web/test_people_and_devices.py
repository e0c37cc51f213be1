"""A device that joined as a person of the plan has that person's role, always the present one, and leaves with them."""

from __future__ import annotations

import asyncio
import json
from collections.abc import Callable
from typing import Any

import pytest
from loops import run

from rollsound.show.folder import Show
from rollsound.web.desk import Desk
from rollsound.web.housekeeping import Housekeeping
from rollsound.web.live import Live
from rollsound.web.security.doors import Doors

LAN_HOME = "http://192.168.7.1:8060"


@pytest.fixture
def tomas(mixer: Any, visitors: Callable[..., Any]) -> Any:
    """The tablet of Tomas, let in by a code made for him."""
    return let_in(mixer, visitors, "tomas")


def let_in(mixer: Any, visitors: Callable[..., Any], person_id: str) -> Any:
    made = mixer.post("/api/v1/join-codes", json={"person_id": person_id})
    assert made.status_code == 200, made.text
    browser = visitors(client=("192.168.7.60", 1), home=LAN_HOME)
    assert browser.post("/join", data={"code": made.json()["code"], "name": "Tablet"}).status_code == 303
    return browser


def may_plan(browser: Any) -> bool:
    """True when the browser may make a code, which only a mixer may; it leaves nothing behind."""
    status = browser.post("/api/v1/join-codes", json={"role": "guest"}).status_code
    assert status in (200, 403)
    return bool(status == 200)


def role_of(browser: Any) -> str:
    return next(str(each["role"]) for each in browser.get("/api/v1/devices").json()["devices"] if each["asking"])


def test_a_new_role_reaches_the_device_that_joined_before_at_once(mixer: Any, tomas: Any) -> None:
    assert (role_of(tomas), may_plan(tomas)) == ("crew", False)
    for role, plans in (("mixer", True), ("guest", False), ("crew", False)):
        assert mixer.put("/api/v1/people/tomas", json={"role": role}).status_code == 200
        assert (role_of(tomas), may_plan(tomas)) == (role, plans)
    assert "Tablet, crew" in tomas.get("/settings").text


@pytest.mark.parametrize("way", ["text", "edit", "undo"])
def test_a_role_changes_with_the_plan_whatever_way_it_is_edited(mixer: Any, tomas: Any, way: str) -> None:
    if way == "text":
        now = mixer.get("/api/v1/plan/text").json()
        text = now["text"].replace("role: crew", "role: mixer")
        assert text != now["text"]
        given = {"text": text, "base_revision": now["revision"]}
        assert mixer.put("/api/v1/plan/text", json=given).status_code == 200
    elif way == "edit":
        change = {"path": "/people/tomas/role", "before": "crew", "after": "mixer"}
        assert mixer.post("/api/v1/plan/edits", json={"changes": [change]}).status_code == 200
    else:
        assert mixer.put("/api/v1/people/tomas", json={"role": "mixer"}).status_code == 200
        assert may_plan(tomas)
        assert mixer.post("/api/v1/undo").status_code == 200
    assert may_plan(tomas) == (way != "undo")


def test_a_role_edited_by_another_program_reaches_the_device(desk: Desk, tomas: Any) -> None:
    with Show.open(desk.show.folder) as other:
        other.save_text(other.text().replace("role: crew", "role: mixer"), other.revision, other.history()[0].author)
    assert may_plan(tomas)


def test_a_person_taken_out_takes_their_devices_along_and_they_are_told_why(mixer: Any, tomas: Any, desk: Desk) -> None:
    assert mixer.delete("/api/v1/people/tomas").status_code == 200
    refused = tomas.get("/api/v1/show")
    assert refused.status_code == 401
    assert refused.json()["detail"].startswith("Tomas is not in the show's plan any more")
    assert "Tomas is not in the show&#39;s plan any more" in tomas.get("/join").text
    device = next(each for each in mixer.get("/api/v1/devices").json()["devices"] if each["name"] == "Tablet")
    assert device["revoked"] is not None
    assert [row.revoked is not None for row in desk.show.store.devices() if row.person_id == "tomas"] == [True]


def test_a_person_added_again_under_the_same_id_brings_no_old_device_back(mixer: Any, tomas: Any) -> None:
    assert mixer.delete("/api/v1/people/tomas").status_code == 200
    assert mixer.post("/api/v1/people", json={"name": "Tomas", "role": "mixer"}).status_code == 200
    assert "tomas" in [each["id"] for each in mixer.get("/api/v1/people").json()["people"]]
    assert tomas.get("/api/v1/show").status_code == 401


def test_a_person_taken_out_by_another_program_or_while_nothing_was_served(desk: Desk, tomas: Any) -> None:
    with Show.open(desk.show.folder) as other:
        text = other.text()
        start = text.index("  - id: tomas")
        gone = text[:start] + text[text.index("sites:") :]
        other.save_text(gone, other.revision, other.history()[0].author)
    assert tomas.get("/api/v1/show").status_code == 401  # before anybody looked
    Housekeeping(desk).look()
    assert [row.revoked is not None for row in desk.show.store.devices() if row.person_id == "tomas"] == [True]
    with Show.open(desk.show.folder) as other:
        other.undo(other.history()[0].author)
    again = Desk(show=desk.show, doors=Doors(desk.show.store, port=8060, lan=True), live=Live())
    assert [each.revoked is not None for each in again.doors.devices.all() if each.person_id == "tomas"] == [True]


def test_the_machine_stays_the_mixers_whatever_the_plan_says(mixer: Any) -> None:
    assert mixer.put("/api/v1/people/ines", json={"role": "guest"}).status_code == 200
    assert may_plan(mixer)
    assert mixer.delete("/api/v1/people/ines").status_code == 200
    assert may_plan(mixer)


def test_a_device_of_nobody_keeps_its_codes_role(mixer: Any, crew: Any) -> None:
    assert mixer.delete("/api/v1/people/tomas").status_code == 200
    assert role_of(crew) == "crew"


def test_a_code_for_a_person_gives_the_role_of_the_plan(mixer: Any, visitors: Callable[..., Any]) -> None:
    made = mixer.post("/api/v1/join-codes", json={"role": "guest", "person_id": "tomas"}).json()
    assert made["role"] == "crew"
    assert mixer.post("/api/v1/join-codes", json={"person_id": "nobody"}).status_code == 404
    assert mixer.delete("/api/v1/people/tomas").status_code == 200
    late = visitors(client=("192.168.7.61", 1), home=LAN_HOME)
    refused = late.post("/join", data={"code": made["code"], "name": "Tablet"})
    assert refused.status_code == 403
    assert "not in the plan any more" in refused.text


def test_plain_names_of_people_reach_their_devices(mixer: Any, tomas: Any, desk: Desk) -> None:
    assert mixer.put("/api/v1/people/tomas", json={"name": "Tomas Berg", "role": "mixer"}).status_code == 200
    assert tomas.put("/api/v1/people/tomas", json={"job": "second boom"}).status_code == 200
    assert desk.show.history()[0].author.person == "Tomas Berg"


def test_an_open_page_is_told_of_the_new_role_and_the_greeting_says_it(desk: Desk, mixer: Any, tomas: Any) -> None:
    device = next(each for each in desk.doors.devices.all() if each.person_id == "tomas")

    async def listened() -> list[str]:
        stream = desk.live.stream(device.id, "", {"role": "crew"})
        heard = [await anext(stream)]
        await asyncio.to_thread(mixer.put, "/api/v1/people/tomas", json={"role": "guest"})
        heard += [await anext(stream), await anext(stream)]
        await stream.aclose()
        return heard

    first, *news = run(listened())
    assert '"role":"crew"' in first
    told = next(each for each in news if each.startswith("event: you"))
    assert json.loads(told.split("data: ")[1]) == {"role": "guest", "sentence": "Your role in this show is now guest."}
