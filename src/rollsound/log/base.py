"""An open database that several threads share: reading, and writing one after the other."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from sqlalchemy import Connection, Engine

from rollsound.errors import InputError, StorageError
from rollsound.log.backups import last_good
from rollsound.log.model import DamagedError
from rollsound.log.opening import BytesDamagedError, reading, writing


class Base:
    """What every part of the store stands on."""

    def __init__(self, path: Path, engine: Engine, *, read_only: bool) -> None:
        self.path = path
        self.read_only = read_only
        self._engine = engine
        # Threads wait here in turn; SQLite's own way of waiting is by luck, and meant for other programs.
        self._turn = threading.Lock()
        self._closed = False

    @contextmanager
    def _reading(self) -> Iterator[Connection]:
        self._refuse_closed()
        with self._told(), reading(self._engine, self.path) as connection:
            yield connection

    @contextmanager
    def _writing(self) -> Iterator[Connection]:
        if self.read_only:
            raise InputError(f"{self.path.parent} is open for reading only; nothing was changed", path=str(self.path))
        with self._turn:
            self._refuse_closed()
            with self._told(), writing(self._engine, self.path) as connection:
                yield connection

    def _refuse_closed(self) -> None:
        if self._closed:
            raise StorageError(
                f"{self.path.parent} is closed at this moment; nothing was changed, so do it again once it is open",
                path=str(self.path),
            )

    @contextmanager
    def _told(self) -> Iterator[None]:
        """Say of damaged bytes which backup to go back to."""
        try:
            yield
        except BytesDamagedError as error:
            raise DamagedError(self.path, last_good(self.path), error.reason) from error
