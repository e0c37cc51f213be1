"""The document in the database: as it is now, and as it was at any revision."""

from __future__ import annotations

from typing import Any

from sqlalchemy import Connection, func, select

from rollsound.errors import InputError
from rollsound.log.changes import apply, invert
from rollsound.log.daylines import check_lines
from rollsound.log.journal import OF_LOG, check_digests, entries_where, last_number, turns
from rollsound.log.keeping import digest_of, text_of, value_of
from rollsound.log.model import Document, Head
from rollsound.log.opening import BytesDamagedError
from rollsound.log.tables import journal, snapshots, state

# A whole document costs as much as some hundreds of changes; rebuilding from 50 changes away takes milliseconds.
SNAPSHOT_EVERY = 100


def read_head(connection: Connection) -> Head:
    """The present document, proven by its digest."""
    row = connection.execute(select(state)).one_or_none()
    if row is None:
        raise BytesDamagedError("the plan in it is gone")
    if digest_of(row.revision, row.document, row.comments) != row.digest:
        raise BytesDamagedError("the plan in it is not what was written")
    return Head(row.revision, value_of(row.document), value_of(row.comments))


def revision_of(connection: Connection) -> int:
    """The number of the newest entry, be it of the plan or of the log: what a backup is told from another by."""
    revision = connection.execute(select(state.c.revision)).scalar()
    if revision is None:
        raise BytesDamagedError("the plan in it is gone")
    return max(int(revision), last_number(connection))


def write_head(connection: Connection, head: Head, *, snapshot: bool = False) -> None:
    """Put a new present document in the old one's place."""
    document, comments = text_of(head.document), text_of(head.comments)
    row = {
        "id": 1,
        "revision": head.revision,
        "document": document,
        "comments": comments,
        "digest": digest_of(head.revision, document, comments),
    }
    before = connection.execute(select(state.c.revision)).scalar() or 0
    if connection.execute(state.update().where(state.c.id == 1), row).rowcount == 0:
        connection.execute(state.insert(), [row])
    # The log takes numbers in between, so a round one may be none of the plan's.
    if snapshot or head.revision // SNAPSHOT_EVERY > before // SNAPSHOT_EVERY:
        kept = {"revision": head.revision, "document": document, "digest": digest_of(head.revision, document)}
        connection.execute(snapshots.insert(), [kept])


def document_at(connection: Connection, revision: int) -> Document:
    """The document as it was, from the nearest one that is kept whole and the changes between.

    Raises
    ------
    InputError
        when the show has no such revision
    """
    head = read_head(connection)
    if revision == head.revision:
        return head.document
    known = select(journal.c.number).where(journal.c.number == revision)
    last = max(head.revision, last_number(connection))
    if not 1 <= revision <= last or connection.execute(known).scalar() is None:
        first = connection.execute(select(func.min(journal.c.number))).scalar()
        raise InputError(
            f"this show has no revision {revision}; its history runs from {first} to {last}"
            + (", with a gap where a backup was restored" if 1 <= revision < last else "")
        )
    if revision > head.revision:  # of the log, after which the plan did not change
        return head.document
    below = connection.execute(select(func.max(snapshots.c.revision)).where(snapshots.c.revision <= revision)).scalar()
    above = connection.execute(select(func.min(snapshots.c.revision)).where(snapshots.c.revision > revision)).scalar()
    start = head.revision if above is None else int(above)
    if below is not None and revision - int(below) <= start - revision:
        start = int(below)
    document = head.document if start == head.revision else _snapshot(connection, start)
    low, high = sorted((start, revision))
    span = (journal.c.number > low, journal.c.number <= high, journal.c.kind.not_in(OF_LOG))
    between = entries_where(connection, *span, newest_first=revision < start)
    try:
        for entry in between:
            steps = entry.changes if revision > start else invert(entry.changes)
            document = apply(document, steps)
    except InputError as error:
        raise BytesDamagedError("its journal and its plan do not agree") from error
    return dict(document)


def comments_at(connection: Connection, revision: int) -> dict[str, Any]:
    """The comments as they were: those of the last entry that changed them."""
    question = (
        select(journal.c.comments)
        .where(journal.c.number <= revision, journal.c.comments.is_not(None))
        .order_by(journal.c.number.desc())
        .limit(1)
    )
    text = connection.execute(question).scalar()
    return {} if text is None else dict(value_of(text))


def _snapshot(connection: Connection, revision: int) -> Document:
    row = connection.execute(select(snapshots).where(snapshots.c.revision == revision)).one()
    if digest_of(row.revision, row.document) != row.digest:
        raise BytesDamagedError(f"the plan of revision {revision} in it is not what was written")
    return dict(value_of(row.document))


def check_all(connection: Connection) -> None:
    """Raise BytesDamagedError unless structure, present document, journal and snapshots are what was written."""
    said = connection.exec_driver_sql("PRAGMA integrity_check(1)").scalar()
    if said != "ok":
        raise BytesDamagedError(str(said).splitlines()[0] if said else "its structure is broken")
    if connection.exec_driver_sql("PRAGMA foreign_key_check").first() is not None:
        raise BytesDamagedError("a row in it refers to one that is gone")
    head = read_head(connection)
    if _last_of_journal(connection) != head.revision:
        raise BytesDamagedError("its journal and its plan do not agree")
    check_digests(connection)
    check_lines(connection)
    for revision in connection.execute(select(snapshots.c.revision)).scalars().all():
        _snapshot(connection, revision)


def _last_of_journal(connection: Connection) -> int:
    """The last number of the plan in a journal that lacks nothing, and whose undone entries its undos tell of."""
    last = last_of_plan = 0
    told: dict[int, int | None] = {}
    kept: dict[int, int | None] = {}
    columns = (journal.c.number, journal.c.kind, journal.c.refers_to, journal.c.undone_by)
    for number, kind, refers_to, undone_by in connection.execute(select(*columns).order_by(journal.c.number)):
        # Only going back to a backup leaves numbers out.
        if number != last + 1 and kind != "restore":
            raise BytesDamagedError(f"entry {last + 1} of its journal is gone")
        last = number
        if kind not in OF_LOG:
            last_of_plan = number
        kept[number] = undone_by
        turned = turns(kind)
        if refers_to is not None and turned is not None:
            told[refers_to] = number if turned else None
    if any(undone_by != told.get(number) for number, undone_by in kept.items()):
        raise BytesDamagedError("its journal and what was undone do not agree")
    return last_of_plan
