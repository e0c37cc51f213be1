"""The page Takes: what was rolled and what comes next, read by all and written by the crew."""

from __future__ import annotations

import html
import json
import re
from datetime import UTC, datetime
from typing import Any

from callers import Caller, plain

from rollsound.web.desk import Desk

API = "/api/v1/log/lines"


def add(who: Caller, of: str = "take", /, at: str = "12:38", day: str = "day-4", **fields: object) -> dict[str, Any]:
    """A line of the log."""
    answer = who.post(API, json={"kind": of, "fields": fields, "day": day, "at": at})
    assert answer.status_code == 200, answer.text
    return answer.json()["lines"][0]


def data(text: str) -> Any:
    """What the page's scripts go by."""
    found = re.search(r'id="takes-state" hidden data-state="([^"]*)"', text)
    assert found is not None
    return json.loads(html.unescape(found[1]))


def test_an_empty_page_teaches_and_begins_with_the_days_first_scene(mixer: Caller) -> None:
    page = mixer.get("/takes").text
    assert "No take is in the log yet." in plain(page)
    assert "press Roll, then Cut" in plain(page)
    told = data(page)
    assert (told["day"], told["rolling"], told["last"], told["jam"]) == ("day-4", None, None, None)
    assert (told["ahead"]["scene"], told["ahead"]["slate"], told["ahead"]["take"]) == ("31", "1", "1")
    assert told["rate"] == {"numerator": 25, "denominator": 1, "nominal": 25, "drop": False, "name": "25"}


def test_the_list_tells_every_take_and_what_is_odd(mixer: Caller, guest: Caller) -> None:
    add(mixer, scene="31", slate="214", take="1", kind="false start", timecode_in="12:38:08:00", sound_roll="NF-04")
    add(mixer, "promise", text="Ferry horn", scene="32")
    take = add(mixer, at="12:40", scene="31", slate="214", take="2", circled=True, track_notes={"3": "rustle"})
    page = guest.get("/takes").text
    told = plain(page)
    for words in ("2 takes, 1 circled.", "NF-04", "false start", "Track 3: rustle", "12:38:08:00", "Ferry horn"):
        assert words in told
    assert "Slate 214 take 1 (false start) began at 12:38:08:00 and has no time code out." in told
    listed = page.split('id="takes-of-day"')[1]
    assert listed.index(f"line-{take['id']}") < listed.index("12:38:08:00")  # the newest first
    state = data(page)
    assert state["last"]["id"] == take["id"]
    assert state["ahead"]["takes"][:2] == ["3", "4"]
    assert state["ahead"]["setups"][:2] == ["215", "216"]
    assert state["ahead"]["wild"][:2] == ["WT1", "WT2"]
    assert state["ahead"]["roll"] == "NF-04"


def test_what_the_device_counts_ahead_is_what_the_log_suggests_then(mixer: Caller) -> None:
    add(mixer, scene="31", slate="31Y", take="1")
    ahead = data(mixer.get("/takes").text)["ahead"]
    assert ahead["setups"][:4] == ["31Z", "31AA", "31AB", "31AC"]
    for slate in ahead["setups"][:3]:
        assert mixer.get("/api/v1/log/next?new_setup=true").json()["slate"] == slate
        add(mixer, scene="31", slate=slate, take="1")


def test_a_take_that_rolls_is_told_on_every_device(mixer: Caller, crew: Caller) -> None:
    line = add(mixer, scene="31", slate="214", take="1", timecode_in="12:38:08:00")
    page = crew.get("/takes").text
    assert "Rolling: slate 214 take 1." in plain(page)
    assert data(page)["rolling"]["id"] == line["id"]
    assert data(page)["last"] is None


def test_a_jam_of_the_pages_clock_is_told(mixer: Caller) -> None:
    moment = datetime(2031, 2, 18, 11, tzinfo=UTC)
    add(mixer, "jam", at="2031-02-18T12:00:00+01:00", device="log clock", timecode="10:00:00:00", source="recorder")
    add(mixer, "jam", at="2031-02-18T13:00:00+01:00", device="slate", timecode="11:00:00:00")
    page = mixer.get("/takes").text
    assert data(page)["jam"] == {"timecode": "10:00:00:00", "at_ms": moment.timestamp() * 1000}
    assert "Jammed to 10:00:00:00 at 12:00 from recorder" in plain(page)


def test_guests_read_and_are_offered_nothing_to_write(mixer: Caller, guest: Caller) -> None:
    add(mixer, scene="31", slate="214", take="1")
    for path in ("/takes", "/pages/takes/part/list", "/pages/takes/part/answer"):
        page = guest.get(path).text
        assert "data-line=" not in page
        assert "data-send" not in page
        assert "takes-roll" not in page
    assert "Reading only" in plain(guest.get("/takes").text)


def test_days_are_chosen_and_one_that_only_the_log_knows_is_there(mixer: Caller) -> None:
    add(mixer, scene="31", slate="214", take="1")
    add(mixer, scene="9", slate="90", take="1", day="pick-up-day")
    page = mixer.get("/takes?day=pick-up-day").text
    assert "1 take, 0 circled." in plain(page)
    assert "which is no day of the plan" in plain(page)
    assert "1 take, 0 circled." in plain(mixer.get("/takes?day=day-4").text)
    assert "No take is in the log yet." in plain(mixer.get("/takes?day=nowhere").text)


def test_the_page_is_there_also_without_a_day_in_the_plan(desk: Desk, mixer: Caller) -> None:
    from rollsound.log.changes import Change
    from rollsound.log.model import Author

    days = desk.show.document()["schedule"]
    desk.show.edit([Change("/schedule", days, {"days": []})], Author("Ines", "ines"))
    page = plain(mixer.get("/takes").text)
    assert "The plan has no days yet." in page
    assert "takes-roll" not in mixer.get("/takes").text
    assert "The plan has no days yet." in plain(mixer.get("/floor").text)
