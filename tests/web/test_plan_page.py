"""The Plan page as the server makes it: the text, its place to begin at, the history, what differs."""

from __future__ import annotations

import html
import re

import pytest

from rollsound.log.changes import ABSENT, Change
from rollsound.log.model import Author
from rollsound.web.desk import Desk

TOMAS = Author("Tomas", "tomas", "tablet")


def _at_line(text: str) -> int:
    found = re.search(r'data-at-line="(\d+)"', text)
    assert found is not None
    return int(found[1])


def _text(page: str) -> str:
    found = re.search(r"<textarea[^>]*>\n(.*?)</textarea>", page, re.DOTALL)
    assert found is not None
    return html.unescape(found[1])


def test_the_whole_plan_stands_on_the_page_with_its_comments(mixer, desk: Desk) -> None:
    page = mixer.get("/plan").text
    assert _text(page) == desk.show.text()
    assert "# also rigs" in _text(page)
    assert 'data-revision="1"' in page
    assert 'id="plan-save"' in page


@pytest.mark.parametrize("who", ["crew", "guest"])
def test_crew_and_guests_read_only(who: str, request: pytest.FixtureRequest, desk: Desk) -> None:
    page = request.getfixturevalue(who).get("/plan").text
    assert _text(page) == desk.show.text()
    assert 'data-may-edit="no"' in page
    for act in ("plan-save", "undo-mine", "redo-mine", "plan-discard"):
        assert f'id="{act}"' not in page


@pytest.mark.parametrize(
    ("pointer", "line"),
    [
        ("/people/tomas/role", "    role: crew"),
        ("/people/tomas", "  - id: tomas"),
        ("/people/1/job", "    job: first boom  # also rigs"),
        ("/schedule/days/day-4/call", '      call: "07:30"'),
        ("/people/tomas/shoe-size", "  - id: tomas"),
        ("/people/nobody", "people:"),
        ("/people/99", "people:"),
        ("/people/~2", "people:"),
    ],
)
def test_a_pointer_leads_to_its_line(mixer, desk: Desk, pointer: str, line: str) -> None:
    page = mixer.get("/plan", params={"at": pointer}).text
    assert desk.show.text().splitlines()[_at_line(page) - 1] == line


@pytest.mark.parametrize("pointer", ["", "people", "/nowhere", "//", "\x00"])
def test_a_pointer_to_nothing_leads_to_the_top(mixer, pointer: str) -> None:
    answer = mixer.get("/plan", params={"at": pointer})
    assert answer.status_code == 200
    assert _at_line(answer.text) == 0


def test_a_text_that_changed_is_shown_as_it_is_now(mixer, desk: Desk) -> None:
    mixer.get("/plan")
    desk.show.edit([Change("/people/tomas/job", "first boom", "boom one")], TOMAS)
    page = mixer.get("/plan").text
    assert "job: boom one" in _text(page)
    assert "Tomas: job first boom → boom one" in page


def test_what_is_written_in_the_plan_is_never_markup(mixer, desk: Desk) -> None:
    evil = "</textarea><script>alert(1)</script>"
    desk.show.edit([Change("/people/tomas/job", "first boom", evil)], TOMAS)
    page = mixer.get("/plan").text
    assert "<script>alert" not in page
    assert evil in _text(page)


def test_the_history_tells_who_what_before_and_after(mixer, desk: Desk) -> None:
    desk.show.edit([Change("/people/tomas/job", "first boom", "boom one")], TOMAS)
    desk.show.edit([Change("/schedule/days/day-4/note", ABSENT, "Sails at 07:20")], TOMAS)
    part = mixer.get("/pages/plan/part/history").text
    assert "<html" not in part
    newest, older = part.split('id="entry-3"')[1], part.split('id="entry-2"')[1]
    assert [each in newest for each in ("Day 4, note", "nothing", "Sails at 07:20")] == [True] * 3
    assert [each in older for each in ("Tomas, job", "first boom", "boom one")] == [True] * 3


def test_a_long_history_comes_in_pieces(mixer, desk: Desk) -> None:
    for number in range(24):
        desk.show.edit([Change("/people/tomas/note", ABSENT if not number else str(number - 1), str(number))], TOMAS)
    first = mixer.get("/pages/plan/part/history").text
    assert first.count('<td class="n" data-label="Revision">') == 20
    before = re.search(r"history\?before=(\d+)", first)
    assert before is not None
    rest = mixer.get(f"/pages/plan/part/history?before={before[1]}").text
    assert rest.count('<td class="n" data-label="Revision">') == 5
    assert 'id="undo-mine"' not in rest


def test_undo_is_offered_to_the_one_whose_change_it_is(mixer, desk: Desk) -> None:
    desk.show.edit([Change("/people/tomas/job", "first boom", "boom one")], TOMAS)
    assert re.search(r'id="undo-mine"[^>]* disabled', mixer.get("/plan").text)
    desk.show.edit([Change("/people/tomas/job", "boom one", "boom")], Author("Ines", "ines", "this machine"))
    page = mixer.get("/plan").text
    assert not re.search(r'id="undo-mine"[^>]* disabled', page)
    assert "Undo takes back: Tomas: job boom one → boom" in page


def test_two_revisions_are_compared_whichever_is_named_first(mixer, desk: Desk) -> None:
    desk.show.edit([Change("/people/tomas/job", "first boom", "boom one")], TOMAS)
    for order in ("older=1&newer=2", "older=2&newer=1", ""):
        part = mixer.get(f"/pages/plan/part/compare?{order}").text
        assert "One field differs between revisions 1 and 2." in part
        assert part.index("first boom") < part.index("boom one")
    assert "do not differ" in mixer.get("/pages/plan/part/compare?older=2&newer=2").text


def test_a_revision_that_was_never_made_is_told_in_a_sentence(mixer) -> None:
    answer = mixer.get("/pages/plan/part/compare?older=1&newer=99")
    assert answer.status_code == 200
    assert re.search(r'class="refused">[^<]*99', answer.text)
