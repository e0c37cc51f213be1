"""What the page *Script* shows and writes: the breakdown, what the last draft changed, scenes put on days."""

from __future__ import annotations

import copy
import re
import threading
from collections import OrderedDict
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from rollsound.errors import InputError

if TYPE_CHECKING:
    from rollsound.actions.script_model import RevisionRow, ScriptResult
    from rollsound.log.model import Entry, Head
    from rollsound.show.folder import Show
    from rollsound.show.model import Plan

_KEPT = 8
_NOT_OF_A_NAME = re.compile(r"[^\w .()-]+")
_ENDINGS = frozenset({".fountain", ".txt", ".spmd", ".csv", ".tsv"})
_LOOKED_BACK = 400
_one = threading.Lock()
_states: OrderedDict[tuple[str, int], ScriptState] = OrderedDict()


@dataclass(frozen=True)
class ScriptState:
    """The script as the plan stands; no result where there is neither a script nor a schedule."""

    revision: int
    plan: Plan
    result: ScriptResult | None
    changed: RevisionRow | None = None
    """What the last draft that was read changed of the one before."""
    read_at: str = ""
    read_by: str = ""


@dataclass(frozen=True)
class Taken:
    """A script that came in: the plan's document with it, its bytes, and what to say."""

    document: dict[str, Any]
    sentence: str
    remarks: tuple[str, ...]


def state_of(show: Show) -> ScriptState:
    """The script, its schedule, and what the last draft changed; kept until the plan changes."""
    head, plan = show.store.head(), show.plan()
    key = (str(show.folder), head.revision)
    with _one:
        kept = _states.get(key)
        if kept is None:
            kept = _states[key] = _state(show, head, plan)
            while len(_states) > _KEPT:
                _states.popitem(last=False)
    return kept


def known(show: Show) -> ScriptResult | None:
    """The answer, where somebody has looked since the plan was changed; nothing is worked out."""
    with _one:
        kept = _states.get((str(show.folder), show.store.head().revision))
    return kept.result if kept is not None else None


def _state(show: Show, head: Head, plan: Plan) -> ScriptState:
    from rollsound.actions.kit_page import read_of
    from rollsound.actions.script import read_script, script

    if not plan.script.scenes and not plan.schedule.days:
        return ScriptState(head.revision, plan, None)
    result = script(read_script(read_of(show)))
    changed, at, by = _last_draft(show, plan)
    return ScriptState(head.revision, plan, result, changed, at, by)


def _last_draft(show: Show, plan: Plan) -> tuple[RevisionRow | None, str, str]:
    """What the newest edit that read a script changed; nothing where it was the first one."""
    from rollsound.actions.script_rows import revision_row
    from rollsound.script.compare import compare
    from rollsound.script.model import ScriptPart

    if not plan.script.scenes:
        return None, "", ""
    for entry in show.store.journal(limit=_LOOKED_BACK, path="/script"):
        if entry.undone or entry.kind == "undo" or not _reads_a_draft(entry):
            continue
        before = ScriptPart.model_validate(show.store.at(entry.number - 1).get("script") or {})
        if not before.scenes:
            return None, "", ""
        found = compare(before, plan.script, [(day.id, day.scenes) for day in plan.schedule.days])
        row = revision_row(found, plan.script, plan.schedule.days, before)
        return row, entry.at.isoformat(), entry.author.person
    return None, "", ""


def _reads_a_draft(entry: Entry) -> bool:
    """Whether an edit changed scenes; making two names one changes them too, and is none."""
    paths = [change.path for change in entry.changes]
    one = any(path.startswith("/script/characters/") and path.endswith("/also") for path in paths)
    return not one and any(path == "/script" or path.startswith("/script/scenes") for path in paths)


def with_scene_on(
    document: Mapping[str, Any], number: str, day: str, *, from_day: str = "", before: str = ""
) -> dict[str, Any]:
    """The document with a scene put on a day, in front of ``before`` or last; on no day when ``day`` is empty.

    Parameters
    ----------
    from_day
        the day that it leaves; when empty it stays on the days that it is on already

    Raises
    ------
    InputError
        when there is no such scene or day
    """
    from rollsound.script.model import plain_number

    made = copy.deepcopy(dict(document))
    days = {str(each.get("id")): each for each in (made.get("schedule") or {}).get("days") or ()}
    for id in (day, from_day):
        if id and id not in days:
            raise InputError(f"the schedule has no day '{id}' any more; look at the page again")
    wanted = plain_number(number)
    known = [str(each.get("number", "")) for each in (made.get("script") or {}).get("scenes") or ()]
    known += [str(each) for row in days.values() for each in row.get("scenes") or ()]
    written = next((each for each in known if wanted and plain_number(each) == wanted), "")
    if not written:
        raise InputError(f"neither script nor schedule has a scene '{number[:20]}'; look at the page again")
    if not day and not from_day:
        raise InputError("the scene is on no day, and none is named; name the day that it goes to")
    for id in {from_day, day} - {""}:
        days[id]["scenes"] = [each for each in days[id].get("scenes") or () if plain_number(str(each)) != wanted]
    if day:
        scenes = days[day]["scenes"]
        places = [at for at, each in enumerate(scenes) if before and plain_number(str(each)) == plain_number(before)]
        scenes.insert(places[0] if places else len(scenes), written)
    return made


def take_script(show: Show, head: Head, name: str, data: bytes) -> Taken:
    """Read a script that somebody sent, keep its file in the show's folder, and put it into the plan's document.

    Raises
    ------
    InputError, BrokenFileError
        when it is none that can be read; nothing is kept
    StorageError
        when the disk fails
    """
    from rollsound.actions.script import part_of_bytes
    from rollsound.actions.script_save import kept_beside, written_part
    from rollsound.quantities import count

    plain = " ".join(_NOT_OF_A_NAME.sub(" ", re.split(r"[/\\]", name)[-1]).split()).lstrip(". ")[:80]
    ending = plain[plain.rfind(".") :].lower() if "." in plain else ""
    if ending not in _ENDINGS:
        raise InputError(f"'{name[:60]}' is neither Fountain nor a sheet; its name ends in .fountain, .txt or .csv")
    part, troubles = part_of_bytes(data, plain, show.plan().script)
    file = kept_beside(show.folder, plain, data)
    made = {**head.document, "script": written_part(part.model_copy(update={"file": file}))}
    remarks = tuple(f"line {each.line}: {each.sentence}" if each.line else each.sentence for each in troubles)
    return Taken(made, f"Read the script {plain}: {count(len(part.scenes), 'scene')}", remarks)


def with_names_settled(show: Show, head: Head, one: str, other: str, *, same: bool) -> dict[str, Any]:
    """The document with two characters made one (``other`` becomes a spelling of ``one``), or kept as two.

    Raises
    ------
    InputError
        when one of them is not there
    """
    from rollsound.actions.script_save import written_part
    from rollsound.script.merging import kept_apart, merged

    part = show.plan().script
    part = merged(part, other, one) if same else kept_apart(part, other, one)
    return {**head.document, "script": written_part(part)}
