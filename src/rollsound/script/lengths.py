"""How long a scene is on the page: lines of the usual typewriter's page, and eighths of it."""

from __future__ import annotations

import functools
from dataclasses import dataclass

from rollsound.facts import table
from rollsound.script.elements import (
    Action,
    Centred,
    Character,
    Dialogue,
    Element,
    Lyric,
    PageBreak,
    Parenthetical,
    SceneHeading,
    Transition,
)

_TABLE = "script_page"
_KINDS: dict[type, str] = {
    SceneHeading: "heading", Action: "action", Centred: "action", Character: "character",
    Parenthetical: "parenthetical", Dialogue: "dialogue", Lyric: "lyric", Transition: "transition",
}  # fmt: skip


@dataclass(frozen=True)
class PageForm:
    """Lines of a page; for each kind of element how many letters a line takes, and empty lines before."""

    lines: int
    letters: dict[str, int]
    before: dict[str, int]


@functools.cache
def page_form() -> PageForm:
    """The usual page."""
    rows = table(_TABLE)["element"]
    letters = {row["id"]: int(row["letters"]) for row in rows}
    return PageForm(int(table(_TABLE)["page"]["lines"]), letters, {row["id"]: int(row["before"]) for row in rows})


def lines_of(element: Element, form: PageForm | None = None) -> int:
    """How many lines an element takes, with the empty ones before it; sections and synopses are not printed."""
    kind = _KINDS.get(type(element))
    if kind is None:
        return 0
    form = form or page_form()
    text = element.name if isinstance(element, Character) else getattr(element, "text", "")
    return form.before[kind] + sum(_wrapped(line, form.letters[kind]) for line in text.split("\n"))


def _wrapped(text: str, letters: int) -> int:
    """Lines that a text takes when words stay whole."""
    if len(text) <= letters:
        return 1
    lines, used = 1, 0
    for word in text.split():
        size = len(word)
        if used and used + 1 + size > letters:
            lines, used = lines + 1, 0
        used += size + (1 if used else 0)
        while used > letters:
            lines, used = lines + 1, used - letters
    return lines


def eighths(lines: int, form: PageForm | None = None) -> int:
    """Eighths of a page, to the nearest, and never less than one of a scene that is there."""
    form = form or page_form()
    return max(1, (lines * 16 + form.lines) // (2 * form.lines))


def eighths_text(count: int) -> str:
    """As it is written on breakdowns: 2 3/8."""
    whole, rest = divmod(count, 8)
    return " ".join(part for part in (str(whole) if whole or not rest else "", f"{rest}/8" if rest else "") if part)


class PageCounter:
    """Counts pages going by."""

    def __init__(self) -> None:
        self._form = page_form()
        self._page, self._line = 1, 0

    @property
    def page(self) -> int:
        """The page that comes next."""
        return self._page

    def take(self, element: Element) -> int:
        """Count one element; answers its lines."""
        if isinstance(element, PageBreak):
            if self._line:
                self._page, self._line = self._page + 1, 0
            return 0
        lines = lines_of(element, self._form)
        self._line += lines
        while self._line >= self._form.lines:
            self._page, self._line = self._page + 1, self._line - self._form.lines
        return lines
