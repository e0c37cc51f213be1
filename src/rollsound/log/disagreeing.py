"""Two who write the same line of the log: what the later one had not seen, and what can no longer be taken back."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Connection

from rollsound.log.changes import ABSENT, Change, Clash, ClashError, split, value_at
from rollsound.log.daylines import ROOT, LogLine
from rollsound.log.journal import LOG_REDO, LOG_UNDO, OF_LOG, at_path, entries_where
from rollsound.log.line_words import field_in_words, line_in_words, value_in_words
from rollsound.log.model import Author, Edit, Entry
from rollsound.log.tables import journal


@dataclass(frozen=True)
class Overlap:
    """A field that somebody else had changed, which the writer had not seen; the later holds, both are told."""

    line: str
    field: str
    theirs: Any
    mine: Any
    person: str
    at: datetime


def overlaps_of(
    connection: Connection, id: str, steps: Sequence[Change], seen: int | None, author: Author
) -> list[Overlap]:
    """Fields among these that somebody else, or the same person on another device, changed since ``seen``."""
    found = []
    for change in steps if seen is not None else ():
        since = (journal.c.number > seen, at_path(change.path), journal.c.kind.in_(OF_LOG))
        others = [
            each for each in entries_where(connection, *since) if each.author != author and _touches(each, change.path)
        ]
        if others:
            field = field_in_words(split(change.path)[2:])
            theirs = None if change.before is ABSENT else change.before
            mine = None if change.after is ABSENT else change.after
            found.append(Overlap(id, field, theirs, mine, others[0].author.person, others[0].at))
    return found


def _touches(entry: Entry, path: str) -> bool:
    """Whether an entry changed the value at a path; a group that came as a whole changed only what is in it."""
    for change in entry.changes:
        if change.path == path or change.path.startswith(f"{path}/"):
            return True
        if path.startswith(f"{change.path}/"):
            below = path.removeprefix(change.path)
            if value_at(change.before, below) != value_at(change.after, below):
                return True
    return False


def named(connection: Connection, clashes: Sequence[Clash], before: Mapping[str, Any], edit: Edit) -> ClashError:
    """The error that tells who changed the same since."""
    told = []
    for clash in clashes[:3]:
        id, *steps = split(clash.path)[1:]
        last = next(iter(entries_where(connection, at_path(clash.path), limit=1)), None)
        who = (last.author.person if last else "") or "somebody"
        kept = before.get(id)
        if kept is None:
            told.append(f"{who} has taken line {id} out since")
            continue
        line = line_in_words(LogLine.from_json(id, kept))
        if not steps:
            told.append(f"{who} has changed {line} since")
            continue
        now_there = value_at({ROOT: before}, clash.path)
        value = value_in_words(None if now_there is ABSENT else now_there)
        told.append(f"{line}, {field_in_words(steps)}: {who} has made it {value} since")
    done = "taken back" if edit.kind == LOG_UNDO else "done again" if edit.kind == LOG_REDO else "changed"
    return ClashError(clashes, f"{'; '.join(told)}. Nothing was {done}; change the line itself if it is wrong")
