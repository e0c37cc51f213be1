"""How a database file is opened and shared by threads, and what each way of failing is called."""

from __future__ import annotations

import errno
import os
import sqlite3
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from sqlalchemy import Connection, Engine, create_engine, event
from sqlalchemy.exc import DBAPIError, TimeoutError
from sqlalchemy.pool import QueuePool

from rollsound.errors import BrokenFileError, RollsoundError, StorageError
from rollsound.log.model import DATABASE

# How long one program waits for another that is writing.
WAIT_S = 20.0
# More threads than a server has at work at once; each connection costs a file handle and little else.
_CONNECTIONS_KEPT = 4
_CONNECTIONS_AT_MOST = 64
# What goes back to a backup holds the folder for less than this; one that opens meanwhile asks again this often.
_ASKS_AGAIN_S = 0.02
_WRITES = "writes"
_DAMAGED = {sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB, sqlite3.SQLITE_FORMAT}
_SENTENCES = {
    sqlite3.SQLITE_FULL: "no space is left on the disk that holds {path}; nothing was changed, so free some space and "
    "do it again",
    sqlite3.SQLITE_IOERR: "the disk failed at {path}; nothing was changed, so check the drive and its cable, then do "
    "it again",
    sqlite3.SQLITE_BUSY: "another program keeps {path} busy; nothing was changed, so close what copies or checks the "
    "folder, then do it again",
    sqlite3.SQLITE_LOCKED: "another program keeps {path} busy; nothing was changed, so do it again",
    sqlite3.SQLITE_READONLY: "{path} may only be read here; nothing was changed, so open the show where it may be "
    "written",
    sqlite3.SQLITE_CANTOPEN: "{path} cannot be opened; check that the folder is there and may be read and written",
    sqlite3.SQLITE_PERM: "{path} may not be opened with your rights; change its permissions or choose another place",
    sqlite3.SQLITE_AUTH: "{path} may not be opened with your rights; change its permissions or choose another place",
    sqlite3.SQLITE_TOOBIG: "this is more than {path} can hold in one piece; nothing was changed",
    sqlite3.SQLITE_NOMEM: "there is not enough memory to work on {path}; close other programs, then do it again",
}
_PRIMARY = 0xFF


class BytesDamagedError(BrokenFileError):
    """The bytes of a database are not what was written. Whoever knows the backups says what to do."""

    def __init__(self, reason: str) -> None:
        super().__init__(f"the database of a show is damaged ({reason})", reason=reason)
        self.reason = reason


def connect(path: Path, *, read_only: bool) -> sqlite3.Connection:
    """Open a database that is there already; never makes one."""
    name = path.absolute().as_uri()
    if not read_only:
        turn = Turn.shared(path) if path.name == DATABASE else None
        return _tuned(_plain(f"{name}?mode=rw", turn))
    found = _plain(f"{name}?mode=ro")
    try:
        found.execute("SELECT count(*) FROM sqlite_schema")
    except sqlite3.OperationalError as error:
        found.close()
        # A disk that may not be written has no room for the file that readers share; alone there, we need none.
        log = path.with_name(path.name + "-wal")
        if _primary(error) not in (sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_READONLY) or _size(log):
            raise
        found = _plain(f"{name}?mode=ro&immutable=1")
    return _tuned(found)


def connect_alone(path: Path) -> sqlite3.Connection:
    """Open the database of a show for whoever holds its folder with ``Turn.alone``."""
    return _tuned(_plain(f"{path.absolute().as_uri()}?mode=rw"))


class Turn:
    """A show's folder, locked: by all who may write into its database together, or by the one who replaces the file.

    A file that is replaced while a writer has it open takes that writer's commits with it, and SQLite does not notice.
    The folder itself is locked, so nothing is left lying there; where it cannot be (some network disks) nobody is
    refused, and Windows replaces no file that is open.
    """

    def __init__(self, handle: int) -> None:
        self._handle = handle

    @classmethod
    def shared(cls, database: Path) -> Turn:
        """Wait until nobody replaces the database, and let nobody do so. Raises StorageError after ``WAIT_S``."""
        found = cls._take(database, exclusive=False, patience_s=WAIT_S)
        if found is None:
            raise StorageError(
                f"{database.parent} is going back to a backup; nothing was changed, so wait a little, then do it again",
                path=str(database),
            )
        return found

    @classmethod
    def alone(cls, database: Path, patience_s: float) -> Turn | None:
        """Be the only one; None when another program still has the database open for writing."""
        return cls._take(database, exclusive=True, patience_s=patience_s)

    @classmethod
    def _take(cls, database: Path, *, exclusive: bool, patience_s: float) -> Turn | None:
        if os.name == "nt":
            return cls(-1)
        import fcntl

        try:
            handle = os.open(database.parent, os.O_RDONLY)
        except OSError:
            # Opening the database says what is wrong, in its own words.
            return cls(-1)
        until = time.monotonic() + patience_s
        while True:
            try:
                fcntl.flock(handle, (fcntl.LOCK_EX if exclusive else fcntl.LOCK_SH) | fcntl.LOCK_NB)
            except OSError as error:
                if error.errno in (errno.EACCES, errno.EAGAIN):
                    if time.monotonic() < until:
                        time.sleep(_ASKS_AGAIN_S)
                        continue
                    os.close(handle)
                    return None
            return cls(handle)

    def let_go(self) -> None:
        """Let others in; twice does no harm."""
        handle, self._handle = self._handle, -1
        if handle >= 0:
            os.close(handle)

    def __del__(self) -> None:
        self.let_go()


class _Connection(sqlite3.Connection):
    """A connection that gives its turn back when it is closed."""

    turn: Turn | None = None

    def close(self) -> None:
        super().close()
        if self.turn is not None:
            self.turn.let_go()


def _plain(name: str, turn: Turn | None = None) -> sqlite3.Connection:
    # Transactions are begun by us, never silently by the driver; one thread at a time has a connection, not always
    # the thread that opened it.
    made = sqlite3.connect(
        name, uri=True, timeout=WAIT_S, isolation_level=None, check_same_thread=False, factory=_Connection
    )
    made.turn = turn
    return made


def _tuned(connection: sqlite3.Connection) -> sqlite3.Connection:
    connection.execute("PRAGMA foreign_keys=ON")
    # A commit returns when it is on the disk, not on its way there; the second line is for disks that buffer flushes.
    connection.execute("PRAGMA synchronous=FULL")
    connection.execute("PRAGMA fullfsync=ON")
    connection.execute("PRAGMA cell_size_check=ON")
    connection.execute("PRAGMA trusted_schema=OFF")
    return connection


def _size(path: Path) -> int:
    try:
        return path.stat().st_size
    except OSError:
        return 0


def engine_of(path: Path, *, read_only: bool) -> Engine:
    """SQLAlchemy's door to one database file."""
    engine = create_engine(
        "sqlite://",
        creator=lambda: connect(path, read_only=read_only),
        poolclass=QueuePool,
        pool_size=_CONNECTIONS_KEPT,
        max_overflow=_CONNECTIONS_AT_MOST - _CONNECTIONS_KEPT,
        pool_timeout=WAIT_S,
    )

    @event.listens_for(engine, "begin")
    def begin(connection: Connection) -> None:
        # Writers take their turn at the start: one that first reads and then wants to write could be refused midway.
        writes = connection.get_execution_options().get(_WRITES, False)
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")

    return engine


@contextmanager
def reading(engine: Engine, path: Path) -> Iterator[Connection]:
    """One unchanging view of the database."""
    with failures(path), engine.connect() as connection, connection.begin():
        yield connection


@contextmanager
def writing(engine: Engine, path: Path) -> Iterator[Connection]:
    """One transaction: all of it is on the disk when the block ends, or none of it ever."""
    with failures(path), engine.connect() as connection, connection.execution_options(**{_WRITES: True}).begin():
        yield connection


@contextmanager
def failures(path: Path) -> Iterator[None]:
    """Door around database work: what SQLite says leaves as a StorageError or a BytesDamagedError."""
    try:
        yield
    except RollsoundError:
        raise
    except TimeoutError as error:
        raise StorageError(f"too many are at work on {path} at once; wait a little, then do it again") from error
    except DBAPIError as error:
        found = error.orig if isinstance(error.orig, sqlite3.Error) else None
        if found is None:
            raise
        _tell(found, path)
        raise
    except sqlite3.Error as error:
        _tell(error, path)
        raise
    except UnicodeDecodeError as error:  # text columns hold UTF-8, whatever is written
        raise BytesDamagedError("letters in it are no readable text") from error


def _tell(error: sqlite3.Error, path: Path) -> None:
    """Raise what a person can be told; an error that is a fault of ours passes on."""
    code = _primary(error)
    if code in _DAMAGED:
        raise BytesDamagedError(str(error)) from error
    if str(error).startswith("Could not decode to UTF-8"):
        raise BytesDamagedError("letters in it are no readable text") from error
    sentence = _SENTENCES.get(code)
    if sentence:
        raise StorageError(sentence.format(path=path), path=str(path), sqlite_code=code) from error


def _primary(error: sqlite3.Error) -> int:
    # The low byte is the kind of error, the rest of it only where in SQLite it came up.
    return int(getattr(error, "sqlite_errorcode", 0)) & _PRIMARY
