"""Reading and writing the journal's rows."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from sqlalchemy import ColumnElement, Connection, Row, and_, func, or_, select

from rollsound.log.changes import Change
from rollsound.log.keeping import digest_of, side_of, side_text, text_of, time_of, time_text
from rollsound.log.model import Author, Edit, Entry
from rollsound.log.opening import BytesDamagedError
from rollsound.log.tables import changes, journal

# Kinds that a person can take back; taking back itself is done again instead.
UNDOABLE = ("plan", "import")
# What was done to the log of the day stands in the same journal; it never touches the plan.
LOGGED, LOG_UNDO, LOG_REDO = "log", "log undo", "log redo"
OF_LOG = (LOGGED, LOG_UNDO, LOG_REDO)
_UNDOES = ("undo", LOG_UNDO)
_TURNS = (*_UNDOES, "redo", LOG_REDO)
# SQLite takes some hundreds of values in one question.
_AT_ONCE = 500
_HEADS = (
    "SELECT number, at, person, person_id, device, sentence, kind, key, refers_to, comments, digest "
    "FROM journal ORDER BY number"
)
_VALUES = "SELECT number, path, before, after FROM changes ORDER BY number, position"


def write_entry(connection: Connection, number: int, edit: Edit, at: datetime) -> Entry:
    """Add one entry and the values that it changed."""
    rows: list[dict[str, Any]] = [
        {
            "number": number,
            "position": position,
            "path": change.path,
            "before": side_text(change.before),
            "after": side_text(change.after),
        }
        for position, change in enumerate(edit.changes)
    ]
    head: dict[str, Any] = {
        "number": number,
        "at": time_text(at),
        "person": edit.author.person,
        "person_id": edit.author.person_id,
        "device": edit.author.device,
        "sentence": edit.sentence,
        "kind": edit.kind,
        "key": edit.key or None,
        "refers_to": edit.refers_to,
        "comments": None if edit.comments is None else text_of(edit.comments),
    }
    sides = [(row["path"], row["before"], row["after"]) for row in rows]
    digest = _digest(tuple(head.values()), sides)
    connection.execute(journal.insert(), [{**head, "undone_by": None, "digest": digest}])
    if rows:
        connection.execute(changes.insert(), rows)
    if edit.kind in _TURNS and edit.refers_to is not None:
        undone_by = number if edit.kind in _UNDOES else None
        connection.execute(journal.update().where(journal.c.number == edit.refers_to).values(undone_by=undone_by))
    return Entry(number, at, edit.author, edit.sentence, edit.kind, edit.changes, edit.refers_to)


def entries_where(
    connection: Connection, *conditions: ColumnElement[bool], limit: int | None = None, newest_first: bool = True
) -> list[Entry]:
    """The entries that meet all conditions, each proven by its digest."""
    order = journal.c.number.desc() if newest_first else journal.c.number
    rows = connection.execute(select(journal).where(*conditions).order_by(order).limit(limit)).all()
    values: dict[int, list[Row[Any]]] = {row.number: [] for row in rows}
    numbers = list(values)
    for start in range(0, len(numbers), _AT_ONCE):
        few = numbers[start : start + _AT_ONCE]
        question = select(changes).where(changes.c.number.in_(few)).order_by(changes.c.number, changes.c.position)
        for value in connection.execute(question):
            values[value.number].append(value)
    return [_entry(row, values[row.number]) for row in rows]


def _entry(row: Row[Any], values: Sequence[Row[Any]]) -> Entry:
    sides = [(value.path, value.before, value.after) for value in values]
    head = (row.number, row.at, row.person, row.person_id, row.device, row.sentence, row.kind, row.key, row.refers_to)
    if _digest((*head, row.comments), sides) != row.digest:
        raise _altered(row.number)
    return Entry(
        number=row.number,
        at=time_of(row.at),
        author=Author(row.person, row.person_id, row.device),
        sentence=row.sentence,
        kind=row.kind,
        changes=tuple(Change(path, side_of(before), side_of(after)) for path, before, after in sides),
        refers_to=row.refers_to,
        undone=row.undone_by is not None,
    )


def _digest(head: Sequence[Any], sides: Sequence[tuple[str, str | None, str | None]]) -> str:
    return digest_of(*head, *(part for side in sides for part in side))


def check_digests(connection: Connection) -> None:
    """Raise BytesDamagedError unless every entry is what was written."""
    # By the driver itself: a show has tens of thousands of entries, and all of them are looked at whenever it opens.
    plain = connection.connection.cursor()
    try:
        values = plain.execute(_VALUES)
        waiting = values.fetchone()
        heads = connection.connection.cursor()
        for number, *head, digest in heads.execute(_HEADS):
            sides = []
            while waiting is not None and waiting[0] == number:
                sides.append(waiting[1:])
                waiting = values.fetchone()
            if _digest((number, *head), sides) != digest:
                raise _altered(number)
        if waiting is not None:
            raise BytesDamagedError("a row in it refers to one that is gone")
    finally:
        plain.close()


def _altered(number: int) -> BytesDamagedError:
    return BytesDamagedError(f"entry {number} of its journal is not what was written")


def by_person(person: str) -> ColumnElement[bool]:
    """Entries of the person with this id or, where an entry has none, of this name."""
    return or_(
        and_(journal.c.person_id != "", journal.c.person_id == person),
        and_(journal.c.person_id == "", journal.c.person == person),
    )


def about_person(person: str) -> ColumnElement[bool]:
    """Entries of everybody who has this id or this name, as one searches a history."""
    return or_(journal.c.person_id == person, func.lower(journal.c.person) == person.lower())


def at_path(path: str) -> ColumnElement[bool]:
    """Entries that changed what stands at a path, a part of it, or something it is a part of."""
    steps = path.split("/")
    above = ["/".join(steps[:count]) for count in range(1, len(steps) + 1)]
    # "0" is the sign after "/": between them lie all paths that begin with this one and a slash.
    below = and_(changes.c.path >= path + "/", changes.c.path < path + "0")
    return journal.c.number.in_(select(changes.c.number).where(or_(changes.c.path.in_(above), below)))


def last_number(connection: Connection) -> int:
    """The number of the newest entry; 0 when there is none."""
    return connection.execute(select(func.max(journal.c.number))).scalar() or 0


def turns(kind: str) -> int | None:
    """What an entry of a kind does to the one it refers to: 1 takes it back, 0 does it again; None where neither."""
    return None if kind not in _TURNS else int(kind in _UNDOES)


def last_undoable(connection: Connection, person: str, kinds: Sequence[str] = UNDOABLE) -> Entry | None:
    """The person's newest edit of these kinds that still stands."""
    conditions = (by_person(person), journal.c.kind.in_(kinds), journal.c.undone_by.is_(None))
    return next(iter(entries_where(connection, *conditions, limit=1)), None)


def last_redoable(connection: Connection, person: str, kinds: Sequence[str] = UNDOABLE) -> Entry | None:
    """The person's edit of these kinds that was taken back last, unless the person has edited since."""
    newest = select(func.max(journal.c.number)).where(by_person(person), journal.c.kind.in_(kinds))
    last_edit = connection.execute(newest).scalar() or 0
    question = select(func.max(journal.c.undone_by)).where(
        by_person(person), journal.c.kind.in_(kinds), journal.c.undone_by > last_edit
    )
    undone_by = connection.execute(question).scalar()
    if undone_by is None:
        return None
    return entries_where(connection, journal.c.undone_by == undone_by)[0]
