"""A client that edits a show until it is killed, and tells of each edit as soon as it was acknowledged."""

from __future__ import annotations

from multiprocessing.connection import Connection
from pathlib import Path

from rollsound.log.changes import ABSENT, Change
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
