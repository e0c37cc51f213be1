"""What only the machine itself may write into the plan (its folders, who is a mixer), and who is told of folders."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from pathlib import Path, PurePath, PurePosixPath, PureWindowsPath
from typing import Any

from fastapi import HTTPException

from rollsound.finding import Finding
from rollsound.log.changes import items_of
from rollsound.log.model import JobRow
from rollsound.show.folder import Guard
from rollsound.web.security.doors import Visitor
from rollsound.web.security.rights import Right
from rollsound.web.security.standing import people_in
from rollsound.web.words import w

_NAMES_NO_FOLDER = ("id", "day", "note")
# What is left of a whole path in a sentence when its folder was not among the known ones.
_WHOLE_PATH = re.compile(r"""(?<![\w.:/\\])(?:[A-Za-z]:)?[\\/](?:[^\\/\s'"]+[\\/])+""")


def guard_of(visitor: Visitor) -> Guard | None:
    """What an edit of the plan by this visitor must hold: folders and who is a mixer change only on the machine itself.

    Guests list and hear what lies in a folder of the plan and jobs write there, so naming one is opening it. Whole
    documents are compared: it does not matter by which path, order, text or undo a change arrives.
    """
    return None if visitor.may(Right.MACHINE) else _refuse_what_is_the_machines


def _refuse_what_is_the_machines(before: Any, after: Any) -> None:
    if _folders_in(before) != _folders_in(after) or not _outside_in(after) <= _outside_in(before):
        raise HTTPException(403, w("doors.needs_machine"))
    if not _mixers_in(after) <= _mixers_in(before):  # devices have their person's role: this would let a mixer in
        raise HTTPException(403, w("doors.mixer_here"))


def _mixers_in(document: Any) -> set[str]:
    people = people_in(document) if isinstance(document, dict) else None
    return {id for id, person in (people or {}).items() if person.role == "mixer"}


def _folders_in(document: Any) -> dict[tuple[str, str], Any]:
    media = document.get("media") if isinstance(document, dict) else None
    items = items_of(media or [])
    if items is None:
        return {("", ""): media}
    return {
        (key, name): value
        for key, item in items.items()
        for name, value in item.items()
        if name not in _NAMES_NO_FOLDER and value not in ("", None)
    }


def _outside_in(document: Any) -> set[tuple[str, str, str]]:
    """Files of the radio part that lie outside the show's folder, or cannot be told to lie inside."""
    radio = document.get("radio") if isinstance(document, dict) else None
    found = set()
    for name, field in (("scans", "file"), ("grounds", "image")):
        listed = radio.get(name) if isinstance(radio, dict) else None
        for key, item in (items_of(listed or []) or {}).items():
            value = item.get(field)
            if isinstance(value, str) and _leads_outside(value):
                found.add((name, key, value))
    return found


def _leads_outside(name: str) -> bool:
    """Whether a file's name is more than a way down from a folder, by the rules of any system."""
    return any(path.is_absolute() or path.drive or path.root or ".." in path.parts for path in _both(name))


def _both(name: str) -> tuple[PurePath, ...]:
    return PurePosixPath(name), PureWindowsPath(name)


def mistakes_told(visitor: Visitor, mistakes: Iterable[tuple[str, str]], folder: Path) -> tuple[tuple[str, str], ...]:
    """Places and sentences of mistakes as this visitor may see them."""
    if visitor.may(Right.MACHINE):
        return tuple(mistakes)
    return tuple((place, without_folders(sentence, [str(folder)])) for place, sentence in mistakes)


def told_to(visitor: Visitor, row: JobRow) -> JobRow:
    """A job as this visitor may see it: away from the machine, folders go by their last part and details stay here."""
    if visitor.may(Right.MACHINE):
        return row
    known = list(_folders_of(row.arguments))
    result = None if row.result is None else {name: part for name, part in row.result.items() if name != "detail"}
    return replace(
        row,
        progress=without_folders(row.progress, known),
        result=without_folders(result, known),
        error=without_folders(row.error, known),
    )


def progress_told(row: JobRow) -> Any:
    """How far a job is, as everybody may hear it."""
    return without_folders(row.progress, list(_folders_of(row.arguments)))


def findings_told(visitor: Visitor, findings: Sequence[Finding], folder: Path) -> tuple[Finding, ...]:
    """Findings as this visitor may see them."""
    if visitor.may(Right.MACHINE):
        return tuple(findings)
    return tuple(
        Finding.model_validate(without_folders(each.model_dump(mode="json"), [str(folder)])) for each in findings
    )


def without_folders(value: Any, known: Iterable[str] = ()) -> Any:
    """JSON in which no text holds a whole path: of each, what stands after its folder is left.

    Parameters
    ----------
    known
        folders that may be named, with spaces in their names too
    """
    longest_first = sorted({each.rstrip("/\\") for each in known if len(Path(each).parts) > 1}, key=len, reverse=True)
    return _shortened(value, longest_first)


def _shortened(value: Any, known: Sequence[str]) -> Any:
    if isinstance(value, str):
        for each in known:
            value = value.replace(each, re.split(r"[\\/]", each)[-1])
        return _WHOLE_PATH.sub("", value)
    if isinstance(value, dict):
        return {_shortened(name, known): _shortened(part, known) for name, part in value.items()}
    if isinstance(value, list | tuple):
        return [_shortened(part, known) for part in value]
    return value


def _folders_of(arguments: Any) -> Iterator[str]:
    if isinstance(arguments, str):
        if Path(arguments).is_absolute():
            yield arguments
            yield str(Path(arguments).parent)
    elif isinstance(arguments, dict | list | tuple):
        for part in arguments.values() if isinstance(arguments, dict) else arguments:
            yield from _folders_of(part)
