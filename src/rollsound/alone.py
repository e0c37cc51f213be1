"""Only one program at a time: a lock file that the system lets go of when its holder dies."""

from __future__ import annotations

import contextlib
import errno
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from rollsound.errors import StorageError, storage

# What is locked lies behind every byte that is written, so that the file's words can be read by those who wait.
_LOCKED_BYTE = 1 << 30


class Held:
    """A lock file that is held until it is let go of, or until this program ends in whatever way."""

    def __init__(self, path: Path, handle: int) -> None:
        self._path = path
        self._handle = handle

    def let_go(self) -> None:
        """Remove the file and let others in; once is enough, twice does no harm."""
        if self._handle < 0:
            return
        handle, self._handle = self._handle, -1
        # Removed while still held, so that nobody can hold a file that is no longer there.
        if os.name != "nt":
            _discard(self._path)
        os.close(handle)
        if os.name == "nt":
            _discard(self._path)


def hold(path: Path, words: str = "") -> Held | None:
    """Take the lock file ``path`` and write ``words`` into it for those who find it held; None when somebody holds it.

    Where the disk knows no locks (some card and network file systems) nothing is held, and nobody is refused.

    Raises
    ------
    StorageError
        when the file cannot be made
    """
    with storage(path):
        while True:
            handle = os.open(path, os.O_RDWR | os.O_CREAT | getattr(os, "O_BINARY", 0), 0o644)
            try:
                if not _lock(handle):
                    os.close(handle)
                    return None
                # Whoever held it may have removed it between our opening and our locking: ours would be a ghost.
                if _still_there(path, handle):
                    os.ftruncate(handle, 0)
                    os.write(handle, words.encode("utf-8"))
                    return Held(path, handle)
            except BaseException:
                with contextlib.suppress(OSError):
                    os.close(handle)
                raise
            os.close(handle)


@contextmanager
def alone(path: Path, busy: str) -> Iterator[None]:
    """Hold the lock file ``path`` for as long as the block runs. Raises StorageError with ``busy`` when it is held."""
    held = hold(path)
    if held is None:
        raise StorageError(busy, path=str(path.parent))
    try:
        yield
    finally:
        held.let_go()


def _still_there(path: Path, handle: int) -> bool:
    try:
        return os.path.samestat(os.stat(path), os.fstat(handle))
    except FileNotFoundError:
        return False


def _discard(path: Path) -> None:
    with contextlib.suppress(OSError):
        path.unlink(missing_ok=True)


def _lock(handle: int) -> bool:
    """Take the lock: true when held or when the disk has none to give, false when somebody else holds it."""
    try:
        if os.name == "nt":
            import msvcrt

            os.lseek(handle, _LOCKED_BYTE, os.SEEK_SET)
            msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)  # type: ignore[attr-defined,unused-ignore]
            os.lseek(handle, 0, os.SEEK_SET)
        else:
            import fcntl

            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError as error:
        return error.errno not in (errno.EACCES, errno.EAGAIN, errno.EDEADLK)
    return True
