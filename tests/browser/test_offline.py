"""The server is gone altogether: pages seen before open all the same, and what is typed in them is sent once later."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from browsing import Visits
from playwright.sync_api import Error, Page, expect
from serving import Served

BACK_WITHIN_MS = 20_000
_KEPT = """async (paths) => {
  if (!navigator.serviceWorker.controller && !(await navigator.serviceWorker.ready).active) return false;
  const pages = await caches.open("pages");
  for (const path of paths) if (!(await pages.match(path))) return false;
  const shell = (await caches.keys()).find((name) => name.startsWith("shell-"));
  return Boolean(shell) && (await (await caches.open(shell)).keys()).length > 10;
}"""


def _see(visits: Visits, *paths: str) -> Page:
    """Look at pages once, until the worker has kept them."""
    page, _ = visits.open(paths[0])
    for path in paths[1:]:
        page.goto(f"{visits.served.home}{path}")
    page.wait_for_function(_KEPT, arg=list(paths))
    return page


def test_pages_seen_before_open_without_the_server_and_send_later(
    own_show: Served, own_visits: Callable[[Served], Visits]
) -> None:
    visits = own_visits(own_show)
    _see(visits, "/ready", "/settings").close()
    before = len(own_show.history(visits.cookies()))
    own_show.kill()

    page = visits.context().new_page()
    page.goto(f"{own_show.home}/ready")
    expect(page.locator("h1")).to_be_visible()
    expect(page.locator("#connection")).to_contain_text("Not connected")
    page.goto(f"{own_show.home}/settings")
    # the shell too: style and scripts are there, or the form would have sent itself as a plain form
    assert page.evaluate("() => getComputedStyle(document.querySelector('.frame')).display") == "grid"
    page.locator("#change-corin > summary").click()
    page.fill("#job-corin", "Third boom, typed with nobody there")
    page.locator("#person-corin button[type=submit]").click()
    expect(page.locator("#person-corin [data-outcome]")).to_contain_text("Kept on this device")

    own_show.start()
    expect(page.locator("#connection")).to_be_hidden(timeout=BACK_WITHIN_MS)
    expect(page.locator("#settings-people tr", has_text="typed with nobody there")).to_be_visible()
    page.wait_for_timeout(2_000)  # time enough for a second sending, if there were one
    after = own_show.history(visits.cookies())
    assert len(after) == before + 1
    assert "typed with nobody there" in after[0]["sentence"]


def test_a_page_that_was_never_seen_does_not_pretend(own_show: Served, own_visits: Callable[[Served], Visits]) -> None:
    visits = own_visits(own_show)
    _see(visits, "/settings").close()
    own_show.kill()
    for never in ("/plan", "/settings?site=quay"):  # the second is not what was seen, though its way is the same
        page = visits.context().new_page()
        with pytest.raises(Error, match=r"ERR_FAILED|ERR_CONNECTION_REFUSED"):
            page.goto(f"{own_show.home}{never}")
    again = visits.context().new_page()
    again.goto(f"{own_show.home}/settings?at=/people")  # the same page, at another place
    expect(again.locator("h1")).to_be_visible()
