"""JSON that people edit: what is wrong has its line, and nothing is passed over."""

from __future__ import annotations

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rollsound.errors import InputError, MistakesError
from rollsound.jsontext import read_json

values = st.recursive(
    st.none() | st.booleans() | st.integers(-(10**9), 10**9) | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=6), inner, max_size=3),
    max_leaves=12,
)


def test_each_part_knows_its_line() -> None:
    text = '{\n "a": [1,\n {"b": 2,\n "c": {}}],\n "d\\n,]": "x,\\"]}",\n "e": []\n}'
    document = read_json(text, "plan")
    assert document.value == json.loads(text)
    places = [(), ("a",), ("a", 0), ("a", 1, "b"), ("a", 1, "c"), ("d\n,]",), ("e",)]
    assert [document.line_of(place) for place in places] == [1, 2, 2, 3, 4, 5, 6]


def test_a_place_that_is_not_there_has_the_line_around_it() -> None:
    document = read_json('{\n"a": [\n{"b": 2}]}', "plan")
    assert document.line_of(("a", 0, "missing")) == 3
    assert document.line_of(("a", 7)) == 2


@given(values)
def test_every_value_is_read_as_json_reads_it(value: object) -> None:
    for indent in (None, 1):
        text = json.dumps(value, indent=indent)
        document = read_json(text, "plan")
        assert document.value == value
        for place in _places(value):
            wanted = json.dumps(place[-1]) + ":" if place and isinstance(place[-1], str) else ""
            assert wanted in text.splitlines()[document.line_of(place) - 1]


def _places(value: object, here: tuple[int | str, ...] = ()) -> list[tuple[int | str, ...]]:
    parts = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    return [here, *(place for key, part in parts for place in _places(part, (*here, key)))]


@pytest.mark.parametrize(
    ("text", "line", "words"),
    [
        ('{"a": 1,\n}', 2, "not JSON from column 1"),
        ('{"a": 1', 1, "not JSON"),
        ("no", 1, "not JSON from column 1"),
        ("{} x", 1, "not JSON from column 4"),
        ('{"a":\n NaN}', 2, "NaN: is no number"),
        ('{"a":\n\n[-Infinity]}', 3, "-Infinity: is no number"),
        ('{"a":\n1e999}', 2, "1e999: is no number"),
        ('{"a": 1,\n"b": {"a": 2},\n"a": 1}', 3, "a: stands here twice"),
    ],
)
def test_what_is_wrong_is_said_with_its_line(text: str, line: int, words: str) -> None:
    with pytest.raises(MistakesError, match=words) as caught:
        read_json(text, "plan")
    assert [each.line for each in caught.value.mistakes] == [line]


@pytest.mark.parametrize(
    ("text", "words"),
    [("", "is empty"), (" \n", "is empty"), ("[" * 100_000, "no document"), ("1" * 6000, "no document")],
)
def test_what_is_no_document_at_all(text: str, words: str) -> None:
    with pytest.raises(InputError, match=words):
        read_json(text, "plan")
