"""A client that edits a show until it is killed, and tells of each edit as soon as it was acknowledged."""

from __future__ import annotations

import time
from multiprocessing.connection import Connection
from pathlib import Path

from rollsound.log.changes import ABSENT, Change
from rollsound.log.daybook import LogBook, LogLine
from rollsound.log.model import Author, Edit
from rollsound.log.store import Store


def write(path: Path, name: str, told: Connection) -> None:
    """Count up a field of our own; the edit that may have been under way when we were killed is sent again."""
    told.send("ready")
    store = Store.open(path)
    step = max(1, store.head().document["counts"].get(name, 0))
    while True:
        change = Change(f"/counts/{name}", ABSENT if step == 1 else step - 1, step)
        entry = store.commit(Edit(Author(name), f"{name} {step}", (change,), key=f"{name}-{step}"))
        told.send((step, entry.number))
        step += 1


LINES = 3
BETWEEN_S = 0.003
"""Writers in two programs wait for each other by luck: one that never pauses would leave the other hardly a turn."""


def write_log(path: Path, name: str, told: Connection) -> None:
    """Write a line, then change it twice, and so on; what may have been under way when we were killed is sent again."""
    told.send("ready")
    store = Store.open(path)
    book = LogBook(store)
    mine = [line for line in book.lines("day-1") if line.by.person == name]
    step = max((_step(line) for line in mine), default=0)
    while True:
        id, key = f"{name.lower()}-{step - step % LINES}", f"{name}-{step}"
        if step % LINES:
            written = book.change(id, {"track": str(step % LINES)}, Author(name), key=key)
        else:
            written = book.add("note", {"text": f"{name} {step}"}, Author(name), "day-1", key=key, id=id)
        assert written.entry is not None
        told.send((step, written.entry.number))
        step += 1
        time.sleep(BETWEEN_S)


def _step(line: LogLine) -> int:
    return int(line.id.rpartition("-")[2]) + int(line.fields.get("track", 0))
