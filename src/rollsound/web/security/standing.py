"""Who the people of the plan are now: a device that joined as one of them has their name and role, and no others."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from rollsound.errors import RollsoundError
from rollsound.log.changes import items_of
from rollsound.log.store import Store
from rollsound.web.security.rights import ROLE_RIGHTS


@dataclass(frozen=True)
class Standing:
    """What the plan says of a person."""

    name: str
    role: str


class People:
    """The people of the plan as it stands, read at every question and worked out once a revision.

    One truth: nothing is copied to the devices, so no edit, import, undo or backup can leave an old role behind.
    """

    def __init__(self, store: Store) -> None:
        self._store = store
        self._known: tuple[object, Mapping[str, Standing] | None] = (None, None)

    def now(self) -> Mapping[str, Standing] | None:
        """Everybody by id; nothing when the plan's people cannot be read, as those of another version may be."""
        try:
            document = self._store.head().document
        except RollsoundError:  # closed for a moment while it goes back to a backup, or its disk is away
            return self._known[1]
        known = self._known
        if known[0] is not document:
            known = self._known = (document, people_in(document))
        return known[1]


def people_in(document: Any) -> dict[str, Standing] | None:
    """The people in a plan's document; a role that nobody knows is a guest's."""
    found = items_of(document.get("people") or [])
    if found is None:
        return None
    return {id: Standing(str(person.get("name", "")) or id, _role(person)) for id, person in found.items()}


def _role(person: Mapping[str, Any]) -> str:
    role = person.get("role", "crew")
    return role if isinstance(role, str) and role in ROLE_RIGHTS else "guest"
