"""Changes of the radio part written where it was read: journalled in a show, or in the text itself, its comments kept.

A text has no journal. It is read again before it is written, so that whatever was typed into it meanwhile stays, and
two changes of one field are told instead of the later one winning.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from rollsound.actions.gather import read_text_file
from rollsound.actions.plan_write import edit_show
from rollsound.actions.radio_model import Saved
from rollsound.errors import InputError
from rollsound.jsontext import read_json
from rollsound.log.changes import Change, ClashError, apply

if TYPE_CHECKING:
    from rollsound.actions.radio_read import Asked


def write_changes(asked: Asked, changes: Sequence[Change], sentence: str, name: str, *, count: int = 1) -> Saved:
    """Save changes of the document that was read.

    Parameters
    ----------
    sentence
        of the edit, for the journal
    name
        of the person whose edit it is; the mixer's when empty
    count
        how many things are changed, as it is answered

    Raises
    ------
    ClashError
        when somebody changed the same since it was read
    MistakesError, InputError
        when a text no longer holds what is to be changed, or has mistakes now
    StorageError
        when the disk fails
    """
    if asked.form == "show":
        kept = edit_show(asked.path, changes, sentence, name, asked.revision)
        return Saved(path=str(asked.path), sentence=kept.sentence, revision=kept.revision, changed=count)
    return _into_text(asked, changes, count)


def _into_text(asked: Asked, changes: Sequence[Change], count: int) -> Saved:
    from rollsound.show.checked import checked
    from rollsound.show.text import read_text, write_text
    from rollsound.whole import write_whole

    text = read_text_file(asked.path)
    comments: Mapping[str, Any] = {}
    if asked.is_json:
        document = read_json(text, asked.path.name).value
    else:
        read = read_text(text, asked.path.name)
        document, comments = read.document, read.comments
    try:
        made = apply(document, changes)
    except ClashError as error:
        places = ", ".join(clash.path for clash in error.clashes[:3])
        raise ClashError(
            error.clashes,
            f"{asked.path.name} was changed at {places} since it was read, so nothing was written; run the command "
            "again",
        ) from error
    except InputError as error:
        raise InputError(
            f"{asked.path.name} was changed since it was read, so nothing was written ({error.sentence}); run the "
            "command again"
        ) from error
    if not isinstance(made, dict):
        raise InputError(f"{asked.path.name} holds no radio part any more; run the command again")
    checked({"show": {"title": asked.path.stem}, **made}, asked.path.name, lambda place: 0)
    whole = json.dumps(made, indent=2, ensure_ascii=False) + "\n" if asked.is_json else write_text(made, comments)
    write_whole(asked.path, whole)
    told = f"Saved in {asked.path}." if asked.is_json else f"Saved in {asked.path}; comments stay where they were."
    return Saved(path=str(asked.path), sentence=told, changed=count)
