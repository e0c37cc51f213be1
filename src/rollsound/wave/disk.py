"""How files are opened for reading, and how a finished file gets its name without ever replacing another."""

from __future__ import annotations

import contextlib
import errno
import os
import secrets
import threading
from pathlib import Path
from types import TracebackType

from rollsound.errors import InputError, StorageError, storage, storage_error

_LONGEST_NAME_BYTES = 255


class ByteSource:
    """A file opened read-only, read by position. Safe to share between threads."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self._lock = threading.Lock()
        with storage(path):
            _refuse_strange(path)
            try:
                self._file = open(path, "rb", buffering=0)  # noqa: SIM115
            except ValueError as error:  # a NUL or half a character in the name
                raise _no_name(path) from error
            try:
                self.size = self._file.seek(0, os.SEEK_END)
            except OSError:
                self._file.close()
                raise

    def read(self, offset: int, count: int) -> bytes:
        """Up to ``count`` bytes from ``offset``; fewer at the end of the file."""
        count = max(0, min(count, self.size - offset))
        if not count:
            return b""
        # The system's bytes are returned as they come: filling a buffer and copying it out took many times as long.
        with storage(self.path), self._lock:
            self._file.seek(offset)
            pieces = [self._file.read(count)]
            while len(pieces[-1]) and (left := count - sum(map(len, pieces))):
                pieces.append(self._file.read(left))
        return pieces[0] if len(pieces) == 1 else b"".join(pieces)

    def read_into(self, offset: int, buffer: memoryview) -> int:
        """Fill ``buffer`` from ``offset``; returns how many bytes were there."""
        done = 0
        with storage(self.path), self._lock:
            self._file.seek(offset)
            while done < len(buffer):
                got = self._file.readinto(buffer[done:])
                if not got:
                    break
                done += got
        return done

    def close(self) -> None:
        """Let go of the file."""
        self._file.close()

    def __enter__(self) -> ByteSource:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()


def _refuse_strange(path: Path) -> None:
    """Raise unless the path leads to a file: reading a pipe or a device may wait or go on for ever."""
    if path.is_dir():
        raise IsADirectoryError(errno.EISDIR, "is a folder", str(path))
    if path.exists() and not path.is_file():
        raise InputError(f"{path} is neither a file nor a folder, but a pipe or a device; name a file")


def _no_name(path: Path) -> StorageError:
    return StorageError(f"{str(path)!r} cannot be the name of a file; choose another", path=str(path))


def part_name(path: Path) -> Path:
    """A name beside ``path`` for a file that is still being written."""
    tail = f".part-{secrets.token_hex(4)}"
    name = path.name
    # Not only the finished name but the longer one as well must fit the disk.
    while len((name + tail).encode("utf-8", "surrogatepass")) > _LONGEST_NAME_BYTES and len(name) > 1:
        name = name[:-1]
    return path.with_name(name + tail)


def refuse_existing(path: Path) -> None:
    """Raise StorageError if something has this name, or if the name cannot be used at all."""
    with storage(path):
        try:
            os.lstat(path)
        except FileNotFoundError:
            if not path.parent.is_dir():
                raise FileNotFoundError(errno.ENOENT, "no such folder", str(path.parent)) from None
            return
        except ValueError as error:
            raise _no_name(path) from error
        raise FileExistsError(errno.EEXIST, "exists", str(path))


def publish(part: Path, path: Path) -> None:
    """Give a finished, flushed file its name. Raises StorageError if somebody has taken the name meanwhile."""
    with storage(path):
        if os.name == "nt":
            os.rename(part, path)  # refuses to replace on this system
            return
        try:
            os.link(part, path)  # unlike rename, fails when the name is taken
        except FileExistsError:
            raise storage_error(FileExistsError(errno.EEXIST, "exists"), path) from None
        except OSError:  # card file systems know no links
            refuse_existing(path)
            os.rename(part, path)
        else:
            os.unlink(part)
        _flush_folder(path.parent)


def _flush_folder(folder: Path) -> None:
    """Make a new name survive a power cut, where the system lets folders be flushed."""
    try:
        handle = os.open(folder, os.O_RDONLY)
    except OSError:
        return
    try:
        os.fsync(handle)
    except OSError:
        pass
    finally:
        os.close(handle)


def discard(part: Path) -> None:
    """Remove a file that was not finished; never an error of its own."""
    with contextlib.suppress(OSError):
        part.unlink(missing_ok=True)
