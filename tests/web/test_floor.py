"""The page Floor: who wears what, batteries and changeovers, by one touch; guests read."""

from __future__ import annotations

import html
import json
import re
from collections.abc import Iterator
from typing import Any

import pytest
from callers import plain
from demo_show import Visited, visited

API = "/api/v1/log/lines"


@pytest.fixture(scope="module")
def ferry(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Visited]:
    with visited(tmp_path_factory.mktemp("floor")) as made:
        yield made


def pack(page: str, id: str) -> str:
    """What a page has of one pack."""
    return page.split(f'id="pack-{id}"')[1].split("</article>")[0]


def touch(ferry: Visited, page: str, words: str) -> Any:
    """Press a button of the log by its words, as the page's script does."""
    for found in re.finditer(
        r'<button[^>]*data-log="(\w+)" data-day="([^"]*)" data-fields="([^"]*)">(.*?)</button>', page
    ):
        if words in plain(found[4]):
            kind, day, fields = found[1], found[2], json.loads(html.unescape(found[3]))
            answer = ferry.crew.post(API, json={"kind": kind, "day": day, "fields": fields})
            assert answer.status_code == 200, answer.text
            return answer.json()
    raise AssertionError(f"no button '{words}'")


def test_every_pack_of_the_plan_stands_there_with_who_is_planned(ferry: Visited) -> None:
    page = ferry.crew.get("/floor?day=day-4").text
    packs = [each for each in ferry.desk.show.plan().radio.transmitters if each.kind == "body pack"]
    assert len(packs) > 10
    for each in packs:
        told = plain(pack(page, each.id))
        assert each.name in told
        assert f"planned: {each.wearer}" in told


def test_the_common_acts_are_one_touch_each(ferry: Visited) -> None:
    page = ferry.crew.get("/floor?day=day-4").text
    touch(ferry, pack(page, "pack-01"), "Put on Bram")
    touch(ferry, pack(page, "pack-01"), "Battery changed")
    touch(ferry, pack(page, "pack-02"), "50 % left")
    touch(ferry, page, "Boom 1 cable")
    page = ferry.crew.get("/floor?day=day-4").text
    first, second = plain(pack(page, "pack-01")), plain(pack(page, "pack-02"))
    assert "1 pack is on." in plain(page)
    assert re.search(r"Pack 1 Bram since \d\d:\d\d Battery changed \d\d:\d\d", first)
    assert re.search(r"Pack 2 nobody planned: Idris Battery: nobody wrote it down, 50 % at \d\d:\d\d", second)
    assert re.search(r"Boom 1: cable, since \d\d:\d\d", plain(page))
    touch(ferry, pack(page, "pack-01"), "Taken off")
    assert "nobody" in plain(pack(ferry.crew.get("/floor?day=day-4").text, "pack-01"))


def test_what_is_written_in_full_is_told_to_all(ferry: Visited) -> None:
    fields = {
        "pack": "pack-03",
        "character": "Runa",
        "mic_place": "hair",
        "power_mw": 25,
        "note": "spare battery on her",
    }
    ferry.crew.post(API, json={"kind": "wearing", "day": "day-4", "fields": fields})
    ferry.crew.post(API, json={"kind": "wearing", "day": "day-4", "fields": {"pack": "loan-1", "character": "Haru"}})
    page = ferry.guest.get("/floor?day=day-4").text
    assert "hair, 25 mW, since" in plain(pack(page, "pack-03"))
    assert "spare battery on her" in plain(page)
    assert "Haru" in plain(pack(page, "loan-1"))
    assert "Pack loan-1 on Haru" in plain(page)


def test_guests_are_offered_nothing_to_write(ferry: Visited) -> None:
    for path in ("/floor?day=day-4", "/pages/floor/part/list?day=day-4"):
        page = ferry.guest.get(path).text
        assert "data-log=" not in page
        assert "data-send" not in page
