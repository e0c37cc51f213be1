"""Every page of the app, at every size, by day and by night. A new page is looked at as soon as it is in PAGES."""

from __future__ import annotations

import laws
import pytest
from browsing import SIZES, THEMES, Visits
from playwright.sync_api import Page

from rollsound.web.pages import PAGES

LOOKS = [pytest.param(size, theme, id=f"{size}-{theme}") for size in SIZES for theme in THEMES]


@pytest.mark.parametrize(("size", "theme"), LOOKS)
@pytest.mark.parametrize("name", [page.name for page in PAGES])
def test_a_page_keeps_the_laws(visits: Visits, name: str, size: str, theme: str) -> None:
    path = next(page.path for page in PAGES if page.name == name)
    page, trouble = visits.open(path, size, theme)
    broken = _laws(page, size, theme)
    deeper = page.evaluate(
        "(path) => [...document.querySelectorAll('main a[href]')].map((each) => each.getAttribute('href'))"
        ".find((each) => each.startsWith(path + '/')) ?? ''",
        path,
    )
    broken += trouble.said
    page.close()
    if deeper:  # the first page below this one, such as a take's
        page, trouble = visits.open(deeper, size, theme)
        broken += [f"{deeper}: {each}" for each in [*_laws(page, size, theme), *trouble.said]]
        page.close()
    assert not broken, "\n".join(broken)


@pytest.mark.parametrize(("size", "theme"), LOOKS)
def test_the_door_keeps_the_laws(visits: Visits, size: str, theme: str) -> None:
    context = visits.another(size, theme, state={})
    page = context.new_page()
    page.goto(f"{visits.served.home}/join")
    broken = [*laws.overflow(page), *laws.small_targets(page), *laws.headings(page), *laws.policy(page)]
    broken += laws.accessible(page)
    context.close()
    assert not broken, "\n".join(broken)


@pytest.mark.parametrize("theme", THEMES)
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
