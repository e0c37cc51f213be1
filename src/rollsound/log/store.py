"""The one door to a show's database: the document, its journal, and what the server keeps beside them."""

from __future__ import annotations

import contextlib
import os
import sqlite3
import threading
from pathlib import Path
from typing import Any

from sqlalchemy import ColumnElement, Connection

from rollsound.errors import InputError, storage
from rollsound.log.backups import copy_database, make_backup
from rollsound.log.changes import apply
from rollsound.log.devices import Devices
from rollsound.log.document import check_all, comments_at, document_at, read_head, write_head
from rollsound.log.jobs import Jobs, Replies, Settings
from rollsound.log.journal import (
    about_person,
    at_path,
    entries_where,
    last_number,
    last_redoable,
    last_undoable,
    write_entry,
)
from rollsound.log.keeping import now, text_of
from rollsound.log.model import Author, Document, Edit, Entry, Head
from rollsound.log.opening import connect, engine_of, failures, reading, writing
from rollsound.log.restoring import Restored, restore
from rollsound.log.schema import NEWEST, schema_of, upgrade
from rollsound.log.tables import journal
from rollsound.wave.disk import discard, part_name, publish

# The largest whole number that SQLite takes.
_LARGEST = (1 << 63) - 1


class Store(Devices, Jobs, Settings, Replies):
    """An open show. Safe to use from several threads, and beside other programs that have it open.

    What ``commit`` returned is on the disk: it survives a killed program and a pulled plug.
    """

    def __init__(self, path: Path, *, read_only: bool) -> None:
        super().__init__(path, engine_of(path, read_only=read_only), read_only=read_only)
        # Only one and the same connection can tell whether others have written since it last looked.
        self._watch: sqlite3.Connection | None = None
        self._watching = threading.Lock()
        self._known: tuple[int, Head] | None = None
        self._opened = 1

    @classmethod
    def create(cls, path: Path, document: Document, comments: dict[str, Any], author: Author) -> Store:
        """Make the database of a new show; it is there whole or not at all. Its first revision is 1.

        Raises
        ------
        InputError
            when there is one already
        StorageError
            when the disk fails or is full
        """
        if os.path.lexists(path):
            raise InputError(f"{path.parent} holds a show already; open it, or name another folder", path=str(path))
        text_of(document)  # refused before anything is written
        part = part_name(path)
        try:
            with storage(path), open(part, "xb"):
                pass
            engine = engine_of(part, read_only=False)
            try:
                with writing(engine, part) as connection:
                    upgrade(connection)
                    edit = Edit(author, "Made the show", (), comments, kind="new")
                    write_entry(connection, 1, edit, now())
                    write_head(connection, Head(1, document, comments), snapshot=True)
            finally:
                engine.dispose()
            publish(part, path)
        finally:
            for ending in ("", "-journal"):
                discard(part.with_name(part.name + ending))
        return cls.open(path)

    @classmethod
    def open(cls, path: Path, *, read_only: bool = False) -> Store:
        """Open a show's database, prove it, and bring one of an older version up to this one.

        Raises
        ------
        InputError
            when there is none, it is none of ours, or one of a newer version
        DamagedError
            when its bytes are not what was written; it names the last good backup
        StorageError
            when the disk fails
        """
        if not path.is_file():
            raise InputError(
                f"{path.parent} holds no show; name the folder of a show, or make one with 'rollsound new'",
                path=str(path),
            )
        store = cls(path, read_only=read_only)
        try:
            with store._told():
                store._prepare()
        except BaseException:
            store.close()
            raise
        return store

    def _prepare(self) -> None:
        with reading(self._engine, self.path) as connection:
            version = schema_of(connection, self.path)
            check_all(connection)
        if version != NEWEST:
            self._bring_up(version)
        with failures(self.path):
            self._watch = connect(self.path, read_only=self.read_only)
            if not self.read_only:
                # Readers and a writer then do not wait for each other.
                self._watch.execute("PRAGMA journal_mode=WAL")
            # From the first reading on, other programs can tell that the show is open.
            self._watch.execute("SELECT revision FROM state").fetchall()

    def _bring_up(self, version: str) -> None:
        if self.read_only:
            raise InputError(
                f"{self.path} was written by an older version of Rollsound and must be brought up to this one first; "
                "open it once for writing",
                path=str(self.path),
                schema=version,
            )
        make_backup(self.path, kind="upgrade")
        with writing(self._engine, self.path) as connection:
            # Another program may have done it meanwhile; then there is nothing left to do.
            schema_of(connection, self.path)
            upgrade(connection)

    def head(self) -> Head:
        """The present document. It is shared by all who ask: read it, never write into it."""
        version = self.data_version()
        known = self._known
        if known is not None and known[0] == version:
            return known[1]
        with self._reading() as connection:
            head = read_head(connection)
        self._known = (version, head)
        return head

    def data_version(self) -> int:
        """A number that is another one as soon as anybody, here or in another program, has committed anything."""
        with self._told(), failures(self.path), self._watching:
            self._refuse_closed()
            assert self._watch is not None
            # A database that came in this one's place may have counted to the same number.
            return self._opened << 32 | int(self._watch.execute("PRAGMA data_version").fetchone()[0])

    def at(self, revision: int) -> Document:
        """The document as it was. Raises InputError when the show has no such revision."""
        with self._reading() as connection:
            return document_at(connection, revision)

    def comments_at(self, revision: int) -> dict[str, Any]:
        """The comments as they were."""
        with self._reading() as connection:
            return comments_at(connection, revision)

    def commit(self, edit: Edit) -> Entry:
        """Make one edit: the document and its journal in one transaction, on the disk when this returns.

        An edit whose key was seen before is the same one sent again: its first entry is returned, nothing is written.

        Raises
        ------
        ClashError
            when a value is no longer what the edit says it was; nothing is written
        InputError
            when a change leads nowhere, or what is to be taken back or done again was so already
        StorageError
            when the disk fails or is full; nothing is written
        """
        with self._writing() as connection:
            if edit.key:
                again = entries_where(connection, journal.c.key == edit.key, limit=1)
                if again:
                    return again[0]
            if edit.kind in ("undo", "redo"):
                _refuse_twice(edit, _entry(connection, edit.refers_to or 0))
            head = read_head(connection)
            document = apply(head.document, edit.changes)
            comments = head.comments if edit.comments is None else edit.comments
            number = last_number(connection) + 1
            entry = write_entry(connection, number, edit, now())
            write_head(connection, Head(number, document, comments))
            return entry

    def entry(self, number: int) -> Entry | None:
        """One entry."""
        with self._reading() as connection:
            return _entry(connection, number)

    def entry_of_key(self, key: str) -> Entry | None:
        """The entry that an edit with this key made."""
        with self._reading() as connection:
            return next(iter(entries_where(connection, journal.c.key == key)), None) if key else None

    def journal(
        self,
        *,
        limit: int = 100,
        before: int | None = None,
        after: int | None = None,
        person: str = "",
        path: str = "",
        kind: str = "",
    ) -> list[Entry]:
        """Entries, newest first.

        Parameters
        ----------
        before, after
            only entries with a smaller, or greater, number
        person
            only of those with this id or name
        path
            only where something at, under or above this path changed
        """
        conditions: list[ColumnElement[bool]] = []
        if before is not None:
            conditions.append(journal.c.number < min(before, _LARGEST))
        if after is not None:
            conditions.append(journal.c.number > min(max(after, -1), _LARGEST))
        if person:
            conditions.append(about_person(person))
        if path:
            conditions.append(at_path(path))
        if kind:
            conditions.append(journal.c.kind == kind)
        with self._reading() as connection:
            return entries_where(connection, *conditions, limit=max(0, min(limit, _LARGEST)))

    def last_undoable(self, person: str) -> Entry | None:
        """The newest edit that still stands of the person with this id (or, where an entry has none, this name)."""
        with self._reading() as connection:
            return last_undoable(connection, person)

    def last_redoable(self, person: str) -> Entry | None:
        """The edit that this person took back last, unless there was a newer edit of theirs since."""
        with self._reading() as connection:
            return last_redoable(connection, person)

    def backup_to(self, path: Path) -> None:
        """Write a proven copy of the database; never replaces a file."""
        self._refuse_closed()
        with self._told():
            copy_database(self.path, path)

    def go_back(self, backup: Path | None, author: Author, *, serving: bool = False) -> Restored:
        """Put a backup in this database's place, and go on with it; edits of other threads wait until it is done.

        Raises as ``restoring.restore``, and goes on with the database as it was then.
        """
        with self._turn:
            self._shut()
            try:
                return restore(self.path, backup, author, serving=serving)
            finally:
                self._open_anew()

    def reopen(self) -> None:
        """Open a closed store again, proven as when it was first opened."""
        with self._turn:
            self._open_anew()

    def close(self) -> None:
        """Let go of the database. What was committed is on the disk already."""
        with self._turn:
            self._shut()

    def _shut(self) -> None:
        with self._watching, contextlib.suppress(sqlite3.Error):
            self._closed = True
            self._known = None
            if self._watch is not None:
                self._watch.close()
                self._watch = None
        self._engine.dispose()

    def _open_anew(self) -> None:
        with self._told():
            self._prepare()
        with self._watching:
            self._opened += 1
            self._closed = False

    def __enter__(self) -> Store:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()


def _entry(connection: Connection, number: int) -> Entry | None:
    known = 0 < number <= _LARGEST
    return next(iter(entries_where(connection, journal.c.number == number)), None) if known else None


def _refuse_twice(edit: Edit, found: Entry | None) -> None:
    """Raise unless the entry is there and is in the state from which it can be taken back or done again."""
    if found is None:
        raise InputError(f"there is no entry {edit.refers_to} to {edit.kind}; look at the history again")
    if found.undone == (edit.kind == "undo"):
        done = "taken back" if edit.kind == "undo" else "done again"
        raise InputError(f"entry {edit.refers_to} was {done} already; look at the history again")
