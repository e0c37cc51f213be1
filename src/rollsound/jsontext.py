"""JSON as people edit it: what is wrong is said with its line, and nothing is taken silently."""

from __future__ import annotations

import json
import math
import re
from dataclasses import dataclass, field
from typing import Any, NoReturn

from rollsound.errors import InputError, Mistake, MistakesError

Path = tuple[int | str, ...]
_TOKEN = re.compile(r'"(?:[^"\\]|\\.)*"|[\[\]{},:]|[^\s\[\]{},:"]+')


@dataclass
class JsonText:
    """What a text holds, and where each part of it stands."""

    value: Any
    _lines: dict[Path, int] = field(default_factory=dict)

    def line_of(self, place: Path) -> int:
        """The line of a place, or of the nearest place around it that the text has; 0 when it has none."""
        for length in range(len(place), -1, -1):
            if place[:length] in self._lines:
                return self._lines[place[:length]]
        return 0


def read_json(text: str, name: str) -> JsonText:
    """Read a text of JSON.

    Raises
    ------
    MistakesError
        with its line, when it is not JSON, or holds a name twice or a number that is none (NaN, Infinity, 1e999)
    InputError
        when it cannot be held at all
    """
    if not text.strip():
        raise InputError(f"{name} is empty; name the right file")
    try:
        value = json.loads(text, parse_constant=_no_number, parse_float=_number)
    except json.JSONDecodeError as error:
        sentence = f"is not JSON from column {error.colno} on; look for a comma, quote or bracket amiss there"
        raise MistakesError(name, [Mistake("the text", error.lineno, sentence)]) from error
    except _NoNumberError as error:
        line = _line_of_word(text, str(error))
        raise MistakesError(name, [Mistake(str(error), line, "is no number here; write a figure, or null")]) from error
    except (RecursionError, ValueError) as error:
        sentence = "groups in groups without end, or a number of thousands of digits"
        raise InputError(f"{name} holds what no document of ours has ({sentence}); name the right file") from error
    lines, twice = _places(text)
    if twice:
        raise MistakesError(name, [Mistake(word, line, "stands here twice; keep one of them") for word, line in twice])
    return JsonText(value, lines)


class _NoNumberError(InputError):
    """Carries the word that stands where a number should."""


def _no_number(word: str) -> NoReturn:
    raise _NoNumberError(word)


def _number(word: str) -> float:
    value = float(word)
    return value if math.isfinite(value) else _no_number(word)


def _line_of_word(text: str, word: str) -> int:
    found = next((token for token in _TOKEN.finditer(text) if token.group() == word), None)
    return 0 if found is None else text.count("\n", 0, found.start()) + 1


@dataclass
class _Open:
    """A group or a list that the reading is inside of: where it is, and the name or number of the part at hand."""

    place: Path
    names: set[str] | None
    part: int | str = 0


def _places(text: str) -> tuple[dict[Path, int], list[tuple[str, int]]]:
    """The line of every part of a text known to be JSON, and the names that stand twice in their group."""
    lines: dict[Path, int] = {}
    twice: list[tuple[str, int]] = []
    inside: list[_Open] = []
    wants_name, line, at = False, 1, 0
    for token in _TOKEN.finditer(text):
        line, at = line + text.count("\n", at, token.start()), token.start()
        word = token.group()
        here = inside[-1] if inside else None
        if word in "]}":
            inside.pop()
            wants_name = False
        elif word == ",":
            assert here is not None
            if here.names is None:
                here.part = int(here.part) + 1
            wants_name = here.names is not None
        elif word == ":":
            wants_name = False
        elif wants_name and here is not None and here.names is not None:
            here.part = json.loads(word)
            lines[(*here.place, here.part)] = line
            if here.part in here.names:
                twice.append((str(here.part), line))
            here.names.add(str(here.part))
        else:
            place = (*here.place, here.part) if here is not None else ()
            lines.setdefault(place, line)
            if word in "[{":
                inside.append(_Open(place, set() if word == "{" else None))
                wants_name = word == "{"
    return lines, twice
