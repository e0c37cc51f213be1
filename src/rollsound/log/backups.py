"""Backups of a show's database: proven copies in ``SHOW/backups``, thinned out by age, and never a half one."""

from __future__ import annotations

import contextlib
import os
import re
import sqlite3
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from rollsound.errors import InputError, StorageError, storage
from rollsound.log.document import check_all, revision_of
from rollsound.log.keeping import now
from rollsound.log.model import BACKUPS, DamagedError
from rollsound.log.opening import BytesDamagedError, connect, engine_of, failures, reading
from rollsound.log.schema import schema_of
from rollsound.wave.disk import discard, part_name, publish

KEPT_NEWEST = 10
KEPT_DAYS = 30
# "show": made on the way, thinned out; "upgrade", "aside": what an upgrade or going back replaced, never removed by us.
_NAME = re.compile(r"(show|upgrade|aside)-(\d{8}-\d{6})-r(\d+)(?:-\d+)?\.sqlite")
_STAMP = "%Y%m%d-%H%M%S"


@dataclass(frozen=True)
class Backup:
    """One backup as its name tells of it; whether its bytes still hold is for ``verify`` to say."""

    path: Path
    kind: str
    at: datetime
    revision: int
    size_bytes: int


def verify(path: Path) -> int:
    """Prove a database that nobody writes, byte by byte as far as its digests reach; returns its revision.

    Raises
    ------
    BytesDamagedError, InputError, StorageError
        when it is damaged, is none of ours, or cannot be read
    """
    engine = engine_of(path, read_only=True)
    try:
        with reading(engine, path) as connection:
            schema_of(connection, path)
            check_all(connection)
            return revision_of(connection)
    finally:
        engine.dispose()


def backups_of(database: Path) -> list[Backup]:
    """Every backup beside a database, newest first."""
    found = []
    folder = database.parent / BACKUPS
    with storage(folder), contextlib.suppress(FileNotFoundError):
        for path in folder.iterdir():
            match = _NAME.fullmatch(path.name)
            if match:
                try:
                    at = datetime.strptime(match[2], _STAMP).replace(tzinfo=UTC)
                except ValueError:  # no such date: a name that we never gave
                    continue
                found.append(Backup(path, match[1], at, int(match[3]), path.stat().st_size))
    return sorted(found, key=lambda backup: (backup.at, backup.revision, backup.path.name), reverse=True)


def last_good(database: Path) -> Path | None:
    """The newest backup whose bytes hold."""
    with contextlib.suppress(StorageError):
        for backup in backups_of(database):
            if backup.kind == "aside":
                continue
            with contextlib.suppress(InputError, StorageError):
                verify(backup.path)
                return backup.path
    return None


def copy_database(source: Path, target: Path) -> None:
    """Copy a database that may be in use, prove the copy, then give it its name; never replaces a file.

    Raises
    ------
    StorageError
        when the name is taken, or the disk fails or is full
    BytesDamagedError
        when the copy does not hold
    """
    with storage(target):
        target.parent.mkdir(parents=True, exist_ok=True)
        if os.path.lexists(target):
            raise FileExistsError(17, "exists", str(target))
    part = part_name(target)
    try:
        with (
            failures(target),
            contextlib.closing(connect(source, read_only=True)) as whole,
            contextlib.closing(sqlite3.connect(part)) as copy,
        ):
            whole.backup(copy)
            # One file that needs no others beside it, wherever it is carried.
            copy.execute("PRAGMA journal_mode=DELETE")
        verify(part)
        publish(part, target)
    finally:
        for ending in ("", "-wal", "-shm", "-journal"):
            discard(part.with_name(part.name + ending))


def make_backup(database: Path, *, kind: str = "show", only_if_changed: bool = False) -> Backup:
    """Add a proven backup and thin out the old ones.

    Parameters
    ----------
    only_if_changed
        return the newest backup, and make none, when it holds the present revision already

    Raises
    ------
    DamagedError
        when the database is not what was written; no backup is made of it
    StorageError
        when the disk fails or is full
    """
    try:
        return _made(database, kind, only_if_changed)
    except BytesDamagedError as error:
        raise DamagedError(database, last_good(database), error.reason) from error


def _made(database: Path, kind: str, only_if_changed: bool) -> Backup:
    revision = _revision(database)
    if only_if_changed:
        newest = next((each for each in backups_of(database) if each.kind == "show"), None)
        if newest is not None and newest.revision == revision:
            return newest
    path = free_name(database, kind, revision)
    copy_database(database, path)
    thin_out(database)
    return next(backup for backup in backups_of(database) if backup.path == path)


def _revision(database: Path) -> int:
    engine = engine_of(database, read_only=True)
    try:
        with reading(engine, database) as connection:
            return revision_of(connection)
    finally:
        engine.dispose()


def free_name(database: Path, kind: str, revision: int) -> Path:
    """A name for a new backup that nobody has yet."""
    stem = f"{kind}-{now().strftime(_STAMP)}-r{revision}"
    path = database.parent / BACKUPS / f"{stem}.sqlite"
    number = 2
    while os.path.lexists(path):
        path = path.with_name(f"{stem}-{number}.sqlite")
        number += 1
    return path


def thin_out(database: Path) -> list[Path]:
    """Remove what is neither among the newest nor the last of its day; the dates are those of UTC."""
    rolling = [backup for backup in backups_of(database) if backup.kind == "show"]
    last_of_day = {}
    for backup in reversed(rolling):
        last_of_day[backup.at.date()] = backup
    kept = {backup.path for backup in rolling[:KEPT_NEWEST]}
    kept |= {last_of_day[day].path for day in sorted(last_of_day)[-KEPT_DAYS:]}
    removed = [backup.path for backup in rolling if backup.path not in kept]
    for path in removed:
        discard(path)
    return removed
