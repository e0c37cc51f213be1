"""A plan written where it was read: journalled in a show, or in the text itself, its comments kept."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from rollsound.errors import InputError

if TYPE_CHECKING:
    from rollsound.actions.plan_read import PlanRead
    from rollsound.log.changes import Change


@dataclass(frozen=True)
class PlanKept:
    """What came of writing, in words; ``revision`` of a show, ``changed`` places of the document."""

    sentence: str
    revision: int | None = None
    changed: int = 0


def edit_show(path: Path, changes: Sequence[Change], sentence: str, name: str, base_revision: int | None) -> PlanKept:
    """Make changes in a show's plan, as an entry of its journal.

    Parameters
    ----------
    name
        of the person whose edit it is; the mixer's when empty
    base_revision
        of the plan that the changes were made from

    Raises
    ------
    ClashError
        when somebody changed the same since
    StorageError
        when the disk fails
    """
    from rollsound.actions.show import author_of
    from rollsound.show.folder import Show

    with Show.open(path) as show:
        saved = show.edit(changes, author_of(show.plan(), name), sentence, base_revision=base_revision)
    told = f"Saved in {path} as revision {saved.revision}; rollsound undo {path} takes it back."
    return PlanKept(told, saved.revision, len(changes))


def keep_document(read: PlanRead, document: Mapping[str, Any], sentence: str, name: str, nothing: str) -> PlanKept:
    """Write a whole document in place of the one that was read.

    Parameters
    ----------
    sentence
        of the edit, for a show's journal
    nothing
        what is said where the document is as it was

    Raises
    ------
    ClashError
        when somebody changed the same in the show since it was read
    InputError
        when a text was changed since it was read; nothing is written then
    StorageError
        when the disk fails
    """
    from rollsound.actions.plan_read import read_plan
    from rollsound.log.changes import changes_between
    from rollsound.show.text import write_text
    from rollsound.whole import write_whole

    changes = changes_between(dict(read.document), dict(document))
    if not changes:
        return PlanKept(nothing, read.revision)
    if read.form == "show":
        return edit_show(read.path, changes, sentence, name, read.revision)
    if dict(read_plan(read.path).document) != dict(read.document):
        raise InputError(
            f"{read.path.name} was changed since it was read, so nothing was written; run the command again"
        )
    text = json.dumps(document, indent=2, ensure_ascii=False) + "\n" if read.is_json else ""
    write_whole(read.path, text or write_text(dict(document), read.comments))
    return PlanKept(f"Saved in {read.path}.", None, len(changes))
