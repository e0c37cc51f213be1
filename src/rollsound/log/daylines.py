"""Lines of the day's log in the database: as they stand, and proven against the journal that tells how they came."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import cached_property
from typing import Any

from sqlalchemy import Connection, select

from rollsound.errors import InputError
from rollsound.log.changes import ABSENT, Absent, Change, apply, join
from rollsound.log.entries import AnyEntry, kept_entry
from rollsound.log.journal import OF_LOG
from rollsound.log.keeping import digest_of, side_of, text_of, time_text, value_of
from rollsound.log.model import Author
from rollsound.log.opening import BytesDamagedError
from rollsound.log.tables import lines

ROOT = "log"
"""Where lines stand in the journal's paths: ``/log/<line>/fields/note``."""
_COLUMNS = ("id", "kind", "day", "moment", "line", "made", "changed")
# SQLite takes some hundreds of values in one question.
_AT_ONCE = 500
_CHANGES = (
    "SELECT changes.path, changes.before, changes.after FROM changes JOIN journal ON journal.number = changes.number "
    f"WHERE journal.kind IN ({', '.join(repr(kind) for kind in OF_LOG)}) ORDER BY changes.number, changes.position"
)


@dataclass(frozen=True)
class LogLine:
    """One line of the log: what happened, on which day and when, and who wrote it.

    ``at`` has the offset of the place where it was written, so that it tells both the moment and the time of day there.
    ``made`` and ``changed`` are the numbers of the first and the last entry of the journal about it.
    """

    id: str
    kind: str
    day: str
    at: datetime
    by: Author
    fields: dict[str, Any]
    made: int = 0
    changed: int = 0

    @cached_property
    def entry(self) -> AnyEntry:
        """What happened, typed."""
        return kept_entry(self.kind, self.fields)

    def as_json(self) -> dict[str, Any]:
        """For keeping."""
        return {
            "kind": self.kind,
            "day": self.day,
            "at": self.at.isoformat(),
            "by": {"person": self.by.person, "person_id": self.by.person_id, "device": self.by.device},
            "fields": self.fields,
        }

    @classmethod
    def from_json(cls, id: str, kept: dict[str, Any], made: int = 0, changed: int = 0) -> LogLine:
        """Read what ``as_json`` kept."""
        at = datetime.fromisoformat(kept["at"])
        return cls(id, kept["kind"], kept["day"], at, Author(**kept["by"]), kept["fields"], made, changed)


def path_of(id: str, *steps: str) -> str:
    """The place of a line, or of a part of it, in the journal."""
    return join((ROOT, id, *steps))


def read_lines(connection: Connection, *, ids: Sequence[str] | None = None) -> list[LogLine]:
    """Lines, all of them or those with these ids, each proven by its digest; in no order."""
    if ids is None:
        return [_line(row) for row in _rows(connection)]
    found = []
    for start in range(0, len(ids), _AT_ONCE):
        few = select(lines).where(lines.c.id.in_(ids[start : start + _AT_ONCE]))
        found += [_line(tuple(row)) for row in connection.execute(few)]
    return found


def _rows(connection: Connection) -> list[tuple[Any, ...]]:
    # By the driver itself: a show has thousands of lines, and all of them are looked at whenever it opens.
    plain = connection.connection.cursor()
    try:
        return list(plain.execute(f"SELECT {', '.join(_COLUMNS)}, digest FROM lines").fetchall())
    finally:
        plain.close()


def read_line(connection: Connection, id: str) -> LogLine | None:
    """One line."""
    row = connection.execute(select(lines).where(lines.c.id == id)).one_or_none()
    return None if row is None else _line(tuple(row))


def put_line(connection: Connection, id: str, kept: dict[str, Any] | Absent, number: int) -> None:
    """Write a line as it stands after journal entry ``number``, or take it away."""
    if kept is ABSENT:
        connection.execute(lines.delete().where(lines.c.id == id))
        return
    assert isinstance(kept, dict)
    text = text_of(kept)
    made = connection.execute(select(lines.c.made).where(lines.c.id == id)).scalar() or number
    row = {
        "id": id,
        "kind": kept["kind"],
        "day": kept["day"],
        "moment": time_text(datetime.fromisoformat(kept["at"])),
        "line": text,
        "made": made,
        "changed": number,
    }
    row["digest"] = _digest(row)
    if not connection.execute(lines.update().where(lines.c.id == id).values(row)).rowcount:
        connection.execute(lines.insert(), [row])


def check_lines(connection: Connection) -> None:
    """Raise BytesDamagedError unless the lines are what was written, and what the journal leads to."""
    there = connection.exec_driver_sql("SELECT 1 FROM sqlite_schema WHERE name = 'lines'").first()
    if there is None:  # of an older schema
        return
    stand = {}
    for row in _rows(connection):
        _prove(row)
        stand[row[0]] = value_of(row[4])
    plain = connection.connection.cursor()
    try:
        changes = plain.execute(_CHANGES).fetchall()
    finally:
        plain.close()
    steps = [Change(path, side_of(before), side_of(after)) for path, before, after in changes]
    try:
        led_to = apply({ROOT: {}}, steps)[ROOT]
    except InputError as error:
        raise BytesDamagedError("its journal and its log do not agree") from error
    if led_to != stand:
        raise BytesDamagedError("its journal and its log do not agree")


def _line(row: tuple[Any, ...]) -> LogLine:
    _prove(row)
    id, _, _, _, text, made, changed, _ = row
    return LogLine.from_json(id, value_of(text), made, changed)


def _prove(row: tuple[Any, ...]) -> None:
    if digest_of(*row[:-1]) != row[-1]:
        raise BytesDamagedError(f"line {row[0]} of its log is not what was written")


def _digest(row: dict[str, Any]) -> str:
    return digest_of(*(row[name] for name in _COLUMNS))
