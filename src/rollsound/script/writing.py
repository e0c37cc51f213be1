"""A screenplay back into Fountain: what would be read as something else is forced to be what it is."""

from __future__ import annotations

from collections.abc import Iterable

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
)
from rollsound.script.fountain import HEADING, cue_name

_MARKS = frozenset(".!@~>#=")


def write_fountain(script: Script) -> str:
    """The text of a screenplay. Notes and comments, which are no part of what is read, are not in it."""
    blocks = [_title_page(script)] if script.title else []
    spoken: list[str] = []
    for element in script.elements:
        if spoken and not isinstance(element, Parenthetical | Dialogue | Lyric):
            blocks.append(_said(spoken))
            spoken = []
        if isinstance(element, Character):
            spoken = [_character(element)]
        elif spoken:
            spoken.extend(_speech(element))
        else:
            blocks.append(_block(element))
    if spoken:
        blocks.append(_said(spoken))
    return "\n\n".join(blocks) + "\n" if blocks else ""


def _title_page(script: Script) -> str:
    lines: list[str] = []
    for key, values in script.title:
        lines.append(f"{key}: {values[0]}" if len(values) == 1 else f"{key}:")
        lines += [f"    {value}" for value in values] if len(values) > 1 else []
    return "\n".join(lines)


def _character(who: Character) -> str:
    name = f"{who.name} ({who.extension})" if who.extension else who.name
    plain = cue_name(name) is not None and not HEADING.match(name) and name[0] not in _MARKS
    return ("" if plain and not name.endswith("TO:") else "@") + name + (" ^" if who.dual else "")


def _said(lines: list[str]) -> str:
    """A speech; a name that nothing stands under is one only when it is forced."""
    return "\n".join(lines) if len(lines) > 1 or lines[0][0] == "@" else f"@{lines[0]}"


def _speech(element: Element) -> Iterable[str]:
    if isinstance(element, Parenthetical):
        return [f"({element.text})"]
    if isinstance(element, Lyric):
        return [f"~{line}" for line in element.text.split("\n")]
    assert isinstance(element, Dialogue)
    return [line or "  " for line in element.text.split("\n")]


def _block(element: Element) -> str:
    match element:
        case SceneHeading(_, text, number):
            forced = "" if HEADING.match(text) else "."
            return forced + text + (f" #{number}#" if number else "")
        case Action(_, text):
            return "\n".join(_action(line) for line in text.split("\n"))
        case Centred(_, text):
            return f"> {text} <"
        case Lyric(_, text):
            return "\n".join(f"~{line}" for line in text.split("\n"))
        case Transition(_, text):
            return text if text.isupper() and text.endswith("TO:") and text[0] not in _MARKS else f"> {text}"
        case Section(_, level, text):
            return "#" * level + f" {text}"
        case Synopsis(_, text):
            return f"= {text}"
        case PageBreak():
            return "==="
        case Parenthetical(_, text) | Dialogue(_, text):
            return "\n".join(_action(line) for line in text.split("\n"))
        case _:
            raise AssertionError(element)


def _action(line: str) -> str:
    """A line that could be anything but action is forced; one in plain prose is left alone."""
    text = line.strip()
    if not text:
        return ""
    prose = any(letter.islower() for letter in text.split("(", 1)[0])
    return line if prose and text[0] not in _MARKS and not HEADING.match(text) and ":" not in text else f"!{line}"
