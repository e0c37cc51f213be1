"""Laws of the document's text that hold for any document, found by search."""

from __future__ import annotations

import json
import os
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from rollsound.errors import RollsoundError
from rollsound.log.changes import items_of, join, same
from rollsound.show.comments import AFTER, BEFORE, BESIDE
from rollsound.show.text import parse_plan, read_text, write_text

TIMES = 5 if os.environ.get("ROLLSOUND_DEEP") else 1
_texts = st.text(max_size=12) | st.sampled_from(
    ["no", "true", "null", "~", "007", "12e3", "1e3", "1.10", "-", "- a", "a: b", "a #b", "#", "?", ": ", "'", '"', "|",
     ">", "&a", "*a", "!t", "%", "@", "`", "[a]", "{a}", "a,b", "---", "...", "a\nb", "a\nb\n", " a\nb", "a\n\nb\n\n",
     "\ta\nb", "a\r\nb", "a\u2028b", "\ufeff", "é", "日本", "🎙", "12:30", "-18 dBFS", "=", "<<", "a:", ".5", "0x1F",
     "1_000", ".nan", "-.inf", "2031-02-18", "\x00", "\x7f", "\x85", "a\xa0b", "trailing ", " leading"]
)  # fmt: skip
_scalars = st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False, allow_infinity=False) | _texts
_ids = st.from_regex(r"[a-z0-9][a-z0-9-]{0,4}", fullmatch=True) | st.sampled_from(["7", "true", "null", "1.5"])


def _keyed(parts: st.SearchStrategy[Any]) -> st.SearchStrategy[list[Any]]:
    item = st.dictionaries(_texts.filter(lambda name: name != "id"), parts, max_size=3)
    return st.lists(st.tuples(_ids, item), unique_by=lambda pair: pair[0], max_size=4).map(
        lambda pairs: [{"id": key, **fields} for key, fields in pairs]
    )


_values = st.recursive(
    _scalars,
    lambda parts: st.dictionaries(_texts, parts, max_size=4) | _keyed(parts) | st.lists(parts, max_size=4),
    max_leaves=16,
)
documents = st.dictionaries(st.sampled_from(["version", "show", "people", "kit", "zebra", "alpha"]) | _texts, _values)
_comment = st.from_regex(r"#[ a-z:#\-'\"]{0,8}[a-z]", fullmatch=True)
_lines = st.lists(_comment | st.just(""), max_size=3)


def _paths(value: Any, path: str = "") -> list[str]:
    if isinstance(value, dict):
        return [path, *(each for key, part in value.items() for each in _paths(part, path + join([key])))]
    if isinstance(value, list):
        keys = items_of(value) or map(str, range(len(value)))
        return [path, *(each for key, part in zip(keys, value, strict=True) for each in _paths(part, f"{path}/{key}"))]
    return [path]


@st.composite
def commented(draw: st.DrawFn) -> tuple[dict[str, Any], dict[str, Any]]:
    document = draw(documents)
    paths = draw(st.lists(st.sampled_from(_paths(document)), max_size=5, unique=True))
    sides = st.fixed_dictionaries({}, optional={BEFORE: _lines, BESIDE: _comment, AFTER: _lines})
    comments = {path: draw(sides) for path in paths}
    # A line at the margin never closes a part: it belongs before the next one, so reading never gives this.
    return document, {
        path: {side: words for side, words in kept.items() if side != AFTER or path.count("/") != 1}
        for path, kept in comments.items()
    }


@given(documents)
@settings(max_examples=100 * TIMES, deadline=None)
def test_any_document_is_read_back_as_it_was_written(document: Any) -> None:
    text = write_text(document, {})
    read = read_text(text)
    assert same(read.document, document)
    assert write_text(read.document, read.comments) == text


@given(commented())
@settings(max_examples=100 * TIMES, deadline=None)
def test_a_text_that_was_written_is_written_again_the_same(given_: tuple[Any, Any]) -> None:
    document, comments = given_
    text = write_text(document, comments)
    read = read_text(text)
    assert same(read.document, document)
    again = write_text(read.document, read.comments)
    assert again == text
    assert text.count("#") == again.count("#")


@given(commented())
@settings(max_examples=40 * TIMES, deadline=None)
def test_no_comment_is_lost_or_becomes_part_of_a_value(given_: tuple[Any, Any]) -> None:
    document, comments = given_
    read = read_text(write_text(document, comments))
    kept = sorted(line for sides in read.comments.values() for line in _all_lines(sides))
    wanted = sorted(line for path, sides in comments.items() for line in _all_lines(sides, path))
    assert kept == wanted


def _all_lines(sides: dict[str, Any], path: str = "/") -> list[str]:
    lines = [line for side in (BEFORE, AFTER) for line in sides.get(side, []) if line]
    # The document as a whole has no line that something could stand beside.
    return [*lines, *([sides[BESIDE]] if sides.get(BESIDE) and path else [])]


@given(st.text(max_size=80) | st.text(alphabet="ab:-#[]{},'\"|>&*!?%@ \n\t~0.", max_size=60))
@settings(max_examples=160 * TIMES, deadline=None)
def test_any_text_gives_a_document_or_our_sentence(text: str) -> None:
    try:
        read = read_text(text)
    except RollsoundError as error:
        assert error.sentence
        return
    json.dumps(read.document, allow_nan=False)
    written = write_text(read.document, read.comments)
    again = read_text(written)
    assert same(again.document, read.document)
    assert write_text(again.document, again.comments) == written


@given(documents)
@settings(max_examples=40 * TIMES, deadline=None)
def test_any_document_is_a_plan_or_a_list_of_mistakes(document: Any) -> None:
    try:
        parse_plan(write_text(document, {}))
    except RollsoundError as error:
        assert error.sentence
