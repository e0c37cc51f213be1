"""The page Script: scenes and days, a scene put elsewhere, a draft that is read, names settled, and who may."""

from __future__ import annotations

import base64
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from callers import plain
from demo_show import Visited, visited

from rollsound.actions.script_page import state_of, with_scene_on
from rollsound.errors import InputError

API = "/api/v1/script"
SCRIPT = """Draft date: White

INT. CAR DECK - NIGHT #4#

A telephone rings.

RUNA
Where is Idris?

IDRIS
Here.

EXT. QUAY - DAY #27#

RUNNA
~Northbound, over the bar

EXT. SEA - DAWN #99#

HARU
Land.
"""
BLUE = SCRIPT.replace("White", "Blue").replace("Here.", "Here, and Bram.\n\nBRAM\nGood evening.")


@pytest.fixture(scope="module")
def ferry(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Visited]:
    """The demo's days, with another script, which these tests read first."""
    with visited(tmp_path_factory.mktemp("script"), empty=True) as made:
        yield made


def read(ferry: Visited, text: str, name: str = "white.fountain") -> Any:
    answer = ferry.mixer.post(API, json={"name": name, "data": base64.b64encode(text.encode()).decode()})
    assert answer.status_code == 200, answer.text
    return answer.json()


def scenes_of(ferry: Visited, day: str) -> list[str]:
    return next(each["scenes"] for each in ferry.part("schedule")["days"] if each["id"] == day)


def test_a_page_without_a_script_says_what_goes_here(ferry: Visited) -> None:
    page = plain(ferry.mixer.get("/script").text)
    assert "No script is read yet." in page
    assert "Read the script in Fountain" in page
    assert "Day 1" in page


def test_a_script_is_read_and_its_file_kept(ferry: Visited) -> None:
    said = read(ferry, SCRIPT)
    assert said["sentence"] == "Read the script white.fountain: 3 scenes"
    kept = ferry.desk.show.folder / "script" / "white.fountain"
    assert kept.read_text("utf-8") == SCRIPT
    assert ferry.part("script")["file"] == "script/white.fountain"
    html = ferry.guest.get("/script").text
    page = plain(html)
    result = state_of(ferry.desk.show).result
    assert result is not None
    told = [each.heading for each in result.scenes] + [each.name for each in result.characters]
    told += [each.what for each in result.findings if each.kind != "character twice"]
    assert [each for each in told if each not in page] == []
    assert "Runa speaks 3 words in scene 4" in page
    assert html.count("script-hatched") == 1
    assert "What the last draft changed" not in page  # it was the first one
    assert ferry.guest.get(API).json()["scenes"][0]["number"] == "4"
    assert str(ferry.desk.show.folder.parent) not in ferry.guest.get(API).text


def test_a_draft_says_what_it_changed(ferry: Visited) -> None:
    read(ferry, BLUE, "../../blue.fountain")
    assert ferry.part("script")["file"] == "script/blue.fountain"
    page = plain(ferry.mixer.get("/script").text)
    assert "1 scene changed, 1 new character; 1 day of the schedule touched." in page
    assert "Day 1: Bram to be wired who had nothing to say; 3 at once in one scene instead of 2." in page
    assert ferry.mixer.post("/api/v1/undo").status_code == 200
    assert "Bram" not in plain(ferry.mixer.get("/pages/script/part/answer").text)


def test_names_are_settled_by_whoever_is_asked(ferry: Visited) -> None:
    assert "They are one" in ferry.mixer.get("/script").text
    for same, left in ((True, 3), (False, 4)):
        answer = ferry.mixer.put(f"{API}/names", json={"keep": "Runa", "other": "Runna", "same": same})
        assert answer.status_code == 200
        assert len(ferry.part("script")["characters"]) == left
        assert "What the last draft changed" not in ferry.mixer.get("/script").text
        assert "They are one" not in ferry.mixer.get("/script").text
        assert ferry.mixer.post("/api/v1/undo").status_code == 200
    assert ferry.mixer.put(f"{API}/names", json={"keep": "Runa", "other": "Nobody", "same": True}).status_code == 400


def test_a_scene_goes_to_another_day_and_back(ferry: Visited) -> None:
    before = {day: scenes_of(ferry, day) for day in ("day-1", "day-3")}
    given = {"scene": "4", "day": "day-3", "from_day": "day-1", "before": "28A", "base_revision": ferry.revision()}
    answer = ferry.mixer.put(f"{API}/schedule", json=given)
    assert answer.json()["sentence"] == "Scene 4 stands on Day 3."
    assert scenes_of(ferry, "day-1") == [each for each in before["day-1"] if each != "4"]
    assert scenes_of(ferry, "day-3") == ["27", "4", "28A", "29"]
    off = ferry.mixer.put(f"{API}/schedule", json={"scene": "4", "from_day": "day-3"})
    assert off.json()["sentence"] == "Scene 4 is off Day 3."
    assert scenes_of(ferry, "day-3") == before["day-3"]
    assert "On no day" in plain(ferry.mixer.get("/script").text)
    for _ in range(2):
        assert ferry.mixer.post("/api/v1/undo").status_code == 200
    assert {day: scenes_of(ferry, day) for day in before} == before
    for wrong in ({"scene": "4", "day": "day-77"}, {"scene": "777", "day": "day-1"}, {"scene": "99"}):
        assert ferry.mixer.put(f"{API}/schedule", json=wrong).status_code == 400


def test_a_scene_stands_once_on_a_day() -> None:
    document = {"schedule": {"days": [{"id": "a", "scenes": ["1", "2A", "3"]}, {"id": "b"}]}}

    def days(**given: str) -> list[list[str]]:
        made = with_scene_on(document, "2a", **given)
        return [each.get("scenes", []) for each in made["schedule"]["days"]]

    assert days(day="a", from_day="a", before="1") == [["2A", "1", "3"], []]
    assert days(day="a", from_day="a") == [["1", "3", "2A"], []]
    assert days(day="b") == [["1", "2A", "3"], ["2A"]]
    assert days(day="b", from_day="a", before="9") == [["1", "3"], ["2A"]]
    assert days(day="", from_day="a") == [["1", "3"], []]
    with pytest.raises(InputError, match=r"has a scene"):
        with_scene_on(document, "7", "a")
    assert document["schedule"]["days"][0]["scenes"] == ["1", "2A", "3"]


@pytest.mark.parametrize(
    ("name", "data"),
    [("a.pdf", b"INT. A - DAY\n"), ("a.fountain", b"%PDF-1.7"), ("a.fountain", b"Dear all,\n"), ("noname", b"x")],
)
def test_what_is_no_script_changes_nothing(ferry: Visited, name: str, data: bytes) -> None:
    before = ferry.revision()
    files = sorted(each.name for each in (ferry.desk.show.folder / "script").iterdir())
    answer = ferry.mixer.post(API, json={"name": name, "data": base64.b64encode(data).decode()})
    assert answer.status_code in (400, 422)
    assert ferry.revision() == before
    assert sorted(each.name for each in (ferry.desk.show.folder / "script").iterdir()) == files


@pytest.mark.parametrize("role", ["crew", "guest"])
def test_crew_and_guests_read_and_change_nothing(ferry: Visited, role: str) -> None:
    who = getattr(ferry, role)
    before = ferry.revision()
    for path in ("/script", "/pages/script/part/answer", "/pages/script/part/days", API):
        answer = who.get(path)
        assert answer.status_code == 200
        assert "data-send" not in answer.text
        assert "draggable" not in answer.text
    tries = [
        who.put(f"{API}/schedule", json={"scene": "4", "day": "day-3"}),
        who.post(API, json={"name": "a.fountain", "data": ""}),
        who.put(f"{API}/names", json={"keep": "Runa", "other": "Runna", "same": True}),
    ]
    assert {each.status_code for each in tries} == {403}
    assert ferry.revision() == before


def test_names_of_files_stay_in_the_folder(ferry: Visited) -> None:
    before = set(Path(ferry.desk.show.folder).parent.rglob("*"))
    read(ferry, SCRIPT + "\n\n", "..\\..\\x/../sly name?.fountain")
    new = {each for each in set(Path(ferry.desk.show.folder).parent.rglob("*")) - before if "show" not in each.name}
    assert {each.relative_to(ferry.desk.show.folder).as_posix() for each in new} == {"script/sly name .fountain"}
