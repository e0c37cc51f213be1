"""Radio in a browser: a carrier is moved by arrows and by pointer, a search is taken, a scan comes in; crew read."""

from __future__ import annotations

import re
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import httpx
import laws
import pytest
from browsing import SIZES, SIZES_OF_ALL, THEMES, Visits, open_in
from playwright.sync_api import expect
from serving import Served, new_show

from rollsound.show.folder import Show

sys.path.insert(0, str(Path(__file__).parents[1] / "web"))

from radio_plan import with_radio

_FEW = 3
LOOKS = [
    pytest.param(size, theme, marks=() if (size, theme) == ("phone", "night") else pytest.mark.soak)
    for size in SIZES
    for theme in THEMES
]


@pytest.fixture(scope="module")
def planned(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """A show with the radio part of the tests."""
    folder = new_show(tmp_path_factory.mktemp("radio"), media=False)
    with Show.open(folder) as show:
        with_radio(show)
    with Served(folder, lan=True) as made:
        yield made


@pytest.fixture(scope="module")
def radio_visits(browser: Any, planned: Served) -> Iterator[Visits]:
    made = Visits(browser, planned)
    yield made
    made.close()


def frequency(visits: Visits, id: str) -> int:
    told = httpx.get(f"{visits.served.home}/api/v1/radio", cookies=visits.cookies(), timeout=20).json()
    return int(next(each for each in told["rows"] if each["id"] == id)["freq_hz"])


def undo(visits: Visits) -> None:
    """Back to the plan as it was, by the page of the plan."""
    page, _ = visits.open("/plan")
    page.locator("#undo-mine").click()
    expect(page.locator("[data-outcome-of=undo-mine]")).not_to_be_empty()
    page.close()


@pytest.mark.parametrize(("size", "theme"), LOOKS)
def test_the_page_keeps_the_laws_with_a_carrier_in_hand(radio_visits: Visits, size: str, theme: str) -> None:
    page, trouble = radio_visits.open("/radio", size, theme)
    page.locator("[data-pick=pack-03]").click()
    expect(page.locator("[data-tuned-says]")).to_contain_text("kHz", timeout=40_000)  # the first check loads much
    page.locator("#tuner-range").press("ArrowRight")
    expect(page.locator("#row-pack-03.tried")).to_be_visible()
    page.locator("#radio-add > summary").click()
    page.locator("#radio-scan > summary").click()
    broken = [*laws.policy(page), *laws.overflow(page), *laws.accessible(page), *laws.small_targets(page)]
    assert [*broken, *trouble.said] == []
    page.close()


@pytest.mark.parametrize("size", SIZES_OF_ALL["phone"])
def test_a_carrier_moves_by_arrow_keys_and_every_margin_follows(radio_visits: Visits, size: str) -> None:
    page, trouble = radio_visits.open("/radio", size)
    before = frequency(radio_visits, "pack-06")
    page.locator("[data-pick=pack-06]").press("Enter")
    slider = page.locator("#tuner-range")
    expect(slider).to_be_focused()
    expect(page.locator("#tuner")).to_have_attribute("data-answered", str(before))
    others = page.locator("tr[data-carrier=pack-05] [data-cell=margin]").inner_text()
    for _ in range(4):
        page.keyboard.press("ArrowRight")
    expect(page.locator("#row-pack-06 [data-cell=frequency]")).to_have_text(f"{(before + 100_000) / 1e6:.3f}")
    page.locator("#tuner-typed").fill(f"{(frequency(radio_visits, 'pack-05') + 100_000) / 1e6:.3f}")
    expect(page.locator("#row-pack-06 .tag.stop")).to_be_visible()
    for wrong, why in (("700", "It tunes from"), ("480.512", "steps of 25 kHz"), ("48o.5", "is no frequency")):
        page.fill("#tuner-typed", wrong)
        page.locator("#tuner-typed").press("Enter")
        expect(page.locator("[data-tuner-outcome]")).to_contain_text(why)
    page.fill("#tuner-typed", "480.5 MHz")
    expect(page.locator("[data-tuned-frequency]")).to_have_text("480.500 MHz")
    page.fill("#tuner-typed", f"{(frequency(radio_visits, 'pack-05') + 100_000) / 1e6:.3f}")
    expect(page.locator("#row-pack-05 [data-cell=margin]")).not_to_have_text(others)
    expect(page.locator("#row-pack-05 [data-cell=says]")).to_contain_text("Okello")
    assert frequency(radio_visits, "pack-06") == before
    page.locator("#tuner-typed").press("Escape")
    expect(page.locator("#tuner")).to_be_hidden()
    expect(page.locator("#row-pack-05 [data-cell=margin]")).to_have_text(others)
    assert trouble.said == []
    page.close()


@pytest.mark.parametrize("size", SIZES_OF_ALL["tablet"])
def test_a_carrier_is_dragged_kept_and_undone(radio_visits: Visits, size: str) -> None:
    page, trouble = radio_visits.open("/radio", size)
    before = frequency(radio_visits, "boom-1-tx")
    page.locator("[data-pick=boom-1-tx]").click()
    expect(page.locator("#tuner")).to_have_attribute("data-answered", str(before))
    canvas = page.locator("#spectrum")
    canvas.scroll_into_view_if_needed()
    box = canvas.bounding_box()
    assert box is not None
    middle = box["x"] + box["width"] / 2  # what is picked is brought into the middle
    page.mouse.move(middle, box["y"] + box["height"] / 2)
    page.mouse.down()
    page.mouse.move(middle + 30, box["y"] + box["height"] / 2, steps=4)
    page.mouse.move(middle + 60, box["y"] + box["height"] / 2, steps=4)
    page.mouse.up()
    expect(page.locator("#tuner")).not_to_have_attribute("data-answered", str(before))
    tried = int(page.locator("#tuner-range").input_value())
    assert tried > before
    assert (tried - 614_000_000) % 25_000 == 0
    expect(page.locator("#tuner")).to_have_attribute("data-answered", str(tried))
    page.locator("[data-tuner=keep]").click()
    expect(page.locator("#tuner")).to_be_hidden()
    assert frequency(radio_visits, "boom-1-tx") == tried
    undo(radio_visits)
    assert frequency(radio_visits, "boom-1-tx") == before
    assert trouble.said == []
    page.close()


def test_the_picture_shows_the_carriers(radio_visits: Visits) -> None:
    """Columns of the picture in the colour of what does not hold: none where the picture is empty."""
    page, _ = radio_visits.open("/radio")
    count = """() => {
      const canvas = document.getElementById("spectrum");
      const probe = document.createElement("canvas").getContext("2d");
      probe.fillStyle = getComputedStyle(document.documentElement).getPropertyValue("--stop").trim();
      probe.fillRect(0, 0, 1, 1);
      const [r, g, b] = probe.getImageData(0, 0, 1, 1).data;
      const { data } = canvas.getContext("2d").getImageData(0, Math.round(canvas.height / 2), canvas.width, 1);
      let found = 0;
      for (let at = 0; at < data.length; at += 4) {
        const far = Math.abs(data[at] - r) + Math.abs(data[at + 1] - g) + Math.abs(data[at + 2] - b);
        found += data[at + 3] > 200 && far < 40;
      }
      return found;
    }"""
    expect(page.locator("#radio-picture")).to_have_attribute("data-drawn", re.compile(r"\d+"))
    stops = page.locator("tr[data-weight=stop]").count()
    assert _FEW <= stops <= page.evaluate(count)
    page.route("**/api/v1/radio/spectrum?*", lambda route: route.abort())
    page.reload()
    page.wait_for_timeout(400)
    assert page.evaluate(count) == 0
    page.close()


@pytest.mark.parametrize("size", SIZES_OF_ALL["laptop"])
def test_a_search_shows_how_far_it_is_and_is_taken(radio_visits: Visits, size: str) -> None:
    page, trouble = radio_visits.open("/radio", size)
    page.fill("#find-seconds", "2")
    page.locator("#radio-find button[type=submit]").click()
    expect(page.locator("#radio-search progress")).to_be_visible()
    expect(page.locator("#search-sentence")).to_contain_text("16 of 16 placed", timeout=40_000)
    assert laws.accessible(page) == []
    page.locator("#search-take").click()
    expect(page.locator("#radio-verdict")).to_have_text(re.compile(r"All 16 carriers hold; the closest keeps \d+"))
    expect(page.locator("tr[data-weight=stop]")).to_have_count(0)
    undo(radio_visits)
    assert trouble.said == []
    page.close()


def test_a_search_is_stopped(radio_visits: Visits) -> None:
    page, trouble = radio_visits.open("/radio")
    page.fill("#find-seconds", "200")
    page.locator("#radio-find button[type=submit]").click()
    page.locator("#search-stop").click()
    expect(page.locator("#search-sentence")).to_be_visible(timeout=30_000)
    page.locator("#search-drop").click()
    expect(page.locator("#search-sentence")).to_have_count(0)
    assert trouble.said == []
    page.close()


def test_a_scan_comes_in_and_what_it_touches_is_told(radio_visits: Visits, tmp_path: Path) -> None:
    scan = tmp_path / "deck.csv"
    levels = ((470 + n * 0.1, -55 if n in (2, 3) else -104) for n in range(720))
    scan.write_text("frequency MHz;level dBm\n" + "".join(f"{mhz:.3f};{dbm}\n" for mhz, dbm in levels))
    page, trouble = radio_visits.open("/radio", "tablet")
    page.locator("#radio-scan > summary").click()
    page.set_input_files("#scan-file", scan)
    page.fill("#scan-name", "Car deck 06:40")
    page.locator("#scan-form button").click()
    expect(page.locator("#scan-form [data-outcome]")).to_contain_text("now lies in used spectrum")
    expect(page.locator("#row-pack-01 .tag.stop")).to_be_visible()
    expect(page.locator("#radio-scans li")).to_contain_text("Car deck 06:40")
    page.locator("#radio-scans [role=switch]").click()
    expect(page.locator("#radio-scans [role=switch]")).to_have_attribute("aria-checked", "false")
    assert trouble.said == []
    page.close()


def test_a_carrier_kept_without_a_connection_is_let_go_when_it_was_sent(radio_visits: Visits) -> None:
    context = radio_visits.another("tablet")
    page, _ = open_in(context, f"{radio_visits.served.home}/radio")
    before = frequency(radio_visits, "pack-06")
    page.locator("[data-pick=pack-06]").click()
    expect(page.locator("#tuner")).to_have_attribute("data-answered", str(before), timeout=40_000)
    context.set_offline(True)
    page.locator("#tuner-range").press("ArrowRight")
    expect(page.locator("[data-tuner-outcome]")).to_contain_text("the server does not answer")
    page.locator("[data-tuner=keep]").click()
    expect(page.locator("[data-tuner-outcome]")).to_contain_text("Kept on this device")
    context.set_offline(False)
    expect(page.locator("#tuner")).to_be_hidden(timeout=20_000)
    assert frequency(radio_visits, "pack-06") == before + 25_000
    context.close()
    undo(radio_visits)


@pytest.mark.parametrize("size", SIZES_OF_ALL["phone"])
def test_on_air_is_a_switch(radio_visits: Visits, size: str) -> None:
    page, trouble = radio_visits.open("/radio", size)
    switch = page.locator("#row-pack-07 [role=switch]")
    expect(switch).to_have_attribute("aria-checked", "false")
    switch.press("Enter")
    expect(switch).to_have_attribute("aria-checked", "true")
    switch.press("Enter")
    expect(switch).to_have_attribute("aria-checked", "false")
    assert trouble.said == []
    page.close()


@pytest.mark.parametrize("theme", [pytest.param("day", marks=pytest.mark.soak), "night"])
def test_crew_read_the_frequencies_on_a_phone(
    planned: Served, own_visits: Callable[[Served], Visits], theme: str
) -> None:
    visits = own_visits(planned)
    token_page, _ = visits.open("/settings")
    token = token_page.locator("meta[name=rollsound-token]").get_attribute("content") or ""
    answer = httpx.post(
        f"{planned.home}/api/v1/join-codes",
        json={"role": "crew"},
        cookies=visits.cookies(),
        headers={"origin": planned.home, "x-rollsound-token": token},
        timeout=10,
    )
    context = visits.another("phone", theme, state={})
    page = context.new_page()
    page.goto(f"{planned.home}/join")
    page.fill("#code", answer.json()["code"])
    page.fill("#name", "Tomas")
    page.click("main button[type=submit]")
    page.wait_for_url(re.compile(r"/(ready|)$"))
    page.goto(f"{planned.home}/radio")
    expect(page.locator("#row-pack-06 [data-cell=frequency]")).to_be_visible()
    assert page.locator("main button:not([data-view])").count() == 0
    assert [*laws.overflow(page), *laws.accessible(page), *laws.policy(page), *laws.keyboard(page)] == []
    context.close()
