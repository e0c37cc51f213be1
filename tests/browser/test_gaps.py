"""The server goes away in the middle of typing, and comes back: nothing typed is lost, and it is sent once."""

from __future__ import annotations

from collections.abc import Callable

from browsing import Visits, open_in
from playwright.sync_api import Page, Route, expect
from serving import Served

BACK_WITHIN_MS = 20_000


def _changes(served: Served, visits: Visits) -> list[str]:
    return [entry["sentence"] for entry in served.history(visits.cookies()) if entry["kind"] == "plan"]


def _type_job(page: Page, text: str) -> None:
    page.locator("#change-corin > summary").click()
    page.fill("#job-corin", "")
    page.locator("#job-corin").press_sequentially(text)


def test_what_is_typed_through_a_gap_is_sent_once(own_show: Served, own_visits: Callable[[Served], Visits]) -> None:
    visits = own_visits(own_show)
    page, _ = visits.open("/settings")
    before = _changes(own_show, visits)
    _type_job(page, "Third boom, ")
    own_show.kill()
    page.locator("#job-corin").press_sequentially("and the ramp")
    expect(page.locator("#connection")).to_contain_text("Not connected")
    page.locator("#person-corin button[type=submit]").click()
    expect(page.locator("#connection")).to_contain_text("1 change waits on this device")
    expect(page.locator("#person-corin [data-outcome]")).to_contain_text("Kept on this device")
    assert page.input_value("#job-corin") == "Third boom, and the ramp"
    own_show.start()
    expect(page.locator("#connection")).to_be_hidden(timeout=BACK_WITHIN_MS)
    expect(page.locator("#settings-people tr", has_text="Third boom, and the ramp")).to_be_visible()
    page.wait_for_timeout(2_000)  # time enough for a second sending, if there were one
    after = _changes(own_show, visits)
    assert len(after) == len(before) + 1, after
    assert "Third boom, and the ramp" in after[0]


def test_an_answer_that_is_lost_on_the_way_does_not_count_twice(
    own_show: Served, own_visits: Callable[[Served], Visits]
) -> None:
    visits = own_visits(own_show)
    page, _ = visits.open("/settings")
    before = _changes(own_show, visits)
    lost: list[str] = []

    def lose(route: object) -> None:
        if lost:
            route.continue_()  # type: ignore[attr-defined]
            return
        lost.append("once")
        route.fetch()  # type: ignore[attr-defined]
        route.abort("connectionreset")  # type: ignore[attr-defined]

    page.context.route("**/api/v1/people/corin", lose)
    _type_job(page, "Third boom, said twice")
    page.locator("#person-corin button[type=submit]").click()
    page.wait_for_function("() => document.getElementById('connection').hidden", timeout=BACK_WITHIN_MS)
    page.wait_for_timeout(3_000)
    after = _changes(own_show, visits)
    assert lost == ["once"]
    assert len(after) == len(before) + 1, after


def test_what_was_typed_and_not_sent_stands_there_again(
    own_show: Served, own_visits: Callable[[Served], Visits]
) -> None:
    visits = own_visits(own_show)
    context = visits.context()
    page, _ = open_in(context, f"{own_show.home}/settings")
    _type_job(page, "Half a sentence")
    page.wait_for_timeout(400)
    own_show.kill()
    page.close()
    own_show.start()
    page, _ = open_in(context, f"{own_show.home}/settings")
    page.locator("#change-corin > summary").click()
    expect(page.locator("#job-corin")).to_have_value("Half a sentence")
    expect(page.locator("#person-corin [data-outcome]")).to_contain_text("was kept and stands here again")


def test_two_pages_of_one_browser_both_learn_what_became_of_a_change(
    own_show: Served, own_visits: Callable[[Served], Visits]
) -> None:
    """The page that holds the outbox sends what the other one waits for."""
    visits = own_visits(own_show)
    one, _ = visits.open("/settings")
    two, _ = visits.open("/settings")
    before = _changes(own_show, visits)
    held: list[Route] = []
    one.route("**/api/v1/people/corin", lambda route: held.append(route))
    _type_job(one, "Third boom, first page")
    one.locator("#person-corin button[type=submit]").click()
    expect(one.locator("#person-corin")).to_have_attribute("aria-busy", "true")
    two.locator("#change-zeynep > summary").click()
    two.fill("#job-zeynep", "Second boom, other page")
    two.locator("#person-zeynep button[type=submit]").click()
    expect(two.locator("#person-zeynep")).to_have_attribute("aria-busy", "true")
    two.wait_for_timeout(300)
    held[0].continue_()
    for page, person in ((one, "corin"), (two, "zeynep")):
        expect(page.locator(f"#person-{person} [data-outcome]")).to_contain_text("boom")
        expect(page.locator(f"#person-{person}")).not_to_have_attribute("aria-busy", "true")
        expect(page.locator("#connection")).to_be_hidden()
    assert len(_changes(own_show, visits)) == len(before) + 2


def test_saved_stays_in_sight_until_one_types_on(own_show: Served, own_visits: Callable[[Served], Visits]) -> None:
    visits = own_visits(own_show)
    page, _ = visits.open("/settings")
    _type_job(page, "Third boom, seen to be saved")
    with page.expect_response(lambda answer: "/pages/settings/part/people" in answer.url):
        page.locator("#person-corin button[type=submit]").click()
    outcome = page.locator("#person-corin [data-outcome]")
    expect(page.locator("#settings-people tr", has_text="seen to be saved")).to_be_visible()
    page.wait_for_timeout(2_000)
    expect(outcome).to_contain_text("Third boom, seen to be saved")
    page.locator("#job-corin").press_sequentially(", ")
    expect(outcome).to_be_empty()


def test_what_can_be_done_stands_on_the_line_of_its_row(
    own_show: Served, own_visits: Callable[[Served], Visits]
) -> None:
    page, _ = own_visits(own_show).open("/settings")
    feet = page.evaluate(
        """() => ["#settings-people tbody th", "#settings-people td summary"].map((each) => {
          const range = document.createRange();
          range.selectNodeContents(document.querySelector(each).firstChild);
          return range.getBoundingClientRect().bottom;
        })"""
    )
    assert abs(feet[0] - feet[1]) <= 1.0, feet
