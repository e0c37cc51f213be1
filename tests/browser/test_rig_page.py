"""Rig in a browser: a changeover is flipped, a path lit, a failure tried, a link edited; by night on a phone too."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

import laws
import pytest
from browsing import SIZES, THEMES, Visits
from playwright.sync_api import Page, expect
from serving import Served, new_show

# The proofs of the demo's rig take seconds, and the machine may be busy with other tests.
PROVEN_WITHIN_MS = 60_000
LOOKS = [
    pytest.param(size, theme, marks=() if (size, theme) == ("phone", "night") else pytest.mark.soak)
    for size in SIZES
    for theme in THEMES
]


@pytest.fixture(scope="module")
def wired(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """A show of its own with the demo's rig."""
    with Served(new_show(tmp_path_factory.mktemp("rig"), media=False)) as made:
        yield made


@pytest.fixture(scope="module")
def rig_visits(browser: Any, wired: Served) -> Iterator[Visits]:
    made = Visits(browser, wired)
    yield made
    made.close()


def flip(page: Page, changeover: str, position: str) -> None:
    page.locator(f"[data-changeover={changeover}] [data-position={position}]").click()


def touch(page: Page, piece: str) -> None:
    """Touch a box of the drawing in its middle, wherever it is scrolled to."""
    box = page.locator(f"#rig-frame [data-piece={piece}] rect")
    box.scroll_into_view_if_needed()
    box.click()


def test_a_flip_a_path_a_failure_and_an_edit(rig_visits: Visits) -> None:
    page, trouble = rig_visits.open("/rig", "laptop")
    expect(page.locator("#rig-verdict")).to_have_text(
        re.compile(r"^Everything reaches its place in all 32 combinations\.$"), timeout=PROVEN_WITHIN_MS
    )
    expect(page.locator("#rig-frame [data-piece=boom-1-plug]")).to_have_count(0)
    flip(page, "boom-1", "radio")
    expect(page.locator(".rig-sentence")).to_have_text(re.compile(r"^Boom 1, cable to radio: .* 1 unplug, 1 plug"))
    expect(page.locator("#rig-frame [data-piece=boom-1-plug]")).to_have_count(1)
    expect(page.locator("[data-target=boom-1] td").nth(1)).to_have_text("8.7")
    page.reload()  # the address keeps it
    expect(page.locator("#rig-frame [data-piece=boom-1-plug]")).to_have_count(1)

    touch(page, "lav-01")
    page.locator("#rig-touched button").first.click()
    expect(page.locator("#rig-path-title")).to_have_text("The path of Bram")
    expect(page.locator("#rig-frame g.lit[data-piece=recorder]")).to_have_count(1)
    expect(page.locator("#rig-source")).to_have_value("pack-01")

    touch(page, "rack-1")
    page.locator("#rig-touched").get_by_role("button", name="Let it fail").click()
    expect(page.locator("#rig-loss-title")).to_have_text("Rack receiver 1 fails")
    expect(page.locator("#rig-frame g.failed[data-piece=rack-1]")).to_have_count(1)
    expect(page.locator("#rig-path")).to_have_count(0)
    width = page.locator("#rig-frame svg").evaluate("(each) => each.clientWidth")
    page.locator("#rig-frame").press("+")
    assert page.locator("#rig-frame svg").evaluate("(each) => each.clientWidth") > 1.2 * width

    page.locator("#rig-links > summary").click()
    page.locator("#links-net-remote [data-edit]").click()
    expect(page.locator("#rig-form-title")).to_be_focused()
    page.fill("#rig-f-length", "85 m")
    page.locator("#rig-form button[type=submit]").click()
    expect(page.locator("#rig-form [data-outcome]")).to_contain_text("70 m → 85 m")
    expect(page.locator("#links-net-remote")).to_contain_text("85 m")
    expect(page.locator("#rig-frame")).to_contain_text("85 m")
    assert trouble.said == []
    page.close()
    page, _ = rig_visits.open("/plan")
    page.locator("#undo-mine").click()
    expect(page.locator("[data-outcome-of=undo-mine]")).not_to_be_empty()
    page.close()


@pytest.mark.parametrize(("size", "theme"), LOOKS)
def test_the_page_keeps_the_laws_with_everything_open(rig_visits: Visits, size: str, theme: str) -> None:
    page, trouble = rig_visits.open("/rig?with=boom-1=radio&flip=boom-1:cable:radio&source=pack-01", size, theme)
    expect(page.locator("#rig-proofs")).to_have_attribute("data-proven", "", timeout=PROVEN_WITHIN_MS)
    page.select_option("#rig-failed", "piece:switch-set")
    expect(page.locator("#rig-loss")).to_be_visible()
    page.locator("#rig-pieces > summary").click()
    page.locator("#pieces-recorder [data-edit]").click()
    expect(page.locator("#rig-form form")).to_be_visible()
    broken = [*laws.policy(page), *laws.overflow(page), *laws.accessible(page), *laws.small_targets(page)]
    assert [*broken, *trouble.said] == []
    page.close()


def test_another_form_opens_beside_one_that_is_typed_in_and_one_that_cannot_come_is_told(rig_visits: Visits) -> None:
    page, _ = rig_visits.open("/rig", "laptop")
    page.locator("#rig-links > summary").click()
    page.locator("#links-net-remote [data-edit]").click()
    expect(page.locator("#rig-form-title")).to_contain_text("net-remote")
    page.fill("#rig-f-cable", "thin")
    page.locator("#rig-routes > summary").click()
    page.locator("#rig-routes tbody [data-edit]").first.click()
    expect(page.locator("#rig-f-fader")).to_be_visible()
    page.locator("#links-net-remote [data-edit]").click()
    expect(page.locator("#rig-f-cable")).to_have_value("thin")  # kept as a draft
    page.route("**/pages/rig/part/form?*", lambda route: route.abort())
    page.locator("#rig-routes tbody [data-edit]").first.click()
    expect(page.locator("#notices")).to_contain_text("The form could not be fetched")
    page.close()
