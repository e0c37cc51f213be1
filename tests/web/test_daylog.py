"""The log over the network: read by all, written by the crew, once however often it is sent, and told to every page."""

from __future__ import annotations

from typing import Any

import pytest
from callers import Caller

from rollsound.log.daybook import LogBook
from rollsound.web.desk import Desk
from rollsound.web.housekeeping import Housekeeping

API = "/api/v1/log"
TAKE = {"kind": "take", "fields": {"scene": "31", "slate": "214", "take": "1"}, "day": "day-4", "at": "12:38:41"}


@pytest.fixture
def news(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> list[tuple[str, Any]]:
    """What every browser is told."""
    told: list[tuple[str, Any]] = []
    monkeypatch.setattr(desk.live, "publish", lambda topic, data: told.append((topic, data)))
    return told


def test_a_line_is_written_changed_and_read_by_all(
    mixer: Caller, crew: Caller, guest: Caller, news: list[tuple[str, Any]]
) -> None:
    written = crew.post(f"{API}/lines", json=TAKE).json()
    (line,) = written["lines"]
    assert (line["person"], line["local"], line["words"]) == ("Tomas", "12:38:41", "Slate 214 take 1")
    answer = mixer.put(f"{API}/lines/{line['id']}", json={"fields": {"circled": True}, "seen": line["changed"]}).json()
    assert answer["lines"][0]["fields"]["circled"] is True
    assert answer["overlaps"] == []
    crew.put(f"{API}/lines/{line['id']}", json={"fields": {"note": "ramp"}, "seen": line["changed"]})
    late = mixer.put(f"{API}/lines/{line['id']}", json={"fields": {"note": "Ramp"}, "seen": line["changed"]}).json()
    assert [(each["theirs"], each["mine"], each["person"]) for each in late["overlaps"]] == [("ramp", "Ramp", "Tomas")]
    listed = guest.get(f"{API}/lines?day=day-4").json()
    assert [each["fields"]["note"] for each in listed["lines"]] == ["Ramp"]
    told = guest.get(f"{API}/lines/{line['id']}").json()
    assert [act["person"] for act in told["acts"]] == ["Ines", "Tomas", "Ines", "Tomas"]
    assert [topic for topic, _ in news] == ["log"] * 4
    assert news[0][1]["days"] == ["day-4"]
    assert news[0][1]["lines"] == [line["id"]]


def test_what_waited_on_a_tablet_is_written_once(crew: Caller, desk: Desk, news: list[tuple[str, Any]]) -> None:
    again = {"headers": {"idempotency-key": "tablet-000001"}, "json": {**TAKE, "id": "tablet-000001"}}
    first = crew.post(f"{API}/lines", **again)
    # The line itself is known by its key in the journal, whatever became of the kept answer.
    with desk.show.store._writing() as connection:
        connection.exec_driver_sql("DELETE FROM replies")
    second = crew.post(f"{API}/lines", **again)
    assert (second.status_code, second.json()["again"]) == (200, True)
    assert second.json()["number"] == first.json()["number"]
    cut = {"headers": {"idempotency-key": "tablet-000002"}, "json": {"fields": {"timecode_out": "12:39:00:00"}}}
    assert [crew.put(f"{API}/lines/tablet-000001", **cut).status_code for _ in range(2)] == [200, 200]
    (line,) = LogBook(desk.show.store).lines()
    assert (line.id, line.fields["timecode_out"], line.changed) == ("tablet-000001", "12:39:00:00", 3)
    assert len(news) == 2


def test_the_same_minute_on_two_tablets_is_two_lines(crew: Caller, mixer: Caller) -> None:
    for who in (crew, mixer):
        assert who.post(f"{API}/lines", json=TAKE).status_code == 200
    listed = mixer.get(f"{API}/lines").json()
    assert [each["person"] for each in listed["lines"]] == ["Tomas", "Ines"]
    assert [each["kind"] for each in listed["findings"]] == ["duplicate take"]


def test_each_takes_back_their_own(crew: Caller, mixer: Caller) -> None:
    id = crew.post(f"{API}/lines", json=TAKE).json()["lines"][0]["id"]
    refused = mixer.post(f"{API}/undo")
    assert (refused.status_code, refused.json()["detail"]) == (400, "the log has nothing of Ines to take back.")
    mixer.put(f"{API}/lines/{id}", json={"fields": {"note": "ramp"}})
    clash = crew.post(f"{API}/undo")
    assert clash.status_code == 409
    assert "Ines has changed Slate 214 take 1 since" in clash.json()["detail"]
    assert mixer.post(f"{API}/undo").json()["lines"][0]["fields"].get("note") is None
    assert crew.post(f"{API}/undo").json()["lines"] == []
    assert crew.post(f"{API}/redo").json()["lines"][0]["id"] == id
    assert crew.delete(f"{API}/lines/{id}").json()["sentence"] == "Slate 214 take 1 taken out of the log"
    assert crew.get(f"{API}/lines/{id}").status_code == 404


def test_guests_and_strangers_write_nothing(guest: Caller, stranger: Caller, crew: Caller, desk: Desk) -> None:
    id = crew.post(f"{API}/lines", json=TAKE).json()["lines"][0]["id"]
    for who, status in ((guest, 403), (stranger, 401)):
        tries = [
            who.post(f"{API}/lines", json=TAKE),
            who.put(f"{API}/lines/{id}", json={"fields": {"note": "x"}}),
            who.delete(f"{API}/lines/{id}"),
            who.post(f"{API}/undo"),
            who.post(f"{API}/redo"),
            who.put(f"{API}/style", json={"style": "scene letters"}),
        ]
        assert {each.status_code for each in tries} == {status}
    assert LogBook(desk.show.store).last_number() == 2
    assert guest.get(f"{API}/now").status_code == 200
    assert stranger.get(f"{API}/now").status_code == 401


def test_how_the_day_stands_and_what_is_next(crew: Caller, guest: Caller) -> None:
    for at, kind, fields in (
        ("11:50", "wearing", {"pack": "pack-01", "character": "Bram", "mic_place": "chest"}),
        ("12:00", "battery", {"item": "pack-01", "percent": 100}),
        ("12:38", "take", {"scene": "31", "slate": "214", "take": "1", "timecode_in": "12:38:00:00"}),
        ("14:00", "wearing", {"pack": "pack-01"}),
    ):
        given = {"kind": kind, "fields": fields, "day": "day-4", "at": at}
        assert crew.post(f"{API}/lines", json=given).status_code == 200
    now = guest.get(f"{API}/now?day=day-4").json()
    assert now["wearing"] == []
    assert now["rolling"]["fields"]["slate"] == "214"
    assert (now["next"]["slate"], now["next"]["take"]) == ("214", "2")
    then = guest.get(f"{API}/now", params={"day": "day-4", "at": "13:00"}).json()
    assert [each["character"] for each in then["wearing"]] == ["Bram"]
    assert guest.get(f"{API}/now?day=day-4&at=noon").status_code == 400
    slate = guest.get(f"{API}/next?day=day-4&new_setup=true").json()
    assert (slate["slate"], slate["take"], slate["style"]) == ("215", "1", "slate numbers")
    assert crew.put(f"{API}/style", json={"style": "scene letters"}).status_code == 200
    assert guest.get(f"{API}/next?day=day-4&new_setup=true").json()["slate"] == "31"
    assert guest.get(f"{API}/next?day=day-4&kind=room tone").json()["take"] == "RT1"


def test_mistakes_are_told_field_by_field(crew: Caller) -> None:
    given = {"kind": "take", "fields": {"slat": "1", "timecode_in": "99"}, "day": "day-4"}
    refused = crew.post(f"{API}/lines", json=given)
    assert refused.status_code == 422
    assert {each["place"] for each in refused.json()["mistakes"]} == {"slat", "timecode_in"}
    assert crew.put(f"{API}/lines/take-9", json={"fields": {}}).status_code == 400


@pytest.mark.parametrize(
    ("format", "begins"), [("pdf", b"%PDF-"), ("csv", "\ufefffile,scene".encode()), ("json", b"{\n")]
)
def test_the_log_is_taken_away(crew: Caller, guest: Caller, format: str, begins: bytes) -> None:
    assert guest.get(f"{API}/export?format={format}").status_code == 404
    crew.post(f"{API}/lines", json=TAKE)
    answer = guest.get(f"{API}/export?format={format}&day=day-4")
    assert answer.content.startswith(begins)
    assert f"northbound-ferry-day-4.{format}" in answer.headers["content-disposition"]


def test_what_another_program_writes_is_told(desk: Desk, news: list[tuple[str, Any]]) -> None:
    from rollsound.log.model import Author
    from rollsound.show.folder import Show

    look = Housekeeping(desk)
    look.look()
    with Show.open(desk.show.folder) as other:
        LogBook(other.store).add("note", {"text": "rain"}, Author("Ines", "ines", "command line"), "day-4")
    look.look()
    look.look()
    assert [(topic, data) for topic, data in news if topic == "log"] == [("log", {"number": 2, "anew": True})]
