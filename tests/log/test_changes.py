"""Changes between documents, their undoing and their merging: cases that people meet."""

from __future__ import annotations

import copy

import pytest

from rollsound.errors import InputError
from rollsound.log.changes import (
    ABSENT,
    Change,
    Clash,
    ClashError,
    apply,
    changes_between,
    invert,
    join,
    merge,
    split,
    value_at,
)


def plan() -> dict:
    return {
        "show": {"title": "Northbound Ferry", "unit": None},
        "people": [
            {"id": "mina", "name": "Mina", "mass": "250 g"},
            {"id": "jonas", "name": "Jonas"},
            {"id": "ada", "name": "Ada"},
        ],
        "notes": ["a", "b"],
    }


def edited(**steps: object) -> dict:
    document = plan()
    for person in document["people"]:
        person.update({key: value for key, value in steps.items() if person["id"] == "mina"})
    return document


def test_one_field_is_one_change_at_the_id_of_its_item() -> None:
    changes = changes_between(plan(), edited(mass="300 g"))
    assert changes == [Change("/people/mina/mass", "250 g", "300 g")]


def test_a_list_without_ids_is_one_value() -> None:
    new = plan() | {"notes": ["a", "c"]}
    assert changes_between(plan(), new) == [Change("/notes", ["a", "b"], ["a", "c"])]


def test_null_is_a_value_and_absence_is_not() -> None:
    new = plan()
    del new["show"]["unit"]
    (change,) = changes_between(plan(), new)
    assert change == Change("/show/unit", None, ABSENT)
    assert change.as_json() == {"path": "/show/unit", "before": None}
    assert Change.from_json(change.as_json()) == change


def test_true_is_not_one_and_one_is_not_one_point_nought() -> None:
    assert changes_between({"a": True, "b": 1}, {"a": 1, "b": 1.0}) == [
        Change("/a", True, 1),
        Change("/b", 1, 1.0),
    ]


def test_an_item_added_last_needs_no_order_and_one_added_first_does() -> None:
    eva = {"id": "eva", "name": "Eva"}
    last = plan() | {"people": [*plan()["people"], eva]}
    first = plan() | {"people": [eva, *plan()["people"]]}
    added = Change("/people/eva", ABSENT, eva)
    order = Change("/people/#order", ["mina", "jonas", "ada"], ["eva", "mina", "jonas", "ada"])
    assert changes_between(plan(), last) == [added]
    assert changes_between(plan(), first) == [added, order]


def test_taking_an_item_out_of_the_middle_can_be_undone_to_the_middle() -> None:
    new = plan()
    del new["people"][1]
    changes = changes_between(plan(), new)
    assert [change.path for change in changes] == ["/people/jonas", "/people/#order"]
    assert apply(new, invert(changes)) == plan()


def test_apply_leaves_what_it_was_given() -> None:
    old = plan()
    apply(old, [Change("/people/mina/mass", "250 g", "300 g"), Change("/people/ada", plan()["people"][2], ABSENT)])
    assert old == plan()


def test_every_change_that_no_longer_fits_is_told() -> None:
    changes = [
        Change("/people/mina/mass", "200 g", "300 g"),
        Change("/show/title", "Northbound Ferry", "Northbound"),
        Change("/people/eva/name", "Eva", "Eve"),
    ]
    with pytest.raises(ClashError) as caught:
        apply(plan(), changes)
    assert caught.value.clashes == (
        Clash("/people/mina/mass", "200 g", "300 g", "250 g"),
        Clash("/people/eva/name", "Eva", "Eve", ABSENT),
    )


@pytest.mark.parametrize(
    ("path", "value", "words"),
    [
        ("people/mina", {"id": "mina"}, "not a place"),
        ("/people/mina/id", "nina", "cannot change"),
        ("/people/eva", {"id": "ivo"}, "whose id is 'eva'"),
        ("/people/eva", "Eva", "whose id is 'eva'"),
        ("/notes/x", {"id": "x"}, "as a whole"),
        ("/power/batteries", [], "no place for"),
        ("/show/title/first", "N", "no place for"),
    ],
)
def test_a_change_that_leads_nowhere_says_what_to_do(path: str, value: object, words: str) -> None:
    with pytest.raises(InputError, match=words):
        apply(plan(), [Change(path, ABSENT, value)], check=False)


def test_edits_of_different_fields_of_one_item_both_hold() -> None:
    merged = merge(plan(), edited(mass="300 g"), edited(name="Mina K"))
    assert merged.clashes == []
    assert merged.document == edited(mass="300 g", name="Mina K")
    assert merged.changes == [Change("/people/mina/mass", "250 g", "300 g")]


def test_the_same_field_changed_twice_is_a_clash_that_can_be_settled() -> None:
    mine, theirs = edited(mass="300 g"), edited(mass="275 g")
    merged = merge(plan(), mine, theirs)
    assert merged.clashes == [Clash("/people/mina/mass", "250 g", "300 g", "275 g")]
    assert merged.document == theirs
    for side, wanted in (("mine", mine), ("theirs", theirs)):
        settled = merge(plan(), mine, theirs, take={"/people/mina/mass": side})
        assert (settled.document, settled.clashes) == (wanted, [])


def test_the_same_edit_twice_is_no_clash() -> None:
    merged = merge(plan(), edited(mass="300 g"), edited(mass="300 g"))
    assert (merged.changes, merged.clashes) == ([], [])


def test_an_item_taken_away_while_somebody_changes_it_is_a_clash() -> None:
    mine = plan()
    del mine["people"][0]
    merged = merge(plan(), mine, edited(mass="300 g"))
    assert [(clash.path, clash.mine) for clash in merged.clashes] == [("/people/mina", ABSENT)]
    settled = merge(plan(), mine, edited(mass="300 g"), take={"/people/mina": "mine"})
    assert settled.document == mine


def test_items_added_by_two_people_in_the_middle_of_one_list_both_stand_where_they_were_put() -> None:
    mine, theirs = plan(), plan()
    mine["people"].insert(1, {"id": "eva"})
    theirs["people"].insert(2, {"id": "ivo"})
    merged = merge(plan(), mine, theirs)
    assert merged.clashes == []
    assert [person["id"] for person in merged.document["people"]] == ["mina", "eva", "jonas", "ivo", "ada"]


def test_two_different_orders_of_one_list_are_a_clash() -> None:
    mine, theirs = plan(), plan()
    mine["people"] = [mine["people"][n] for n in (1, 0, 2)]
    theirs["people"] = [theirs["people"][n] for n in (0, 2, 1)]
    assert [clash.path for clash in merge(plan(), mine, theirs).clashes] == ["/people/#order"]
    assert merge(plan(), mine, theirs, take={"/people/#order": "mine"}).document == mine


def test_a_list_that_both_begin_holds_the_items_of_both() -> None:
    merged = merge({}, {"kit": {"items": [{"id": "a"}]}}, {"kit": {"items": [{"id": "b"}]}})
    assert merged.clashes == []
    assert {item["id"] for item in merged.document["kit"]["items"]} == {"a", "b"}


def test_a_name_with_a_slash_or_a_tilde_keeps_its_place() -> None:
    assert join(["a/b", "c~d", ""]) == "/a~1b/c~0d/"
    assert split("/a~1b/c~0d/") == ["a/b", "c~d", ""]
    assert value_at({"a/b": {"c~d": 1}}, "/a~1b/c~0d") == 1


@pytest.mark.source("RFC 6901 (2013), section 5, table of pointers", kind="published")
@pytest.mark.parametrize(
    ("pointer", "value"),
    [("/", 0), ("/a~1b", 1), ("/c%d", 2), ("/e^f", 3), ("/g|h", 4), ("/i\\j", 5), ('/k"l', 6), ("/ ", 7), ("/m~0n", 8)],
)
def test_pointers_of_the_standard(pointer: str, value: int) -> None:
    document = {"": 0, "a/b": 1, "c%d": 2, "e^f": 3, "g|h": 4, "i\\j": 5, 'k"l': 6, " ": 7, "m~n": 8}
    assert value_at(document, pointer) == value
    assert value_at(document, "") == document


def test_a_change_far_down_shares_what_it_does_not_touch() -> None:
    old = plan()
    new = apply(old, [Change("/people/mina/mass", "250 g", "300 g")])
    assert new["show"] is old["show"]
    assert new["people"][1] is old["people"][1]
    assert copy.deepcopy(old) == plan()


def test_a_field_that_is_called_as_an_order_is_a_field() -> None:
    changes = changes_between({"a": {}}, {"a": {"#order": 3}})
    assert apply({"a": {}}, changes) == {"a": {"#order": 3}}


def test_an_order_told_before_its_items_are_there_still_holds() -> None:
    eva = {"id": "eva"}
    order = Change("/people/#order", ["mina", "jonas", "ada"], ["eva", "ada", "mina", "jonas"])
    new = apply(plan(), [order, Change("/people/eva", ABSENT, eva)])
    assert [person["id"] for person in new["people"]] == ["eva", "ada", "mina", "jonas"]
