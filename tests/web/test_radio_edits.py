"""What the page Radio changes: never more than was asked for, and never over what does not hold."""

from __future__ import annotations

import io
import json
from dataclasses import replace
from typing import Any

import pytest
from radio_plan import with_radio

from rollsound.actions.radio_page import state_of
from rollsound.actions.radio_page_search import Search, document_with, hold_elsewhere
from rollsound.actions.radio_page_worker import work
from rollsound.errors import InputError
from rollsound.radio.carriers.audit import audit
from rollsound.web.desk import Desk
from rollsound.web.pages.radio_rows import margin_rows, verdict_of


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


SCAN = "MHz,dBm\n500,-100\n500.1,-50\n500.2,-100\n"


def with_scan(desk: Desk, file: str = "scans/quay.csv") -> None:
    with_radio(desk.show, part(pack("a", frequency="500.1 MHz"), scans=[{"id": "first-take", "file": file}]))
    (desk.show.folder / "scans").mkdir()
    (desk.show.folder / "scans/quay.csv").write_text(SCAN, "utf-8")


def test_a_scan_never_writes_over_the_file_of_another(desk: Desk, mixer: Any) -> None:
    with_scan(desk)
    answer = mixer.post("/api/v1/radio/scans", json={"name": "Quay", "text": SCAN.replace("-50", "-40")})
    assert answer.status_code == 200, answer.text
    assert (desk.show.folder / "scans/quay.csv").read_text("utf-8") == SCAN
    files = [each.file for each in desk.show.plan().radio.scans]
    assert files == ["scans/quay.csv", "scans/quay-2.csv"]
    assert "-40" in (desk.show.folder / files[1]).read_text("utf-8")


def test_a_scan_that_lies_there_and_is_named_nowhere_stays_too(desk: Desk, mixer: Any) -> None:
    with_scan(desk, file="scans/elsewhere.csv")
    assert mixer.post("/api/v1/radio/scans", json={"name": "Quay", "text": SCAN + "501,-90\n"}).status_code == 200
    assert (desk.show.folder / "scans/quay.csv").read_text("utf-8") == SCAN


def test_a_scan_that_cannot_be_saved_leaves_no_file(desk: Desk, mixer: Any) -> None:
    with_scan(desk)
    answer = mixer.post("/api/v1/radio/scans", json={"name": "Deck", "text": SCAN, "site": "nowhere at all "})
    assert answer.status_code in (400, 422)
    assert [each.name for each in (desk.show.folder / "scans").iterdir()] == ["quay.csv"]


def test_a_scan_that_is_sent_again_is_kept_once(desk: Desk, mixer: Any) -> None:
    with_radio(desk.show, part(pack("a", frequency="500.1 MHz")))
    for _ in range(2):
        mixer.post("/api/v1/radio/scans", json={"name": "Deck", "text": SCAN}, headers={"idempotency-key": "deck-0640"})
    assert [each.name for each in (desk.show.folder / "scans").iterdir()] == ["deck.csv"]


def test_a_scan_of_one_site_touches_only_who_sends_there(desk: Desk, mixer: Any) -> None:
    away = pack("b", frequency="500.1 MHz", sites=["quay"])
    with_radio(desk.show, part(pack("a", frequency="510 MHz"), away))
    told = mixer.post("/api/v1/radio/scans", json={"name": "Deck", "text": SCAN, "site": "car-deck"}).json()
    assert "No carrier" in told["sentence"]
    told = mixer.post("/api/v1/radio/scans", json={"name": "Everywhere", "text": SCAN}).json()
    assert "No carrier" not in told["sentence"]


def test_a_scan_whose_file_changes_is_looked_at_again(desk: Desk, mixer: Any) -> None:
    with_scan(desk)
    (desk.show.folder / "scans/quay.csv").write_text(SCAN.replace("-50", "-100"), "utf-8")
    assert mixer.get("/api/v1/radio").json()["rows"][0]["weight"] == "fine"
    (desk.show.folder / "scans/quay.csv").write_text(SCAN + "501,-90.5\n", "utf-8")
    assert mixer.get("/api/v1/radio").json()["rows"][0]["weight"] == "stop"


BAD = pack("bad", name="Bad", step="35 kHz", frequency="505 MHz", on_air=True)


def test_nothing_is_put_beside_a_carrier_that_cannot_be_looked_at(desk: Desk, mixer: Any) -> None:
    with_radio(desk.show, part(pack("a", frequency="500 MHz"), BAD))
    before = desk.show.revision
    new = {"name": "New", "tuning": "504.9-505.1 MHz", "power": "10 mW"}
    for path, given in (("transmitters", new), ("spares", {"count": 1}), ("search", {"mode": "add"})):
        answer = mixer.post(f"/api/v1/radio/{path}", json=given)
        assert answer.status_code == 400
        assert "the plan has a mistake at transmitters bad" in answer.json()["detail"]
    assert desk.show.revision == before


def test_no_spares_are_found_beside_carriers_that_do_not_hold(desk: Desk, mixer: Any) -> None:
    with_radio(desk.show, part(pack("a", frequency="500 MHz"), pack("b", frequency="500.1 MHz")))
    answer = mixer.post("/api/v1/radio/spares", json={"count": 1})
    assert answer.status_code == 400
    assert "do not hold by themselves" in answer.json()["detail"]


def test_a_margin_below_nothing_stops_also_where_its_relation_is_not_listed(desk: Desk) -> None:
    with_radio(desk.show, part(*(pack(f"p{n:02}", frequency=f"{480 + 0.4 * n:g} MHz") for n in range(18))))
    state = state_of(desk.show)
    cut = audit(state.question.task, state.question.carriers_hz, listed=1)
    rows = margin_rows(state, cut, state.question.carriers_hz)
    assert {row.weight for row in rows} == {"stop"}
    assert "18" in verdict_of(state, cut)


def test_a_search_for_one_site_that_collides_on_another_is_not_taken(desk: Desk) -> None:
    on_both = pack("a", tuning="499.9-500.1 MHz")
    with_radio(desk.show, part(on_both, pack("b", frequency="500.1 MHz", sites=["quay"])))
    result = searched(desk, site="car-deck")["result"]
    search = Search("one", 1, "car-deck", "add", 1.0, 1, 1, 0.0, result=result)
    with pytest.raises(InputError, match="nothing was saved: on quay"):
        hold_elsewhere(desk.show, search)
    hold_elsewhere(desk.show, replace(search, result={"carriers_hz": {}}))


def test_the_page_ranks_products_by_what_they_do(desk: Desk, mixer: Any) -> None:
    packs = (pack("a", frequency="500 MHz"), pack("b", frequency="500.5 MHz"), pack("c", frequency="499.5 MHz"))
    with_radio(desk.show, part(*packs, receivers=[{"id": "r", "name": "Cart", "channels": 3, "hears": ["a", "c"]}]))
    assert 'hx-get="/pages/radio/part/products"' in mixer.get("/radio").text
    told = mixer.get("/pages/radio/part/products").text
    assert "2 × Pack A − Pack B" in told
    assert "the noise" in told
