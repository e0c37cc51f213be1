"""Laws of changes that hold for any documents, found by search."""

from __future__ import annotations

import os
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from rollsound.log.changes import apply, changes_between, invert, merge, same, value_at

TIMES = 5 if os.environ.get("ROLLSOUND_DEEP") else 1
_names = st.sampled_from(["a", "b", "c", "x/y", "~", "", "id", "#order"])
_ids = st.sampled_from(["k1", "k2", "k3", "k4", "k/5"])
_scalars = st.none() | st.booleans() | st.integers(0, 2) | st.sampled_from([0.0, 1.0, 2.5]) | st.sampled_from(["", "s"])


def _keyed(parts: st.SearchStrategy[Any]) -> st.SearchStrategy[list[Any]]:
    item = st.dictionaries(_names.filter(lambda name: name != "id"), parts, max_size=3)
    return st.lists(_ids, unique=True, max_size=4).flatmap(
        lambda ids: st.tuples(*(item for _ in ids)).map(
            lambda items: [{"id": key, **fields} for key, fields in zip(ids, items, strict=True)]
        )
    )


_values = st.recursive(
    _scalars,
    lambda parts: st.dictionaries(_names, parts, max_size=4) | _keyed(parts) | st.lists(parts, max_size=3),
    max_leaves=14,
)
documents = st.dictionaries(_names, _values, max_size=4)
_fields = st.fixed_dictionaries({}, optional=dict.fromkeys(("p", "q", "r"), _values))


def with_prefix(document: dict[str, Any], prefix: str) -> dict[str, Any]:
    return {prefix + name: value for name, value in document.items()}


@given(documents, documents)
@settings(max_examples=120 * TIMES)
def test_changes_lead_from_the_old_document_to_the_new_one_and_back(old: Any, new: Any) -> None:
    changes = changes_between(old, new)
    assert same(apply(old, changes), new)
    assert same(apply(new, invert(changes)), old)
    assert (changes == []) == same(old, new)


@given(documents, documents)
def test_each_change_tells_what_stands_at_its_path_before_and_after(old: Any, new: Any) -> None:
    changes = changes_between(old, new)
    assert len({change.path for change in changes}) == len(changes)
    for change in changes:
        assert same(value_at(old, change.path), change.before)
        assert same(value_at(new, change.path), change.after)


@given(documents, documents)
def test_an_edit_against_no_edit_is_that_edit(base: Any, edit: Any) -> None:
    one, other, both = merge(base, edit, base), merge(base, base, edit), merge(base, edit, edit)
    assert same(one.document, edit)
    assert same(other.document, edit)
    assert same(both.document, edit)
    assert one.clashes == other.clashes == both.clashes == []
    assert other.changes == both.changes == []


@given(_fields, _fields, _fields, _fields)
def test_edits_of_different_fields_both_hold(mine: Any, my_base: Any, theirs: Any, their_base: Any) -> None:
    base = with_prefix(my_base, "m") | with_prefix(their_base, "t")
    merged = merge(
        base,
        with_prefix(mine, "m") | with_prefix(their_base, "t"),
        with_prefix(my_base, "m") | with_prefix(theirs, "t"),
    )
    assert merged.clashes == []
    assert same(merged.document, with_prefix(mine, "m") | with_prefix(theirs, "t"))


@given(documents, documents, documents)
@settings(max_examples=80 * TIMES)
def test_every_clash_can_be_settled_and_the_changes_lead_from_theirs(base: Any, mine: Any, theirs: Any) -> None:
    merged = merge(base, mine, theirs)
    assert same(apply(theirs, merged.changes), merged.document)
    for side in ("mine", "theirs"):
        settled = merge(base, mine, theirs, take=dict.fromkeys((clash.path for clash in merged.clashes), side))
        assert settled.clashes == []
        for clash in merged.clashes:
            wanted = clash.mine if side == "mine" else clash.theirs
            if not clash.path.endswith("/#order"):
                assert same(value_at(settled.document, clash.path), wanted)


@given(documents, documents, documents)
def test_who_edits_first_makes_no_difference_but_for_order(base: Any, mine: Any, theirs: Any) -> None:
    one, other = merge(base, mine, theirs), merge(base, theirs, mine)
    assert {clash.path for clash in one.clashes} == {clash.path for clash in other.clashes}
