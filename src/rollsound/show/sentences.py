"""What changed, in a sentence for the history: ``Mina: mass 250 g → 300 g``."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from rollsound.log.changes import ABSENT, ORDER, Absent, Change, items_of, join, split
from rollsound.log.daylines import ROOT
from rollsound.log.line_words import place_in_words as place_in_log

_MOST = 3
_LONGEST_VALUE = 60
_NAMES = ("name", "title", "listener")


def sentence_of_changes(changes: Sequence[Change], old: Any, new: Any) -> str:
    """One sentence for a whole edit; beyond three changes their number.

    Parameters
    ----------
    old, new
        the document before and after, for the names of what changed
    """
    if not changes:
        return "Comments changed"
    changes = [part for change in changes for part in _parts(change, old, new)]
    told = [_of(change, old, new) for change in changes if not change.path.endswith(f"/{ORDER}")]
    told += [_of(change, old, new) for change in changes if change.path.endswith(f"/{ORDER}")]
    parts: list[str] = []
    last = ""
    for subject, what in told[:_MOST]:
        parts.append(what if subject and subject == last else f"{subject}: {what}" if subject else what)
        last = subject
    text = ", ".join(parts)
    if len(told) > _MOST:
        text += f" and {len(told) - _MOST} more"
    return text[:1].upper() + text[1:]


def _parts(change: Change, old: Any, new: Any) -> list[Change]:
    """A whole part of the document that came or went, told by what is in it."""
    value = change.after if change.before is ABSENT else change.before if change.after is ABSENT else None
    if _is_item(change.path, old, new):
        return [change]
    inside = value if isinstance(value, dict) else items_of(value)
    if not inside:
        return [change]
    came = change.before is ABSENT
    each = [
        Change(change.path + join([key]), ABSENT if came else part, part if came else ABSENT)
        for key, part in inside.items()
    ]
    return [part for one in each for part in _parts(one, old, new)]


def place_in_words(path: str, *documents: Any) -> str:
    """A path for people: ``Mina, mass``; ``take-132 of the log, note`` where it is none of the plan's."""
    if not any(isinstance(each, dict) and ROOT in each for each in documents) and (told := place_in_log(path)):
        return told
    subject, field = _subject(path, *documents)
    return ", ".join(part for part in (subject, field) if part) or "the document"


def value_in_words(value: Any | Absent) -> str:
    """A value for people, in a few words."""
    if value is ABSENT:
        return "nothing"
    if value is None:
        return "empty"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, dict):
        return _name_of(value) or "a group of values"
    if isinstance(value, list):
        words = ", ".join(value_in_words(part) for part in value) or "an empty list"
    else:
        words = " ".join(str(value).split()) or "empty"
    return words if len(words) <= _LONGEST_VALUE else words[: _LONGEST_VALUE - 1] + "…"


def _of(change: Change, old: Any, new: Any) -> tuple[str, str]:
    """Who or what it is about, and what happened."""
    if change.path.endswith(f"/{ORDER}"):
        listed = _steps_in_words(split(change.path)[:-1], old, new)
        return "", f"{listed} put in another order"
    if _is_item(change.path, old, new):
        *above, key = split(change.path)
        listed = _steps_in_words(above, old, new)
        value = change.before if change.after is ABSENT else change.after
        name = (_name_of(value) if isinstance(value, dict) else "") or key
        if change.before is ABSENT:
            return "", f"{name} added to {listed}"
        if change.after is ABSENT:
            return "", f"{name} taken out of {listed}"
    subject, field = _subject(change.path, old, new)
    before, after = value_in_words(change.before), value_in_words(change.after)
    if change.before is ABSENT:
        return subject, f"{field} set to {after}".strip()
    if change.after is ABSENT:
        return subject, f"{field} taken out, was {before}".strip()
    return subject, f"{field} {before} → {after}".strip()


def _is_item(path: str, *documents: Any) -> bool:
    steps = split(path)
    return any(_list_at(document, steps[:-1]) for document in documents) if steps else False


def _list_at(document: Any, steps: Sequence[str]) -> bool:
    here = document
    for step in steps:
        items = items_of(here)
        here = items.get(step) if items is not None else here.get(step) if isinstance(here, dict) else None
    return bool(items_of(here))


def _subject(path: str, *documents: Any) -> tuple[str, str]:
    """The innermost item that a path runs through, and the rest of the path."""
    steps = split(path)
    for document in documents:
        here, subject, rest = document, "", 0
        for depth, step in enumerate(steps, 1):
            items = items_of(here)
            here = items.get(step) if items is not None else here.get(step) if isinstance(here, dict) else None
            if here is None:
                break
            if items is not None:
                subject, rest = _name_of(here) or step, depth
        if subject:
            return subject, " ".join(_plain(step) for step in steps[rest:])
    return (_plain(steps[0]), " ".join(_plain(step) for step in steps[1:])) if len(steps) > 1 else ("", path[1:])


def _steps_in_words(steps: Sequence[str], *documents: Any) -> str:
    """A list's place: its names, with the item it belongs to, if any."""
    path = "/" + "/".join(step.replace("~", "~0").replace("/", "~1") for step in steps)
    subject, field = _subject(path, *documents)
    return " ".join(part for part in (subject, field) if part)


def _plain(step: str) -> str:
    return "order" if step == ORDER else step.replace("_", " ")


def _name_of(item: dict[str, Any]) -> str:
    name = next((str(item[key]) for key in _NAMES if item.get(key)), "")
    if not name and isinstance(item.get("number"), int):
        name = f"Day {item['number']}" if "date" in item or "scenes" in item else str(item["number"])
    name = " ".join((name or str(item.get("id", ""))).split())
    return name if len(name) <= _LONGEST_VALUE else name[: _LONGEST_VALUE - 1] + "…"
