"""The page Reach and its JSON interface: maps that follow what is tried, the why of a place, edits, walk tests."""

from __future__ import annotations

import base64
import json
import re
from typing import Any

import numpy as np
import pytest
from radio_plan import png, radio_part, with_radio

from rollsound.actions import radio_page_reach
from rollsound.web.desk import Desk

DECK = "/api/v1/reach/car-deck"


@pytest.fixture
def deck(desk: Desk) -> Desk:
    with_radio(desk.show)
    return desk


def margins(told: dict[str, Any]) -> Any:
    raw = np.frombuffer(base64.b64decode(told["margin"]), np.uint8)
    return -40 + raw.reshape(told["rows"], told["columns"]) / 2


def test_a_ground_is_told_as_it_is_drawn(deck: Desk, guest: Any) -> None:
    told = guest.get(DECK).json()
    assert (told["name"], told["width_m"], told["depth_m"]) == ("Car deck", 60.0, 24.0)
    assert {each["id"] for each in told["antennas"]} == {"left", "right", "set-left", "set-right"}
    assert told["layouts"] == ["at the cart", "on the set"]
    assert "monitor-singers" not in told["transmitters"]  # nobody receives it at the cart


def test_a_map_agrees_with_the_why_of_its_places_and_follows_an_antenna(deck: Desk, guest: Any) -> None:
    ask = f"{DECK}/map?transmitter=pack-03&layout=at+the+cart&columns=60"
    before = margins(guest.get(ask).json())
    x, y = 5.5, 12.5  # the middle of a cell of one metre
    why = guest.get(f"{DECK}/why?x={x}&y={y}&transmitter=pack-03&layout=at+the+cart").json()
    assert before[int(y), int(x)] == pytest.approx(why["margin_db"], abs=0.3)
    for budget in why["budgets"]:
        assert sum(each["db"] for each in budget["terms"]) == pytest.approx(budget["level_dbm"], abs=0.15)
        margin = budget["level_dbm"] - budget["noise_dbm"] - budget["needed_db"]
        assert margin == pytest.approx(budget["margin_db"], abs=0.15)
    after = margins(guest.get(f"{ask}&at=left:6,11.5").json())
    assert after[int(y), int(x)] > before[int(y), int(x)] + 10  # brought from 45 m to about one metre
    assert deck.show.revision == 2  # nothing was saved


def test_a_map_tells_from_where_on_sound_holds_for_as_much_of_the_time_as_is_wanted(
    deck: Desk, guest: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    ask = f"{DECK}/map?transmitter=pack-02&columns=10"
    told = guest.get(ask).json()
    assert (told["enough"], told["wanted_share"]) == (80, 0.99)  # 2 nines, 40 bytes each
    monkeypatch.setattr("rollsound.radio.reach.answer.WANTED_SHARE", 0.999)
    told = guest.get(ask).json()
    assert (told["enough"], told["wanted_share"]) == (120, 0.999)


def test_more_power_is_more_margin_by_as_many_decibels(deck: Desk, guest: Any) -> None:
    ask = f"{DECK}/map?transmitter=pack-02&layout=at+the+cart&columns=30"
    low, high = (margins(guest.get(f"{ask}&power=pack-02:{mw}").json()) for mw in (10, 100))
    between = (low > -39) & (high < 87)
    assert between.any()
    assert np.abs((high - low)[between] - 10).max() <= 0.5  # ten times the power is 10 dB


def test_an_antenna_is_moved_and_undone(deck: Desk, mixer: Any) -> None:
    assert mixer.put(f"{DECK}/antennas/left", json={"x_m": 12.345, "y_m": 99}).status_code == 200
    left = deck.show.document()["radio"]["grounds"][0]["antennas"][0]
    assert left["at"] == "12.35, 24 m" or left["at"] == "12.34, 24 m"  # kept on the ground
    assert left["layouts"] == ["at the cart"]
    assert mixer.put(f"{DECK}/antennas/left", json={"cable_length_m": 30, "amplifier_gain_db": 12}).status_code == 200
    left = deck.show.document()["radio"]["grounds"][0]["antennas"][0]
    assert (left["cable_length"], left["amplifier_gain"]) == ("30 m", "12 dB")
    assert mixer.post("/api/v1/undo").status_code == 200
    assert mixer.post("/api/v1/undo").status_code == 200
    assert deck.show.document()["radio"]["grounds"][0]["antennas"][0]["at"] == "50, 4 m"


@pytest.mark.parametrize("role", ["crew", "guest"])
def test_crew_and_guests_see_the_ground_and_change_nothing(deck: Desk, visitors: Any, role: str) -> None:
    caller = visitors(role, "Odile")
    for path in (
        "/reach",
        "/pages/reach/part/answer?site=car-deck",
        "/pages/reach/part/tables?site=car-deck",
        "/pages/reach/part/walk?site=car-deck",
    ):
        page = caller.get(path)
        assert page.status_code == 200
        assert "data-send" not in page.text
    before = deck.show.revision
    tries = (
        caller.put(f"{DECK}/antennas/left", json={"x_m": 1}),
        caller.post(f"{DECK}/readings", json={"x_m": 1, "y_m": 1, "level_dbm": -60}),
        caller.delete(f"{DECK}/readings/r1"),
        caller.post(f"{DECK}/walk"),
    )
    assert {each.status_code for each in tries} == {403}
    assert deck.show.revision == before


def test_the_answer_tells_areas_least_powers_and_cables(deck: Desk, mixer: Any) -> None:
    assert "99 % of the time" in mixer.get("/pages/reach/part/answer?site=car-deck").text
    parts = ("tables", "powers", "antennas")
    page = "".join(mixer.get(f"/pages/reach/part/{part}?site=car-deck").text for part in parts)
    assert not re.search(r"Pack \d", page)  # people are told by who wears what, as on the other pages
    for told in (
        "Bow ramp",
        "Choir",
        "Runa&#39;s walk",
        "The least that keeps 99\N{NO-BREAK SPACE}%",
        "40 m of foam-240",
    ):
        assert told in page
    assert "data-answered" in page


@pytest.mark.parametrize(
    ("path", "told"),
    [
        ("/api/v1/reach/nowhere", "no ground 'nowhere'"),
        (f"{DECK}/map?transmitter=nobody", "nobody"),
        (f"{DECK}/map?at=left", "places of antennas"),
        (f"{DECK}/map?at=nobody:1,1", "nobody"),
        (f"{DECK}/map?power=pack-01:0", "powers"),
        (f"{DECK}/map?layout=on+the+moon", "on the moon"),
        (f"{DECK}/why?x=70&y=1", "outside"),
        (f"{DECK}/compare?first=at+the+cart&second=on+the+moon", "on the moon"),
        (f"{DECK}/image", "no picture"),
    ],
)
def test_what_makes_no_sense_is_refused_in_one_sentence(deck: Desk, guest: Any, path: str, told: str) -> None:
    answer = guest.get(path)
    assert answer.status_code == 400
    assert answer.headers["content-type"] == "application/problem+json"
    assert told in answer.json()["detail"]


def test_only_pictures_in_the_shows_folder_are_sent(desk: Desk, guest: Any) -> None:
    part = radio_part()
    (desk.show.folder.parent / "secret.png").write_bytes(png(50, 20, b"secret"))
    (desk.show.folder / "deck.png").write_bytes(png(50, 20))
    (desk.show.folder / "odd.png").write_bytes(b"\x89PNG deck")
    (desk.show.folder / "link.png").symlink_to(desk.show.folder.parent / "secret.png")
    for image, status in (
        ("deck.png", 200),
        ("odd.png", 400),
        ("../secret.png", 400),
        (str(desk.show.folder.parent / "secret.png"), 400),
        ("link.png", 400),
        (f"{'a' * 300}.png", 400),
        ("show.sqlite", 400),
    ):
        part["grounds"][0]["image"] = image
        with_radio(desk.show, part)
        answer = guest.get(f"{DECK}/image")
        assert answer.status_code == status, image
        assert b"secret" not in answer.content
        if status == 200:
            assert answer.headers["content-type"] == "image/png"


def test_the_page_draws_the_picture_or_says_why_not(desk: Desk, guest: Any) -> None:
    part = radio_part()
    part["grounds"][0]["image"] = "deck.png"
    with_radio(desk.show, part)
    ask = "/reach?site=car-deck"
    missing = guest.get(ask).text
    assert "reach-image" not in missing
    assert "is not in the show&#39;s folder" in missing
    (desk.show.folder / "deck.png").write_bytes(png(50, 20))  # the ground is 60 by 24 m
    good = guest.get(ask).text
    assert 'src="/api/v1/reach/car-deck/image"' in good
    assert "reach-picture-told" not in good
    (desk.show.folder / "deck.png").write_bytes(png(50, 50))
    odd = guest.get(ask).text
    assert 'src="/api/v1/reach/car-deck/image"' in odd
    assert "150 % out of form" in odd


def test_readings_are_saved_fitted_and_taken_out(deck: Desk, mixer: Any) -> None:
    places = [(4, 12), (10, 8), (16, 4), (22, 20), (30, 4), (38, 20), (44, 8), (50, 14), (56, 8)]
    for x, y in places:
        why = mixer.get(f"{DECK}/why?x={x}&y={y}&transmitter=pack-03").json()
        level = next(each["level_dbm"] for each in why["budgets"] if each["antenna"] == "left")
        given = {"x_m": x, "y_m": y, "level_dbm": level - 6, "transmitter": "pack-03", "antenna": "left"}
        assert mixer.post(f"{DECK}/readings", json=given).status_code == 200
    assert len(deck.show.document()["radio"]["grounds"][0]["readings"]) == len(places)
    page = mixer.get("/pages/reach/part/walk?site=car-deck").text
    assert 'id="walk-take"' in page
    assert mixer.post(f"{DECK}/walk").status_code == 200
    assert mixer.get("/api/v1/history").json()["entries"][0]["changes"]
    why = mixer.get(f"{DECK}/why?x=10&y=8&transmitter=pack-03").json()
    assert why["budgets"]
    first = deck.show.document()["radio"]["grounds"][0]["readings"][0]["id"]
    assert mixer.delete(f"{DECK}/readings/{first}").status_code == 200
    assert len(deck.show.document()["radio"]["grounds"][0]["readings"]) == len(places) - 1
    outside = mixer.post(f"{DECK}/readings", json={"x_m": 61, "y_m": 1, "level_dbm": -60})
    assert (outside.status_code, "60 m wide" in outside.json()["detail"]) == (400, True)


def test_two_layouts_are_compared_place_by_place(deck: Desk, guest: Any) -> None:
    told = guest.get(f"{DECK}/compare?first=at+the+cart&second=on+the+set&transmitter=pack-03").json()
    ramp = next(each for each in told["differences"] if each["id"] == "ramp")
    assert ramp["gain_db"] > 0  # the set's antennas stand beside the ramp
    assert margins(told["first"]).shape == margins(told["second"]).shape


def test_without_grounds_the_page_teaches(mixer: Any) -> None:
    page = mixer.get("/reach").text
    assert "No ground is drawn yet." in page
    assert "/plan?at=/radio" in page


def test_an_antenna_moved_on_an_older_page_is_a_clash(deck: Desk, mixer: Any, visitors: Any) -> None:
    base = deck.show.revision
    other = visitors("mixer", "Second mixer")
    assert f'name="base_revision" value="{base}"' in mixer.get("/pages/reach/part/antennas?site=car-deck").text
    move = {"x_m": 12, "y_m": 4, "base_revision": base}
    assert other.put(f"{DECK}/antennas/left", json=move).status_code == 200
    assert mixer.put(f"{DECK}/antennas/left", json={**move, "x_m": 30}).status_code == 409
    assert mixer.put(f"{DECK}/antennas/left", json={"height_m": 3, "base_revision": base}).status_code == 200
    left = deck.show.document()["radio"]["grounds"][0]["antennas"][0]
    assert (left["at"], left["height"]) == ("12, 4 m", "3 m")


def test_a_power_that_is_set_with_one_touch_holds_on_every_site(desk: Desk, mixer: Any) -> None:
    """The chapel asks for little; the same transmitter needs far more on a quay as long as this."""
    part = radio_part()
    quay = json.loads(json.dumps(part["grounds"][0]))
    far = [{"id": "far", "name": "Far end", "line": "2, 22; 6, 22 m"}]
    part["grounds"].append({**quay, "id": "quay", "width": "600 m", "areas": [], "lines": far, "readings": []})
    for antenna in part["grounds"][-1]["antennas"]:
        antenna["at"] = "598, 4 m"
    with_radio(desk.show, part)
    own = radio_page_reach.answers(desk.show, "car-deck").result.powers
    waits = re.search(r'id="reach-powers".*?>', mixer.get("/reach?site=car-deck").text)
    assert waits is not None
    assert "load, " in waits[0]  # all sites take a moment, and come after the page
    of_all = radio_page_reach.least_of_all(desk.show, "car-deck")
    here = {each.least_mw for each in own if each.transmitter == "pack-03"}
    asked = of_all["pack-03"]
    assert (asked.ground, asked.at) == ("quay", "Far end")
    assert None not in here
    assert asked.power_mw is None or asked.power_mw > max(here)
    page = mixer.get("/pages/reach/part/powers?site=car-deck").text
    assert "for Far end, quay" in page
    assert "for Far end, quay" in mixer.get("/reach?site=car-deck").text  # at once, now that it is known
    sent = {float(each) for each in re.findall(r"pack-03&#34;.*?power_mw&#34;: ([0-9.]+)|$", page) if each}
    assert not sent & here


def test_powers_that_are_offered_are_those_of_the_kind(deck: Desk, guest: Any) -> None:
    told = guest.get(DECK).json()["powers"]["pack-03"]
    assert told["now_mw"] == 10
    assert told["now_mw"] in told["offered_mw"]
    assert told["offered_mw"] == sorted(told["offered_mw"])


def test_the_tables_follow_the_layout(deck: Desk, guest: Any) -> None:
    one, other = (
        guest.get(f"/pages/reach/part/tables?site=car-deck&layout={layout}").text
        for layout in ("at the cart", "on the set")
    )
    assert one != other
    assert 'hx-include="#reach-layout"' in one
