"""Script in a browser: a scene dragged to another day, the same by keys, and a revision read from its file."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import laws
import pytest
from browsing import Visits
from playwright.sync_api import Locator, Page, expect
from serving import NORTHBOUND, Served, new_show

_FIRST_MS = 40_000
_PARTS = ("version", "show", "people", "sites", "schedule", "script", "songs")
FOUNTAIN = NORTHBOUND.with_suffix(".fountain")


@pytest.fixture(scope="module")
def script_visits(browser: Any, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Visits]:
    """Visits to the script and schedule of the demo, which these tests change."""
    with Served(new_show(tmp_path_factory.mktemp("script"), media=False, parts=_PARTS)) as served:
        made = Visits(browser, served)
        yield made
        made.close()


def opened(visits: Visits) -> tuple[Page, list[str]]:
    page, trouble = visits.open("/script", "laptop", "day")
    expect(page.locator("#script-verdict")).not_to_be_empty(timeout=_FIRST_MS)
    return page, trouble.said


def day(page: Page, id: str) -> Locator:
    return page.locator(f"#script-schedule [data-day='{id}']")


def scenes(page: Page, id: str) -> list[str]:
    return [each.get_attribute("data-chip") or "" for each in day(page, id).locator("[data-chip]").all()]


def test_scenes_are_put_on_other_days_by_mouse_and_by_keys(script_visits: Visits) -> None:
    page, said = opened(script_visits)
    assert scenes(page, "day-7") == ["1", "7"]
    day(page, "day-7").locator("[data-chip='7']").drag_to(day(page, "day-8").locator("[data-chip='9']"))
    expect(day(page, "day-8").locator("[data-chip]")).to_have_count(3, timeout=_FIRST_MS)
    assert scenes(page, "day-8") == ["2", "7", "9"]  # before the one that it was dropped on
    assert scenes(page, "day-7") == ["1"]
    # the same back again, without a mouse
    chip = day(page, "day-8").locator("[data-chip='7'] button")
    chip.focus()
    page.keyboard.press("Enter")
    expect(chip).to_have_attribute("aria-pressed", "true")
    page.keyboard.press("Escape")
    expect(chip).to_have_attribute("aria-pressed", "false")
    page.keyboard.press("Enter")
    place = day(page, "day-7").locator(".script-place")
    expect(place).to_be_visible()
    assert [*laws.accessible(page), *laws.small_targets(page)] == []
    place.focus()
    page.keyboard.press("Enter")
    expect(day(page, "day-7").locator("[data-chip]")).to_have_count(2, timeout=_FIRST_MS)
    assert (scenes(page, "day-7"), scenes(page, "day-8")) == (["1", "7"], ["2", "9"])
    assert said == []
    page.close()


def test_a_revision_is_read_and_tells_what_it_costs(script_visits: Visits, tmp_path: Path) -> None:
    text = FOUNTAIN.read_text("utf-8")
    scene = "INT. CAR DECK - DAY #4A#\n\nBRAM\nWho sold her a single?\n\nHARU\nI did.\n\n"
    revised = text.replace("INT. CAR DECK - CONTINUOUS #5#", scene + "INT. CAR DECK - CONTINUOUS #5#")
    revised = revised.replace("You breathe after the fourth bar.", "You breathe after the fourth bar, always.")
    assert revised.count("#4A#") == 1
    file = tmp_path / "northbound blue.fountain"
    file.write_text(revised, "utf-8")
    page, said = opened(script_visits)
    page.locator("#script-file").set_input_files(str(file))
    page.locator("#script-form button[type=submit]").click()
    changed = page.locator("section[aria-labelledby=script-changed]")
    expect(changed).to_contain_text("4A", timeout=_FIRST_MS)
    changed.locator("summary").click()
    expect(changed.locator("#script-changed-scenes li").filter(has_text="4A")).to_have_count(1)
    expect(changed.locator("#script-changed-scenes li").filter(has_text="Idris")).to_contain_text("1 word")
    expect(day(page, "").locator("[data-chip]")).to_have_count(1)  # new, and on no day yet
    # what is no script is refused in one sentence, and nothing changes
    wrong = tmp_path / "wrong.fountain"
    wrong.write_bytes(b"%PDF-1.7 nothing to read")
    page.locator("#script-file").set_input_files(str(wrong))
    page.locator("#script-form button[type=submit]").click()
    expect(page.locator("#script-outcome")).to_contain_text("is a PDF", timeout=_FIRST_MS)
    expect(changed).to_contain_text("4A")
    assert [text for text in said if "400" not in text and "422" not in text] == []
    page.close()
