"""A scan that comes in by the page *Radio*: read first, then kept in the show's folder, then named in the plan."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from rollsound.actions.radio_page import question_of
from rollsound.actions.radio_page_add import radio_of
from rollsound.actions.radio_page_edits import add, ids_in, new_id, save
from rollsound.actions.radio_scan import GUARD_HZ, touches
from rollsound.errors import InputError, storage
from rollsound.whole import write_whole

if TYPE_CHECKING:
    from rollsound.log.model import Author, Head
    from rollsound.show.folder import Guard, Saved, Show

FOLDER = "scans"
LONGEST_SCAN = 4_000_000
"""Letters of a file that comes in over the network."""


@dataclass(frozen=True)
class NewScan:
    """A scan as somebody sent it."""

    name: str
    text: str
    threshold_dbm: float
    site: str


@dataclass(frozen=True)
class Taken:
    """The plan's document with the scan, where its file goes, and what it tells."""

    document: dict[str, Any]
    id: str
    file: str
    text: str
    points: int
    low_hz: int
    high_hz: int
    touched: int
    """How many carriers that send on its site lie on what it found in use."""
    notes: tuple[str, ...]


def take_scan(show: Show, head: Head, new: NewScan) -> Taken:
    """Read a scan and put it into the plan's document, with a name for its file that nothing else has.

    Raises
    ------
    InputError, MistakesError
        when it is no scan, or the plan cannot hold it; nothing is kept
    """
    from rollsound.radio.scan import occupied, read

    if not new.name:
        raise InputError("the scan has no name; say where and when it was taken")
    if new.site and new.site not in {each.id for each in show.plan().sites}:
        raise InputError(f"the plan has no site '{new.site}'; choose one of the list")
    levels = read(new.text, new.name)
    id, file = _free_name(show, head, new.name)
    item: dict[str, Any] = {"id": id, "file": file, "threshold": f"{new.threshold_dbm:g} dBm", "taken": new.name}
    if new.site:
        item["sites"] = [new.site]
    document = add(head.document, ("scans",), item)
    radio_of(document)
    question = question_of(show.folder, show.plan().radio, head.revision, new.site)
    stretches = occupied(levels, new.threshold_dbm, GUARD_HZ, id)
    touched = {id for each in stretches for id in touches(question.task, question.carriers_hz, each)}
    return Taken(
        document,
        id,
        file,
        new.text,
        int(levels.level_dbm.size),
        int(levels.low_hz[0]),
        int(levels.high_hz[-1]),
        len(touched),
        tuple(f"{note[:1].upper()}{note[1:].rstrip('.')}." for note in levels.notes),
    )


def keep_scan(show: Show, head: Head, taken: Taken, author: Author, key: str, guard: Guard | None) -> Saved | None:
    """Write the file and save the plan with it; where the plan cannot be saved, the file goes again.

    Raises
    ------
    ClashError, MistakesError
        as every edit of the plan
    StorageError
        when the disk fails
    """
    path = show.folder / taken.file
    with storage(path):
        path.parent.mkdir(exist_ok=True)
        write_whole(path, taken.text.encode())
    try:
        done = save(show, head, taken.document, author, key, guard)
    except BaseException:
        path.unlink(missing_ok=True)
        raise
    if all(each.file != taken.file for each in show.plan().radio.scans):
        path.unlink(missing_ok=True)  # sent again: the first time had kept it under another name
    return done


def _free_name(show: Show, head: Head, name: str) -> tuple[str, str]:
    """An id that no scan has, and a file that neither lies there nor is named by a scan of the plan."""
    taken = ids_in(head.document, ("scans",))
    named = {each.file for each in show.plan().radio.scans}
    while True:
        id = new_id(name, taken)
        file = f"{FOLDER}/{id}.csv"
        if file not in named and not (show.folder / file).exists():
            return id, file
        taken.append(id)
