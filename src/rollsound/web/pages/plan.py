"""Plan: the whole plan as text, who changed what and when, and what differs between two revisions."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Annotated, Any
from weakref import WeakKeyDictionary

from fastapi import APIRouter, Query, Request
from fastapi.responses import Response

from rollsound.errors import RollsoundError
from rollsound.log.changes import ABSENT, Change, split
from rollsound.log.model import Entry, Head
from rollsound.show.folder import Show
from rollsound.show.sentences import place_in_words
from rollsound.show.text import read_text, write_text
from rollsound.web.desk import Desk, TheDesk, TheVisitor
from rollsound.web.pages import page_of
from rollsound.web.rendering import render
from rollsound.web.security.doors import Visitor
from rollsound.web.security.rights import Right
from rollsound.web.words import w

PAGE = page_of("plan")
ENTRIES = 20
_LONGEST_VALUE = 400
Revision = Annotated[int | None, Query(ge=1, le=2**31)]
router = APIRouter(include_in_schema=False)


@dataclass(frozen=True)
class ChangeRow:
    """One change for people: the field, and what stood and stands there."""

    field: str
    before: str
    after: str


@dataclass(frozen=True)
class EntryRow:
    """One line of the history."""

    entry: Entry
    changes: tuple[ChangeRow, ...]


@router.get(PAGE.path)
def page(request: Request, desk: TheDesk, visitor: TheVisitor, at: str = "") -> Response:
    """The whole page; ``at`` is the JSON Pointer of the place to begin at."""
    revision, text = _text(desk)
    return render(
        request,
        "plan.html",
        page=PAGE,
        text=text,
        revision=revision,
        may_edit=visitor.may(Right.PLAN) and not desk.show.read_only,
        at_line=_line_of(text, at),
        readable=desk.plan() is not None,
        person=visitor.author().person,
        **_history(desk, visitor, None),
    )


@router.get("/pages/plan/part/history")
def history(request: Request, desk: TheDesk, visitor: TheVisitor, before: Revision = None) -> Response:
    """Who changed what, newest first; ``before`` asks for what is older than an entry."""
    return render(request, "parts/plan_history.html", **_history(desk, visitor, before))


@router.get("/pages/plan/part/compare")
def compare(
    request: Request, desk: TheDesk, visitor: TheVisitor, older: Revision = None, newer: Revision = None
) -> Response:
    """What differs between two revisions, in the order of time whichever was named first."""
    head = desk.show.store.head()
    first, last = sorted((older or max(1, head.revision - 1), newer or head.revision))
    try:
        rows = _rows(desk.show.compare(first, last), head.document)
    except RollsoundError as error:
        return render(request, "parts/plan_compare.html", older=first, newer=last, rows=(), problem=f"{error}.")
    return render(request, "parts/plan_compare.html", older=first, newer=last, rows=rows, problem="")


_texts: WeakKeyDictionary[Show, tuple[Head, str]] = WeakKeyDictionary()


def _text(desk: Desk) -> tuple[int, str]:
    """The plan's revision and text; written anew only when the plan has changed."""
    head = desk.show.store.head()
    kept = _texts.get(desk.show)
    if kept is None or kept[0].document is not head.document or kept[0].comments is not head.comments:
        kept = (head, write_text(head.document, head.comments))
        _texts[desk.show] = kept
    return kept[0].revision, kept[1]


def _history(desk: Desk, visitor: Visitor, before: int | None) -> dict[str, Any]:
    store = desk.show.store
    document = store.head().document
    entries = store.journal(limit=ENTRIES + 1, before=before)
    listed = entries[:ENTRIES]
    author = visitor.author()
    who = author.person_id or author.person
    may_edit = visitor.may(Right.PLAN) and not desk.show.read_only
    return {
        "entries": [EntryRow(entry, _rows(entry.changes, document)) for entry in listed],
        "older_than": listed[-1].number if len(entries) > ENTRIES else None,
        "from_start": before is None,
        "newest": store.head().revision,
        "last": entries[0] if entries else None,
        "undoable": store.last_undoable(who) if may_edit and before is None else None,
        "redoable": store.last_redoable(who) if may_edit and before is None else None,
    }


def _rows(changes: Sequence[Change], document: Mapping[str, Any]) -> tuple[ChangeRow, ...]:
    return tuple(
        ChangeRow(
            _field(change, document),
            w("plan.nothing") if change.before is ABSENT else _value(change.before),
            w("plan.nothing") if change.after is ABSENT else _value(change.after),
        )
        for change in changes
    )


def _field(change: Change, document: Mapping[str, Any]) -> str:
    words = place_in_words(change.path, document)
    return words[:1].upper() + words[1:]


def _value(value: Any) -> str:
    """A value as the plan would write it, cut where it is long."""
    if isinstance(value, dict):
        text = write_text(value).rstrip("\n")
    elif isinstance(value, list):
        text = ", ".join(_value(each) for each in value)
    else:
        text = w("plan.empty") if value in (None, "") else str(value)
    return text if len(text) <= _LONGEST_VALUE else f"{text[: _LONGEST_VALUE - 1]}…"


def _line_of(text: str, pointer: str) -> int:
    """The line of a place in the text; 0 when none is asked for or there is none."""
    if not pointer.startswith("/"):
        return 0
    try:
        read = read_text(text)
    except RollsoundError:
        return 0
    place: list[str | int] = []
    here: Any = read.document
    for step in split(pointer):
        if isinstance(here, list):
            found = next((n for n, item in enumerate(here) if isinstance(item, dict) and item.get("id") == step), None)
            index = found if found is not None else int(step) if step.isdecimal() and int(step) < len(here) else None
            if index is None:
                break
            place.append(index)
            here = here[index]
        elif isinstance(here, dict) and step in here:
            place.append(step)
            here = here[step]
        else:
            break
    return read.line_of(tuple(place)) if place else 0
