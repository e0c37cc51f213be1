"""Shapes that several routers answer with."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING, Any, Literal

from pydantic import BaseModel, Field, model_serializer

from rollsound.log.changes import ABSENT, Change
from rollsound.log.model import Entry

if TYPE_CHECKING:
    from rollsound.show.folder import Saved

Take = dict[str, Literal["mine", "theirs"]]


class ChangeShape(BaseModel):
    """One value at one path. A side that is left out means that nothing stands there; null is a value."""

    path: str = Field(max_length=2000, description="JSON Pointer with ids in place of positions: /people/mina/name")
    before: Any = None
    after: Any = None

    @classmethod
    def of(cls, change: Change) -> ChangeShape:
        """A change as it is sent."""
        return cls.model_validate(change.as_json())

    def change(self) -> Change:
        """A change as it was sent."""
        sides = {name: getattr(self, name) if name in self.model_fields_set else ABSENT for name in ("before", "after")}
        return Change(self.path, sides["before"], sides["after"])

    @model_serializer
    def _sides(self) -> dict[str, Any]:
        return {name: getattr(self, name) for name in ("path", "before", "after") if name in self.model_fields_set}


class SavedAnswer(BaseModel):
    """What a change to the plan did. ``number`` is null when it changed nothing."""

    revision: int
    number: int | None
    sentence: str
    changes: list[ChangeShape]

    @classmethod
    def of(cls, saved: Saved) -> SavedAnswer:
        """What was saved, as it is sent."""
        entry = saved.entry
        return cls(
            revision=saved.revision,
            number=entry.number if entry else None,
            sentence=entry.sentence if entry else "",
            changes=[ChangeShape.of(change) for change in saved.changes],
        )


class EntryAnswer(BaseModel):
    """One line of the journal."""

    number: int
    at: datetime
    person: str
    person_id: str
    device: str
    kind: str
    sentence: str
    refers_to: int | None
    undone: bool
    changes: list[ChangeShape]

    @classmethod
    def of(cls, entry: Entry) -> EntryAnswer:
        """An entry as it is sent."""
        return cls(
            number=entry.number,
            at=entry.at,
            person=entry.author.person,
            person_id=entry.author.person_id,
            device=entry.author.device,
            kind=entry.kind,
            sentence=entry.sentence,
            refers_to=entry.refers_to,
            undone=entry.undone,
            changes=[ChangeShape.of(change) for change in entry.changes],
        )
