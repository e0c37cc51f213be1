"""The plan's editor in a real browser: mistakes as one types, saved once, merged, kept through gaps, and never lost."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import laws
import pytest
from browsing import SIZES, THEMES, Trouble, Visits, open_in
from playwright.sync_api import Page, expect
from serving import Served

from rollsound.log.changes import Change
from rollsound.log.model import Author
from rollsound.show.folder import Show

MATTIS = Author("Mattis", "mattis", "tablet")


@pytest.fixture
def visit(own_show: Served, own_visits: Callable[[Served], Visits]) -> Iterator[Visits]:
    """Visits to a show whose plan becomes again what it was: the tests of this file share it."""
    with Show.open(own_show.show) as show:
        before = show.text()
    yield own_visits(own_show)
    with Show.open(own_show.show) as show:
        show.save_text(before, show.revision, MATTIS)


def _ready(page: Page) -> Page:
    expect(page.locator("#plan-text")).to_have_attribute("data-ready", "yes")
    return page


def _open(visit: Visits, at: str, size: str = "laptop", theme: str = "day") -> tuple[Page, Trouble]:
    page, trouble = visit.open(f"/plan?at={at}", size, theme)
    return _ready(page), trouble


def _job_of(served: Served, person: str) -> str:
    with Show.open(served.show, read_only=True) as show:
        found = show.plan().person(person)
        assert found is not None
        return found.job


def _write(page: Page, text: str) -> None:
    """Replace what stands on the cursor's line, however often it wraps."""
    page.locator(".cm-content").focus()
    line = page.locator(".cm-activeLine").inner_text()
    page.keyboard.press("Alt+l")  # the whole line, and then back to where it begins
    page.keyboard.press("ArrowLeft")
    for _ in line:
        page.keyboard.press("Shift+ArrowRight")
    page.keyboard.type(" " * (len(line) - len(line.lstrip())) + text)
    page.keyboard.press("Escape")  # whatever is offered


# Every size and both themes in each run; what is left of the six pairs in the long one.
LOOKS = [
    pytest.param(size, theme, marks=() if theme == list(THEMES)[n % 2] else pytest.mark.soak)
    for n, size in enumerate(SIZES)
    for theme in THEMES
]


@pytest.mark.parametrize(("size", "theme"), LOOKS)
def test_what_is_typed_is_looked_at_and_saved(visit: Visits, own_show: Served, size: str, theme: str) -> None:
    page, trouble = _open(visit, "/people/corin/role", size, theme)
    _write(page, "role: captain")
    expect(page.locator("#plan-verdict")).to_have_text("One mistake is in the text.")
    expect(page.locator("#plan-mistake-list li")).to_have_count(1)
    assert laws.accessible(page) == []
    assert laws.overflow(page) == []
    page.locator("#plan-sections button").first.click()
    page.locator("#plan-mistake-list button").click()
    expect(page.locator(".cm-activeLine")).to_contain_text("role: captain")
    _write(page, "role: guest")
    expect(page.locator("#plan-verdict")).to_have_text("The plan reads without a mistake.")
    expect(page.locator("#plan-state")).to_contain_text("Not saved yet")
    page.click("#plan-save")
    expect(page.locator("#plan-state")).to_contain_text("crew → guest")
    with Show.open(own_show.show, read_only=True) as show:
        assert [each.role for each in show.plan().people if each.id == "corin"] == ["guest"]
    assert trouble.said == []
    assert laws.policy(page) == []


def test_names_words_and_ids_are_offered(visit: Visits) -> None:
    page, _ = _open(visit, "/people/mattis/role")
    offered = page.locator(".cm-tooltip-autocomplete li")
    page.keyboard.press("End")
    page.keyboard.press("Enter")
    page.keyboard.type("no")
    expect(offered).to_have_text(["note"])
    page.wait_for_timeout(200)  # the editor takes no answer in the first moment, as it may be meant for the text
    page.keyboard.press("Enter")
    expect(page.locator(".cm-activeLine")).to_contain_text("note:")
    page.goto(page.url.replace("/people/mattis/role", "/schedule/days/day-1/site"))
    _ready(page)
    _write(page, "site: ")
    page.keyboard.press("End")
    page.keyboard.press("Control+Space")
    with Show.open(visit.served.show, read_only=True) as show:
        expect(offered).to_have_text(sorted(site.id for site in show.plan().sites))


def test_escape_then_tab_leaves_the_editor(visit: Visits) -> None:
    page, _ = _open(visit, "/people/corin/job")
    inside = "() => document.activeElement.closest('.cm-editor') !== null"
    page.keyboard.press("Tab")
    assert page.evaluate(inside)
    page.keyboard.press("Control+z")
    page.keyboard.press("Escape")
    page.keyboard.press("Tab")
    assert not page.evaluate(inside)


def test_what_was_typed_comes_back_after_the_page_was_closed(visit: Visits, own_show: Served) -> None:
    page, _ = _open(visit, "/people/corin/job")
    before = _job_of(own_show, "corin")
    _write(page, "job: never saved")
    page.wait_for_timeout(600)
    page.close()
    again, _ = _open(visit, "/people/corin/job")
    expect(again.locator("#plan-others")).to_contain_text("What you had typed before")
    expect(again.locator(".cm-activeLine")).to_contain_text("job: never saved")
    assert _job_of(own_show, "corin") == before
    again.locator("#plan-discard > summary").click()
    again.click("#plan-discard-now")
    expect(again.locator("#plan-state")).to_have_text("All is saved.")
    expect(again.locator(".cm-content")).not_to_contain_text("never saved")
    again.close()
    third, _ = _open(visit, "/people/corin/job")
    expect(third.locator("#plan-state")).to_have_text("All is saved.")


def test_without_a_connection_one_types_on_and_it_is_saved_once(visit: Visits, own_show: Served) -> None:
    page, _ = _open(visit, "/people/corin/job")
    page.context.set_offline(True)
    _write(page, "job: from the ferry")
    page.click("#plan-save")
    expect(page.locator("#plan-state")).to_contain_text("saved when the connection is back")
    page.locator(".cm-activeLine").click()
    page.keyboard.press("End")
    page.keyboard.type(" deck")
    page.context.set_offline(False)
    expect(page.locator("#plan-state")).to_contain_text("Not saved yet", timeout=20_000)
    assert _job_of(own_show, "corin") == "from the ferry"
    expect(page.locator(".cm-activeLine")).to_contain_text("job: from the ferry deck")
    page.click("#plan-save")
    expect(page.locator("#plan-state")).to_contain_text("from the ferry deck")
    told = [each["sentence"] for each in own_show.history(visit.cookies())]
    assert len([each for each in told if "ferry" in each]) == 2


def test_a_server_that_was_killed_while_saving_loses_nothing(visit: Visits, own_show: Served) -> None:
    page, _ = _open(visit, "/people/corin/job")
    own_show.kill()
    _write(page, "job: through the gap")
    page.click("#plan-save")
    expect(page.locator("#plan-state")).to_contain_text("saved when the connection is back")
    own_show.start()
    expect(page.locator("#plan-state")).to_contain_text("through the gap", timeout=40_000)
    assert _job_of(own_show, "corin") == "through the gap"


def test_what_others_save_appears_and_other_fields_are_merged(visit: Visits, own_show: Served) -> None:
    page, trouble = _open(visit, "/people/corin/job")
    other, _ = open_in(visit.another("tablet"), f"{own_show.home}/plan?at=/people/mattis/job")
    _ready(other)
    _write(other, "job: second boom, first day")
    other.click("#plan-save")
    expect(page.locator(".cm-content")).to_contain_text("second boom, first day")
    expect(page.locator("#plan-state")).to_have_text("All is saved.")
    _write(page, "job: mine")
    _write(other, "job: second boom, second day")
    other.click("#plan-save")
    expect(page.locator("#plan-others")).to_contain_text("second day")
    page.click("#plan-save")
    expect(page.locator(".cm-content")).to_contain_text("second boom, second day")
    assert (_job_of(own_show, "corin"), _job_of(own_show, "mattis")) == ("mine", "second boom, second day")
    assert trouble.said == []


@pytest.mark.parametrize(("size", "side"), [("laptop", "mine"), ("phone", "theirs")])
def test_the_same_field_changed_twice_is_asked_about(visit: Visits, own_show: Served, size: str, side: str) -> None:
    page, _ = _open(visit, "/people/corin/job", size)
    before = _job_of(own_show, "corin")
    _write(page, "job: as I would")
    with Show.open(own_show.show) as show:
        show.edit([Change("/people/corin/job", before, "as Mattis would")], MATTIS)
    page.click("#plan-save")
    clash = page.locator(".plan-clash")
    expect(clash).to_have_count(1)
    for told in ("job", "as I would", "as Mattis would", "Mattis"):
        expect(clash).to_contain_text(told)
    assert laws.accessible(page) == []
    assert laws.small_targets(page) == []
    page.click("#plan-clash-form button[type=submit]")
    expect(page.locator("#plan-clash-outcome")).to_have_text("Choose for every field first.")
    page.check(f".plan-clash input[value={side}]")
    page.click("#plan-clash-form button[type=submit]")
    expect(page.locator("#plan-clashes")).to_be_hidden()
    expect(page.locator("#plan-state")).to_contain_text("Saved: " if side == "mine" else "Nothing had changed.")
    assert _job_of(own_show, "corin") == {"mine": "as I would", "theirs": "as Mattis would"}[side]


def test_undo_and_redo_of_my_own_change_the_text(visit: Visits, own_show: Served) -> None:
    page, _ = _open(visit, "/people/corin/job")
    before = _job_of(own_show, "corin")
    _write(page, "job: for a moment")
    page.click("#plan-save")
    expect(page.locator("#plan-state")).to_contain_text("for a moment")
    page.click("#undo-mine")
    expect(page.locator(".cm-content")).not_to_contain_text("for a moment")
    assert _job_of(own_show, "corin") == before
    page.click("#redo-mine")
    expect(page.locator(".cm-content")).to_contain_text("for a moment")
    page.click("main form[hx-get] button[type=submit]")
    expect(page.locator("#plan-compared")).to_contain_text("differ")


def _over(page: Page, old: str, new: str) -> None:
    """Type over the first place of some words in the plain field."""
    page.locator("#plan-plain").evaluate(
        "(field, old) => { const at = field.value.indexOf(old); field.focus();"
        " field.setSelectionRange(at, at + old.length); }",
        old,
    )
    page.keyboard.insert_text(new)


def test_without_the_editor_a_plain_field_does_the_same(visit: Visits, own_show: Served) -> None:
    context = visit.another("phone")
    context.route("**/vendor/codemirror.js", lambda route: route.abort())
    page, _ = open_in(context, f"{own_show.home}/plan")
    _ready(page)
    field = page.locator("#plan-plain")
    expect(page.locator("#plan-state")).to_be_visible()
    _over(page, "job: First boom operator", "job: plain boom")
    _over(page, "role: crew", "role: bos")
    expect(page.locator("#plan-verdict")).to_have_text("One mistake is in the text.")
    _over(page, "role: bos", "role: crew")
    expect(page.locator("#plan-verdict")).to_have_text("The plan reads without a mistake.")
    page.click("#plan-save")
    expect(page.locator("#plan-state")).not_to_contain_text("Not saved")
    assert "plain boom" in field.input_value()


def test_typing_over_several_lines_breaks_no_rule_of_the_page(visit: Visits) -> None:
    """Left to itself the browser joins lines by writing styles into them, which the page's rules refuse."""
    page, trouble = _open(visit, "/people/corin/name")
    for typed in ("x", "[", "ü"):
        before = page.locator(".cm-content").inner_text()
        page.keyboard.press("Home")
        for _ in range(3):
            page.keyboard.press("Shift+ArrowDown")
        page.keyboard.type(typed)
        expect(page.locator(".cm-content")).not_to_have_text(before)
        if typed == "x":
            expect(page.locator(".cm-activeLine")).to_contain_text("x")
        page.keyboard.press("Control+z")
        page.wait_for_timeout(100)
        assert page.locator(".cm-content").inner_text() == before
    assert trouble.said == []
    assert laws.policy(page) == []
    assert page.evaluate("() => document.querySelectorAll('.cm-line [style]').length") == 0


def test_on_a_phone_the_text_has_the_width(visit: Visits) -> None:
    page, _ = _open(visit, "/people/corin/name", "phone")
    widths = page.evaluate(
        "() => ['.cm-gutters', '.cm-editor'].map((each) => document.querySelector(each).getBoundingClientRect().width)"
    )
    assert widths[0] <= 0.12 * widths[1], page.evaluate(
        "() => [...document.querySelectorAll('.cm-gutter')].map((each) => [each.className, each.offsetWidth])"
    )
