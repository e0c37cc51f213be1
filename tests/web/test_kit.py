"""The page Kit: the list, loads, batteries by air, customs and labels, rows that are written, and who may."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from callers import plain
from demo_show import Visited, visited

from rollsound.actions.kit import kit
from rollsound.actions.kit_page import read_of

API = "/api/v1/kit"


@pytest.fixture(scope="module")
def ferry(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Visited]:
    with visited(tmp_path_factory.mktemp("kit")) as made:
        yield made


def item(ferry: Visited, id: str) -> dict[str, Any]:
    return next(each for each in ferry.part("kit")["items"] if each["id"] == id)


def test_the_page_tells_the_list_and_what_the_answer_tells(ferry: Visited) -> None:
    page = plain(ferry.mixer.get("/kit").text)
    result = kit(read_of(ferry.desk.show))
    assert "The kit can travel, with" in page
    assert "172 pieces, 117 kg" in page
    told = [each.name for each in ferry.desk.show.plan().kit.items] + [each.what for each in result.findings]
    told += [*(each.rule for each in result.batteries), *result.cautions]
    assert [each for each in told if each not in page] == []
    assert "A draft:" in page  # nothing of the demo has a serial number
    assert "have no country of origin" in page


def test_a_date_of_travel_brings_its_rules(ferry: Visited) -> None:
    html = ferry.mixer.get("/kit?date=2026-04-12").text
    page = plain(html)
    assert "Batteries by the rules of 2026-04-12." in page
    assert "would stop the kit." in page
    assert "Main block, 1920 Wh: over 160 Wh, so not as baggage" in page
    assert "carnet?format=pdf&amp;date=2026-04-12" in html
    told = ferry.guest.get(f"{API}?date=2026-04-12").json()
    assert told["stops"] > ferry.guest.get(API).json()["stops"] == 0
    assert "is no date" in plain(ferry.mixer.get("/kit?date=spring").text)
    assert ferry.guest.get(f"{API}?date=spring").status_code == 422


@pytest.mark.parametrize("role", ["crew", "guest"])
def test_crew_and_guests_read_and_change_nothing(ferry: Visited, role: str) -> None:
    who = getattr(ferry, role)
    before = ferry.revision()
    for path in ("/kit", "/pages/kit/part/answer", "/pages/kit/part/list", API):
        answer = who.get(path)
        assert answer.status_code == 200
        assert "data-send" not in answer.text
        assert "data-row" not in answer.text
    assert who.get("/pages/kit/form/items?id=recorder").status_code == 404
    tries = [who.put(API, json={"travellers": 3}), who.post(f"{API}/example")]
    for path, id, row in (("items", "recorder", {"name": "x"}), ("moves", "ramp", {"load": "Cart"})):
        tries += [who.post(f"{API}/{path}", json=row), who.put(f"{API}/{path}/{id}", json=row)]
        tries.append(who.delete(f"{API}/{path}/{id}"))
    assert {each.status_code for each in tries} == {403}
    assert ferry.revision() == before


def test_an_item_is_written_changed_and_undone(ferry: Visited) -> None:
    given = {
        "mass": "5.1 kg",
        "serials": "NF-1207",
        "value": 7200,
        "origin": "NO",
        "make": "Bench recorder 32",
        "travels_in": "Cart",
        "travels_by": "cabin",
        "rack_units": 2,
    }
    assert ferry.mixer.put(f"{API}/items/recorder", json=given).status_code == 200
    assert item(ferry, "recorder")["serials"] == ["NF-1207"]
    page = plain(ferry.guest.get("/kit").text)
    assert "NF-1207" in page
    assert "7,200.00 EUR" in page
    assert "In none" in page  # two loads by now
    undone = ferry.mixer.post("/api/v1/undo")
    assert undone.status_code == 200
    assert item(ferry, "recorder")["mass"] == "4.6 kg"
    assert "serials" not in item(ferry, "recorder")
    assert ferry.mixer.post(f"{API}/items", json={"name": "Rain tent", "mass": "9 kg", "count": 1}).status_code == 200
    assert item(ferry, "rain-tent") == {"id": "rain-tent", "name": "Rain tent", "mass": "9 kg", "count": 1}
    assert ferry.mixer.delete(f"{API}/items/rain-tent").status_code == 200
    refused = ferry.mixer.delete(f"{API}/items/receiver-four")
    assert (refused.status_code, "is used by" in refused.json()["detail"]) == (400, True)
    assert ferry.mixer.put(f"{API}/items/recorder", json={"mass": "heavy"}).status_code == 422
    assert ferry.mixer.post(f"{API}/items", json={"mass": "9 kg"}).status_code == 400


def test_a_move_is_held_against_the_guidance(ferry: Visited) -> None:
    assert ferry.mixer.put(f"{API}/items/cart", json={"travels_in": "Cart"}).status_code == 200
    lifted = {"load": "Cart", "people": 1, "zones": "floor to shin, shin to knuckle"}
    assert ferry.mixer.post(f"{API}/moves", json=lifted).status_code == 200
    assert ferry.part("kit")["moves"][0]["zones"] == ["floor to shin", "shin to knuckle"]
    told = ferry.guest.get(API).json()
    assert any("38 kg" in each for each in told["findings"]), told["findings"]
    assert ferry.mixer.delete(f"{API}/moves/cart").status_code == 200
    assert ferry.mixer.post("/api/v1/undo").status_code == 200
    assert ferry.mixer.delete(f"{API}/moves/cart").status_code == 200


def test_a_row_changed_on_an_older_page_is_a_clash(ferry: Visited) -> None:
    base = ferry.revision()
    assert f'name="base_revision" value="{base}"' in ferry.mixer.get("/pages/kit/form/items?id=lav").text
    assert ferry.mixer.put(f"{API}/items/lav", json={"count": 17, "base_revision": base}).status_code == 200
    assert ferry.mixer.put(f"{API}/items/lav", json={"count": 16, "base_revision": base}).status_code == 409
    assert ferry.mixer.put(f"{API}/items/lav", json={"value": 390, "base_revision": base}).status_code == 200
    assert (item(ferry, "lav")["count"], item(ferry, "lav")["value"]) == (17, 390)
    for _ in range(2):
        assert ferry.mixer.post("/api/v1/undo").status_code == 200


def test_a_name_that_is_not_there_leaves_the_list_to_be_corrected(ferry: Visited) -> None:
    assert ferry.mixer.put(f"{API}/items/lav", json={"model": "no-such-kind"}).status_code == 200
    page = plain(ferry.mixer.get("/kit").text)
    assert "The kit has 1 mistake." in page
    assert "no-such-kind" in page
    assert "Lavalier microphone" in page
    assert ferry.guest.get(API).json()["verdict"] == "The kit has 1 mistake."
    assert ferry.guest.get(f"{API}/carnet").status_code == 404
    assert ferry.mixer.post("/api/v1/undo").status_code == 200


def test_the_papers_are_taken_away(ferry: Visited) -> None:
    pdf = ferry.guest.get(f"{API}/carnet?format=pdf")
    assert pdf.content.startswith(b"%PDF")
    assert pdf.headers["content-disposition"] == 'attachment; filename="northbound-ferry-general-list.pdf"'
    csv = ferry.guest.get(f"{API}/carnet?format=csv")
    assert csv.headers["content-type"].startswith("text/csv")
    assert "Fader panel, 16 faders" in csv.text
    assert "# A draft" in csv.text


def test_a_plan_without_a_kit_teaches_and_offers_the_demos_example(tmp_path: Path) -> None:
    with visited(tmp_path, empty=True) as made:
        page = made.mixer.get("/kit").text
        assert "No kit is listed yet." in page
        assert "/api/v1/kit/example" in page
        assert made.guest.get(API).json()["whole"] is None
        assert {made.mixer.get(f"{API}/{paper}").status_code for paper in ("carnet", "labels")} == {404}
        assert made.mixer.post(f"{API}/example").status_code == 200
        assert "Main recorder, 32 tracks" in made.mixer.get("/kit").text
        assert made.mixer.post(f"{API}/example").status_code == 400
        labels = made.mixer.get(f"{API}/labels")
        assert labels.content.startswith(b"%PDF")
        assert "labels.pdf" in labels.headers["content-disposition"]
