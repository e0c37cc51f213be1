"""The log on Ready: what is odd is told with the way to its page, and what holds counts."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from rollsound.actions.ready import ready_without_media
from rollsound.actions.ready_log import log_proven
from rollsound.log.daybook import LogBook
from rollsound.log.model import Author
from rollsound.show.folder import Show

INES = Author("Ines", "ines", "laptop")
PLAN = """\
show: {title: Northbound Ferry}
people: [{id: ines, name: Ines, role: mixer}]
schedule: {days: [{id: day-4, number: 4, date: 2031-02-18}]}
"""


@pytest.fixture
def show(tmp_path: Path) -> Iterator[Show]:
    """A show with one day."""
    with Show.new(tmp_path / "ferry", PLAN, INES) as made:
        yield made


def test_an_empty_log_proves_nothing(show: Show) -> None:
    assert list(log_proven(show)) == []


def test_a_log_without_flaws_holds_in_every_check(show: Show) -> None:
    LogBook(show.store).add("take", {"slate": "214", "take": "1"}, INES, "day-4")
    found = list(log_proven(show))
    assert len(found) == 7
    assert all(each.holds for each in found)


def test_what_is_odd_is_told_with_the_way_to_it(show: Show) -> None:
    book = LogBook(show.store)
    for _ in range(2):
        book.add("take", {"slate": "214", "take": "1"}, INES, "day-4")
    book.add("promise", {"text": "Ferry horn"}, INES, "day-9")
    verdict = ready_without_media(show)
    told = {each.finding.kind: each.place for each in verdict.findings if each.place and each.place.page == "takes"}
    assert {kind: place.id for kind, place in told.items() if place} == {
        "duplicate take": "day-4",
        "day not in the plan": "day-9",
        "wild track promised": "day-9",
    }


def test_every_check_of_the_log_has_its_place(show: Show) -> None:
    """A check that Ready does not know would be lost there: what each of them says is looked for."""
    import re

    import rollsound.log.proofs as module
    from rollsound.actions.ready_log import _CHECKS

    text = Path(module.__file__).read_text("utf-8")
    told = set(re.findall(r'(?:Area\.\w+,\s+|kind = )"([a-z ]+)"', text))
    assert told == {kind for kind, _, _, _ in _CHECKS}
