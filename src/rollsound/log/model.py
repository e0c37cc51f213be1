"""What the log keeps and answers with: edits and entries, devices, jobs, kept replies. No database in here."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Any

from rollsound.errors import BrokenFileError
from rollsound.log.changes import Change

DATABASE = "show.sqlite"
BACKUPS = "backups"

Document = dict[str, Any]


class DamagedError(BrokenFileError):
    """A show's database whose bytes are no longer what was written; ``last_good`` is the backup to go back to."""

    def __init__(self, path: Path, last_good: Path | None, reason: str) -> None:
        remedy = (
            f"go back to the last good backup with: rollsound restore {path.parent} {last_good.name}"
            if last_good is not None
            else "no good backup of it was found; copy the folder to a safe place before anything else is tried"
        )
        super().__init__(
            f"{path} is damaged ({reason}) and was left as it is; {remedy}",
            path=str(path),
            last_good_backup=str(last_good or ""),
            reason=reason,
        )
        self.last_good = last_good


@dataclass(frozen=True)
class Author:
    """Who edits, and on which device. ``person_id`` says who it is; the name counts only where there is no id."""

    person: str
    person_id: str = ""
    device: str = ""


@dataclass(frozen=True)
class Edit:
    """What somebody wants to change. A repeated ``key`` is the same edit sent again, and changes nothing.

    ``comments`` are the document's comments after the edit; None when it leaves them alone. ``refers_to`` is the entry
    that an edit of kind ``undo`` or ``redo`` takes back or does again.
    """

    author: Author
    sentence: str
    changes: tuple[Change, ...]
    comments: dict[str, Any] | None = None
    key: str = ""
    kind: str = "plan"
    refers_to: int | None = None


@dataclass(frozen=True)
class Entry:
    """One line of the journal. ``number`` is also the revision that the edit made."""

    number: int
    at: datetime
    author: Author
    sentence: str
    kind: str
    changes: tuple[Change, ...]
    refers_to: int | None = None
    undone: bool = False


@dataclass(frozen=True)
class Head:
    """The present revision. The document is shared by all who ask: read it, never write into it."""

    revision: int
    document: Document
    comments: dict[str, Any]


@dataclass(frozen=True)
class DeviceRow:
    """A device that joined. Only the hash of its token is kept; ``revoked`` is None while it may enter.

    ``at_machine`` says that it is the machine itself that serves the show; ``address`` is where it was last heard from.
    """

    id: str
    token_hash: str
    name: str
    person: str
    person_id: str
    role: str
    joined: datetime
    seen: datetime
    revoked: datetime | None = None
    at_machine: bool = False
    address: str = ""


@dataclass(frozen=True)
class JobRow:
    """A long job: what it is to do, where it is, and what came of it."""

    id: str
    kind: str
    arguments: dict[str, Any]
    author: Author
    state: str
    made: datetime
    changed: datetime
    progress: dict[str, Any] = field(default_factory=dict)
    result: dict[str, Any] | None = None
    error: dict[str, Any] | None = None


@dataclass(frozen=True)
class Reply:
    """What a repeated request is answered with, instead of doing it twice."""

    status: int
    body: str
