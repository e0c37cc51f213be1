"""What the commands of a show answer with."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from pydantic import BaseModel, ConfigDict, Field

from rollsound.log.backups import Backup
from rollsound.log.changes import ABSENT, Absent, Change
from rollsound.log.model import Entry
from rollsound.show.sentences import place_in_words, value_in_words


class _Result(BaseModel):
    model_config = ConfigDict(frozen=True)


class ChangedValue(_Result):
    """One value of the plan, before and after."""

    path: str = Field(description="where it stands, as a JSON Pointer with ids in place of numbers")
    place: str = Field(description="where it stands, in words")
    before: Any = Field(description="null also where nothing stood: see before_words")
    after: Any = Field(description="null also where nothing stands: see after_words")
    before_words: str
    after_words: str

    @classmethod
    def of(cls, change: Change, *documents: Any) -> ChangedValue:
        """A change, with names from the documents before and after it."""
        return cls(
            path=change.path,
            place=place_in_words(change.path, *documents),
            before=_or_none(change.before),
            after=_or_none(change.after),
            before_words=value_in_words(change.before),
            after_words=value_in_words(change.after),
        )


class EntryRow(_Result):
    """One line of the history."""

    number: int = Field(description="also the revision that it made")
    at: datetime
    person: str
    device: str
    kind: str = Field(
        description="new, plan, import, undo, redo, restore; log, log undo, log redo for the log of the day"
    )
    sentence: str
    undone: bool
    refers_to: int | None = Field(description="the entry that was taken back or made again")
    changes: tuple[ChangedValue, ...]

    @classmethod
    def of(cls, entry: Entry, *documents: Any) -> EntryRow:
        """A line of the journal, with names from these documents."""
        return cls(
            number=entry.number,
            at=entry.at,
            person=entry.author.person,
            device=entry.author.device,
            kind=entry.kind,
            sentence=entry.sentence,
            undone=entry.undone,
            refers_to=entry.refers_to,
            changes=tuple(ChangedValue.of(change, *documents) for change in entry.changes),
        )


class BackupRow(_Result):
    """One backup."""

    path: str
    kind: str = Field(description="show: made on the way; upgrade, aside: what an upgrade or going back replaced")
    at: datetime
    revision: int
    size_bytes: int

    @classmethod
    def of(cls, backup: Backup) -> BackupRow:
        """A backup, as its name tells of it."""
        return cls(
            path=str(backup.path),
            kind=backup.kind,
            at=backup.at,
            revision=backup.revision,
            size_bytes=backup.size_bytes,
        )


class NewResult(_Result):
    """A show that was made."""

    folder: str
    title: str
    revision: int


class ExportResult(_Result):
    """The whole plan as text."""

    folder: str
    revision: int
    out: str = Field(description="the file that was written; empty when the text is only told")
    text: str


class EditResult(_Result):
    """What an import, an undo or a redo changed."""

    folder: str
    revision: int
    number: int | None = Field(description="the new entry in the history; null when there was nothing to change")
    sentence: str
    changes: tuple[ChangedValue, ...]


class HistoryResult(_Result):
    """What was done, newest first."""

    folder: str
    revision: int
    entries: tuple[EntryRow, ...]


class CompareResult(_Result):
    """What differs between two revisions."""

    folder: str
    from_revision: int
    to_revision: int
    changes: tuple[ChangedValue, ...]


class BackupResult(_Result):
    """The backup that was made, if one was, and all there are, newest first."""

    folder: str
    made: BackupRow | None
    backups: tuple[BackupRow, ...]


class RestoreResult(_Result):
    """A show that went back to a backup; what it was until then lies in ``aside``."""

    folder: str
    backup: str
    backup_revision: int
    revision: int
    aside: str


def _or_none(value: Any | Absent) -> Any:
    return None if value is ABSENT else value
