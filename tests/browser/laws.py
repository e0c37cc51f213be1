"""What holds for every page. Each law returns what breaks it, in words; nothing when it holds."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from browsing import AXE
from playwright.sync_api import Page

LEAST_TARGET_PX = 44
MOST_STOPS = 80
_ROUNDING_PX = 0.51
_QUESTIONS = Path(__file__).parent / "laws.js"


def overflow(page: Page) -> list[str]:
    """Nothing is wider than the window."""
    return _of(_ask(page, "overflow"), "wider than the window")


def small_targets(page: Page) -> list[str]:
    """Everything that is touched is as large as a gloved finger."""
    return _of(_ask(page, "smallTargets", LEAST_TARGET_PX - _ROUNDING_PX), "too small to touch")


def headings(page: Page) -> list[str]:
    """One heading for the page, and no level left out."""
    return _of(_ask(page, "headings"), "headings")


def policy(page: Page) -> list[str]:
    """The browser had to refuse nothing that the page asked for."""
    return _of(page.evaluate("() => window.refusedByPolicy"), "refused by the page's policy")


def accessible(page: Page) -> list[str]:
    """The checker finds nothing against WCAG 2.2 AA and its own good practice."""
    page.evaluate(AXE.read_text("utf-8"))
    result: dict[str, Any] = page.evaluate(
        "() => axe.run(document, { resultTypes: ['violations'], runOnly: "
        "['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'] })"
    )
    return [
        f"axe {each['id']} ({each['impact']}): {each['help']}: {node['html'][:160]} {node['failureSummary'][:200]}"
        for each in result["violations"]
        for node in each["nodes"][:3]
    ]


def keyboard(page: Page, stops: int = MOST_STOPS) -> list[str]:
    """Tab goes to everything in turn, each time visibly, and ends."""
    page.evaluate("() => document.activeElement?.blur()")
    found = []
    for number in range(stops):
        page.keyboard.press("Tab")
        here = _ask(page, "focus")
        if here is None:
            break
        if not here["marked"]:
            page.wait_for_timeout(100)  # an editor marks its frame a moment later
            here["marked"] = _ask(page, "focus")["marked"]
        if not here["marked"]:
            found.append(f"focus cannot be seen on {here['what']}")
        if not here["inside"]:
            found.append(f"focus lies outside the window on {here['what']}")
        if here["covered"]:
            found.append(f"focus is covered on {here['what']}")
        if here["again"]:
            # An editor may take Tab for itself, as long as Escape gives it back.
            page.keyboard.press("Escape")
            page.keyboard.press("Tab")
            after = _ask(page, "focus")
            if after is not None and after["again"]:
                found.append(f"Tab never leaves {here['what']}")
                break
        if number == 0 and "skip" not in here["what"]:
            found.append(f"the first stop is not the way past the pages but {here['what']}")
    else:
        return found  # more stops than are looked at
    return found + _of(_ask(page, "notReached"), "Tab does not reach")


def skips(page: Page) -> list[str]:
    """The first stop leads past the way around, to the page's content."""
    page.evaluate("() => document.activeElement?.blur()")
    page.evaluate("() => getSelection().removeAllRanges()")
    page.locator(".skip").focus()
    page.keyboard.press("Enter")
    at = page.evaluate("() => document.activeElement?.id ?? ''")
    return [] if at == "main" else [f"the way past the pages leads to '{at}'"]


def opens(page: Page) -> list[str]:
    """What folds opens and closes by Enter."""
    summary = page.locator("main summary").first
    if not summary.count() or not summary.is_visible():
        return []
    was = summary.evaluate("(each) => each.parentElement.open")
    summary.focus()
    page.keyboard.press("Enter")
    now = summary.evaluate("(each) => each.parentElement.open")
    page.keyboard.press("Enter")
    after = summary.evaluate("(each) => each.parentElement.open")
    return [] if (was, now, after) == (was, not was, was) else ["a folded part does not answer to Enter"]


def _ask(page: Page, question: str, *given: object) -> Any:
    """One of the questions of laws.js."""
    if not page.evaluate("() => 'laws' in window"):
        page.evaluate(_QUESTIONS.read_text("utf-8"))
    return page.evaluate(f"(given) => window.laws.{question}(...given)", list(given))


def _of(found: list[str], what: str) -> list[str]:
    return [f"{what}: {each}" for each in found]
