"""Reads the document's text: its values, the line of each, and the comments with what they stand at.

The text is read once, as a stream of events, and nothing is made of it but dicts, lists, text and numbers: tags,
anchors and references are refused, so that no text can grow or call anything. Comments are found between the values;
see ``comments.py`` for what they belong to.
"""

from __future__ import annotations

import re
from bisect import bisect_right
from dataclasses import dataclass, field
from typing import Any

from ruamel.yaml import YAML
from ruamel.yaml.error import MarkedYAMLError, YAMLError
from ruamel.yaml.events import (
    AliasEvent,
    DocumentStartEvent,
    Event,
    MappingEndEvent,
    MappingStartEvent,
    ScalarEvent,
    SequenceEndEvent,
    SequenceStartEvent,
)
from ruamel.yaml.reader import ReaderError

from rollsound.errors import InputError, Mistake, MistakesError
from rollsound.log.changes import items_of
from rollsound.show.comments import Span, Spot, comments_of
from rollsound.show.scalars import value_of
from rollsound.show.syntax import begins_before, sentence_of_syntax

Place = tuple[int | str, ...]
LARGEST_BYTES = 1 << 20
DEEPEST = 40
_TO_DASH = re.compile(r"(?:[\s:?]|#[^\n]*)*-")
_NO_TEXT = re.compile("[\x00-\x08\x0b-\x1f\x7f\x80-\x9f\u2028\u2029\ud800-\udfff\ufffe\uffff]")


@dataclass
class Read:
    """What a text holds: the document, its comments by path, and the line of every place (names and list positions)."""

    document: dict[str, Any]
    comments: dict[str, Any]
    lines: dict[Place, int] = field(default_factory=dict)

    def line_of(self, place: Place) -> int:
        """The line of a place, or of the nearest one around it that the text has; 0 when it has none."""
        for length in range(len(place), 0, -1):
            if place[:length] in self.lines:
                return self.lines[place[:length]]
        return 1 if self.lines else 0


def read_text(text: str, name: str = "the plan") -> Read:
    """Read a document's text.

    Raises
    ------
    MistakesError
        with line, for whatever is not a document's text, or a name that stands twice
    InputError
        when it is too large
    """
    if len(text) > LARGEST_BYTES or len(text.encode("utf-8", "surrogatepass")) > LARGEST_BYTES:
        raise InputError(f"{name} is larger than {LARGEST_BYTES >> 20} MB, which no plan is; name the right file")
    text = text.removeprefix("\ufeff").replace("\r\n", "\n").replace("\r", "\n")
    return _Reading(text, name).read()


@dataclass
class _Open:
    """A dict or list being filled."""

    spot: Spot
    value: Any
    in_brackets: bool
    start: int
    name: str | None = None
    """The name that waits for its value."""
    waiting: Spot | None = None


class _Reading:
    def __init__(self, text: str, name: str) -> None:
        self.text, self.name = text, name
        self.starts = [0, *(match.end() for match in re.finditer("\n", text))]
        self.root = Spot(None, "", 0, 0)
        self.spots: list[Spot] = []
        self.spans: list[Span] = []
        self.open: list[_Open] = []
        self.mistakes: list[Mistake] = []
        self.lines: dict[Place, int] = {}
        self.done: Any = None
        self.end = 0

    def line(self, index: int) -> int:
        """The line, from 1, that a sign stands on."""
        return bisect_right(self.starts, index)

    def read(self) -> Read:
        unreadable = _NO_TEXT.search(self.text)
        if unreadable:
            line = self.line(unreadable.start())
            raise self._refusal(line, f"holds the sign U+{ord(unreadable[0]):04X}, which no text has; take it out")
        documents = 0
        try:
            for event in YAML(typ="safe", pure=True).parse(self.text):
                documents += isinstance(event, DocumentStartEvent)
                if documents > 1:
                    raise self._refusal(self.line(event.start_mark.index), "begins a second document; keep one")
                self._take(event)
        except MarkedYAMLError as error:
            mark = error.problem_mark or error.context_mark
            if begins_before(error):
                mark = error.context_mark
            line = self.line(mark.index) if mark is not None else 0
            raise self._refusal(line, sentence_of_syntax(error, self.text, line)) from error
        except (ReaderError, YAMLError, RecursionError) as error:
            raise self._refusal(0, "cannot be read as a plan's text; write it as in an exported plan") from error
        document = {} if self.done is None else self.done
        if not isinstance(document, dict):
            self._mistake(1, "the document", "should be a group of named values; begin with 'show:'")
        if self.mistakes:
            raise MistakesError(self.name, self.mistakes)
        return Read(document, comments_of(self.text, self.starts, self.root, self.spots, self.spans), self.lines)

    def _refusal(self, line: int, sentence: str) -> MistakesError:
        return MistakesError(self.name, [*self.mistakes, Mistake("the text", line, sentence)])

    def _mistake(self, line: int, place: str, sentence: str) -> None:
        self.mistakes.append(Mistake(place, line, sentence))

    def _take(self, event: Event) -> None:
        at = event.start_mark.index
        if isinstance(event, AliasEvent):
            if self.open and isinstance(self.open[-1].value, dict) and self.open[-1].name is None:
                raise self._refusal(self.line(at), "uses a reference as a name; write a word")
            self._mistake(self.line(at), f"*{event.anchor}", "refers to another place; write the value out")
            self._value(None, at)
            return
        anchor, tag = getattr(event, "anchor", None), getattr(event, "tag", None)
        if anchor:
            self._mistake(self.line(at), f"&{anchor}", "gives a place a name, which is not used here; take it out")
        if tag not in (None, "!"):
            self._mistake(self.line(at), str(tag), "gives a value a type, which is not used here; take it out")
        if isinstance(event, ScalarEvent):
            self._scalar(event)
        elif isinstance(event, MappingStartEvent | SequenceStartEvent):
            self._begin(event)
        elif isinstance(event, MappingEndEvent | SequenceEndEvent):
            self._finish(event)

    def _scalar(self, event: ScalarEvent) -> None:
        start, end = event.start_mark.index, event.end_mark.index
        if event.style in ("|", ">"):
            # The reader runs on to the next value; the text itself ends with its last line that is not empty.
            end = start + len(self.text[start:end].rstrip())
        if end > start:
            self.spans.append(Span(start, end, event.style or ""))
        here = self.open[-1] if self.open else None
        if here is not None and isinstance(here.value, dict) and here.name is None:
            self._name(here, event.value, start)
            self.end = max(self.end, end)
            return
        is_id = here is not None and here.name == "id"
        value = event.value if event.style or (is_id and event.value) else value_of(event.value)
        self._value(value, start)
        self.end = max(self.end, end if end > start else 0)

    def _name(self, here: _Open, name: str, start: int) -> None:
        spot = self._spot(here, name, start)
        if name in here.value:
            first = self.lines[spot.place()]
            self._mistake(self.line(start), name, f"stands on line {first} already; keep one of them")
        here.name, here.waiting = name, spot
        self.lines.setdefault(spot.place(), self.line(start))

    def _spot(self, here: _Open, step: int | str, start: int) -> Spot:
        line_start = self.starts[self.line(start) - 1]
        spot = Spot(here.spot, step, start, start - line_start)
        if not here.in_brackets:
            self.spots.append(spot)
        return spot

    def _item(self, here: _Open) -> Spot:
        """The spot of the next item of a list: its dash, or its place in brackets."""
        position = len(here.value)
        start = self.end
        if not here.in_brackets:
            dash = _TO_DASH.match(self.text, here.start if position == 0 else self.end)
            start = self.end if dash is None else dash.end() - 1
            self.end = max(self.end, start + 1)
        spot = self._spot(here, position, start)
        self.lines[spot.place()] = self.line(start)
        return spot

    def _target(self, start: int) -> Spot:
        if not self.open:
            return self.root
        here = self.open[-1]
        if isinstance(here.value, list):
            spot = self._item(here)
            if here.in_brackets:
                self.lines[spot.place()] = self.line(start)
            return spot
        assert here.waiting is not None
        return here.waiting

    def _value(self, value: Any, start: int) -> None:
        """A whole single value has been read."""
        self._target(start)
        self._put(value)

    def _put(self, value: Any) -> None:
        if not self.open:
            self.done = value
            return
        here = self.open[-1]
        if isinstance(here.value, list):
            here.value.append(value)
        elif here.name is not None:
            here.value.setdefault(here.name, value)
            here.name = here.waiting = None

    def _begin(self, event: MappingStartEvent | SequenceStartEvent) -> None:
        start = event.start_mark.index
        here = self.open[-1] if self.open else None
        if here is not None and isinstance(here.value, dict) and here.name is None:
            raise self._refusal(self.line(start), "uses a group or list as a name; write a word")
        if len(self.open) >= DEEPEST:
            raise self._refusal(self.line(start), f"has groups in groups deeper than {DEEPEST}; no plan has")
        spot = self._target(start)
        in_brackets = bool(event.flow_style)
        spot.group = not in_brackets
        value: Any = {} if isinstance(event, MappingStartEvent) else []
        if in_brackets:
            self.end = start + 1
        self.open.append(_Open(spot, value, in_brackets, start))

    def _finish(self, event: Event) -> None:
        closed = self.open.pop()
        if closed.in_brackets:
            self.end = event.end_mark.index
            if not (self.open and self.open[-1].in_brackets):
                self.spans.append(Span(closed.start, self.end, "brackets"))
        if isinstance(closed.value, list) and closed.value:
            closed.spot.ids = list(items_of(closed.value) or ())
        self._put(closed.value)
