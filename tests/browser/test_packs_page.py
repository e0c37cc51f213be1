"""Packs in a browser: a pack plan worked out by a tap, and its lanes at every width and by night."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import laws
import pytest
from browsing import SIZES, THEMES, Visits
from playwright.sync_api import expect
from serving import Served, new_show

_FIRST_MS = 60_000


@pytest.fixture(scope="module")
def packs_visits(browser: Any, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Visits]:
    """Visits to the demo's plan, which this changes."""
    with Served(new_show(tmp_path_factory.mktemp("packs"), media=False)) as served:
        made = Visits(browser, served)
        yield made
        made.close()


def test_a_plan_is_worked_out_by_a_tap_and_its_lanes_keep_the_laws(packs_visits: Visits) -> None:
    page, trouble = packs_visits.open("/packs", "laptop", "day")
    expect(page.locator("#packs-verdict")).not_to_be_empty(timeout=_FIRST_MS)
    page.locator("#packs-anew button").click()
    expect(page.locator("#packs-verdict")).to_contain_text("Everybody is covered", timeout=_FIRST_MS)
    expect(page.locator("[data-outcome-of=packs-anew]")).to_contain_text("A pack plan for")
    first = page.locator("details.packs-day").first
    expect(first.locator("tbody tr").first).to_contain_text("Pack 1")
    expect(page.locator("#packs-through")).to_be_visible()
    page.reload()
    expect(page.locator("#packs-verdict")).to_contain_text("Everybody is covered", timeout=_FIRST_MS)
    broken = [*laws.overflow(page), *laws.accessible(page), *laws.headings(page), *laws.small_targets(page)]
    broken += laws.keyboard(page, 8)
    for size in ("tablet", "phone"):
        width, height = SIZES[size]
        page.set_viewport_size({"width": width, "height": height})
        broken += [f"as on a {size}: {each}" for each in [*laws.overflow(page), *laws.small_targets(page)]]
    page.emulate_media(color_scheme=THEMES["night"])
    broken += [f"by night: {each}" for each in laws.accessible(page)]
    assert not broken, "\n".join(broken)
    page.locator("#packs-near button").click()
    expect(page.locator("[data-outcome-of=packs-near]")).to_contain_text("Nothing differs", timeout=_FIRST_MS)
    assert trouble.said == []
    page.close()
