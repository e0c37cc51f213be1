"""The lines of a show's log, read once and then brought up to date by what the journal tells has changed."""

from __future__ import annotations

import threading
from collections.abc import Sequence
from weakref import WeakKeyDictionary

from sqlalchemy import Connection, func, select

from rollsound.log.changes import split
from rollsound.log.daylines import LogLine, read_lines
from rollsound.log.journal import OF_LOG
from rollsound.log.store import Store
from rollsound.log.tables import changes, journal


class KnownLines:
    """What is known of the log of one open show. Safe to use from several threads."""

    def __init__(self, store: Store) -> None:
        self._store = store
        self._lock = threading.Lock()
        self._version = -1
        self._number = 0
        self._lines: dict[str, LogLine] = {}
        self._days: dict[str, tuple[LogLine, ...]] = {}

    def days(self) -> dict[str, tuple[LogLine, ...]]:
        """The lines by day, each day in the order in which they happened; read it, never write into it."""
        with self._lock:
            version = self._store.data_version()
            if version != self._version:
                # The high half changes when the database was put in another one's place.
                anew = version >> 32 != self._version >> 32
                self._version = -1  # should the reading fail midway, all is read anew next time
                with self._store._reading() as connection:
                    self._read(connection, anew=anew)
                self._version = version
            return self._days

    def _read(self, connection: Connection, *, anew: bool) -> None:
        last = select(func.max(journal.c.number)).where(journal.c.kind.in_(OF_LOG), journal.c.number >= self._number)
        number = connection.execute(last).scalar() or 0
        if anew:
            self._lines = {line.id: line for line in read_lines(connection)}
            touched = {line.day for line in self._lines.values()}
            self._days = {}
        else:
            touched = self._refresh(connection)
        self._number = max(number, 0 if anew else self._number)
        fresh: dict[str, list[LogLine]] = {day: [] for day in touched}
        for line in self._lines.values():
            if line.day in fresh:
                fresh[line.day].append(line)
        days = {**self._days, **{day: tuple(sorted(found, key=_order)) for day, found in fresh.items()}}
        self._days = {day: found for day, found in days.items() if found}

    def _refresh(self, connection: Connection) -> set[str]:
        """Read what changed since; returns the days that it touches."""
        since = select(changes.c.path).distinct().join(journal, journal.c.number == changes.c.number)
        since = since.where(journal.c.kind.in_(OF_LOG), journal.c.number > self._number)
        ids = list(dict.fromkeys(split(path)[1] for path in connection.execute(since).scalars()))
        touched = {self._lines.pop(id).day for id in ids if id in self._lines}
        for line in read_lines(connection, ids=ids):
            self._lines[line.id] = line
            touched.add(line.day)
        return touched


_known: WeakKeyDictionary[Store, KnownLines] = WeakKeyDictionary()
_knowing = threading.Lock()


def known_lines(store: Store) -> KnownLines:
    """What is known of the log of this show, the same for all who ask."""
    with _knowing:
        found = _known.get(store)
        if found is None:
            found = _known[store] = KnownLines(store)
        return found


def in_order(days: dict[str, tuple[LogLine, ...]], day: str | None, kinds: Sequence[str]) -> tuple[LogLine, ...]:
    """The lines of a day or of all days, of these kinds or of all of them."""
    found = (
        days.get(day, ()) if day is not None else sorted((line for each in days.values() for line in each), key=_order)
    )
    return tuple(line for line in found if line.kind in kinds) if kinds else tuple(found)


def _order(line: LogLine) -> tuple[object, ...]:
    return (line.at, line.made, line.id)
