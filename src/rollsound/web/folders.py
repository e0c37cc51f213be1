"""Folders of this machine: who may name them in the plan, and who is told of them."""

from __future__ import annotations

from typing import Any

from fastapi import HTTPException

from rollsound.log.changes import items_of
from rollsound.show.folder import Guard
from rollsound.web.security.doors import Visitor
from rollsound.web.security.rights import Right
from rollsound.web.words import w

_NAMES_NO_FOLDER = ("id", "day", "note")


def guard_of(visitor: Visitor) -> Guard | None:
    """What an edit of the plan by this visitor must hold: folders change only on the machine itself.

    Guests list and hear what lies in a folder of the plan and jobs write there, so naming one is opening it. Whole
    documents are compared: it does not matter by which path, order, text or undo a change arrives.
    """
    return None if visitor.may(Right.MACHINE) else _refuse_folders


def _refuse_folders(before: Any, after: Any) -> None:
    if _folders_in(before) != _folders_in(after):
        raise HTTPException(403, w("doors.needs_machine"))


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
