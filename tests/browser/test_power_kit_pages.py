"""Power and Kit in a browser: what a change would do, a row that is written in its dialog, and both by night."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import laws
import pytest
from browsing import Visits
from playwright.sync_api import Page, expect
from serving import Served, new_show

from rollsound.web.pages import PAGES

_FIRST_MS = 40_000
_UNDO = """async (times) => {
  const headers = { "X-Rollsound-Token": document.querySelector("meta[name=rollsound-token]").content };
  let answer;
  for (; times; times -= 1) answer = await fetch("/api/v1/undo", { method: "POST", headers });
  return answer.status;
}"""


@pytest.fixture(scope="module")
def ferry_visits(browser: Any, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Visits]:
    """Visits to the demo's plan, which these tests change and put back."""
    with Served(new_show(tmp_path_factory.mktemp("ferry"), media=False)) as served:
        made = Visits(browser, served)
        yield made
        made.close()


def opened(visits: Visits, name: str, size: str = "laptop", theme: str = "day") -> tuple[Page, list[str]]:
    path = next(page.path for page in PAGES if page.name == name)
    page, trouble = visits.open(path, size, theme)
    expect(page.locator(f"#{name}-verdict")).not_to_be_empty(timeout=_FIRST_MS)
    return page, trouble.said


def test_a_change_is_tried_kept_and_a_row_is_written(ferry_visits: Visits) -> None:
    page, said = opened(ferry_visits, "power")
    before = page.locator("#power-verdict").inner_text()
    tried, count = page.locator("#power-tried"), page.locator("#try-count-pack-cell")
    count.fill("40")
    expect(tried).to_be_visible()
    expect(tried.locator("[data-tried=after]")).to_contain_text("does not carry the day", timeout=_FIRST_MS)
    expect(tried.locator("[data-tried=new] li").first).to_contain_text("flat at")
    below = tried.evaluate("(each) => each.getBoundingClientRect().top")
    assert count.evaluate("(each) => each.getBoundingClientRect().bottom") < below  # what is typed in stays in sight
    assert page.locator("#power-verdict").inner_text() == before  # nothing is saved yet
    page.locator("#try-back").click()
    expect(tried).to_be_hidden()
    expect(count).to_have_value("160")
    count.fill("40")
    expect(tried.locator("[data-tried=after]")).to_contain_text("does not carry the day", timeout=_FIRST_MS)
    page.locator("#try-keep").click()
    expect(page.locator("#power-verdict")).to_contain_text("does not carry the day", timeout=_FIRST_MS)
    expect(page.locator("#try-count-pack-cell")).to_have_value("40")
    # the row of the same batteries, in its dialog, back to what it was
    page.locator("#battery-pack-cell button").click()
    dialog = page.locator("#row-dialog")
    expect(dialog.locator("#row-count")).to_have_value("40")
    assert [*laws.accessible(page), *laws.small_targets(page)] == []
    dialog.locator("#row-count").fill("160")
    dialog.locator("button[type=submit]").click()
    expect(dialog).to_be_hidden()
    expect(page.locator("#power-verdict")).to_have_text(before, timeout=_FIRST_MS)
    assert page.evaluate(_UNDO, 2) == 200
    assert said == []
    page.close()


def test_an_item_is_found_written_and_undone(ferry_visits: Visits) -> None:
    page, said = opened(ferry_visits, "kit")
    page.locator("#kit-seek").fill("fader")
    rows = page.locator("#kit-list tr[data-item]:visible")
    expect(rows).to_have_count(1)
    rows.locator("button").click()
    dialog = page.locator("#row-dialog")
    expect(dialog.locator("#row-mass")).to_have_value("3.2 kg")
    dialog.locator("#row-mass").fill("3.4 litres")
    dialog.locator("button[type=submit]").click()
    expect(dialog.locator("[data-outcome]")).to_contain_text("Not saved")
    dialog.locator("#row-mass").fill("3.4 kg")
    dialog.locator("#row-serials").fill("NF-77")
    dialog.locator("button[type=submit]").click()
    expect(dialog).to_be_hidden()
    expect(rows).to_have_count(1)  # what is sought stays sought
    expect(rows.first).to_contain_text("NF-77", timeout=_FIRST_MS)
    assert page.evaluate(_UNDO, 1) == 200
    expect(rows.first).to_contain_text("3.2 kg", timeout=_FIRST_MS)
    assert [each for each in said if "422" not in each] == []
    page.close()


@pytest.mark.parametrize("name", ["power", "kit"])
def test_by_night_on_a_phone(ferry_visits: Visits, name: str) -> None:
    page, said = opened(ferry_visits, name, "phone", "night")
    for summary in page.locator("main summary").all()[:12]:
        summary.evaluate("(each) => { each.parentElement.open = true; }")
    broken = [*laws.policy(page), *laws.overflow(page), *laws.accessible(page), *laws.small_targets(page)]
    broken += [*laws.headings(page), *laws.keyboard(page, 8)]
    assert [*broken, *said] == []
    assert page.locator(".power-picture").is_hidden() if name == "power" else True
    page.close()
