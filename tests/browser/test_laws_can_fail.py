"""Each law of the pages, held against a page that breaks it."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import laws
import pytest
from browsing import Trouble
from playwright.sync_api import Browser, Page

_HEAD = "<!doctype html><html lang=en><title>Broken</title><body style='margin:0'>"
_SKIP = (
    "<style>.skip{position:absolute;top:-80px}.skip:focus{top:8px}:focus-visible{outline:3px solid}</style>"
    "<a class=skip href=#main>Skip</a>"
)


@pytest.fixture
def page(browser: Browser) -> Iterator[Page]:
    context = browser.new_context(viewport={"width": 800, "height": 600})
    yield context.new_page()
    context.close()


BREAKS = [
    (laws.overflow, "<div style='width:2000px'>wide</div>", "wider than the window"),
    (laws.small_targets, "<button style='width:20px;height:20px'>x</button>", "too small to touch"),
    (laws.small_targets, "<nav><a href=#x>a link that stands alone</a></nav>", "too small to touch"),
    (laws.headings, "<main><h2>One</h2></main>", "not one h1"),
    (laws.headings, "<main><h1>One</h1><h3>Three</h3></main>", "h3"),
    (laws.accessible, "<main><h1>One</h1><img src='data:,'></main>", "axe image-alt"),
    (laws.accessible, "<main><h1>One</h1><p style='color:#999;background:#fff'>Pale</p></main>", "axe color-contrast"),
    (laws.keyboard, _SKIP + "<main id=main><button style='outline:none'>dark</button></main>", "cannot be seen"),
    (laws.keyboard, "<main id=main><button>first</button></main>", "the first stop is not"),
    (laws.keyboard, _SKIP + "<button style='position:absolute;left:-900px'>off</button>", "outside the window"),
    (
        laws.keyboard,
        _SKIP + "<button style='width:90px;height:90px'>u</button><div style='position:fixed;inset:0'></div>",
        "covered",
    ),
    (
        laws.keyboard,
        _SKIP + "<main id=main><button onfocus='this.nextSibling.focus()'>a</button><button>b</button>"
        "<button onkeydown='if(event.key==\"Tab\"){event.preventDefault();document.activeElement.blur()}'>c</button>"
        "<button>d</button></main>",
        "Tab does not reach",
    ),
    (laws.skips, _SKIP + "<main>no way</main>", "leads to"),
    (
        laws.opens,
        "<main><details><summary onclick='event.preventDefault()'>More</summary>x</details></main>",
        "does not answer to Enter",
    ),
]


@pytest.mark.parametrize(
    ("law", "body", "told"), BREAKS, ids=[f"{law.__name__}-{n}" for n, (law, _, _) in enumerate(BREAKS)]
)
def test_a_law_sees_what_breaks_it(page: Page, law: Callable[[Page], list[str]], body: str, told: str) -> None:
    page.set_content(_HEAD + body)
    found = law(page)
    assert any(told in each for each in found), found


def test_trouble_is_heard(page: Page) -> None:
    trouble = Trouble()
    trouble.listen(page)
    page.set_content("<script>console.warn('pale'); console.error('dark'); throw new Error('broken')</script>")
    page.wait_for_timeout(50)
    assert {each.split(":")[0] for each in trouble.said} == {"console warning", "console error", "script error"}


def test_a_page_without_fault_passes_every_law(page: Page) -> None:
    button = "<button style='min-width:44px;min-height:44px'>Go</button>"
    page.set_content(_HEAD + _SKIP + f"<main id=main tabindex=-1><h1>One</h1><h2>Two</h2>{button}</main>")
    every = (laws.overflow, laws.small_targets, laws.headings, laws.accessible, laws.keyboard, laws.skips, laws.opens)
    assert [broken for law in every for broken in law(page)] == []
