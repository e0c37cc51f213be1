"""A document checked against the plan's model: a plan, or everything that is wrong with it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from pydantic import ValidationError

from rollsound.errors import Mistake, MistakesError
from rollsound.mistakes import SeveralMistakes, sentence_of
from rollsound.show.model import Plan
from rollsound.show.upgrade import upgraded

Place = tuple[int | str, ...]
DEEPEST = 40
_LONGEST_NAME = 200


def checked(
    document: dict[str, Any],
    name: str = "the plan",
    line_of: Callable[[Place], int] | None = None,
    known: tuple[dict[str, Any], Plan] | None = None,
) -> Plan:
    """The plan that a document is.

    Parameters
    ----------
    line_of
        the line of a place in the text that the document came from
    known
        a document with its plan, that this one was made from: parts that are the very same objects are not read again

    Raises
    ------
    MistakesError
        with every mistake, its place and its line
    InputError
        when it is of a newer version than this program knows
    """
    parts = upgraded(document)
    kept = _kept(parts, known) if known is not None and parts is document else {}
    fresh = {key: part for key, part in parts.items() if key not in kept} if isinstance(parts, dict) else parts
    # What cannot be written again as it is comes first: the model would take some of it.
    found = _shape(fresh, ())
    plan = None
    if not found:
        found = _twice(fresh, ())
        try:
            plan = Plan.model_validate({**parts, **kept})
        except ValidationError as error:
            found = _of_model(error) + found
    if plan is None or found:
        mistakes = [
            Mistake(place_of(place, document), line_of(place) if line_of else 0, sentence) for place, sentence in found
        ]
        raise MistakesError(name, sorted(dict.fromkeys(mistakes), key=lambda mistake: mistake.line))
    return plan


def _kept(document: dict[str, Any], known: tuple[dict[str, Any], Plan]) -> dict[str, Any]:
    """The plan's parts whose documents are the very same."""
    before, plan = known
    return {
        key: getattr(plan, key)
        for key, part in document.items()
        if key in Plan.model_fields and isinstance(part, dict | list) and part is before.get(key)
    }


def _of_model(error: ValidationError) -> list[tuple[Place, str]]:
    found: list[tuple[Place, str]] = []
    for each in error.errors(include_url=False):
        raised = each.get("ctx", {}).get("error")
        sentences = raised.sentences if isinstance(raised, SeveralMistakes) else (sentence_of(each),)
        found += [(each["loc"], sentence) for sentence in sentences]
    return found


def _shape(value: Any, place: Place) -> list[tuple[Place, str]]:
    """What no text of ours could hold."""
    if len(place) > DEEPEST:
        return [(place[:DEEPEST], f"has groups in groups deeper than {DEEPEST}; no plan has")]
    if isinstance(value, dict):
        found = []
        for name, part in value.items():
            if not isinstance(name, str) or len(name) > _LONGEST_NAME or not _readable(name):
                found.append((place, f"has a name that is no text, or longer than {_LONGEST_NAME} letters"))
            else:
                found += _shape(part, (*place, name))
        return found
    if isinstance(value, list):
        return [each for at, part in enumerate(value) for each in _shape(part, (*place, at))]
    if isinstance(value, str):
        return [] if _readable(value) else [(place, "holds letters that are no readable text; type it again")]
    if isinstance(value, float) and value - value != 0.0:
        return [(place, "is no number; write a figure, or take it out")]
    if value is None or isinstance(value, bool | int | float):
        return []
    return [(place, "is no value that a document can hold; write text, a number, true or false")]


def _readable(text: str) -> bool:
    if "\0" in text:  # no name of a file or folder can hold it, and no screen shows it
        return False
    return not any("\ud800" <= sign <= "\udfff" for sign in text) if not text.isascii() else True


def _twice(value: Any, place: Place) -> list[tuple[Place, str]]:
    """Ids that stand twice in their list."""
    if isinstance(value, dict):
        return [each for name, part in value.items() for each in _twice(part, (*place, name))]
    if not isinstance(value, list):
        return []
    found: list[tuple[Place, str]] = []
    seen: set[str] = set()
    for at, part in enumerate(value):
        key = part.get("id") if isinstance(part, dict) else None
        if isinstance(key, str):
            if key in seen:
                found.append(((*place, at, "id"), f"'{key[:40]}' stands in this list already; choose another id"))
            seen.add(key)
        found += _twice(part, (*place, at))
    return found


def place_of(place: Place, document: Any) -> str:
    """A place for people, items by their ids: ``people mina, mass``."""
    words: list[str] = []
    here = document
    for step in place:
        if isinstance(step, int):
            here = here[step] if isinstance(here, list) and step < len(here) else None
            key = here.get("id") if isinstance(here, dict) else None
            words.append(f"{words.pop() if words else 'entry'} {key if isinstance(key, str) and key else step + 1}")
        else:
            here = here.get(step) if isinstance(here, dict) else None
            words.append(step)
    return ", ".join(words) or "the document"
