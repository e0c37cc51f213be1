"""Going back to a backup. What the show was until then is moved aside, never thrown away."""

from __future__ import annotations

import contextlib
import os
import shutil
import sqlite3
from dataclasses import dataclass, replace
from pathlib import Path

from rollsound.alone import hold
from rollsound.errors import InputError, StorageError, storage
from rollsound.log.backups import copy_database, free_name, last_good, verify
from rollsound.log.document import read_head, revision_of, write_head
from rollsound.log.journal import write_entry
from rollsound.log.keeping import now
from rollsound.log.lock import SERVING, served_at
from rollsound.log.model import Author, Edit
from rollsound.log.opening import BytesDamagedError, Turn, connect_alone, engine_of, failures, reading, writing
from rollsound.log.schema import upgrade
from rollsound.wave.disk import discard, part_name, publish

# A damaged database may hide how far it got; its last revisions are then taken to lie within these.
_UNKNOWN_REVISIONS = 100_000
# Another program may just be closing the show.
_PATIENCE_S = 3.0


@dataclass(frozen=True)
class Restored:
    """What going back did: from which backup, to which revision, and where the show as it was lies now."""

    backup: Path
    backup_revision: int
    revision: int
    aside: Path | None


def restore(database: Path, backup: Path | None, author: Author, *, serving: bool = False) -> Restored:
    """Put a backup in the place of a show's database.

    Its revision number is higher than any the show had, so that nobody's unsent work is taken for newer than it is.

    Parameters
    ----------
    backup
        the newest good one when None
    serving
        the caller is the server that holds the show, and has closed its store

    Raises
    ------
    InputError
        when there is no good backup, the one named does not hold, or a server has the show
    StorageError
        when another program has the database open, or the disk fails
    """
    chosen = backup or last_good(database)
    if chosen is None:
        raise InputError(f"{database.parent} has no good backup to go back to", path=str(database))
    held = None if serving else hold(database.parent / SERVING)
    if held is None and not serving:
        other = served_at(database.parent)
        raise InputError(
            f"a server has {database.parent} open" + (f" at {other}" if other else "") + "; stop it, then go back",
            path=str(database),
        )
    try:
        return _restore(database, chosen, author)
    except BytesDamagedError as error:
        raise InputError(
            f"the backup {chosen} is damaged itself ({error.reason}); choose another", path=str(chosen)
        ) from error
    finally:
        if held is not None:
            held.let_go()


def _restore(database: Path, backup: Path, author: Author) -> Restored:
    old = verify(backup)
    # Held from before the old database is read until the new one is in its place: no edit is promised in between.
    turn = Turn.alone(database, _PATIENCE_S)
    if turn is None:
        raise _elsewhere(database)
    try:
        return _replace(database, backup, author, old)
    finally:
        turn.let_go()


def _replace(database: Path, backup: Path, author: Author, old: int) -> Restored:
    present = _settle(database)
    coming = part_name(database)
    try:
        copy_database(backup, coming)
        if present is None:
            present = old + (_UNKNOWN_REVISIONS if database.exists() else 0)
        revision = _mark(coming, max(old, present) + 1, author, backup)
        aside = _move_aside(database, present)
        for ending in ("-wal", "-shm"):
            # A log left behind would be played into the database that comes.
            discard(database.with_name(database.name + ending))
        with storage(database):
            os.replace(coming, database)
            _flush(database.parent)
    finally:
        for ending in ("", "-journal"):
            discard(coming.with_name(coming.name + ending))
    return Restored(backup, old, revision, aside)


def _settle(database: Path) -> int | None:
    """Bring all of a sound database into its one file, and return its revision; None when it is damaged or not there.

    Raises StorageError when another program has it open.
    """
    if not database.exists():
        return None
    engine = engine_of(database, read_only=True)
    try:
        with reading(engine, database) as connection:
            revision = revision_of(connection)
        engine.dispose()
        with failures(database), contextlib.closing(connect_alone(database)) as alone:
            alone.execute(f"PRAGMA busy_timeout={_PATIENCE_S * 1000:.0f}")
            # Granted only to somebody who is alone with the database.
            alone.execute("PRAGMA journal_mode=DELETE")
    except BytesDamagedError:
        return None
    except StorageError as error:
        if error.detail.get("sqlite_code") in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED):
            raise _elsewhere(database) from error
        return None
    finally:
        engine.dispose()
    return revision


def _elsewhere(database: Path) -> StorageError:
    return StorageError(f"another program has {database.parent} open; close it, then go back", path=str(database))


def _mark(coming: Path, revision: int, author: Author, backup: Path) -> int:
    """Tell in the journal of the database that comes what happened."""
    engine = engine_of(coming, read_only=False)
    try:
        with writing(engine, coming) as connection:
            upgrade(connection)
            head = replace(read_head(connection), revision=revision)
            write_entry(
                connection, revision, Edit(author, f"Went back to the backup {backup.name}", (), kind="restore"), now()
            )
            write_head(connection, head, snapshot=True)
    finally:
        engine.dispose()
    return revision


def _move_aside(database: Path, revision: int) -> Path | None:
    """Keep the old database, and its log where it is damaged, among the backups."""
    if not database.exists():
        return None
    aside = free_name(database, "aside", revision)
    with storage(aside):
        aside.parent.mkdir(parents=True, exist_ok=True)
    for ending in ("-wal", ""):
        old, kept = database.with_name(database.name + ending), aside.with_name(aside.name + ending)
        if not old.exists():
            continue
        part = part_name(kept)
        try:
            # Copied, so that the show opens whenever we are killed.
            shutil.copyfile(old, part)
            with open(part, "rb+") as file:
                os.fsync(file.fileno())
            publish(part, kept)
        except OSError:
            # A disk that is full or cannot read a page can still give a file another name.
            discard(part)
            with storage(kept):
                os.rename(old, kept)
    return aside


def _flush(folder: Path) -> None:
    """Make the new name survive a power cut, where the system lets folders be flushed."""
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
