"""The page Rig and its JSON interface: what the demo's rig says, flips, paths, failures, edits, who may make them."""

from __future__ import annotations

import html
import re
import sys
from collections.abc import Iterator
from importlib import resources
from pathlib import Path
from typing import Any

import pytest
from callers import caller, joined
from ruamel.yaml import YAML

from rollsound.actions import ready_fields, rig, rig_page
from rollsound.demo.example import example_to_begin_with
from rollsound.finding import Finding
from rollsound.log.changes import ABSENT, Change
from rollsound.log.model import Author
from rollsound.report.wiring import wiring_svg
from rollsound.review.model import Proof
from rollsound.show.folder import Show
from rollsound.web.desk import Desk
from rollsound.web.live import Live
from rollsound.web.pages.ready import link_to
from rollsound.web.security.doors import Doors

sys.path.insert(0, str(Path(__file__).parents[1] / "rig"))

from small_rigs import KIT, RIG

PORT = 8060
INES = Author("Ines", "ines", "this machine")


@pytest.fixture(scope="module")
def read_only_demo(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Desk]:
    """The demo's plan, for tests that change nothing: its proofs take seconds."""
    made = demo_desk(tmp_path_factory.mktemp("rig") / "ferry")
    yield made
    made.show.close()


@pytest.fixture(scope="module")
def reader(read_only_demo: Desk) -> Any:
    return entered(read_only_demo)


@pytest.fixture
def small(desk: Desk) -> Desk:
    """A plan with a small rig, whose changeover brings boom 1 by cable or by radio."""
    read = YAML(typ="safe").load
    desk.show.edit([Change("/kit", ABSENT, read(KIT)), Change("/rig", ABSENT, read(RIG))], INES)
    return desk


def demo_desk(folder: Path) -> Desk:
    show = Show.new(folder, example_to_begin_with(), INES)
    return Desk(show=show, doors=Doors(show.store, port=PORT, lan=True), live=Live())


def entered(desk: Desk) -> Any:
    made = caller(desk)
    assert made.get(f"/enter?key={desk.doors.keys.make()}").status_code == 303
    return made


def text_of(answer: Any) -> str:
    assert answer.status_code == 200, answer.text
    return html.unescape(answer.text)


def test_the_page_begins_with_the_verdict_and_shows_every_part(reader: Any) -> None:
    waiting = text_of(reader.get("/pages/rig/part/answer"))
    assert "Everything reaches its place in all 32 combinations." in waiting
    page = text_of(reader.get("/rig"))
    assert "Everything reaches its place in all 32 combinations." in page
    assert 'data-piece="recorder"' in page
    assert "Boom 1, cable to radio: 0 re-patches, 1 unplug, 1 plug; +20 dB moves" in page
    assert "Switch on the set" in page
    assert "<style" not in page
    assert " style=" not in page


def test_the_picture_has_every_rule_of_the_drawings_own_sheet() -> None:
    """Browsers refuse the sheet inside the drawing: the page's own must say the same."""
    drawn = wiring_svg("One", "", [], [])
    sheet = drawn.partition("<style>")[2].partition("</style>")[0]
    page = resources.files("rollsound.web").joinpath("static/css/rig.css").read_text("utf-8")
    rules = dict(re.findall(r"([^{}]+)\{([^}]*)\}", sheet))
    assert len(rules) > 10
    for selector, body in rules.items():
        found = re.search(rf"\.rig-frame {re.escape(selector.strip())}\{{([^}}]*)\}}", page)
        assert found is not None, selector
        said = [each for each in body.split(";") if "family" not in each and ":#" not in each]  # those are for print
        wanted = {re.sub(r"var\((--[\w-]+),[^)]*\)", r"var(\1)", each) for each in said}
        assert wanted <= set(found[1].split(";")), selector


def test_the_proofs_run_once_for_ready_and_the_page(small: Desk, mixer: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    ran: list[str] = []
    real = rig.all_proofs
    monkeypatch.setattr(rig, "all_proofs", lambda *given: (ran.append(""), real(*given))[1])
    assert mixer.get("/pages/rig/part/proofs").status_code == 200
    told = {
        each.what
        for proof in ready_fields.fields_proven(small.show.folder, small.show.plan())
        for each in _findings(proof)
    }
    assert {each.what for each in rig_page.state_of(small.show).findings} <= told
    assert len(ran) == 1
    small.show.edit([Change("/rig/pieces/recorder/place", ABSENT, "elsewhere")], INES)
    assert mixer.get("/pages/rig/part/proofs").status_code == 200
    assert len(ran) == 2


def _findings(proof: Proof) -> list[Finding]:
    return [each.finding for each in proof.told]


def test_every_place_that_ready_links_to_is_on_its_page(read_only_demo: Desk, reader: Any) -> None:
    show = read_only_demo.show
    found = {told.place for proof in ready_fields.fields_proven(show.folder, show.plan()) for told in proof.told}
    links = {link_to(place) for place in found if place is not None and place.page in ("rig", "power", "kit")}
    pages = {name: reader.get(f"/{name}").text for name in ("rig", "power", "kit")}
    rows = {link for link in links if "#" in link}
    assert len(rows) >= 10
    for page, row in (link.removeprefix("/").split("#") for link in rows):
        assert f'id="{row}"' in pages[page], (page, row)
    failing = [link for link in links if "failed=" in link]
    assert failing
    for link in failing:
        assert 'id="rig-loss"' in reader.get(link).text, link


def test_a_flip_tells_what_hands_must_do_and_how_it_is_then(reader: Any) -> None:
    told = reader.get("/api/v1/rig/flip?changeover=receivers&to=cart&with=boom-1=radio").json()
    assert told["combination"] == {
        "boom-1": "radio",
        "boom-2": "cable",
        "boom-3": "cable",
        "receivers": "cart",
        "playback": "near",
    }
    change = told["change"]
    assert (change["unplug"], change["plug"], change["tracks_kept"]) == (["net-remote"], ["net-short"], 22)
    there, back = (
        text_of(reader.get(f"/pages/rig/part/change?flip=boom-1:{way}")) for way in ("cable:radio", "radio:cable")
    )
    assert "Boom 1, cable to radio" in there
    assert "Unplug: boom-1-cable" in there
    assert "Boom 1, radio to cable" in back
    assert "Unplug: boom-1-plugged" in back
    cable, radio = (
        text_of(reader.get(f"/pages/rig/part/now?with=boom-1={position}")) for position in ("cable", "radio")
    )
    assert 'data-piece="boom-1-plug"' not in cable
    assert 'data-piece="boom-1-plug"' in radio


def test_what_a_flip_changes_stands_in_the_table(reader: Any) -> None:
    by_cable, by_radio = (
        next(row for row in reader.get(f"/api/v1/rig?with=boom-1={position}").json()["tracks"] if row["id"] == "boom-1")
        for position in ("cable", "radio")
    )
    assert by_cable["sources"] == by_radio["sources"] == ["Boom 1"]
    assert by_cable["missing"] == by_radio["missing"] == []
    assert float(by_radio["delay"]) > float(by_cable["delay"]) + 5


def test_a_path_is_told_hop_by_hop_and_lit(reader: Any) -> None:
    source = reader.get("/pages/rig/part/choose").text.partition('name="source"')[2]
    assert 'value="pack-01">Bram<' in source
    told = reader.get("/api/v1/rig/paths?source=pack-01").json()
    own = next(each for each in told["paths"] if each["target"] == "track:bram")
    assert own["hops"][-1]["to"].startswith("Main recorder")
    assert "lossy radio" in own["summary"]
    assert [float(each["total"]) for each in own["hops"]] == sorted(float(each["total"]) for each in own["hops"])
    assert all("dB" in each["peak"] for each in own["hops"])
    page = text_of(reader.get("/pages/rig/part/now?source=pack-01"))
    assert "The path of Bram" in page
    assert '<g class="lit" data-piece="lav-01">' in page


def test_a_failure_is_told_with_who_is_covered_and_its_cure(reader: Any) -> None:
    page = text_of(reader.get("/pages/rig/part/now?failed=piece:rack-1"))
    assert "Rack receiver 1 fails" in page
    assert "On no track" in page
    assert "Bring one more" in page
    assert '<g class="failed" data-piece="rack-1">' in page
    told = reader.get("/api/v1/rig/fallout").json()["losses"]
    assert told[0]["failed"] == ["piece:recorder"]
    assert len(told[0]["uncovered"]) == 11
    assert reader.get("/api/v1/rig/fallout?failed=piece:recorder").json()["losses"] == [told[0]]
    proofs = text_of(reader.get("/pages/rig/part/proofs"))
    assert proofs.count("data-fail=") <= 12
    assert text_of(reader.get("/pages/rig/part/proofs?all=1")).count("data-fail=") > 100


def test_who_is_still_covered_is_told(small: Desk, mixer: Any) -> None:
    """Bram wears pack 1 and is heard by boom 1; Idris is heard by pack 2 alone."""
    assert small.plan() is not None
    page = text_of(mixer.get("/pages/rig/part/now?failed=piece:pack-1"))
    assert "Bram on 1 Boom 1" in page
    assert "On no track" not in page
    assert "Idris" in text_of(mixer.get("/pages/rig/part/now?failed=piece:pack-2")).partition("On no track")[2]
    assert "everything reaches" not in mixer.get("/rig").text.lower()  # not claimed before it is proven
    assert "is being checked" in mixer.get("/rig").text
    mixer.get("/pages/rig/part/answer")
    assert "is being checked" not in mixer.get("/rig").text


def test_the_drawing_is_a_file_with_its_own_sheet(reader: Any) -> None:
    answer = reader.get("/api/v1/rig/drawing.svg?with=playback=far&source=pack-01")
    assert answer.headers["content-type"].startswith("image/svg+xml")
    assert "attachment" in answer.headers["content-disposition"]
    assert "<style>" in answer.text
    assert 'data-piece="fibre-far"' in answer.text


@pytest.mark.parametrize(
    ("path", "status", "told"),
    [
        ("?with=boom-9=radio", 400, "boom-9"),
        ("?with=boom-1=gone", 400, "boom-1"),
        ("/paths?source=nobody", 400, "nobody"),
        ("/flip?changeover=nothing&to=one", 400, "nothing"),
        ("/flip?changeover=boom-1&to=cable", 400, "boom-1"),
        ("/fallout?failed=piece:nothing", 400, "nothing"),
        ("/drawing.svg?source=nobody", 400, "nobody"),
        ("/drawing.svg?failed=nothing", 400, "nothing"),
    ],
)
def test_what_is_not_there_is_said(reader: Any, path: str, status: int, told: str) -> None:
    answer = reader.get(f"/api/v1/rig{path}")
    assert (answer.status_code, told in answer.json()["detail"]) == (status, True)


def test_the_page_forgives_an_address_of_another_plan(reader: Any) -> None:
    page = text_of(
        reader.get("/pages/rig/part/now?with=boom-9=radio,boom-1=radio&source=nobody&failed=piece:nothing&flip=a:b:c")
    )
    assert 'data-piece="boom-1-plug"' in page
    assert 'id="rig-path"' not in page
    assert 'id="rig-loss"' not in page


def test_an_edit_is_saved_shown_and_undone(small: Desk, mixer: Any) -> None:
    base = small.show.revision
    form = mixer.get("/pages/rig/part/form?listed=links&id=net-long").text
    assert 'value="75 m"' in form
    assert '<option value="recorder:digital-mic">' in form
    saved = mixer.put("/api/v1/rig/links/net-long", json={"length": "85 m", "base_revision": base})
    assert saved.status_code == 200
    assert "net-long" in saved.json()["sentence"].lower()
    assert link(small, "net-long")["length"] == "85 m"
    assert "85 m" in mixer.get("/pages/rig/part/lists").text
    assert "85 m" in mixer.get("/pages/rig/part/now").text
    assert mixer.post("/api/v1/undo").status_code == 200
    assert link(small, "net-long")["length"] == "75 m"


def test_an_edit_from_an_old_revision_is_refused_where_it_clashes_alone(small: Desk, mixer: Any) -> None:
    base = small.show.revision
    assert mixer.put("/api/v1/rig/links/net-long", json={"length": "80 m"}).status_code == 200
    clash = mixer.put("/api/v1/rig/links/net-long", json={"length": "90 m", "base_revision": base})
    assert clash.status_code == 409
    assert link(small, "net-long")["length"] == "80 m"
    beside = mixer.put("/api/v1/rig/links/net-long", json={"name": "Remote", "base_revision": base})
    assert beside.status_code == 200
    assert (link(small, "net-long")["name"], link(small, "net-long")["length"]) == ("Remote", "80 m")


def test_an_edit_that_would_break_the_rig_is_refused_with_its_place(small: Desk, mixer: Any) -> None:
    base = small.show.revision
    wrong = [
        mixer.put("/api/v1/rig/links/net-long", json={"to": "nowhere:net"}),
        mixer.put("/api/v1/rig/links/net-long", json={"length": "long"}),
        mixer.put("/api/v1/rig/links/net-long", json={"from": ""}),
        mixer.post("/api/v1/rig/links", json={"from": "boom-1:out", "to": "monitor:in"}),
        mixer.delete("/api/v1/rig/pieces/recorder"),
    ]
    assert [each.status_code for each in wrong] == [422] * len(wrong)
    assert "nowhere" in wrong[0].json()["detail"]
    assert mixer.put("/api/v1/rig/links/net-long", json={"gain": "3 dB"}).status_code == 400
    assert mixer.put("/api/v1/rig/links/nothing", json={"length": "3 m"}).status_code == 400
    assert small.show.revision == base


def test_what_was_wrong_before_hinders_no_edit(small: Desk, mixer: Any) -> None:
    small.show.edit([Change("/rig/links/phones/to", "monitor:in", "gone:in")], INES)
    assert "gone" in mixer.get("/rig").text
    assert mixer.put("/api/v1/rig/links/net-long", json={"length": "80 m"}).status_code == 200


def test_a_page_that_is_open_outlives_its_rig(small: Desk, mixer: Any) -> None:
    small.show.edit([Change("/rig", small.show.document()["rig"], ABSENT)], INES)
    for part in ("tools", "change", "choose", "now", "arrives", "proofs"):
        assert mixer.get(f"/pages/rig/part/{part}?with=boom-1=radio&source=bram").status_code == 204
    assert "No rig is in the plan yet." in mixer.get("/pages/rig/part/answer").text
    assert mixer.get("/pages/rig/part/lists").status_code == 200
    assert mixer.get("/pages/rig/part/form?listed=links&id=net-long").status_code == 404


def test_items_are_added_and_taken_out_of_their_positions_too(small: Desk, mixer: Any) -> None:
    link_back = {"from": "recorder:out 2", "to": "monitor:in"}
    taken_out = mixer.delete("/api/v1/rig/links/phones")
    assert taken_out.status_code == 200
    added = mixer.post("/api/v1/rig/links", json=link_back)
    assert added.status_code == 200, added.text
    assert link(small, "recorder-monitor")["to"] == "monitor:in"
    assert mixer.post("/api/v1/rig/links", json={"id": "recorder-monitor", **link_back}).status_code == 400
    assert mixer.delete("/api/v1/rig/links/boom-1-cable").status_code == 200
    assert [each.get("links") for each in small.show.document()["rig"]["changeovers"][0]["positions"]] == [
        None,
        ["boom-1-plug", "boom-1-air"],
    ]
    told = mixer.get("/api/v1/rig?with=boom-1=cable").json()
    assert next(each for each in told["tracks"] if each["id"] == "t1")["missing"] == ["voice-boom-1"]
    assert "would stop the roll" in told["verdict"]


def test_an_empty_page_teaches_and_is_filled_with_the_demos_rig(desk: Desk, mixer: Any, visitors: Any) -> None:
    page = mixer.get("/rig").text
    assert "No rig is in the plan yet." in page
    assert "/api/v1/rig/example" in page
    assert "/api/v1/rig/example" not in visitors("crew", "Tomas").get("/rig").text
    assert mixer.get("/api/v1/rig").status_code == 400
    assert mixer.post("/api/v1/rig/example").status_code == 200
    assert 'data-piece="recorder"' in mixer.get("/pages/rig/part/now").text
    assert mixer.post("/api/v1/rig/example").status_code == 400
    assert mixer.post("/api/v1/undo").status_code == 200
    assert "rig" not in {name for name, part in desk.show.document().items() if part}


@pytest.mark.parametrize("role", ["crew", "guest"])
def test_crew_and_guests_read_and_change_nothing(read_only_demo: Desk, role: str) -> None:
    reader = joined(read_only_demo, role, "Odile")
    page = reader.get("/rig?with=boom-1=radio")
    assert page.status_code == 200
    assert "data-position" in page.text
    for act in ("data-send", "data-edit", 'id="rig-form"'):
        assert act not in page.text
    for path in ("", "/flip?changeover=boom-1&to=radio", "/paths?source=pack-01", "/fallout", "/drawing.svg"):
        assert reader.get(f"/api/v1/rig{path}").status_code == 200
    before = read_only_demo.show.revision
    tries = (
        reader.put("/api/v1/rig/links/net-remote", json={"length": "1 m"}),
        reader.post("/api/v1/rig/links", json={"from": "one:out", "to": "two:in"}),
        reader.delete("/api/v1/rig/links/net-remote"),
        reader.post("/api/v1/rig/example"),
        reader.get("/pages/rig/part/form?listed=links"),
    )
    assert {each.status_code for each in tries} == {403}
    assert read_only_demo.show.revision == before


def test_strangers_see_nothing(desk: Desk, stranger: Any) -> None:
    for path in ("/rig", "/pages/rig/part/now", "/api/v1/rig", "/api/v1/rig/drawing.svg"):
        assert stranger.get(path).status_code in (303, 401)


def link(desk: Desk, id: str) -> dict[str, Any]:
    found: dict[str, Any] = next(each for each in desk.show.document()["rig"]["links"] if each["id"] == id)
    return found
