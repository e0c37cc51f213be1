"""What a screenplay is made of, each piece with the line that it begins in."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TypeAlias

_ESCAPED = re.compile(r"\\([*_\\])")
_HIDDEN = {"*": "\ue000", "_": "\ue001", "\\": "\ue002"}
_EMPHASIS = (
    re.compile(r"\*\*\*(?=\S)([^\n]*?\S)\*\*\*"),
    re.compile(r"\*\*(?=\S)([^\n]*?\S)\*\*"),
    re.compile(r"\*(?=\S)([^*\n]*?[^*\s])\*"),
    re.compile(r"_(?=\S)([^_\n]*?[^_\s])_"),
)


@dataclass(frozen=True)
class SceneHeading:
    """Where and when a scene is; ``number`` as it stands on the slate, empty when none is written."""

    line: int
    text: str
    number: str = ""


@dataclass(frozen=True)
class Action:
    """What is seen and heard. Paragraphs that follow each other are one, their empty lines kept."""

    line: int
    text: str


@dataclass(frozen=True)
class Centred:
    """A centred line of action."""

    line: int
    text: str


@dataclass(frozen=True)
class Character:
    """Who speaks next. ``extension`` is what stands behind the name, without its brackets: ``V.O.``."""

    line: int
    name: str
    extension: str = ""
    dual: bool = False
    """Whether it is said at the same time as the speech before."""


@dataclass(frozen=True)
class Parenthetical:
    """How it is said, without the brackets."""

    line: int
    text: str


@dataclass(frozen=True)
class Dialogue:
    """What is said; lines that follow each other are one."""

    line: int
    text: str


@dataclass(frozen=True)
class Lyric:
    """What is sung; lines that follow each other are one."""

    line: int
    text: str


@dataclass(frozen=True)
class Transition:
    """How a scene ends."""

    line: int
    text: str


@dataclass(frozen=True)
class Section:
    """A heading of the writer's own; ``level`` 1 is an act."""

    line: int
    level: int
    text: str


@dataclass(frozen=True)
class Synopsis:
    """A line that tells what a scene or section is for."""

    line: int
    text: str


@dataclass(frozen=True)
class PageBreak:
    """A new page."""

    line: int


Element: TypeAlias = (
    SceneHeading
    | Action
    | Centred
    | Character
    | Parenthetical
    | Dialogue
    | Lyric
    | Transition
    | Section
    | Synopsis
    | PageBreak
)


@dataclass(frozen=True)
class Note:
    """A note of the writer's, which is not part of the text."""

    line: int
    text: str


@dataclass(frozen=True)
class Trouble:
    """Something that could not be read as it was meant; the rest was read."""

    line: int
    sentence: str


@dataclass(frozen=True)
class Script:
    """A screenplay as it was read."""

    title: tuple[tuple[str, tuple[str, ...]], ...] = ()
    """The title page: keys and their lines, in order."""
    elements: tuple[Element, ...] = ()
    notes: tuple[Note, ...] = ()
    troubles: tuple[Trouble, ...] = ()

    def titled(self, key: str) -> str:
        """What the title page says under a key, whatever its case; empty when it says nothing."""
        wanted = key.casefold()
        return " ".join(" ".join(lines) for name, lines in self.title if name.casefold() == wanted)


def plain(text: str) -> str:
    """Text without the marks of bold, italics and underlining; marks that a backslash protects stay."""
    if "*" not in text and "_" not in text and "\\" not in text:
        return text
    text = _ESCAPED.sub(lambda found: _HIDDEN[found[1]], text)
    for mark in _EMPHASIS:
        text = mark.sub(r"\1", text)
    for mark_text, hidden in _HIDDEN.items():
        text = text.replace(hidden, mark_text)
    return text
