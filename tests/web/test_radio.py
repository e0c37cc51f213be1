"""The page Radio and its JSON interface: what is told, who may change it, what is refused and how."""

from __future__ import annotations

import re
import time
from typing import Any

import pytest
from radio_plan import INES, radio_part, with_radio

from rollsound.errors import MistakesError, StorageError
from rollsound.log.changes import ABSENT, Change
from rollsound.web.desk import Desk


@pytest.fixture
def radio(desk: Desk) -> Desk:
    with_radio(desk.show)
    return desk


def rows(caller: Any) -> dict[str, dict[str, Any]]:
    return {each["id"]: each for each in caller.get("/api/v1/radio").json()["rows"]}


def test_every_transmitter_is_told_with_its_margin_and_what_sets_it(radio: Desk, mixer: Any) -> None:
    told = mixer.get("/api/v1/radio").json()
    assert len(told["rows"]) == len(radio_part()["transmitters"])
    assert told["mistakes"] == []
    first = rows(mixer)["pack-01"]
    assert (first["frequency"], first["freq_hz"], first["wearer"]) == ("470.200", 470_200_000, "Bram")
    assert first["weight"] in ("fine", "stop")
    assert first["says"]


def test_a_move_tells_every_margin_and_saves_nothing(radio: Desk, mixer: Any) -> None:
    before = radio.show.revision
    beside = rows(mixer)["pack-02"]["freq_hz"] + 100_000
    told = mixer.get(f"/api/v1/radio/move?transmitter=pack-01&hz={beside}").json()
    moved = {each["id"]: each for each in told["rows"]}
    assert not told["holds"]
    assert moved["pack-01"]["weight"] == moved["pack-02"]["weight"] == "stop"
    assert moved["pack-01"]["margin_hz"] == 100_000 - 400_000  # the common rule asks 400 kHz between carriers
    assert "Idris" in moved["pack-01"]["says"]
    assert rows(mixer)["pack-01"]["freq_hz"] == 470_200_000
    assert radio.show.revision == before


def test_where_a_transmitter_may_go_agrees_with_moving_it_there(radio: Desk, mixer: Any) -> None:
    told = mixer.get("/api/v1/radio/free?transmitter=pack-01").json()
    best = told["best_hz"][0]
    assert told["margins_hz"][told["freqs_hz"].index(best)] == max(told["margins_hz"])
    moved = mixer.get(f"/api/v1/radio/move?transmitter=pack-01&hz={best}").json()
    own = next(each for each in moved["rows"] if each["id"] == "pack-01")
    assert own["weight"] == "fine"


def test_a_frequency_that_is_kept_is_in_the_plan_and_undone(radio: Desk, mixer: Any) -> None:
    key = {"idempotency-key": "keep-it-here"}
    for _ in range(2):
        kept = mixer.put("/api/v1/radio/transmitters/pack-01", json={"frequency_hz": 478_125_000}, headers=key)
        assert kept.status_code == 200
    document = radio.show.document()["radio"]["transmitters"][0]
    assert document["frequency"] == "478.125 MHz"
    assert document["tuning"] == "470-542 MHz"
    assert mixer.post("/api/v1/undo").status_code == 200
    assert radio.show.document()["radio"]["transmitters"][0]["frequency"] == "470.200 MHz"


def test_on_air_is_switched(radio: Desk, mixer: Any) -> None:
    assert mixer.put("/api/v1/radio/transmitters/pack-03", json={"on_air": True}).status_code == 200
    assert rows(mixer)["pack-03"]["on_air"]
    assert 'id="row-pack-03"' in mixer.get("/radio").text


@pytest.mark.parametrize("role", ["crew", "guest"])
def test_crew_and_guests_read_and_change_nothing(radio: Desk, visitors: Any, role: str) -> None:
    caller = visitors(role, "Odile")
    page = caller.get("/radio")
    assert page.status_code == 200
    assert "470.200" in page.text
    for act in ("data-pick", "data-send", 'id="tuner"', 'id="radio-find"', 'id="scan-form"'):
        assert act not in page.text
    before = radio.show.revision
    tries = (
        caller.put("/api/v1/radio/transmitters/pack-01", json={"on_air": False}),
        caller.post("/api/v1/radio/transmitters", json={"name": "One", "tuning": "470-542 MHz"}),
        caller.post("/api/v1/radio/spares", json={"count": 1}),
        caller.post("/api/v1/radio/search", json={"mode": "all"}),
        caller.post("/api/v1/radio/search/stop"),
        caller.post("/api/v1/radio/search/take"),
        caller.post("/api/v1/radio/search/drop"),
        caller.post("/api/v1/radio/scans", json={"name": "One", "text": "470;-100"}),
        caller.put("/api/v1/radio/scans/one", json={"used": False}),
        caller.get("/api/v1/radio/move?transmitter=pack-01&hz=480000000"),
        caller.get("/api/v1/radio/free?transmitter=pack-01"),
        caller.get("/api/v1/radio/search"),
    )
    assert {each.status_code for each in tries} == {403}
    assert all(each.headers["content-type"] == "application/problem+json" for each in tries)
    assert radio.show.revision == before


@pytest.mark.parametrize(
    ("path", "body", "status", "told"),
    [
        ("/transmitters/nobody", {"frequency_hz": 480_000_000}, 400, "nobody"),
        ("/transmitters/pack-01", {"frequency_hz": 1}, 422, "frequency_hz"),
        ("/transmitters/pack-01", {"colour": "red"}, 422, "colour"),
        ("/scans/nowhere", {"used": True}, 400, "nowhere"),
    ],
)
def test_what_makes_no_sense_is_refused_with_its_place(
    radio: Desk, mixer: Any, path: str, body: dict[str, Any], status: int, told: str
) -> None:
    answer = mixer.put(f"/api/v1/radio{path}", json=body)
    assert answer.status_code == status
    assert answer.headers["content-type"] == "application/problem+json"
    problem = answer.json()
    assert told in problem["detail"] or any(told in f"{m['place']} {m['sentence']}" for m in problem["mistakes"])


def test_one_more_gets_the_free_frequency_with_the_most_margin(radio: Desk, mixer: Any) -> None:
    others = {id: each["freq_hz"] for id, each in rows(mixer).items()}
    given = {"name": "Pack 15", "wearer": "Guest", "tuning": "470-542 MHz", "step": "25 kHz", "power": "10 mW"}
    added = mixer.post("/api/v1/radio/transmitters", json=given)
    assert added.status_code == 200, added.text
    now = rows(mixer)
    assert {id: each["freq_hz"] for id, each in now.items() if id in others} == others
    assert now["pack-15"]["weight"] == "fine"
    assert now["pack-15"]["frequency"] in added.json()["sentence"]


@pytest.mark.parametrize(
    ("given", "told"),
    [
        ({"name": "Pack 15", "tuning": "470-542", "step": "25 kHz"}, "tuning is '470-542'"),
        ({"name": "Pack 15", "tuning": "502-510 MHz", "step": "25 kHz"}, "no frequency is free"),
    ],
)
def test_one_more_that_cannot_be_is_refused_and_nothing_is_saved(
    radio: Desk, mixer: Any, given: dict[str, Any], told: str
) -> None:
    before = radio.show.revision
    answer = mixer.post("/api/v1/radio/transmitters", json=given)
    assert answer.status_code in (400, 422)
    assert told in answer.json()["detail"]
    assert radio.show.revision == before


def test_spares_are_clear_of_everything_and_of_each_other(radio: Desk, mixer: Any) -> None:
    for id in ("pack-03", "pack-04", "pack-09", "pack-11", "boom-2-tx"):  # away with what does not hold
        best = mixer.get(f"/api/v1/radio/free?transmitter={id}").json()["best_hz"][0]
        assert mixer.put(f"/api/v1/radio/transmitters/{id}", json={"frequency_hz": best}).status_code == 200
    assert {each["weight"] for each in rows(mixer).values()} == {"fine"}
    answer = mixer.post("/api/v1/radio/spares", json={"count": 1})
    assert answer.status_code == 200, answer.text
    now = rows(mixer)
    spares = {id: each["spares"][0]["hz"] for id, each in now.items() if each["spares"]}
    assert len(spares) >= 12
    part = radio.show.document()["radio"]
    for id, hz in spares.items():  # every spare on the air beside everything else
        own = next(each for each in part["transmitters"] if each["id"] == id)
        part["transmitters"] = [*part["transmitters"], {**own, "id": f"{id}-spare", "frequency": f"{hz} Hz"}]
    for receiver in part["receivers"]:
        receiver["channels"] = 16
    with_radio(radio.show, part)
    assert {each["weight"] for each in rows(mixer).values()} == {"fine"}
    assert mixer.post("/api/v1/radio/spares", json={"count": 0}).json()["sentence"] == "No spares are kept any more."


SCAN = "frequency MHz;level dBm\n" + "".join(
    f"{470 + n * 0.1:.3f};{-60 if n in (1, 2, 3) else -105}\n" for n in range(720)
)


def test_a_scan_is_kept_and_what_it_touches_is_told(radio: Desk, mixer: Any) -> None:
    given = {"name": "Car deck 06:40", "text": SCAN, "threshold_dbm": -90, "site": "car-deck"}
    answer = mixer.post("/api/v1/radio/scans", json=given)
    assert answer.status_code == 200, answer.text
    assert "One carrier now lies in used spectrum" in answer.json()["sentence"]
    assert rows(mixer)["pack-01"]["weight"] == "stop"
    assert (radio.show.folder / "scans" / "car-deck-06-40.csv").is_file()
    spectrum = mixer.get("/api/v1/radio/spectrum").json()
    assert max(spectrum["scans"][0]["levels_dbm"]) == -60
    assert mixer.put("/api/v1/radio/scans/car-deck-06-40", json={"used": False}).status_code == 200
    assert rows(mixer)["pack-01"]["weight"] == "fine"


@pytest.mark.parametrize("text", ["", "no scan at all\nat all", "470.0;20\n470.1;nonsense\n"])
def test_what_is_no_scan_is_refused_and_leaves_nothing(radio: Desk, mixer: Any, text: str) -> None:
    before = radio.show.revision
    answer = mixer.post("/api/v1/radio/scans", json={"name": "Broken", "text": text})
    assert answer.status_code in (400, 422)
    assert not list(radio.show.folder.glob("scans/*"))
    assert radio.show.revision == before


def test_without_transmitters_the_page_teaches(mixer: Any) -> None:
    page = mixer.get("/radio").text
    assert "No transmitter is in the plan yet." in page
    assert "/plan?at=/radio" in page


def test_a_mistake_in_the_radio_part_is_told_with_its_place(desk: Desk, mixer: Any) -> None:
    part = radio_part()
    part["transmitters"][0]["step"] = "7 kHz"
    with_radio(desk.show, part)
    told = mixer.get("/api/v1/radio").json()
    assert [each["place"] for each in told["mistakes"]] == ["transmitters pack-01, step"]
    assert "One thing in the plan" in mixer.get("/radio").text


@pytest.fixture
def searching(radio: Desk) -> Any:
    yield radio
    from rollsound.actions.radio_page_search import searches_of

    searches_of(radio.show).close()


def test_a_search_is_watched_taken_and_undone(searching: Desk, mixer: Any) -> None:
    before = rows(mixer)
    assert any(each["weight"] == "stop" for each in before.values())
    assert mixer.post("/api/v1/radio/search", json={"mode": "all", "seconds": 2, "seed": 3}).status_code == 200
    again = mixer.post("/api/v1/radio/search", json={"mode": "all"})
    assert (again.status_code, "under way" in again.json()["detail"]) == (400, True)
    found = wait_for(mixer)
    assert found["state"] == "done", found
    assert len(found["carriers_hz"]) == len(before)
    assert rows(mixer) == before  # nothing is changed by looking
    assert 'id="search-take"' in mixer.get("/radio").text
    assert mixer.post("/api/v1/radio/search/take", json={"id": found["id"]}).status_code == 200
    now = rows(mixer)
    assert {id: each["freq_hz"] for id, each in now.items()} == found["carriers_hz"]
    assert {each["weight"] for each in now.values()} == {"fine"}
    assert mixer.post("/api/v1/undo").status_code == 200
    assert {id: each["freq_hz"] for id, each in rows(mixer).items()} == {i: e["freq_hz"] for i, e in before.items()}


def test_a_search_is_stopped_and_what_it_found_is_dropped(searching: Desk, mixer: Any) -> None:
    assert mixer.post("/api/v1/radio/search", json={"mode": "all", "seconds": 300}).status_code == 200
    stopped = mixer.post("/api/v1/radio/search/stop").json()
    assert stopped["state"] in ("stopping", "done")
    assert wait_for(mixer)["state"] == "done"
    named = {"id": stopped["id"]}
    assert mixer.post("/api/v1/radio/search/drop", json=named).status_code == 200
    assert mixer.get("/api/v1/radio/search").json()["state"] == "none"
    assert mixer.post("/api/v1/radio/search/take", json=named).status_code == 400


def test_what_was_found_for_an_older_plan_is_not_taken(searching: Desk, mixer: Any) -> None:
    assert mixer.post("/api/v1/radio/search", json={"mode": "repair", "seconds": 1}).status_code == 200
    found = wait_for(mixer)
    assert mixer.put("/api/v1/radio/transmitters/pack-05", json={"on_air": True}).status_code == 200
    answer = mixer.post("/api/v1/radio/search/take", json={"id": found["id"]})
    assert (answer.status_code, "changed since" in answer.json()["detail"]) == (400, True)
    assert 'id="search-take"' not in mixer.get("/radio").text


def test_a_search_is_one_for_all_mixers_and_each_names_the_one_it_means(
    searching: Desk, mixer: Any, visitors: Any
) -> None:
    other = visitors("mixer", "Second mixer")
    news: list[Any] = []
    searching.live.publish = lambda topic, data: news.append((topic, data))  # type: ignore[method-assign]
    first = mixer.post("/api/v1/radio/search", json={"mode": "repair", "seconds": 1}).json()
    wait_for(mixer)
    until = time.monotonic() + 5
    while len(news) < 2 and time.monotonic() < until:
        time.sleep(0.05)
    assert news == [("search", {"id": first["id"]})] * 2  # its beginning and its end
    page = other.get("/pages/radio/part/search").text
    assert "live-search from:body" in page
    assert "asked for this search" in page
    assert first["person"] in page
    second = other.post("/api/v1/radio/search", json={"mode": "repair", "seconds": 1}).json()
    wait_for(mixer)
    late = mixer.post("/api/v1/radio/search/take", json={"id": first["id"]})
    assert (late.status_code, "another search stands there" in late.json()["detail"]) == (400, True)
    assert mixer.post("/api/v1/radio/search/drop", json={"id": first["id"]}).status_code == 200
    assert mixer.get("/api/v1/radio/search").json()["id"] == second["id"]  # it is still there


def test_nobody_on_a_site_is_told_as_that_and_the_sites_stay(desk: Desk, mixer: Any) -> None:
    desk.show.edit([Change("/sites/quay", ABSENT, {"id": "quay", "name": "Quay"})], INES)
    part = radio_part()
    for each in part["transmitters"]:
        each["sites"] = ["car-deck"]
    with_radio(desk.show, part)
    page = mixer.get("/radio?site=quay").text
    assert "Nobody sends on this site." in page
    assert "No transmitter is in the plan yet" not in page
    assert 'href="/radio?site=car-deck"' in page


@pytest.mark.parametrize("path", ["/radio", "/reach", "/turnover"])
def test_a_plan_that_cannot_be_read_is_not_an_empty_one(
    radio: Desk, mixer: Any, monkeypatch: pytest.MonkeyPatch, path: str
) -> None:
    def unreadable(show: Any) -> None:
        raise MistakesError("the plan", [])

    monkeypatch.setattr("rollsound.show.folder.Show.plan", unreadable)
    page = mixer.get(path)
    assert page.status_code == 200
    assert "The plan cannot be read." in page.text
    main = re.search(r"<main.*</main>", page.text, re.S)
    assert main is not None
    assert not re.search("in the plan yet|drawn yet", main[0])


def test_a_row_with_a_mistake_draws_the_picture_from_no_zero(radio: Desk, mixer: Any) -> None:
    part = radio_part()
    part["transmitters"][0]["step"] = "7 kHz"  # a row without a tuning range
    with_radio(radio.show, part)
    assert "Carriers from 0 to" not in mixer.get("/radio").text


def test_a_show_open_for_reading_says_so_to_its_mixer(radio: Desk, mixer: Any, guest: Any) -> None:
    radio.show.read_only = True
    for path in ("/pages/radio/part/answer", "/pages/reach/part/answer?site=car-deck"):
        assert "The show is open for reading only" in mixer.get(path).text
        assert "Reading only: the mixer" in guest.get(path).text


def test_files_outside_the_show_are_named_on_the_machine_alone(radio: Desk, mixer: Any, visitors: Any) -> None:
    elsewhere = visitors("mixer", "Second mixer")
    for file in ("/etc/passwd", "../secret.csv", "scans/../../secret.csv", "C:\\secret.csv", "\\\\other\\secret.csv"):
        scan = {"path": "/radio/scans", "after": [{"id": "deck", "file": file}]}
        assert elsewhere.post("/api/v1/plan/edits", json={"changes": [scan]}).status_code == 403, file
        image = {"path": "/radio/grounds/car-deck/image", "after": file}
        assert elsewhere.post("/api/v1/plan/edits", json={"changes": [image]}).status_code == 403, file
    inside = {"path": "/radio/grounds/car-deck/image", "after": "pictures/deck.png"}
    assert elsewhere.post("/api/v1/plan/edits", json={"changes": [inside]}).status_code == 200
    given = {"name": "Car deck 06:40", "text": SCAN}
    assert elsewhere.post("/api/v1/radio/scans", json=given).status_code == 200
    outside = {"path": "/radio/scans/own", "after": {"id": "own", "file": "../own.csv"}}
    assert mixer.post("/api/v1/plan/edits", json={"changes": [outside]}).status_code == 200
    other = {"path": "/radio/scans/own/used", "after": False}
    assert elsewhere.post("/api/v1/plan/edits", json={"changes": [other]}).status_code == 200


def test_where_the_show_lies_is_not_told_with_a_scan_that_cannot_be_read(
    radio: Desk, mixer: Any, guest: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    part = radio_part()
    part["scans"] = [{"id": "deck", "file": "deck.csv"}]
    (radio.show.folder / "deck.csv").write_text(SCAN)

    def fails(path: Any) -> None:
        raise StorageError(f"{path} could not be read", path=str(path))

    monkeypatch.setattr("rollsound.actions.radio_read.scan_text", fails)
    with_radio(radio.show, part)
    folder = str(radio.show.folder.parent)
    assert folder in mixer.get("/pages/radio/part/answer").text
    for path in ("/pages/radio/part/answer", "/api/v1/radio", "/radio"):
        told = guest.get(path).text
        assert "could not be read" in told
        assert folder not in told


def wait_for(mixer: Any) -> dict[str, Any]:
    until = time.monotonic() + 40
    while time.monotonic() < until:
        told: dict[str, Any] = mixer.get("/api/v1/radio/search").json()
        if told["state"] not in ("running", "stopping"):
            return told
        time.sleep(0.1)
    raise AssertionError(told)


def test_a_scan_whose_file_no_disk_takes_is_a_mistake_of_one_page(radio: Desk, mixer: Any) -> None:
    part = radio_part()
    part["scans"] = [{"id": "deck", "file": f"{'a' * 300}.csv"}]
    with_radio(radio.show, part)
    page = mixer.get("/radio")
    assert page.status_code == 200
    assert mixer.get("/pages/radio/part/answer").status_code == 200
    assert [each["place"] for each in mixer.get("/api/v1/radio").json()["mistakes"]] == ["scans deck, file"]
    assert mixer.get("/settings").status_code == 200


def test_a_figure_that_cannot_be_told_takes_no_page_with_it(radio: Desk, mixer: Any, monkeypatch: Any) -> None:
    def fails(desk: Desk) -> None:
        raise OSError(5, "the drive fails")

    mixer.get("/radio")  # figures are told from the first page on
    monkeypatch.setattr("rollsound.web.pages.radio.badge", fails)
    assert mixer.get("/settings").status_code == 200


def test_a_page_that_stands_since_before_saves_over_nobody(radio: Desk, mixer: Any, visitors: Any) -> None:
    base = radio.show.revision
    other = visitors("mixer", "Second mixer")
    path = "/api/v1/radio/transmitters/pack-01"
    assert other.put(path, json={"frequency_hz": 478_125_000, "base_revision": base}).status_code == 200
    late = mixer.put(path, json={"frequency_hz": 480_000_000, "base_revision": base})
    assert (late.status_code, late.json()["clashes"][0]["path"]) == (409, "/radio/transmitters/pack-01/frequency")
    assert rows(mixer)["pack-01"]["freq_hz"] == 478_125_000
    assert mixer.put(path, json={"on_air": False, "base_revision": base}).status_code == 200  # another field
    assert (rows(mixer)["pack-01"]["on_air"], rows(mixer)["pack-01"]["freq_hz"]) == (False, 478_125_000)
    page = mixer.get("/pages/radio/part/table").text
    assert f"base_revision&#34;: {radio.show.revision}}}" in page
    assert mixer.put(path, json={"on_air": True, "base_revision": 99_999}).status_code == 400
