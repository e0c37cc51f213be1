"""What was, is known: any revision is rebuilt, and each person takes back their own edits."""

from __future__ import annotations

import copy
import random
from pathlib import Path
from typing import Any

import pytest
from aboard import MINA, TAREK

from rollsound.errors import InputError
from rollsound.log.changes import ABSENT, Change, ClashError, changes_between, invert
from rollsound.log.document import SNAPSHOT_EVERY
from rollsound.log.model import Author, Edit, Entry
from rollsound.log.store import Store


def _another(document: dict[str, Any], chance: random.Random) -> dict[str, Any]:
    """The document after something that a person might do to it."""
    new = copy.deepcopy(document)
    people = new["people"]
    what = chance.randrange(6)
    if what == 0 or not people:
        people.insert(chance.randrange(len(people) + 1), {"id": f"p{chance.randrange(10**9)}", "name": "New"})
    elif what == 1:
        people.pop(chance.randrange(len(people)))
    elif what == 2:
        chance.shuffle(people)
    elif what == 3:
        new["show"]["title"] = f"Title {chance.random()}"
    elif what == 4:
        chance.choice(people)[chance.choice(["note", "mass"])] = chance.choice([None, 1, 1.0, True, "x", [1, [2]], {}])
    else:
        chance.choice(people).pop("note", None)
    return new


def test_every_revision_is_what_it_was(store: Store) -> None:
    chance = random.Random(5)
    revisions = {1: store.head().document}
    for _ in range(2 * SNAPSHOT_EVERY + 40):
        new = _another(store.head().document, chance)
        entry = store.commit(Edit(MINA, "", tuple(changes_between(store.head().document, new))))
        revisions[entry.number] = new
    for revision, document in revisions.items():
        assert store.at(revision) == document, revision


def test_a_revision_that_never_was_is_refused(store: Store) -> None:
    for revision in (0, -1, 2, 10**30):
        with pytest.raises(InputError, match="from 1 to 1"):
            store.at(revision)


def _edit(store: Store, author: Author, path: str, value: object) -> Entry:
    old = store.head().document
    new = copy.deepcopy(old)
    new["show"][path] = value
    return store.commit(Edit(author, "", tuple(changes_between(old, new))))


def _undo(store: Store, author: Author) -> Entry | None:
    last = store.last_undoable(author.person_id)
    if last is None:
        return None
    return store.commit(Edit(author, "", tuple(invert(last.changes)), kind="undo", refers_to=last.number))


def _redo(store: Store, author: Author) -> Entry | None:
    last = store.last_redoable(author.person_id)
    if last is None:
        return None
    return store.commit(Edit(author, "", last.changes, kind="redo", refers_to=last.number))


def test_each_person_takes_back_their_own(store: Store) -> None:
    mina = [_edit(store, MINA, "a", 1), _edit(store, MINA, "b", 2)]
    _edit(store, TAREK, "c", 3)
    undone = _undo(store, MINA)
    assert undone is not None
    assert undone.refers_to == mina[1].number
    assert {key for key in store.head().document["show"] if len(key) == 1} == {"a", "c"}
    undone = _undo(store, MINA)
    assert undone is not None
    assert undone.refers_to == mina[0].number
    assert _undo(store, MINA) is None
    assert {key for key in store.head().document["show"] if len(key) == 1} == {"c"}
    assert [entry.undone for entry in store.journal()] == [False, False, False, True, True, False]


def test_redo_goes_the_same_way_back(store: Store) -> None:
    first, second = _edit(store, MINA, "a", 1), _edit(store, MINA, "a", 2)
    _undo(store, MINA)
    _undo(store, MINA)
    assert "a" not in store.head().document["show"]
    redone = [_redo(store, MINA), _redo(store, MINA)]
    assert [entry and entry.refers_to for entry in redone] == [first.number, second.number]
    assert store.head().document["show"]["a"] == 2
    assert _redo(store, MINA) is None
    again = _undo(store, MINA)
    assert again is not None
    assert again.refers_to == second.number


def test_a_new_edit_ends_what_can_be_done_again_but_only_for_its_author(store: Store) -> None:
    _edit(store, MINA, "a", 1)
    _undo(store, MINA)
    _edit(store, TAREK, "b", 1)
    assert store.last_redoable("mina") is not None
    _edit(store, MINA, "c", 1)
    assert store.last_redoable("mina") is None


def test_what_somebody_else_changed_since_is_not_taken_back(store: Store) -> None:
    _edit(store, MINA, "a", 1)
    theirs = _edit(store, TAREK, "a", 2)
    with pytest.raises(ClashError) as caught:
        _undo(store, MINA)
    assert caught.value.clashes[0].theirs == 2
    # Who it was, the journal knows.
    assert store.journal(path="/show/a", limit=1) == [theirs]
    assert store.head().document["show"]["a"] == 2
    assert not store.journal(person="mina", limit=1)[0].undone


def test_nothing_is_taken_back_twice(store: Store) -> None:
    entry = _edit(store, MINA, "a", 1)
    edit = Edit(MINA, "", tuple(invert(entry.changes)), kind="undo", refers_to=entry.number)
    store.commit(edit)
    with pytest.raises(InputError, match="taken back already"):
        store.commit(Edit(MINA, "", (), kind="undo", refers_to=entry.number))
    with pytest.raises(InputError, match="no entry 99"):
        store.commit(Edit(MINA, "", (), kind="undo", refers_to=99))
    store.commit(Edit(MINA, "", entry.changes, kind="redo", refers_to=entry.number))
    with pytest.raises(InputError, match="done again already"):
        store.commit(Edit(MINA, "", (), kind="redo", refers_to=entry.number))


def test_people_without_an_id_are_told_apart_by_name(store: Store) -> None:
    named = Author("mina")
    store.commit(Edit(named, "", (Change("/show/a", ABSENT, 1),)))
    assert store.last_undoable("Mina") is None
    last = store.last_undoable("mina")
    assert last is not None
    assert last.author == named


def test_history_survives_opening_again(store: Store, path: Path) -> None:
    _edit(store, MINA, "a", 1)
    _undo(store, MINA)
    store.close()
    with Store.open(path) as again:
        last = again.last_redoable("mina")
        assert last is not None
        assert last.number == 2
        assert last.undone
