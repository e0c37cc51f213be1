"""Writes the document's text: always the same text for the same document and comments, whatever was edited before.

Two spaces a level; names in the order of the plan's model, then those it does not know as they came; short lists of
single values in one line; texts of several lines as they are. An empty line before each part of the plan.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from rollsound.log.changes import items_of, join
from rollsound.show.comments import AFTER, BEFORE, beside_of, lines_of
from rollsound.show.scalars import may_be_block, scalar_text

_LONGEST_LINE = 100


def written(document: Mapping[str, Any], comments: Mapping[str, Any]) -> str:
    """The text of a document whose names are in the order they are to have."""
    lines = list(_Writing(comments).document(document))
    while lines and not lines[0]:
        lines.pop(0)
    while lines and not lines[-1]:
        lines.pop()
    return "\n".join([*lines, ""])


class _Writing:
    def __init__(self, comments: Mapping[str, Any]) -> None:
        self.comments = comments

    def document(self, document: Mapping[str, Any]) -> Iterator[str]:
        head, foot = (lines_of(self.comments, "", side) for side in (BEFORE, AFTER))
        if not document:
            yield from [*head, *foot]
            return
        # An empty line tells what opens the document from what belongs to its first name.
        yield from head if not head or not head[-1] else [*head, ""]
        for position, (name, value) in enumerate(document.items()):
            path, lead = join([name]), scalar_text(name) + ":"
            if position and isinstance(value, dict | list) and self._one_line(path, value, len(lead)) is None:
                yield ""
            yield from self._entry(path, lead, value, 0)
        yield from foot

    def _entry(self, path: str, lead: str, value: Any, indent: int) -> Iterator[str]:
        """A value under its name or dash, with the comments around it."""
        pad = " " * indent
        for line in lines_of(self.comments, path, BEFORE):
            yield pad + line if line else ""
        beside = beside_of(self.comments, path)
        one_line = self._one_line(path, value, indent + len(lead))
        if lead == "-" and isinstance(value, dict | list) and one_line is None and beside:
            # Beside a bare dash nothing can stay.
            yield pad + beside.strip()
            beside = ""
        if one_line is not None:
            yield f"{pad}{lead} {one_line}{beside}"
        elif isinstance(value, str):
            sign = "|" if value.endswith("\n") else "|-"
            yield f"{pad}{lead} {sign}{beside}"
            body = value.removesuffix("\n")
            yield from (pad + "  " + line if line else "" for line in body.split("\n"))
        elif isinstance(value, dict) and lead == "-":
            yield from self._item(path, value, indent)
        else:
            yield f"{pad}{lead}{beside}"
            yield from self._parts(path, value, indent + 2)
        for line in lines_of(self.comments, path, AFTER):
            yield pad + line if line else ""

    def _item(self, path: str, value: Mapping[str, Any], indent: int) -> Iterator[str]:
        """A dict in a list: its first name stands behind the dash."""
        lines = self._parts(path, value, indent + 2)
        first = next(lines)
        # Comments before the first name have no place behind a dash; they go before it.
        while not first.strip() or first.lstrip().startswith("#"):
            yield first[2:] if first.strip() else ""
            first = next(lines)
        yield f"{' ' * indent}- {first[indent + 2 :]}"
        yield from lines

    def _parts(self, path: str, value: Any, indent: int) -> Iterator[str]:
        if isinstance(value, dict):
            for name, part in value.items():
                yield from self._entry(path + join([name]), scalar_text(name) + ":", part, indent)
            return
        keys = list(items_of(value) or map(str, range(len(value))))
        for key, part in zip(keys, value, strict=True):
            yield from self._entry(path + join([key]), "-", part, indent)

    def _noted(self, path: str) -> bool:
        sides = (lines_of(self.comments, path, BEFORE), lines_of(self.comments, path, AFTER))
        return bool(beside_of(self.comments, path)) or any(sides)

    def _one_line(self, path: str, value: Any, used: int) -> str | None:
        """A value that fits behind its name; none when it needs lines of its own."""
        if isinstance(value, dict):
            return None if value else "{}"
        if isinstance(value, list):
            if any(isinstance(part, dict | list) or self._noted(f"{path}/{at}") for at, part in enumerate(value)):
                return None
            text = "[" + ", ".join(scalar_text(part, in_brackets=True) for part in value) + "]"
            return text if used + len(text) <= _LONGEST_LINE or not value else None
        if isinstance(value, str) and may_be_block(value):
            return None
        return scalar_text(value)
