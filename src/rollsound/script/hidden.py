"""What a screenplay's text hides: comments and notes, taken out so that every other line keeps its number."""

from __future__ import annotations

import re

from rollsound.script.elements import Note, Trouble

Line = tuple[int, str]
_GONE, _SWALLOWED = "\ue010", "\ue011"
_NOTE = re.compile(r"\[\[((?:(?!\]\]|\[\[|\n\n).)*)\]\]", re.DOTALL)


def visible_lines(text: str) -> tuple[list[Line], list[Note], list[Trouble]]:
    """The lines that are read, with their numbers; the notes; and what was opened and never closed.

    Tabs become four spaces. A line that held nothing but a note, or a comment that begins and ends in it, is no line.
    """
    text = text.removeprefix("\ufeff").replace("\r\n", "\n").replace("\r", "\n").replace("\t", "    ")
    text = text.replace(_GONE, "").replace(_SWALLOWED, "")
    troubles: list[Trouble] = []
    notes: list[Note] = []
    if "/*" in text:
        text = _without_comments(text, troubles)
    if "[[" in text:
        text = _without_notes(text, notes, troubles)
    if _GONE not in text:
        return list(enumerate(text.split("\n"), 1)), notes, troubles
    return _numbered(text), notes, troubles


def _without_comments(text: str, troubles: list[Trouble]) -> str:
    kept: list[str] = []
    at = 0
    while (start := text.find("/*", at)) >= 0:
        end = text.find("*/", start + 2)
        if end < 0:
            line = text.count("\n", 0, start) + 1
            troubles.append(Trouble(line, "a comment opens with /* and is never closed; its text was read as script"))
            break
        kept.append(text[at:start])
        kept.append("\n" * text.count("\n", start, end) or _GONE)
        at = end + 2
    kept.append(text[at:])
    return "".join(kept)


def _without_notes(text: str, notes: list[Note], troubles: list[Trouble]) -> str:
    counted = [0, 1]

    def line_of(place: int) -> int:
        counted[1] += text.count("\n", counted[0], place)
        counted[0] = place
        return counted[1]

    def take(found: re.Match[str]) -> str:
        inside = found[1].replace(_GONE, "")
        notes.append(Note(line_of(found.start()), "\n".join(line.strip() for line in inside.split("\n")).strip()))
        return _GONE + _SWALLOWED * inside.count("\n")

    out = _NOTE.sub(take, text)
    left = out.find("[[")
    if left >= 0:
        line = out.count("\n", 0, left) + out.count(_SWALLOWED, 0, left) + 1
        troubles.append(
            Trouble(line, "a note opens with [[ and is not closed before an empty line; it was read as text")
        )
    return out


def _numbered(text: str) -> list[Line]:
    kept: list[Line] = []
    number, skip_blank = 0, False
    for line in text.split("\n"):
        number += 1
        first = number
        number += line.count(_SWALLOWED)
        if _GONE not in line:
            if not (skip_blank and not line):
                kept.append((first, line))
            skip_blank = False
            continue
        line = line.replace(_GONE, "").replace(_SWALLOWED, "")
        if line.strip():
            kept.append((first, line))
            skip_blank = False
        else:
            skip_blank = skip_blank or not kept or not kept[-1][1]
    return kept
