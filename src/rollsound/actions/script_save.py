"""A script and schedule kept where the plan is: journalled in a show, or in the text itself, its comments kept."""

from __future__ import annotations

import copy
import json
from pathlib import Path
from typing import Any

from rollsound.actions.script import ScriptRead
from rollsound.actions.script_model import ScriptSaved
from rollsound.errors import InputError, storage
from rollsound.quantities import count
from rollsound.script.model import ScriptPart

FOLDER = "script"


def save_script(asked: ScriptRead, name: str = "") -> ScriptSaved:
    """Write the script part, and the schedule where one was read. A script from elsewhere is copied beside the plan.

    Raises
    ------
    ClashError
        when somebody changed the same since it was read
    InputError
        when a text was changed since it was read
    StorageError
        when the disk fails
    """
    where = asked.part.file if asked.file is None else _kept_at(asked.read.folder, asked.file)
    part = asked.part.model_copy(update={"file": where})
    document = copy.deepcopy(dict(asked.read.document))
    if written := written_part(part):
        document["script"] = written
    if asked.day_documents is not None:
        document["schedule"] = {**(document.get("schedule") or {}), "days": [*asked.day_documents]}
    return _written(asked, document, name)


def written_part(part: ScriptPart) -> dict[str, Any]:
    """The part as it stands in a document: what is as it is anyway is left out."""
    return part.model_dump(mode="json", by_alias=True, exclude_defaults=True)


def _written(asked: ScriptRead, document: dict[str, Any], name: str) -> ScriptSaved:
    from rollsound.log.changes import changes_between

    read = asked.read
    changes = changes_between(dict(read.document), document)
    if not changes:
        told = f"{read.path} has this already; nothing was to change."
        return ScriptSaved(path=str(read.path), sentence=told, revision=read.revision)
    if read.form == "show":
        from rollsound.actions.show import author_of
        from rollsound.show.folder import Show

        told = _told(asked)
        with Show.open(read.path) as show:
            saved = show.edit(changes, author_of(show.plan(), name), told, base_revision=read.revision)
        sentence = f"Saved in {read.path} as revision {saved.revision}; rollsound undo {read.path} takes it back."
        return ScriptSaved(path=str(read.path), sentence=sentence, revision=saved.revision, changed=len(changes))
    return _into_text(asked, document, len(changes))


def _into_text(asked: ScriptRead, document: dict[str, Any], changed: int) -> ScriptSaved:
    from rollsound.actions.plan_read import read_plan
    from rollsound.show.text import write_text
    from rollsound.whole import write_whole

    read = asked.read
    if dict(read_plan(read.path).document) != dict(read.document):
        raise InputError(
            f"{read.path.name} was changed since it was read, so nothing was written; run the command again"
        )
    text = json.dumps(document, indent=2, ensure_ascii=False) + "\n" if read.is_json else ""
    write_whole(read.path, text or write_text(document, read.comments))
    return ScriptSaved(path=str(read.path), sentence=f"Saved in {read.path}.", changed=changed)


def _told(asked: ScriptRead) -> str:
    scenes = count(len(asked.part.scenes), "scene")
    if asked.file is not None and asked.day_documents is not None:
        return f"Read the script {asked.file.name} with {scenes}, and a schedule"
    if asked.file is not None:
        return f"Read the script {asked.file.name}: {scenes}"
    if asked.day_documents is not None:
        return f"Read a schedule: {count(len(asked.day_changes), 'day')} new or changed"
    return "Decided on names of characters"


def _kept_at(folder: Path, file: Path) -> str:
    """Where the file lies as seen from the plan; one from elsewhere is copied into its folder of scripts."""
    with storage(file):
        whole, root = file.absolute().resolve(), folder.absolute().resolve()
        if whole.is_relative_to(root):
            return whole.relative_to(root).as_posix()
        data = whole.read_bytes()
    return kept_beside(folder, file.name, data)


def kept_beside(folder: Path, name: str, data: bytes) -> str:
    """Keep a script in the plan's folder of scripts, under a name that no other one has; answers the name from there.

    Raises
    ------
    StorageError
        when the disk fails
    """
    from rollsound.whole import write_whole

    place = folder / FOLDER
    with storage(place):
        place.mkdir(parents=True, exist_ok=True)
    target, number = place / name, 2
    while target.exists() and not _same_bytes(target, data):
        target, number = place / f"{Path(name).stem} {number}{Path(name).suffix}", number + 1
    if not target.exists():
        write_whole(target, data)
    return f"{FOLDER}/{target.name}"


def _same_bytes(path: Path, data: bytes) -> bool:
    with storage(path):
        return path.read_bytes() == data
