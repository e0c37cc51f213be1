"""An open show: edits of several people, their merging, undo and history."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from pathlib import Path

import pytest

from rollsound.demo.example import example_plan_text
from rollsound.errors import InputError, MistakesError
from rollsound.log.changes import ABSENT, Change
from rollsound.log.model import Author
from rollsound.show.folder import ClashError, Show

MINA, JONAS = Author("Mina", "mina", "laptop"), Author("Jonas", "jonas", "phone")
TEXT = """\
# head

version: 1

show:
  title: Ferry

people:
  - id: mina
    name: Mina
    role: mixer  # the boss
  # later
  - id: jonas
    name: Jonas
"""
NAME = "/people/mina/name"


@pytest.fixture
def show(tmp_path: Path) -> Iterator[Show]:
    with Show.new(tmp_path / "ferry", TEXT, MINA) as opened:
        yield opened


def test_what_was_given_comes_out_again_after_closing_and_opening(show: Show, tmp_path: Path) -> None:
    assert show.text() == TEXT
    show.edit([Change("/people/jonas/job", ABSENT, "boom")], JONAS)
    with Show.open(show.folder) as again:
        assert again.text() == TEXT + "    job: boom\n"
        assert again.plan().people[1].job == "boom"
    assert show.history()[0].sentence == "Jonas: job set to boom"


def test_a_plan_with_mistakes_makes_no_show(tmp_path: Path) -> None:
    with pytest.raises(MistakesError):
        Show.new(tmp_path / "no", "people: 3\n", MINA)
    assert not (tmp_path / "no").exists()
    with pytest.raises(InputError, match="holds no show"):
        Show.open(tmp_path / "no")


def test_two_people_edit_different_fields_of_one_item(show: Show) -> None:
    base = show.revision
    show.edit([Change(NAME, "Mina", "Mina K")], MINA, base_revision=base)
    show.save_text(TEXT.replace("role: mixer", "role: mixer\n    contact: channel 1"), base, JONAS)
    person = show.plan().people[0]
    assert (person.name, person.contact) == ("Mina K", "channel 1")
    assert "# the boss" in show.text()


@pytest.mark.parametrize("base", [1, None])
def test_the_same_field_changed_twice_names_both_people_and_both_values(show: Show, base: int | None) -> None:
    show.edit([Change(NAME, "Mina", "Mina K")], JONAS)
    with pytest.raises(ClashError) as caught:
        show.edit([Change(NAME, "Mina", "Mina Ray")], MINA, base_revision=base)
    (clash,) = caught.value.clashes
    assert (clash.path, clash.base, clash.mine, clash.theirs) == (NAME, "Mina", "Mina Ray", "Mina K")
    assert clash.their_person == "Jonas"
    assert clash.their_time is not None
    assert all(word in caught.value.sentence for word in ("Jonas", "Mina K", "Mina Ray", "name"))
    assert show.plan().people[0].name == "Mina K"
    show.edit([Change(NAME, "Mina", "Mina Ray")], MINA, base_revision=base, take={NAME: "mine"})
    assert show.plan().people[0].name == "Mina Ray"


def test_a_field_of_an_item_that_somebody_took_out_is_a_clash(show: Show) -> None:
    jonas = show.document()["people"][1]
    show.edit([Change("/people/jonas", jonas, ABSENT)], MINA)
    for base in (1, None):
        with pytest.raises(ClashError, match="Mina"):
            show.edit([Change("/people/jonas/name", "Jonas", "Jo")], JONAS, base_revision=base)


def test_an_edit_that_would_spoil_the_plan_is_refused_and_changes_nothing(show: Show) -> None:
    before = show.revision
    with pytest.raises(MistakesError, match="mass"):
        show.edit([Change("/kit/items/a", ABSENT, {"id": "a", "name": "A", "mass": "3 m"})], MINA)
    with pytest.raises(MistakesError) as caught:
        show.save_text(TEXT.replace("role: mixer", "role: boss"), before, MINA)
    assert caught.value.mistakes[0].line == 11
    assert (show.revision, show.text()) == (before, TEXT)


def test_the_first_item_of_a_part_that_is_not_written_yet_begins_the_part(show: Show) -> None:
    saved = show.edit(
        [
            Change("/kit/items/rec", ABSENT, {"id": "rec", "name": "Recorder"}),
            Change("/kit/items/rec/mass", ABSENT, "3 kg"),
            Change("/power/batteries/b1/name", ABSENT, "Block"),
        ],
        MINA,
    )
    assert show.plan().kit.items[0].mass_kg == 3.0
    assert show.plan().power.batteries[0].id == "b1"
    assert saved.entry is not None
    show.undo(MINA)
    assert show.text() == TEXT


def test_an_edit_sent_twice_is_made_once(show: Show) -> None:
    change = [Change(NAME, "Mina", "Mina K")]
    first = show.edit(change, MINA, key="k1")
    show.edit([Change(NAME, "Mina K", "Mina R")], JONAS)
    again = show.edit(change, MINA, key="k1")
    assert (again.revision, again.entry) == (first.revision, first.entry)
    assert show.plan().people[0].name == "Mina R"
    one = show.save_text(TEXT + "    job: boom\n", 1, JONAS, key="k2")
    assert show.save_text(TEXT + "    job: boom\n", 1, JONAS, key="k2").revision == one.revision


def test_an_edit_that_changes_nothing_is_no_entry(show: Show) -> None:
    assert show.edit([Change(NAME, "Mina", "Mina")], MINA).entry is None
    assert show.save_text(TEXT, 1, MINA).entry is None
    assert show.revision == 1


def test_importing_an_unchanged_export_is_no_entry(tmp_path: Path) -> None:
    tight = "version: 1\nshow:\n  title: A\npeople:\n  - id: b\n    name: B\n"
    with Show.new(tmp_path / "tight", tight, MINA) as show:
        assert show.save_text(show.text(), show.revision, JONAS, kind="import").entry is None


def test_undo_is_by_person_and_redo_makes_it_again(show: Show) -> None:
    show.edit([Change(NAME, "Mina", "Mina K")], MINA)
    show.edit([Change("/people/jonas/name", "Jonas", "Jo")], JONAS)
    show.undo(MINA)
    assert [person.name for person in show.plan().people] == ["Mina", "Jo"]
    show.redo(MINA)
    assert [person.name for person in show.plan().people] == ["Mina K", "Jo"]
    show.undo(MINA)
    with pytest.raises(InputError, match="nothing of Mina"):
        show.undo(MINA)
    assert [entry.kind for entry in show.history()] == ["undo", "redo", "undo", "plan", "plan", "new"]


def test_undo_of_what_somebody_else_changed_since_names_them(show: Show) -> None:
    show.edit([Change(NAME, "Mina", "Mina K")], MINA)
    show.edit([Change(NAME, "Mina K", "Mina R")], JONAS)
    with pytest.raises(ClashError) as caught:
        show.undo(MINA)
    assert (caught.value.clashes[0].their_person, caught.value.clashes[0].theirs) == ("Jonas", "Mina R")


def test_undo_of_an_item_put_in_the_middle_keeps_what_others_added(show: Show) -> None:
    eva = "  - id: eva\n    name: Eva\n"
    show.save_text(TEXT.replace("  # later\n", eva + "  # later\n"), 1, MINA)
    show.edit([Change("/people/ivo", ABSENT, {"id": "ivo", "name": "Ivo"})], JONAS)
    show.undo(MINA)
    assert [person.id for person in show.plan().people] == ["mina", "jonas", "ivo"]


def test_a_comment_taken_out_with_its_item_comes_back_with_it(show: Show) -> None:
    shorter = TEXT[: TEXT.index("  # later")]
    show.save_text(shorter, 1, MINA)
    assert show.text() == shorter
    show.undo(MINA)
    assert show.text() == TEXT


def test_comments_of_two_people_are_both_kept_and_make_an_entry(show: Show) -> None:
    show.save_text(TEXT.replace("# later", "# now"), 1, MINA)
    show.save_text(TEXT.replace("# the boss", "# mixes"), 1, JONAS)
    assert "# now" in show.text()
    assert "# mixes" in show.text()
    assert [entry.sentence for entry in show.history()][:2] == ["Comments changed", "Comments changed"]


def test_compare_tells_what_differs_between_two_revisions(show: Show) -> None:
    show.edit([Change(NAME, "Mina", "Mina K")], MINA)
    show.edit([Change("/show/unit", ABSENT, "Main")], JONAS)
    assert show.compare(1, 3) == [Change("/show/unit", ABSENT, "Main"), Change(NAME, "Mina", "Mina K")]


def test_a_show_opened_for_reading_takes_no_edit(show: Show) -> None:
    with (
        Show.open(show.folder, read_only=True) as reading,
        pytest.raises(InputError, match="for reading only"),
    ):
        reading.edit([Change(NAME, "Mina", "M")], MINA)


def test_a_plan_of_a_newer_version_is_not_read_but_its_history_is(show: Show) -> None:
    with pytest.raises(InputError, match="is of version 2"):
        show.edit([Change("/version", 1, 2)], MINA)
    assert len(show.history()) == 1


def test_edits_from_many_threads_all_stand(show: Show) -> None:
    failures: list[Exception] = []

    def work(number: int) -> None:
        try:
            for turn in range(4):
                key = f"p{number}-{turn}"
                show.edit([Change(f"/people/{key}", ABSENT, {"id": key, "name": key})], Author(key, key))
        except Exception as error:
            failures.append(error)

    threads = [threading.Thread(target=work, args=(number,)) for number in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert failures == []
    assert len(show.plan().people) == 2 + 16


def test_edit_of_one_field_reads_only_its_part_of_the_plan_again(tmp_path: Path) -> None:
    with Show.new(tmp_path / "whole", example_plan_text(), MINA) as show:
        before = show.plan()
        show.edit([Change("/kit/items/recorder/mass", "4.6 kg", "5 kg")], MINA)
        after = show.plan()
    assert after.kit.items[0].mass_kg == 5.0
    assert after.radio is before.radio
    assert after.people[0] is before.people[0]
