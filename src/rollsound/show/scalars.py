"""Single values as they stand in the document's text.

Fewer words are taken for something else than text than YAML allows: only what is written back just as it was read. So
scene ``007`` stays ``007``, take ``12e3`` is no number, ``no`` is a word, and a date or a time of day is text. What
other readers might still take for something else is written in quotes.

Source: YAML 1.2.2 (2021), sections 5.1 (characters), 7.3 (flow scalars) and 10.3.2 (the core schema this narrows).
"""

from __future__ import annotations

import json
import re
from typing import Any

_WORDS: dict[str, Any] = {"": None, "~": None, "null": None, "true": True, "false": False}
_NUMBER = re.compile(r"[-+.\d][-+.\deE]{0,399}")
_PLAIN = re.compile(r"[^\W_]|[(/.][^\W_]|-[^\W_]")
_NO_PLAIN = re.compile(r": |:$| #|\s$|^\.\.\.|^---|[\t\n]")
# Other readers of YAML, above all of version 1.1, take these for numbers, times of day or truths.
_ELSEWHERE = re.compile(
    r"(?i:y|n|yes|no|on|off|true|false|null)|[-+]?[\d.][\d_.,]*([eE][-+]?\d*)?|\d+(:\d\d?)+|0[xob][\da-f]+"
)
_NO_PLAIN_INSIDE_BRACKETS = re.compile(r"[,\[\]{}:#]")
_ESCAPES = {'"': '\\"', "\\": "\\\\", "\n": "\\n", "\t": "\\t", "\r": "\\r", "\0": "\\0"}
_LONGEST_DIGITS = 300


def value_of(word: str) -> Any:
    """What an unquoted word means."""
    if word in _WORDS:
        return _WORDS[word]
    if not _NUMBER.fullmatch(word) or len(word) > _LONGEST_DIGITS:
        return word
    for kind in (int, float):
        try:
            number = kind(word)
        except ValueError:
            continue
        if _number_text(number) == word:
            return number
    return word


def _number_text(number: float) -> str:
    return json.dumps(number)


def scalar_text(value: Any, *, in_brackets: bool = False) -> str:
    """A single value as it is written: unquoted where that is read back as the same value."""
    if value is None or isinstance(value, bool):
        return {None: "null", True: "true", False: "false"}[value]
    if isinstance(value, int | float):
        return _number_text(value)
    text = str(value)
    if _may_be_plain(text, in_brackets):
        return text
    return '"' + "".join(_ESCAPES.get(sign) or (sign if _readable(sign) else _escaped(sign)) for sign in text) + '"'


def _may_be_plain(text: str, in_brackets: bool) -> bool:
    return (
        _PLAIN.match(text) is not None
        and _NO_PLAIN.search(text) is None
        and not (in_brackets and _NO_PLAIN_INSIDE_BRACKETS.search(text))
        and value_of(text) == text
        and _ELSEWHERE.fullmatch(text) is None
        and all(map(_readable, text))
    )


def _readable(sign: str) -> bool:
    # What no font shows, or what moves other text about, is written out.
    return sign.isprintable()


def _escaped(sign: str) -> str:
    code = ord(sign)
    return f"\\x{code:02x}" if code < 0x100 else f"\\u{code:04x}" if code < 0x10000 else f"\\U{code:08x}"


def may_be_block(text: str) -> bool:
    """Whether a text of several lines can stand as it is, indented under its name."""
    body = text.removesuffix("\n")
    lines = body.split("\n")
    return (
        len(lines) > 1
        and not lines[0].startswith(" ")
        and bool(lines[0])
        and bool(lines[-1])
        and all(line == line.rstrip() and all(map(_readable, line)) for line in lines)
    )
