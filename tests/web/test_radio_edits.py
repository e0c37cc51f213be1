"""What the page Radio changes: never more than was asked for, and never over what does not hold."""

from __future__ import annotations

import io
import json
from typing import Any

from radio_plan import with_radio

from rollsound.actions.radio_page_search import Search, document_with
from rollsound.actions.radio_page_worker import work
from rollsound.web.desk import Desk


def pack(id: str, **more: Any) -> dict[str, Any]:
    return {"id": id, "name": f"Pack {id.upper()}", "tuning": "470-542 MHz", "power": "10 mW", **more}


def part(*transmitters: dict[str, Any], **more: Any) -> dict[str, Any]:
    return {"transmitters": list(transmitters), **more}


def searched(desk: Desk, mode: str = "add", site: str = "") -> dict[str, Any]:
    """What the worker tells at the end of a search."""
    head = desk.show.store.head()
    order = {"document": head.document, "folder": str(desk.show.folder), "revision": head.revision, "site": site}
    out = io.StringIO()
    assert work(io.StringIO(json.dumps({**order, "mode": mode, "seed": 1, "seconds": 2.0}) + "\n"), out) == 0
    told: dict[str, Any] = json.loads(out.getvalue().splitlines()[-1])
    return told


def taken(desk: Desk, result: dict[str, Any], site: str = "") -> dict[str, dict[str, Any]]:
    """The transmitters of the plan with what was found."""
    search = Search("one", 1, site, "add", 1.0, 1, 1, 0.0, result=result)
    document = document_with(desk.show.store.head(), search)
    return {each["id"]: each for each in document["radio"]["transmitters"]}


def test_a_search_that_is_taken_drops_the_spares_that_no_longer_hold(desk: Desk) -> None:
    first = pack("a", frequency="500 MHz", spare_frequencies=["506 MHz", "507 MHz"])
    with_radio(desk.show, part(first, pack("b", tuning="506.9-507.1 MHz")))
    after = taken(desk, searched(desk)["result"])
    assert after["b"]["frequency"] == "507.000 MHz"
    assert after["a"]["spare_frequencies"] == ["506.000 MHz"]
    assert after["a"]["frequency"] == "500 MHz"


def test_spares_of_whoever_keeps_none_are_gone(desk: Desk) -> None:
    first = pack("a", frequency="500 MHz", spare_frequencies=["507 MHz"])
    with_radio(desk.show, part(first, pack("b", tuning="506.9-507.1 MHz")))
    assert "spare_frequencies" not in taken(desk, searched(desk)["result"])["a"]
