"""What is taken away from Radio and Reach: by everybody, in every form, with what the plan says in it."""

from __future__ import annotations

import csv
import re
from typing import Any

import pytest
from radio_plan import png, radio_part, with_radio

from rollsound.web.desk import Desk

BEGINS = {"png": b"\x89PNG", "svg": b"<svg", "pdf": b"%PDF-", "csv": "\ufefftransmitter,id".encode()}
WALKED = [(4, 12), (10, 8), (16, 4), (22, 20), (30, 4), (38, 20), (44, 8), (50, 14), (56, 8)]


def test_the_crews_plan_and_charts_are_linked_from_the_page_and_given_to_guests(desk: Desk, guest: Any) -> None:
    with_radio(desk.show)
    page = guest.get("/radio").text
    links = [each.replace("&amp;", "&") for each in re.findall(r'href="(/api/v1/radio/[^"]+)" download', page)]
    assert len(links) == 8  # two papers, two charts in three forms
    frequencies = {
        str(each["frequency"]).split()[0]
        for each in desk.show.document()["radio"]["transmitters"]
        if "frequency" in each
    }
    for link in links:
        answer = guest.get(link)
        form = link.partition("format=")[2].partition("&")[0]
        assert answer.status_code == 200, link
        assert answer.content.startswith(BEGINS[form]), link
        assert "attachment" in answer.headers["content-disposition"]
        if form == "csv":
            rows = [row for row in csv.reader(answer.text.splitlines()[1:]) if len(row) > 4]
            assert {float(row[4]) for row in rows if row[4]} == {float(each) for each in frequencies}


def test_the_map_is_taken_with_the_grounds_picture(desk: Desk, guest: Any) -> None:
    part = radio_part()
    part["grounds"][0]["image"] = "deck.png"
    (desk.show.folder / "deck.png").write_bytes(png(50, 20))
    with_radio(desk.show, part)
    assert 'action="/api/v1/reach/car-deck/chart"' in guest.get("/reach?site=car-deck").text
    ask = "/api/v1/reach/car-deck/chart?transmitter=pack-03&layout=at+the+cart"
    drawn = guest.get(f"{ask}&format=svg")
    assert drawn.headers["content-disposition"] == 'attachment; filename="reach-car-deck.svg"'
    assert drawn.content.count(b"<image") == 1
    assert guest.get(f"{ask}&format=pdf").content.startswith(BEGINS["pdf"])
    (desk.show.folder / "deck.png").write_bytes(b"no picture")
    without = guest.get(f"{ask}&format=svg")
    assert (without.status_code, without.content.count(b"<image")) == (200, 0)


def test_the_walk_test_is_taken_once_there_are_readings(desk: Desk, mixer: Any, guest: Any) -> None:
    with_radio(desk.show)
    ask = "/api/v1/reach/car-deck/walk-chart"
    none = guest.get(ask)
    assert (none.status_code, none.headers["content-type"]) == (400, "application/problem+json")
    for x, y in WALKED:
        given = {"x_m": x, "y_m": y, "level_dbm": -50 - x / 2, "transmitter": "pack-03", "antenna": "left"}
        assert mixer.post("/api/v1/reach/car-deck/readings", json=given).status_code == 200
    assert "walk-chart?format=pdf" in guest.get("/pages/reach/part/walk?site=car-deck").text
    assert guest.get(f"{ask}?format=png").content.startswith(BEGINS["png"])


@pytest.mark.parametrize(
    "path", ["radio/chart?what=spectrum", "radio/paper", "reach/nowhere/chart", "reach/nowhere/walk-chart"]
)
def test_what_is_not_there_is_told_in_a_sentence(desk: Desk, guest: Any, path: str) -> None:
    answer = guest.get(f"/api/v1/{path}")
    assert answer.status_code == 400
    assert str(desk.show.folder) not in answer.text
