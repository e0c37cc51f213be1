"""What a document's model found wrong, in words for the person who wrote the document.

Any pydantic model will do, whether its document was JSON, YAML or a sheet.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence, Sized
from typing import Any

from pydantic import ValidationError

from rollsound.errors import InputError, Mistake

Path = tuple[int | str, ...]
_LONGEST_QUOTE = 40
_LARGEST_QUOTE = 1e30
_WHOLE = "the document"

_GROUP = "should be a group of named values, not {given}"
_LIST = "should be a list, not {given}"
_TEXT = "should be text, not {given}"
_WHOLE_NUMBER = "should be a whole number, not {given}"
_NUMBER = "should be a number, not {given}"
_YES_NO = "should be true or false, not {given}"
_CHOICE = "cannot be {given}; write {expected}"
_SENTENCES = {
    "missing": "is missing; write it in",
    "extra_forbidden": "is not known here; correct its name or take it out",
    "model_type": _GROUP,
    "model_attributes_type": _GROUP,
    "dict_type": _GROUP,
    "mapping_type": _GROUP,
    "list_type": _LIST,
    "tuple_type": _LIST,
    "set_type": _LIST,
    "frozen_set_type": _LIST,
    "string_type": _TEXT,
    "string_unicode": "holds letters that are no readable text",
    "string_too_short": "is {given}; it needs {min_length} letters or more",
    "string_too_long": "is too long; it may have {max_length} letters",
    "string_pattern_mismatch": "cannot be {given}; it has not the form that is wanted",
    "int_type": _WHOLE_NUMBER,
    "int_parsing": _WHOLE_NUMBER,
    "int_from_float": _WHOLE_NUMBER,
    "int_parsing_size": "is far too large a number",
    "float_type": _NUMBER,
    "float_parsing": _NUMBER,
    "finite_number": _NUMBER,
    "bool_type": _YES_NO,
    "bool_parsing": _YES_NO,
    "none_required": "should be empty, not {given}",
    "literal_error": _CHOICE,
    "enum": _CHOICE,
    "greater_than": "is {given}; it must be more than {gt}",
    "greater_than_equal": "is {given}; it must be {ge} or more",
    "less_than": "is {given}; it must be less than {lt}",
    "less_than_equal": "is {given}; it must be {le} or less",
    "multiple_of": "is {given}; it must be a multiple of {multiple_of}",
    "too_short": "has {actual_length}; {min_length} or more are needed",
    "too_long": "has too many; no more than {max_length} may stand here",
    "value_error": "{error}",
    "assertion_error": "{error}",
}
_BY_BEGINNING = {
    "datetime": "should be a date and time such as 2026-02-03T10:00:00, not {given}",
    "date": "should be a date such as 2026-02-03, not {given}",
    "timezone": "should be a time such as 10:00:00, without a zone, not {given}",
    "time_delta": "should be a length of time, not {given}",
    "time": "should be a time such as 10:00:00, not {given}",
    "decimal": _NUMBER,
    "path": "should be the name of a file, not {given}",
}
_OTHERWISE = "cannot be {given}"


class SeveralMistakes(InputError):
    """What a validator raises that found several mistakes at its place; each becomes a mistake of its own."""

    def __init__(self, sentences: Sequence[str]) -> None:
        super().__init__("; ".join(sentences))
        self.sentences = tuple(sentences)


def mistakes_of(error: ValidationError, line_of: Callable[[Path], int] | None = None) -> list[Mistake]:
    """Every mistake that pydantic found, with its place, and its line where ``line_of`` knows it.

    Parameters
    ----------
    line_of
        the line of a place (its names, and its positions in lists from 0); where the place is not in the document,
        that of the nearest place around it; 0 if unknown
    """
    found = [
        Mistake(place_in_words(each["loc"]), line_of(each["loc"]) if line_of else 0, sentence)
        for each in error.errors(include_url=False)
        if not _only_follows(each)
        for sentence in _sentences_of(each)
    ]
    return list(dict.fromkeys(found))


def place_in_words(place: Path) -> str:
    """A place for people, who count from 1: ``takes 1, tracks 3, gain_db``."""
    words: list[str] = []
    for step in place:
        if isinstance(step, int):
            words.append(f"{words.pop() if words else 'entry'} {step + 1}")
        else:
            words.append(step)
    return ", ".join(words) or _WHOLE


def sentence_of(error: Mapping[str, Any]) -> str:
    """What is wrong with one value, given as pydantic tells it (an entry of ``ValidationError.errors()``)."""
    kind = str(error["type"])
    words = dict(error.get("ctx", {}))
    words["given"] = _quoted(error.get("input"))
    if kind == "string_too_short" and words.get("min_length") == 1:
        return "is empty"
    beginning = (sentence for start, sentence in _BY_BEGINNING.items() if kind.startswith(f"{start}_"))
    sentence = _SENTENCES.get(kind) or next(beginning, _OTHERWISE)
    return sentence.format_map(words)


def _only_follows(error: Mapping[str, Any]) -> bool:
    """A list whose entries have mistakes is called too short as well, for want of the entries that were refused."""
    given = error.get("input")
    return error["type"] == "too_short" and isinstance(given, Sized) and len(given) >= error["ctx"]["min_length"]


def _sentences_of(error: Mapping[str, Any]) -> tuple[str, ...]:
    raised = error.get("ctx", {}).get("error")
    return raised.sentences if isinstance(raised, SeveralMistakes) else (sentence_of(error),)


def _quoted(value: object) -> str:
    if value is None:
        return "nothing"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        return "a number far too large" if abs(value) >= _LARGEST_QUOTE else str(value)
    if isinstance(value, str):
        return f"'{_short(value)}'"
    if isinstance(value, Mapping):
        return "a group of named values"
    return "a list" if isinstance(value, list | tuple) else "what stands here"


def _short(text: str) -> str:
    readable = "".join(letter if letter.isprintable() else " " for letter in text)
    return readable if len(readable) <= _LONGEST_QUOTE else readable[: _LONGEST_QUOTE - 1] + "…"
