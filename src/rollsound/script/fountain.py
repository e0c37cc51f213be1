"""Fountain, the open plain text form of screenplays, into its elements. Nothing that can be read is lost."""

from __future__ import annotations

import re

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
    Script,
    Section,
    Synopsis,
    Transition,
    Trouble,
)
from rollsound.script.hidden import Line, visible_lines

HEADING = re.compile(r"(?:INT\./EXT|INT/EXT|I/E|INT|EXT|EST)(?:[. ]|$)", re.IGNORECASE)
"""How a line begins that is a scene heading without being forced."""
_NUMBER = re.compile(r"(.*?)\s*#([\w.-]+)#\s*$")
_KEY = re.compile(r"([^\W\d_][^:\n]{0,39}):(.*)")
_BREAK = re.compile(r"\s*={3,}\s*")
_EXTENSIONS = re.compile(r"\s*\(([^()]*)\)")
_TRANSITION = re.compile(r"\s*\S.*TO:")


def read_fountain(text: str) -> Script:
    """Read a screenplay. What cannot be read as it was meant is in ``troubles``, and the rest is read still."""
    lines, notes, troubles = visible_lines(text)
    title, start = _title_page(lines)
    reader = _Reader(lines, start, troubles)
    reader.read()
    return Script(title, tuple(reader.elements), tuple(notes), tuple(sorted(troubles, key=lambda each: each.line)))


def cue_name(line: str) -> tuple[str, str, bool] | None:
    """Name, extension and whether it is dual, of a line in capitals that can be a character's; none when it cannot."""
    text = line.strip()
    dual = text.endswith("^")
    if dual:
        text = text[:-1].rstrip()
    name = _EXTENSIONS.sub("", text).strip() if "(" in text else text
    if not name.isupper():
        return None
    return name, _extension(text), dual


def _extension(text: str) -> str:
    return ", ".join(found.strip() for found in _EXTENSIONS.findall(text)) if "(" in text else ""


def _title_page(lines: list[Line]) -> tuple[tuple[tuple[str, tuple[str, ...]], ...], int]:
    """The title page and how many lines it has. ``FADE IN:`` alone is none, as it holds nothing."""
    entries: list[tuple[str, list[str]]] = []
    at = 0
    while at < len(lines) and lines[at][1].strip():
        line = lines[at][1]
        key = _KEY.fullmatch(line)
        if entries and line.startswith("   "):
            entries[-1][1].append(line.strip())
        elif key is not None and not HEADING.match(line):
            entries.append((key[1].strip(), [key[2].strip()] if key[2].strip() else []))
        else:
            break
        at += 1
    if not any(values for _, values in entries):
        return (), 0
    return tuple((name, tuple(values)) for name, values in entries), at


class _Reader:
    """Goes through the lines once."""

    def __init__(self, lines: list[Line], start: int, troubles: list[Trouble]) -> None:
        self.lines = lines
        self.at = start
        self.start = start
        self.troubles = troubles
        self.elements: list[Element] = []
        self._paragraph: list[str] = []
        self._paragraph_line = 0

    def read(self) -> None:
        """Read everything."""
        while self.at < len(self.lines):
            number, line = self.lines[self.at]
            if not line.strip():
                if self._paragraph:
                    self._paragraph.append("")
                self.at += 1
                continue
            self._element(number, line)
        self._end_paragraph()

    def _element(self, number: int, line: str) -> None:
        text = line.strip()
        found = self._forced(number, text) or self._by_its_look(number, line, text)
        if found is None:
            if not self._paragraph:
                self._paragraph_line = number
            self._paragraph.append((line.replace("!", "", 1) if text[0] == "!" else line).rstrip())
            self.at += 1
            return
        self._end_paragraph()
        self.elements.append(found)
        self.at += 1
        if isinstance(found, Character):
            self._speech(found)
        elif isinstance(found, Lyric):
            self._more_lyrics()

    def _forced(self, number: int, text: str) -> Element | None:
        first = text[0]
        if first == "." and len(text) > 1 and text[1].isalnum():
            return self._heading(number, text[1:])
        if first == "@":
            return self._forced_character(number, text[1:].strip())
        if first == ">":
            if text.endswith("<") and len(text) > 1:
                return Centred(number, text[1:-1].strip())
            return Transition(number, text[1:].strip())
        if first == "~":
            return Lyric(number, text[1:].strip())
        if first == "#":
            level = len(text) - len(text.lstrip("#"))
            return Section(number, level, text[level:].strip())
        if first == "=":
            return PageBreak(number) if _BREAK.fullmatch(text) else Synopsis(number, text[1:].strip())
        return None

    def _by_its_look(self, number: int, line: str, text: str) -> Element | None:
        if text[0] == "!" or not self._stands_free():
            return None
        if HEADING.match(text):
            return self._heading(number, text)
        if not text.split("(", 1)[0].isupper():
            return None
        if self._next_is_blank():
            return Transition(number, text) if _TRANSITION.fullmatch(line) else None
        cue = cue_name(text)
        return Character(number, *cue) if cue is not None else None

    def _stands_free(self) -> bool:
        """Whether the line before is empty, or is one that stands alone by its nature."""
        if self.at == self.start or not self.lines[self.at - 1][1].strip():
            return True
        return not self._paragraph and isinstance(self.elements[-1], SceneHeading | Section | Synopsis | PageBreak)

    def _next_is_blank(self) -> bool:
        return self.at + 1 >= len(self.lines) or not self.lines[self.at + 1][1].strip()

    def _heading(self, number: int, text: str) -> SceneHeading:
        found = _NUMBER.match(text)
        return SceneHeading(number, found[1].strip(), found[2]) if found else SceneHeading(number, text.strip())

    def _forced_character(self, number: int, text: str) -> Character | None:
        dual = text.endswith("^")
        text = text[:-1].rstrip() if dual else text
        name = _EXTENSIONS.sub("", text).strip()
        if not name:
            return None
        if self._next_is_blank():
            self.troubles.append(Trouble(number, f"{name} has no line under the name; write what is said there"))
        return Character(number, name, _extension(text), dual)

    def _speech(self, who: Character) -> None:
        """Everything down to the next empty line; a line of two spaces goes on with it."""
        spoken: list[tuple[int, str]] = []

        def end() -> None:
            while spoken and not spoken[-1][1]:
                spoken.pop()
            if spoken:
                self.elements.append(Dialogue(spoken[0][0], "\n".join(text for _, text in spoken)))
            spoken.clear()

        while self.at < len(self.lines):
            number, line = self.lines[self.at]
            text = line.strip()
            if not text and len(line) < 2:
                break
            self.at += 1
            if text[:1] == "~":
                end()
                self.elements.append(Lyric(number, text[1:].strip()))
                self._more_lyrics()
            elif text[:1] == "(" and text[-1:] == ")":
                end()
                self.elements.append(Parenthetical(number, text[1:-1].strip()))
            elif text or spoken:
                spoken.append((number, text))
        end()

    def _more_lyrics(self) -> None:
        """Lines of a song that follow each other are one."""
        song = self.elements[-1]
        assert isinstance(song, Lyric)
        lines = [song.text]
        while self.at < len(self.lines) and self.lines[self.at][1].lstrip()[:1] == "~":
            lines.append(self.lines[self.at][1].strip()[1:].strip())
            self.at += 1
        self.elements[-1] = Lyric(song.line, "\n".join(lines))

    def _end_paragraph(self) -> None:
        while self._paragraph and not self._paragraph[-1]:
            self._paragraph.pop()
        if self._paragraph:
            self.elements.append(Action(self._paragraph_line, "\n".join(self._paragraph)))
        self._paragraph = []
