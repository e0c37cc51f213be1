"""What a comment belongs to, so that it stays there when the document is changed elsewhere and written again.

Comments are kept by the path of a value, as ``{"before": [lines], "beside": "# …", "after": [lines]}``. Empty lines
count as lines, so that the look of a text is kept. Those at path ``""`` open and close the document.

- A line of its own belongs before what follows it.
- Unless it is indented deeper than that: then it closes what it is in line with above.
- At the end of a line it belongs to what stands last on this line.
- The first lines of the text, up to an empty line, open the document; the last ones close it.
- In brackets, a line of its own belongs before the whole list.
"""

from __future__ import annotations

import re
from bisect import bisect_right
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, TypeAlias

from rollsound.log.changes import join

Comments: TypeAlias = dict[str, Any]
BEFORE, BESIDE, AFTER = "before", "beside", "after"
_COMMENT = re.compile(r"(?<!\S)#[^\n]*")


@dataclass
class Spot:
    """Where a value begins: its name, or its dash in a list."""

    parent: Spot | None
    step: int | str
    start: int
    column: int
    ids: list[str] = field(default_factory=list)
    """Of the items, when it is a list whose items have ids."""
    group: bool = False
    """Whether its value stands on lines of its own."""

    def place(self) -> tuple[int | str, ...]:
        """Names, and positions in lists."""
        steps: list[int | str] = []
        here: Spot | None = self
        while here is not None and here.parent is not None:
            steps.append(here.step)
            here = here.parent
        return tuple(reversed(steps))

    def path(self) -> str:
        """Names, and ids in lists where there are any."""
        if self.parent is None:
            return ""
        step = self.step
        if isinstance(step, int) and self.parent.ids:
            step = self.parent.ids[step]
        return self.parent.path() + join([str(step)])


@dataclass(frozen=True)
class Span:
    """A stretch of the text that is a value, where no comment begins; in brackets, comments may."""

    start: int
    end: int
    style: str


@dataclass(frozen=True)
class _Line:
    """A line that holds nothing but a comment, or nothing at all."""

    number: int
    start: int
    column: int
    text: str


def comments_of(text: str, starts: Sequence[int], root: Spot, spots: Sequence[Spot], spans: Sequence[Span]) -> Comments:
    """All comments of a text by path, and its empty lines.

    Parameters
    ----------
    starts
        where each line of the text begins
    spots, spans
        in the order of the text
    """
    keeping = _Keeping()
    ordered = sorted(spots, key=lambda spot: spot.start)
    begins = [spot.start for spot in ordered]
    loose: list[_Line] = []
    inside = _numbers_inside(text, starts, spans)
    found = {bisect_right(starts, at) - 1: (at, words) for at, words in _comments(text, spans)}
    for number, start in enumerate(starts):
        end = starts[number + 1] - 1 if number + 1 < len(starts) else len(text)
        at, words = found.get(number, (end, ""))
        if text[start:at].strip() == "":
            if number not in inside:
                loose.append(_Line(number, start, at - start if words else -1, words))
            elif words:
                keeping.add(_last(ordered, begins, at) or root, BEFORE, words)
        elif words:
            keeping.beside(_last(ordered, begins, at) or root, words)
    _place_loose(loose, root, ordered, begins, keeping)
    return keeping.by_path()


def _comments(text: str, spans: Sequence[Span]) -> Iterator[tuple[int, str]]:
    """Where a comment begins, and its words."""
    at = 0
    for span in sorted((span for span in spans if span.style != "brackets"), key=lambda span: span.start):
        for match in _COMMENT.finditer(text, at, span.start):
            yield match.start(), match[0].rstrip()
        at = max(at, span.end)
        if span.style in ("|", ">"):
            header = _COMMENT.search(text, span.start, text.find("\n", span.start) + 1 or len(text))
            if header:
                yield header.start(), header[0].rstrip()
    for match in _COMMENT.finditer(text, at):
        yield match.start(), match[0].rstrip()


def _numbers_inside(text: str, starts: Sequence[int], spans: Sequence[Span]) -> set[int]:
    """The lines, from 0, that a value runs through or ends on, after the one that it begins on."""
    inside: set[int] = set()
    for span in spans:
        first, last = bisect_right(starts, span.start), bisect_right(starts, max(span.end - 1, span.start))
        inside.update(range(first, last))
    return inside


def _last(ordered: Sequence[Spot], begins: Sequence[int], at: int) -> Spot | None:
    """What began last before a place in the text."""
    position = bisect_right(begins, at)
    return ordered[position - 1] if position else None


def _place_loose(
    loose: list[_Line],
    root: Spot,
    ordered: Sequence[Spot],
    begins: Sequence[int],
    keeping: _Keeping,
) -> None:
    groups: dict[int, list[_Line]] = {}
    for line in loose:
        groups.setdefault(bisect_right(begins, line.start), []).append(line)
    for position, lines in groups.items():
        # Of what begins on one line the first counts: ``- id: x`` is an item before it is a name.
        following = ordered[position] if position < len(ordered) else None
        previous = ordered[position - 1] if position else None
        if following is None:
            while lines and not lines[-1].text:
                lines.pop()
        if following is None and previous is None:
            for line in lines:
                keeping.add(root, BEFORE, line.text)
            continue
        if previous is None:
            lines = _open_document(lines, root, keeping)
        else:
            lines = _close(
                lines, previous, -1 if following is None else following.column, keeping, last=following is None
            )
        for line in lines:
            keeping.add(following or root, BEFORE if following is not None else AFTER, line.text)


def _open_document(lines: list[_Line], root: Spot, keeping: _Keeping) -> list[_Line]:
    """Give the lines up to the last empty one to the document itself."""
    empty = [position for position, line in enumerate(lines) if not line.text]
    if not empty:
        return lines
    for line in lines[: empty[-1] + 1]:
        keeping.add(root, BEFORE, line.text)
    return lines[empty[-1] + 1 :]


def _close(lines: list[_Line], previous: Spot, column: int, keeping: _Keeping, *, last: bool) -> list[_Line]:
    """Give the lines that are indented deeper than what follows to what they close; returns the others."""
    border = 0 if last else column
    waiting: list[_Line] = []
    for position, line in enumerate(lines):
        if not line.text:
            waiting.append(line)
            continue
        if line.column <= border:
            return lines[position - len(waiting) :]
        spot = previous
        while spot.parent is not None and spot.parent.parent is not None and spot.column > line.column:
            spot = spot.parent
        for each in [*waiting, line]:
            keeping.add(spot, AFTER, each.text)
        waiting = []
    return waiting


class _Keeping:
    """Comments by what they belong to."""

    def __init__(self) -> None:
        self._kept: dict[int, tuple[Spot, dict[str, Any]]] = {}

    def add(self, spot: Spot, side: str, text: str) -> None:
        self._of(spot).setdefault(side, []).append(text)

    def beside(self, spot: Spot, text: str) -> None:
        kept = self._of(spot)
        # A group in a list begins with its first name, on the same line; beside a bare dash nothing can stay.
        if BESIDE in kept or (isinstance(spot.step, int) and spot.group):
            kept.setdefault(BEFORE, []).append(text)
        else:
            kept[BESIDE] = text

    def _of(self, spot: Spot) -> dict[str, Any]:
        return self._kept.setdefault(id(spot), (spot, {}))[1]

    def by_path(self) -> Comments:
        for spot, kept in self._kept.values():
            # One empty line stands before each part of the document anyway.
            if spot.group and spot.parent is not None and spot.parent.parent is None and kept.get(BEFORE, "#")[0] == "":
                del kept[BEFORE][0]
        filled = ((spot, {side: words for side, words in kept.items() if words}) for spot, kept in self._kept.values())
        return {spot.path(): kept for spot, kept in filled if kept}


def lines_of(comments: Mapping[str, Any], path: str, side: str) -> list[str]:
    """The lines before or after a path, as they may stand in a text."""
    lines = ["" if not str(line).strip() else str(line) for line in (comments.get(path) or {}).get(side, [])]
    while side == AFTER and lines and not lines[-1]:
        # Read again, an empty line at the end of a part would belong to what follows.
        lines.pop()
    return [_as_comment(line) if line else "" for line in lines]


def beside_of(comments: Mapping[str, Any], path: str) -> str:
    """What stands behind a value on its line, with the space before it."""
    text = (comments.get(path) or {}).get(BESIDE, "")
    return f"  {_as_comment(str(text))}" if text else ""


def _as_comment(text: str) -> str:
    one_line = " ".join(text.split("\n"))
    return one_line.rstrip() if one_line.startswith("#") else f"# {one_line.strip()}"
