"""Ready in a browser: it follows what others change, and leads to the place of what it tells."""

from __future__ import annotations

import re
from collections.abc import Callable

from browsing import Visits
from playwright.sync_api import expect
from serving import Served


def test_the_verdict_follows_an_edit_and_leads_into_the_plan(
    own_show: Served, own_visits: Callable[[Served], Visits]
) -> None:
    visits = own_visits(own_show)
    ready, trouble = visits.open("/ready")
    expect(ready.locator("h1")).not_to_be_empty()
    before = ready.locator("h1").inner_text()  # what it is depends on the room on this machine's drive
    ready.locator("#held > summary").click()
    settings, _ = visits.open("/settings")
    settings.locator("#change-ines > summary").click()
    settings.select_option("#role-ines", "crew")
    settings.locator("#person-ines button[type=submit]").click()
    expect(ready.locator("h1")).not_to_have_text(before)
    expect(ready.locator("h1")).to_have_text(re.compile("deserves? a look"))
    expect(ready.locator("#held table")).to_be_visible()  # what was opened stays open
    finding = ready.locator(".finding", has_text="Nobody in the plan has the role of mixer")
    expect(finding.locator(".tag.watch")).to_have_text("watch")
    finding.locator("a").click()
    ready.wait_for_url(re.compile(r"/plan\?at=/people$"))
    assert trouble.said == []


def test_a_finding_shows_its_figures_and_leads_to_its_spot(visits: Visits) -> None:
    page, trouble = visits.open("/ready", "tablet")
    finding = page.locator(".finding", has_text=re.compile("mute", re.IGNORECASE)).first
    expect(finding).to_be_visible(timeout=20_000)  # the media are read first
    expect(finding.locator(".ready-figures")).to_be_hidden()
    finding.locator("summary").click()
    expect(finding.locator(".ready-figures")).to_contain_text("250 ms")
    expect(finding).to_contain_text("Source: ")
    finding.locator("a").click()
    page.wait_for_url(re.compile(r"/media/[0-9a-f]+#from=\d+&to=\d+&at=1000\d\d&track=3$"))
    expect(page.locator("[data-on]")).to_contain_text("Runa")
    assert trouble.said == []
    page.close()
