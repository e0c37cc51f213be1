"""A document like a plan's, and two people who edit it."""

from __future__ import annotations

from typing import Any

from rollsound.log.changes import Change
from rollsound.log.model import Author, Edit
from rollsound.log.store import Store

MINA = Author("Mina", "mina", "laptop")
TAREK = Author("Tarek", "tarek", "tablet")


def ferry() -> dict[str, Any]:
    """A small show."""
    return {
        "show": {"title": "Northbound Ferry", "frame_rate": "25"},
        "people": [
            {"id": "mina", "name": "Mina", "role": "mixer"},
            {"id": "tarek", "name": "Tarek", "role": "crew", "mass": 250},
        ],
        "sites": [],
    }


def titled(store: Store, title: str, key: str = "", author: Author = MINA) -> Edit:
    """An edit of the title, whatever it is at present."""
    before = store.head().document["show"]["title"]
    return Edit(author, f"Title: {title}", (Change("/show/title", before, title),), key=key)
