"""A scan that comes in by the page *Radio*: read first, then kept in the show's folder, then named in the plan."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from rollsound.actions.radio_page import state_with
from rollsound.actions.radio_page_add import radio_of
from rollsound.actions.radio_page_edits import add, ids_in, new_id
from rollsound.errors import InputError, storage
from rollsound.whole import write_whole

if TYPE_CHECKING:
    from rollsound.log.model import Head
    from rollsound.show.folder import Show

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
    """The plan's document with the scan, and what it tells."""

    document: dict[str, Any]
    points: int
    low_hz: int
    high_hz: int
    touched: int
    """How many carriers now lie in used spectrum."""
    notes: tuple[str, ...]


def take_scan(show: Show, head: Head, new: NewScan) -> Taken:
    """Read a scan, keep its file under a name of ours, and put it into the plan's document.

    Raises
    ------
    InputError
        when it is no scan; nothing is kept then
    StorageError
        when the file cannot be written
    """
    from rollsound.radio.scan import read

    if not new.name:
        raise InputError("the scan has no name; say where and when it was taken")
    levels = read(new.text, new.name)
    id = new_id(new.name, ids_in(head.document, ("scans",)))
    file = f"{FOLDER}/{id}.csv"
    path = show.folder / file
    with storage(path):
        path.parent.mkdir(exist_ok=True)
        write_whole(path, new.text.encode())
    item: dict[str, Any] = {"id": id, "file": file, "threshold": f"{new.threshold_dbm:g} dBm", "taken": new.name}
    if new.site:
        item["sites"] = [new.site]
    document = add(head.document, ("scans",), item)
    state = state_with(show, radio_of(document), head.revision)
    broken = state.audit.broken if state.audit is not None else ()
    touched = {each.hit for each in broken if each.limit.value == "occupied"}
    return Taken(
        document,
        int(levels.level_dbm.size),
        int(levels.low_hz[0]),
        int(levels.high_hz[-1]),
        len(touched),
        tuple(f"{note[:1].upper()}{note[1:].rstrip('.')}." for note in levels.notes),
    )
