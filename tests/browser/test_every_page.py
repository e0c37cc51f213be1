"""Every page of the app, at every size, by day and by night. A new page is looked at as soon as it is in PAGES.

With every run each page is opened as on a laptop by day, and turned while it is open into what a tablet, a phone and
the night make of it. `make soak` opens it anew in each of the six looks; with every run that is done for some.
"""

from __future__ import annotations

from typing import Any

import laws
import pytest
from browsing import SIZES, THEMES, Visits
from playwright.sync_api import Page

from rollsound.web.pages import PAGES

LOOKS = [(size, theme) for size in SIZES for theme in THEMES]
WIDE = ("laptop", "day")
# Radio, reach and the plan are opened by night on a phone by their own tests.
ANEW = {("ready", "phone", "day"), ("settings", "phone", "night"), ("media", "tablet", "night")}


def _every_look(*, always: set[tuple[str, ...]], names: tuple[str, ...] = ()) -> list[Any]:
    """All looks, of all pages if named; those that are not looked at with every run are for the long one."""
    cases = [(name, *look) for name in names for look in LOOKS] if names else LOOKS
    return [
        pytest.param(*case, id="-".join(case), marks=() if always & {case, case[-2:]} else pytest.mark.soak)
        for case in cases
    ]


@pytest.mark.parametrize(
    ("name", "size", "theme"), _every_look(always={WIDE, *ANEW}, names=tuple(page.name for page in PAGES))
)
def test_a_page_keeps_the_laws(visits: Visits, name: str, size: str, theme: str) -> None:
    path = next(page.path for page in PAGES if page.name == name)
    page, trouble = visits.open(path, size, theme)
    broken = _laws(page, size, theme)
    deeper = page.evaluate(
        "(path) => [...document.querySelectorAll('main a[href]')].map((each) => each.getAttribute('href'))"
        ".find((each) => each.startsWith(path + '/')) ?? ''",
        path,
    )
    if (size, theme) == WIDE:
        broken += _turned(page)
    broken += trouble.said
    page.close()
    if deeper:  # the first page below this one, such as a take's
        page, trouble = visits.open(deeper, size, theme)
        below = _laws(page, size, theme)
        if (size, theme) == WIDE:
            below += _turned(page)
        broken += [f"{deeper}: {each}" for each in [*below, *trouble.said]]
        page.close()
    assert not broken, "\n".join(broken)


@pytest.mark.parametrize(("size", "theme"), _every_look(always={WIDE, ("phone", "night")}))
def test_the_door_keeps_the_laws(visits: Visits, size: str, theme: str) -> None:
    context = visits.another(size, theme, state={})
    page = context.new_page()
    page.goto(f"{visits.served.home}/join")
    broken = [*laws.overflow(page), *laws.small_targets(page), *laws.headings(page), *laws.policy(page)]
    broken += laws.accessible(page)
    context.close()
    assert not broken, "\n".join(broken)


@pytest.mark.parametrize("theme", [pytest.param("day", marks=pytest.mark.soak), "night"])
def test_the_way_around_opens_on_a_phone_by_keyboard(visits: Visits, theme: str) -> None:
    page, trouble = visits.open(PAGES[0].path, "phone", theme)
    button, around = page.locator(".bar button"), page.locator("#pages")
    assert not around.is_visible()
    button.focus()
    page.keyboard.press("Enter")
    assert around.is_visible()
    assert laws.small_targets(page) == []
    assert laws.accessible(page) == []
    page.keyboard.press("Escape")
    assert not around.is_visible()
    assert trouble.said == []
    page.close()


def _laws(page: Page, size: str, theme: str) -> list[str]:
    """All laws, each where a size or a theme can break it; Tab goes the whole way on the widest and the narrowest."""
    found = [*laws.policy(page), *laws.overflow(page), *laws.accessible(page)]
    whole = theme == "day" and size != "tablet"
    found += laws.keyboard(page, laws.MOST_STOPS if whole else 6)  # first, for the others move the focus
    if theme == "day":
        found += [*laws.headings(page), *laws.small_targets(page), *laws.skips(page), *laws.opens(page)]
    return found


def _turned(page: Page) -> list[str]:
    """What a page breaks that is made narrower, and dark, while it is open."""
    found = []
    for size in ("tablet", "phone"):
        width, height = SIZES[size]
        page.set_viewport_size({"width": width, "height": height})
        page.evaluate("() => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)))")
        found += [f"as on a {size}: {each}" for each in [*laws.overflow(page), *laws.small_targets(page)]]
    page.emulate_media(color_scheme=THEMES["night"])
    return found + [f"as on a phone by night: {each}" for each in laws.accessible(page)]
