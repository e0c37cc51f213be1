"""The server answers, but cannot or will not take a change: what was typed is kept until it is saved or discarded."""

from __future__ import annotations

from collections.abc import Callable

from browsing import Visits
from playwright.sync_api import BrowserContext, Page, Route, expect
from serving import Served

ADDRESS = "**/api/v1/people/corin"
TAKEN_WITHIN_MS = 20_000
FULL = "no space is left on the disk that holds the show; nothing was changed, so free some space and do it again"
REFUSED = "Corin's job cannot be kept like this; write it shorter."


def _changes(served: Served, visits: Visits) -> list[str]:
    return [entry["sentence"] for entry in served.history(visits.cookies()) if entry["kind"] == "plan"]


def _send_job(page: Page, text: str) -> None:
    page.locator("#change-corin > summary").click()
    page.fill("#job-corin", text)
    page.locator("#person-corin button[type=submit]").click()


def _answer(context: BrowserContext, answers: list[tuple[int, str]]) -> list[str]:
    """Answer as listed, then as the server does; returns the keys of what was sent, which grows."""
    keys: list[str] = []

    def one(route: Route) -> None:
        keys.append(route.request.headers["idempotency-key"])
        if answers:
            status, detail = answers.pop(0)
            route.fulfill(status=status, json={"status": status, "detail": detail})
        else:
            route.continue_()

    context.route(ADDRESS, one)
    return keys


def test_what_a_full_disk_could_not_take_is_kept_and_saved_once(
    own_show: Served, own_visits: Callable[[Served], Visits]
) -> None:
    visits = own_visits(own_show)
    page, _ = visits.open("/settings")
    before = _changes(own_show, visits)
    keys = _answer(page.context, [(507, FULL), (500, ""), (507, FULL)])
    _send_job(page, "Third boom, on a full disk")
    expect(page.locator("#person-corin [data-outcome]")).to_contain_text("Kept on this device")
    expect(page.locator("#connection")).to_contain_text(
        f"1 change waits on this device and is sent again by itself. What the server says: {FULL}"
    )
    expect(page.locator("#connection")).to_be_hidden(timeout=TAKEN_WITHIN_MS)
    expect(page.locator("#settings-people tr", has_text="Third boom, on a full disk")).to_be_visible()
    page.wait_for_timeout(2_000)  # time enough for a second sending, if there were one
    assert len(keys) == 4
    assert len(set(keys)) == 1
    after = _changes(own_show, visits)
    assert len(after) == len(before) + 1, after
    assert "Third boom, on a full disk" in after[0]
    expect(page.locator("#refused p")).to_have_count(0)


def test_a_kept_change_that_is_refused_stays_in_sight_until_discarded(
    own_show: Served, own_visits: Callable[[Served], Visits]
) -> None:
    visits = own_visits(own_show)
    page, _ = visits.open("/settings")
    before = _changes(own_show, visits)
    keys = _answer(page.context, [(507, FULL), (422, REFUSED)])
    _send_job(page, "Third boom, refused later")
    line = page.locator("#refused > p")  # a change that still waits has its own part
    expect(line).to_contain_text(f"A change was not accepted: {REFUSED}")
    expect(line).to_contain_text("Third boom, refused later")
    page.reload()
    expect(line).to_contain_text("Third boom, refused later")
    page.goto(f"{own_show.home}/plan")
    expect(line).to_contain_text("Third boom, refused later")
    line.get_by_role("button", name="Discard this change").click()
    expect(line).to_have_count(0)
    page.reload()
    page.wait_for_timeout(1_000)
    expect(line).to_have_count(0)
    assert len(keys) == 2
    assert _changes(own_show, visits) == before


def test_a_tablet_without_the_newer_way_to_give_up_still_sends(
    own_show: Served, own_visits: Callable[[Served], Visits]
) -> None:
    visits = own_visits(own_show)
    page, _ = visits.open("/settings")
    page.add_init_script("delete AbortSignal.timeout")
    page.reload()
    assert page.evaluate("AbortSignal.timeout === undefined")
    _send_job(page, "Third boom, from an old tablet")
    expect(page.locator("#settings-people tr", has_text="Third boom, from an old tablet")).to_be_visible()


def test_a_change_the_server_always_fails_at_can_be_discarded_and_holds_up_no_others(
    own_show: Served, own_visits: Callable[[Served], Visits]
) -> None:
    visits = own_visits(own_show)
    page, _ = visits.open("/settings")
    before = _changes(own_show, visits)
    page.context.route(ADDRESS, lambda route: route.fulfill(status=500, json={"status": 500, "detail": "A fault."}))
    _send_job(page, "Third boom, never taken")
    page.locator("#change-zeynep > summary").click()
    page.fill("#job-zeynep", "Second boom, behind it")
    page.locator("#person-zeynep button[type=submit]").click()
    expect(page.locator("#connection")).to_contain_text("2 changes wait on this device")
    stuck = page.locator("#refused details")
    stuck.locator("summary").click()
    expect(stuck).to_contain_text("this is lost: Corin Pascoe, Third boom, never taken")
    expect(stuck).to_contain_text("A server that failed late may have saved it all the same")
    assert _changes(own_show, visits) == before
    stuck.get_by_role("button", name="Discard it").click()
    expect(stuck).to_have_count(0)
    expect(page.locator("#person-corin [data-outcome]")).to_contain_text("this change was discarded")
    assert page.input_value("#job-corin") == "Third boom, never taken"  # the form keeps it, to be sent or taken along
    expect(page.locator("#settings-people tr", has_text="Second boom, behind it")).to_be_visible(
        timeout=TAKEN_WITHIN_MS
    )
    expect(page.locator("#connection")).to_be_hidden()
    after = _changes(own_show, visits)
    assert len(after) == len(before) + 1, after


def test_who_discards_what_a_server_saved_before_it_failed_is_told_to_look(
    own_show: Served, own_visits: Callable[[Served], Visits]
) -> None:
    visits = own_visits(own_show)
    page, _ = visits.open("/settings")
    before = _changes(own_show, visits)

    def fail_late(route: Route) -> None:
        route.fetch()  # it is saved
        route.fulfill(status=500, json={"status": 500, "detail": "A fault."})

    page.context.route(ADDRESS, fail_late)
    _send_job(page, "Third boom, saved late")
    stuck = page.locator("#refused details")
    stuck.locator("summary").click()
    expect(stuck).to_contain_text("may have saved it all the same: look before you do it again")
    stuck.get_by_role("button", name="Discard it").click()
    expect(stuck).to_have_count(0)
    page.reload()
    expect(page.locator("#settings-people tr", has_text="Third boom, saved late")).to_be_visible()
    assert len(_changes(own_show, visits)) == len(before) + 1
