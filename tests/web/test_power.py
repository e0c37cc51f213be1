"""The page Power: the answer and its lanes, what a change would do, rows that are written, and who may."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from callers import LAN, LAN_HOME, caller, plain
from demo_show import Visited, visited

from rollsound.actions.power import of_plan
from rollsound.actions.power_gather import Gathered
from rollsound.actions.power_model import WhatIf
from rollsound.actions.power_what_if import what_if
from rollsound.finding import Weight

API = "/api/v1/power"


@pytest.fixture(scope="module")
def ferry(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Visited]:
    with visited(tmp_path_factory.mktemp("power")) as made:
        yield made


def battery(ferry: Visited, id: str) -> dict[str, Any]:
    return next(each for each in ferry.part("power")["batteries"] if each["id"] == id)


def undone(ferry: Visited) -> None:
    assert ferry.mixer.post("/api/v1/undo").status_code == 200


def test_the_page_tells_what_the_answer_tells(ferry: Visited) -> None:
    result = of_plan(Gathered(ferry.desk.show.plan()))
    html = ferry.mixer.get("/power").text
    page = plain(html)
    stops = sum(each.weight is Weight.STOP for each in result.findings)
    assert ("does not carry the day" if stops else "Power carries the day") in page
    assert f"{result.call} to {result.wrap}" in page
    told = [each.what for each in result.findings] + [row.sentence for row in result.batteries]
    told += [f"{row.load_w:.1f} W" for row in result.batteries] + [each.name for each in result.stock]
    assert [each for each in told if each not in page] == []
    assert "1.2 m 1.5 mm²" in page
    assert "The truck's supply at the hotel" in page
    for caution in result.cautions:
        assert caution in page
    assert all(f'value="day-{n}"' in html for n in range(1, 7))


def test_another_day_is_shown_with_its_own_cold(ferry: Visited) -> None:
    page = plain(ferry.mixer.get("/power?day=day-3").text)
    assert "Day 3, 09:00 to 20:00, down to −9 °C." in page
    told = ferry.guest.get(f"{API}?day=day-3").json()
    assert (told["day"], told["lede"]) == ("day-3", "Day 3, 09:00 to 20:00, down to −9 °C.")
    assert {lane["battery"] for lane in told["lanes"]} >= {"Main block", "Cell for body packs"}
    assert ferry.guest.get(f"{API}?day=day-99").status_code == 400
    assert ferry.mixer.get("/power?day=day-99").status_code == 200  # a page that was kept still opens


@pytest.mark.parametrize("role", ["crew", "guest"])
def test_crew_and_guests_read_and_change_nothing(ferry: Visited, role: str) -> None:
    who = getattr(ferry, role)
    before = ferry.revision()
    for path in ("/power", *(f"/pages/power/part/{each}" for each in ("answer", "tables", "try")), API):
        answer = who.get(path)
        assert answer.status_code == 200
        assert "data-send" not in answer.text
        assert "data-row" not in answer.text
    assert who.get("/pages/power/form/batteries?id=bag-block").status_code == 404
    row = {"name": "x", "count": 1}
    tries = [who.get(f"{API}/try?count=bag-block:1"), who.post(f"{API}/try", json={"count_of": {"bag-block": 1}})]
    tries.append(who.post(f"{API}/example"))
    for path, id in (
        ("batteries", "bag-block"),
        ("supplies", "bag"),
        ("supplies/bag/feeds", "recorder-bag"),
        ("phases", "lunch"),
        ("sockets", "truck"),
    ):
        tries += [who.post(f"{API}/{path}", json=row), who.put(f"{API}/{path}/{id}", json=row)]
        tries.append(who.delete(f"{API}/{path}/{id}"))
    assert {each.status_code for each in tries} == {403}
    assert ferry.revision() == before


def test_strangers_get_nothing(ferry: Visited) -> None:
    stranger = caller(ferry.desk, LAN, LAN_HOME)
    paths = (API, f"{API}/chart", "/api/v1/kit", "/api/v1/kit/carnet", "/api/v1/kit/labels")
    assert {stranger.get(path).status_code for path in paths} == {401}
    assert {stranger.get(path).headers["location"] for path in ("/power", "/kit")} == {"/join"}


def test_a_change_is_tried_then_kept_then_undone(ferry: Visited) -> None:
    plan, before = ferry.desk.show.plan(), ferry.revision()
    expected = what_if(plan, WhatIf(count_of={"pack-cell": 40}), "day-6")
    told = ferry.mixer.get(f"{API}/try?day=day-6&count=pack-cell:40").json()
    assert told["sentence"] == expected.sentence
    assert (tuple(told["solved"]), tuple(told["new"])) == (expected.solved, expected.new)
    assert expected.new, "cells for half a day are missed"
    assert "carries the day" in told["before"]
    assert told["after"] != told["before"]
    assert ferry.revision() == before  # nothing was saved
    given = {"count_of": {"pack-cell": 40}, "base_revision": before}
    assert ferry.mixer.post(f"{API}/try", json=given).status_code == 200
    assert battery(ferry, "pack-cell")["count"] == 40
    assert ferry.guest.get(f"{API}?day=day-6").json()["verdict"] == told["after"]
    undone(ferry)
    assert battery(ferry, "pack-cell")["count"] == 160
    assert ferry.guest.get(f"{API}?day=day-6").json()["verdict"] == told["before"]


def test_kinds_phases_reserve_and_cold_are_tried_together(ferry: Visited) -> None:
    change = WhatIf(
        battery_of={"bag": "cart-block"},
        break_of={"tea": False},
        times_of={"lunch": ("13:00", "13:30")},
        reserve=0.2,
        temperature_c=-15,
    )
    expected = what_if(ferry.desk.show.plan(), change, "day-3")
    query = "battery=bag:cart-block&breaks=tea:no&times=lunch:13:00-13:30&reserve=0.2&temperature=-15"
    told = ferry.mixer.get(f"{API}/try?day=day-3&{query}").json()
    assert told["sentence"] == expected.sentence
    assert told["changed"] == [each.sentence for each in expected.changed]
    given = {
        "battery_of": {"bag": "cart-block"},
        "break_of": {"tea": False},
        "times_of": {"lunch": ["13:00", "13:30"]},
        "reserve": 0.2,
    }
    assert ferry.mixer.post(f"{API}/try", json=given).status_code == 200
    power = ferry.part("power")
    bag = next(each for each in power["supplies"] if each["id"] == "bag")
    lunch, tea = (next(each for each in power["phases"] if each["id"] == id) for id in ("lunch", "tea"))
    assert (bag["battery"], power["reserve"]) == ("cart-block", 0.2)
    assert (lunch["from"], lunch["to"], "break" in tea) == ("13:00", "13:30", False)
    undone(ferry)
    assert "reserve" not in ferry.part("power")


@pytest.mark.parametrize(
    ("query", "told"),
    [
        ("count=nothing:1", "no kind of battery 'nothing'"),
        ("count=bag-block", "written as id:value"),
        ("count=bag-block:many", "written as id:value"),
        ("battery=bag:nothing", "no kind of battery 'nothing'"),
        ("times=lunch:25:00-13:00", "time of day"),
        ("state=lunch:asleeping", "cannot be tried"),
    ],
)
def test_a_change_that_makes_no_sense_is_refused_in_one_sentence(ferry: Visited, query: str, told: str) -> None:
    answer = ferry.mixer.get(f"{API}/try?{query}")
    assert answer.status_code == 400
    assert told in answer.json()["detail"]


def test_rows_are_written_changed_and_taken_out(ferry: Visited) -> None:
    new = {
        "name": "Quay block",
        "chemistry": "li-ion",
        "voltage": "14.4 V",
        "capacity": "150 Wh",
        "count": 2,
        "cell": "",
    }
    assert ferry.mixer.post(f"{API}/batteries", json=new).status_code == 200
    made = battery(ferry, "quay-block")
    assert "cell" not in made
    assert (made["capacity"], made["count"]) == ("150 Wh", 2)
    assert ferry.mixer.put(f"{API}/batteries/quay-block", json={"cutoff": "12 V", "health": 0.8}).status_code == 200
    assert ferry.mixer.put(f"{API}/supplies/bag", json={"battery": "quay-block"}).status_code == 200
    refused = ferry.mixer.delete(f"{API}/batteries/quay-block")
    assert (refused.status_code, "Bag recorder" in refused.json()["detail"]) == (400, True)
    feed = {"item": "tablet", "count": 1, "wire_length": "2 m", "wire_section": "0.75 mm²", "wire_fuse": "3 A"}
    assert ferry.mixer.post(f"{API}/supplies/bag/feeds", json=feed).status_code == 200
    assert ferry.mixer.put(f"{API}/supplies/bag/feeds/tablet", json={"wire_fuse": ""}).status_code == 200
    bag = next(each for each in ferry.part("power")["supplies"] if each["id"] == "bag")
    assert bag["feeds"][-1] == {
        "id": "tablet",
        "item": "tablet",
        "count": 1,
        "wire": {"length": "2 m", "section": "0.75 mm²"},
    }
    phase = {"from": "16:00", "to": "16:15", "state": "idle", "break": True, "day": "day-3"}
    assert ferry.mixer.post(f"{API}/phases", json=phase).status_code == 200
    assert ferry.part("power")["phases"][-1] == {"id": "break", **phase}
    assert ferry.mixer.put(f"{API}/sockets/truck", json={"attended": False}).status_code == 200
    assert ferry.part("power")["sockets"][0]["attended"] is False  # that nobody is there is an answer
    wrong = ferry.mixer.put(f"{API}/batteries/bag-block", json={"capacity": "98 V"})
    assert wrong.status_code == 422
    assert "98 V" in str(wrong.json())
    for _ in range(7):
        undone(ferry)
    assert all(each["id"] != "quay-block" for each in ferry.part("power")["batteries"])


def test_a_row_changed_on_an_older_page_is_a_clash(ferry: Visited) -> None:
    form = ferry.mixer.get("/pages/power/form/batteries?id=bag-block").text
    base = ferry.revision()
    assert f'name="base_revision" value="{base}"' in form
    assert 'value="98 Wh"' in form
    assert ferry.mixer.put(f"{API}/batteries/bag-block", json={"count": 6, "base_revision": base}).status_code == 200
    again = ferry.mixer.put(f"{API}/batteries/bag-block", json={"count": 9, "base_revision": base})
    assert again.status_code == 409
    tried = ferry.mixer.post(f"{API}/try", json={"count_of": {"bag-block": 9}, "base_revision": base})
    assert tried.status_code == 409
    beside = ferry.mixer.put(f"{API}/batteries/bag-block", json={"note": "Two are old", "base_revision": base})
    assert beside.status_code == 200  # another field is none
    assert (battery(ferry, "bag-block")["count"], battery(ferry, "bag-block")["note"]) == (6, "Two are old")
    undone(ferry)
    undone(ferry)


def test_the_lanes_are_fetched_as_pictures(ferry: Visited) -> None:
    html = ferry.guest.get("/power?day=day-3").text
    source = re.search(r'src="(/api/v1/power/chart\?[^"]+theme=day[^"]+)"', html)
    assert source is not None
    svg = ferry.guest.get(source[1].replace("&amp;", "&"))
    assert svg.headers["content-type"] == "image/svg+xml"
    assert "immutable" in svg.headers["cache-control"]
    assert "Receiver trolley" in svg.text
    again = ferry.guest.get(f"{API}/chart?day=day-3", headers={"if-none-match": svg.headers["etag"]})
    assert again.status_code == 304
    for form, begins in (("png", b"\x89PNG"), ("pdf", b"%PDF")):
        assert ferry.guest.get(f"{API}/chart?day=day-3&format={form}&theme=print").content.startswith(begins)


def test_a_plan_without_power_teaches_and_offers_the_demos_example(tmp_path: Path) -> None:
    with visited(tmp_path, empty=True) as made:
        page = made.mixer.get("/power").text
        assert "Nothing is said about power yet." in page
        assert "/api/v1/power/example" in page
        assert "/api/v1/power/example" not in made.guest.get("/power").text
        assert made.guest.get(API).json()["lanes"] == []
        assert made.mixer.get(f"{API}/chart").status_code == 404
        assert made.mixer.get(f"{API}/try?reserve=0.2").status_code == 400
        assert made.mixer.post(f"{API}/example").status_code == 200
        assert "Bag block" in made.mixer.get("/power").text
        assert made.mixer.post(f"{API}/example").status_code == 400
