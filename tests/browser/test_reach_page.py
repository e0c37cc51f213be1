"""Reach in a browser: an antenna is dragged and moved by arrows while the map follows; powers, layouts, walk tests."""

from __future__ import annotations

import re
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import httpx
import laws
import pytest
from browsing import SIZES, SIZES_OF_ALL, THEMES, Visits, open_in
from playwright.sync_api import Page, expect
from serving import Served, new_show

from rollsound.show.folder import Show

sys.path.insert(0, str(Path(__file__).parents[1] / "web"))

from radio_plan import with_radio

# The main act is tried at every size with every run; the others at one of them, and at all in the long run.
LOOKS = [
    pytest.param(size, theme, marks=() if (size, theme) == ("phone", "night") else pytest.mark.soak)
    for size in SIZES
    for theme in THEMES
]
# What the map looks like, so that two pictures can be told apart.
_PICTURE = """() => {
  const canvas = document.getElementById("reach-map");
  const { data } = canvas.getContext("2d").getImageData(0, 0, canvas.width, canvas.height);
  let sum = 0;
  const seen = new Set();
  for (let at = 0; at < data.length; at += 4) {
    const colour = (data[at] << 16) | (data[at + 1] << 8) | data[at + 2];
    seen.add(colour);
    sum = (sum * 31 + colour) % 2147483647;
  }
  return [sum, seen.size];
}"""
_LEAST_COLOURS = 3
_UNDO = """async (times) => {
  const headers = { "X-Rollsound-Token": document.querySelector("meta[name=rollsound-token]").content };
  let answer;
  for (; times; times -= 1) answer = await fetch("/api/v1/undo", { method: "POST", headers });
  return answer.status;
}"""


@pytest.fixture(scope="module")
def deck(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """A show with the ground of the tests."""
    folder = new_show(tmp_path_factory.mktemp("reach"), media=False)
    with Show.open(folder) as show:
        with_radio(show)
    with Served(folder) as made:
        yield made


@pytest.fixture(scope="module")
def deck_visits(browser: Any, deck: Served) -> Iterator[Visits]:
    made = Visits(browser, deck)
    yield made
    made.close()


def opened(visits: Visits, size: str = "laptop", theme: str = "day") -> tuple[Page, list[str]]:
    """The page with one transmitter and the antennas at the cart, when its map is drawn."""
    page, trouble = visits.open("/reach", size, theme)
    expect(page.locator("#reach-answer[data-answered]")).to_be_attached(timeout=40_000)
    expect(page.locator("#reach-tables[data-answered]")).to_be_attached(timeout=40_000)
    expect(page.locator("#reach")).to_have_attribute("data-drawn", re.compile(r"\d+ 160"), timeout=40_000)
    page.select_option("#reach-layout", "at the cart")
    page.select_option("#reach-transmitter", "pack-03")
    drawn(page)
    return page, trouble.said


def drawn(page: Page) -> tuple[int, int]:
    """The map when it rests."""
    page.wait_for_timeout(300)
    expect(page.locator("#reach")).to_have_attribute("data-drawn", re.compile(r"\d+ 160"), timeout=20_000)
    seen = page.evaluate(_PICTURE)
    return int(seen[0]), int(seen[1])


def place(visits: Visits, antenna: str) -> tuple[float, float]:
    told = httpx.get(f"{visits.served.home}/api/v1/reach/car-deck", cookies=visits.cookies(), timeout=20).json()
    found = next(each for each in told["antennas"] if each["id"] == antenna)
    return found["x_m"], found["y_m"]


def undo(visits: Visits) -> None:
    """Back to the plan as it was, by the page of the plan."""
    page, _ = visits.open("/plan")
    page.locator("#undo-mine").click()
    expect(page.locator("[data-outcome-of=undo-mine]")).not_to_be_empty()
    page.close()


@pytest.mark.parametrize(("size", "theme"), LOOKS)
def test_the_page_keeps_the_laws_when_all_is_open(deck_visits: Visits, size: str, theme: str) -> None:
    page, said = opened(deck_visits, size, theme)
    page.locator("#reach-least > summary").click()
    page.locator("#reach-antennas > summary").click()
    page.locator("#antenna-left > summary").click()
    page.locator("#why-form button").click()
    expect(page.locator("#why-terms table").first).to_be_visible()
    page.locator("#reach-compare button").click()
    expect(page.locator("#reach-sides canvas")).to_have_count(2)
    broken = [*laws.policy(page), *laws.overflow(page), *laws.accessible(page), *laws.small_targets(page)]
    assert [*broken, *said] == []
    page.close()


@pytest.mark.parametrize("size", SIZES_OF_ALL["laptop"])
def test_an_antenna_moves_by_arrow_keys_and_the_map_follows(deck_visits: Visits, size: str) -> None:
    page, said = opened(deck_visits, size)
    before = drawn(page)
    assert before[1] >= _LEAST_COLOURS
    antenna = page.locator("[data-antenna=left]")
    antenna.focus()
    for _ in range(12):
        page.keyboard.press("ArrowLeft")
    expect(antenna).to_have_attribute("aria-label", re.compile(r"Left, at 44\.0, 4\.0 m"))
    expect(page.locator("#reach-tried")).to_be_visible()
    after = drawn(page)
    assert after[0] != before[0]
    assert place(deck_visits, "left") == (50.0, 4.0)  # tried, not kept
    antenna.press("Escape")
    expect(page.locator("#reach-tried")).to_be_hidden()
    assert drawn(page) == before
    assert said == []
    page.close()


@pytest.mark.parametrize("size", ["tablet", *(pytest.param(s, marks=pytest.mark.soak) for s in ("laptop", "phone"))])
def test_an_antenna_is_dragged_kept_and_undone(deck_visits: Visits, size: str) -> None:
    page, said = opened(deck_visits, size)
    antenna, ground = page.locator("[data-antenna=left]"), page.locator("#reach-ground")
    ground.scroll_into_view_if_needed()
    start, field = antenna.bounding_box(), ground.bounding_box()
    assert start is not None
    assert field is not None
    x, y = start["x"] + 22, start["y"] + 22
    page.mouse.move(x, y)
    page.mouse.down()
    antenna.evaluate("(mark) => { mark.dataset.held = ''; document.body.dispatchEvent(new CustomEvent('live-plan')); }")
    page.wait_for_timeout(300)
    expect(antenna).to_have_attribute("data-held", "")  # what is dragged is not drawn anew below the pointer
    page.mouse.move(x - field["width"] / 6, y, steps=6)  # a sixth of 60 m
    page.mouse.up()
    expect(antenna).to_have_attribute("aria-label", re.compile(r"Left, at (39|40|41)\.\d, [34]\.\d m"))
    expect(antenna).not_to_have_attribute("data-held", "")
    drawn(page)
    page.locator("[data-reach=keep]").click()
    expect(page.locator("#reach-tried")).to_be_hidden()
    assert place(deck_visits, "left")[0] == pytest.approx(40, abs=1)
    undo(deck_visits)
    assert place(deck_visits, "left") == (50.0, 4.0)
    assert said == []
    page.close()


def test_a_power_is_tried_and_kept(deck_visits: Visits) -> None:
    page, said = opened(deck_visits, "phone")
    before = drawn(page)
    page.select_option("#reach-power", "250")
    assert drawn(page)[0] != before[0]
    page.locator("[data-reach=keep]").click()
    expect(page.locator("#reach-tried")).to_be_hidden()
    told = httpx.get(f"{deck_visits.served.home}/api/v1/radio", cookies=deck_visits.cookies(), timeout=20).json()
    assert next(each["power"] for each in told["rows"] if each["id"] == "pack-03") == "250 mW"
    undo(deck_visits)
    assert said == []
    page.close()


def test_a_reading_is_entered_by_touching_the_map_and_taken_out(deck_visits: Visits) -> None:
    page, said = opened(deck_visits, "phone")
    page.locator("#walk-tap").click()
    ground = page.locator("#reach-ground")
    box = ground.bounding_box()
    assert box is not None
    ground.click(position={"x": box["width"] / 4, "y": box["height"] / 2})
    expect(page.locator("#walk-level")).to_be_focused()
    assert float(page.input_value("#walk-x")) == pytest.approx(15, abs=0.3)
    assert float(page.input_value("#walk-y")) == pytest.approx(12, abs=0.3)
    page.fill("#walk-level", "-71.5")
    page.locator("#walk-form button[type=submit]").click()
    expect(page.locator("#walk-form [data-outcome]")).to_contain_text("-71.5 dBm")
    expect(page.locator(".reach-label.reading")).to_contain_text("-71.5")
    row = page.locator(".reach-readings tbody tr")
    expect(row).to_have_count(1)
    row.locator("button").click()
    expect(row).to_have_count(0)
    assert said == []
    page.close()


def test_the_why_of_a_place_stands_below_the_map(deck_visits: Visits) -> None:
    page, said = opened(deck_visits)
    ground = page.locator("#reach-ground")
    box = ground.bounding_box()
    assert box is not None
    ground.click(position={"x": box["width"] / 4, "y": box["height"] / 2})
    expect(page.locator("#why-at")).to_contain_text("Runa at 15")
    expect(page.locator("#why-terms table").first).to_contain_text("ITU-R P.525")
    assert said == []
    page.close()


def test_all_that_is_kept_without_a_connection_is_sent_and_what_is_typed_since_stays(deck_visits: Visits) -> None:
    context = deck_visits.another("tablet")
    page, _ = open_in(context, f"{deck_visits.served.home}/reach")
    drawn(page)
    context.set_offline(True)
    for antenna in ("left", "right"):
        page.locator(f"[data-antenna={antenna}]").focus()
        page.keyboard.press("ArrowLeft")
    page.locator("[data-reach=keep]").click()
    expect(page.locator("#reach-kept")).to_contain_text("Kept on this device")
    expect(page.locator("#reach-tried")).to_be_hidden()
    for field, value in (("x", "15"), ("y", "12"), ("level", "-71.5")):
        page.fill(f"#walk-{field}", value)
    page.locator("#walk-form button[type=submit]").click()
    expect(page.locator("#walk-form [data-outcome]")).to_contain_text("Kept on this device")
    page.fill("#walk-level", "-80")
    context.set_offline(False)
    expect(page.locator("#walk-form [data-outcome]")).to_contain_text("not saved yet", timeout=20_000)
    expect(page.locator("#walk-level")).to_have_value("-80")
    assert (place(deck_visits, "left"), place(deck_visits, "right")) == ((49.5, 4.0), (51.5, 20.0))
    page.reload()
    expect(page.locator("#walk-level")).to_have_value("-80")
    page.locator("#walk-form button[type=submit]").click()
    expect(page.locator("#walk-level")).to_have_value("")
    expect(page.locator(".reach-readings tbody tr")).to_have_count(2)
    assert page.evaluate(_UNDO, 4) == 200
    context.close()
