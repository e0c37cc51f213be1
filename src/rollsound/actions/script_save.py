"""A script and schedule kept where the plan is: journalled in a show, or in the text itself, its comments kept."""

from __future__ import annotations

import copy
from pathlib import Path
from typing import Any

from rollsound.actions.plan_write import keep_document
from rollsound.actions.script import ScriptRead
from rollsound.actions.script_model import ScriptSaved
from rollsound.errors import storage
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
    path = asked.read.path
    kept = keep_document(asked.read, document, _told(asked), name, f"{path} has this already; nothing was to change.")
    return ScriptSaved(path=str(path), sentence=kept.sentence, revision=kept.revision, changed=kept.changed)


def written_part(part: ScriptPart) -> dict[str, Any]:
    """The part as it stands in a document: what is as it is anyway is left out."""
    return part.model_dump(mode="json", by_alias=True, exclude_defaults=True)


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
