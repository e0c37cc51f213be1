"""The log of the day, written by several people at once: nothing that was acknowledged is lost, nothing written twice.

Every change is an entry of the show's journal, in the same transaction; it never touches the plan or its revision.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Any, Literal

from sqlalchemy import Connection

from rollsound.errors import InputError
from rollsound.log.changes import ABSENT, Change, ClashError, apply, changes_between, invert, split
from rollsound.log.daylines import ROOT, LogLine, path_of, put_line, read_line
from rollsound.log.disagreeing import Overlap, named, overlaps_of
from rollsound.log.entries import TakeEntry, entry_of, fields_of
from rollsound.log.journal import (
    LOG_REDO,
    LOG_UNDO,
    LOGGED,
    OF_LOG,
    at_path,
    entries_where,
    last_number,
    last_redoable,
    last_undoable,
    write_entry,
)
from rollsound.log.keeping import now, text_of
from rollsound.log.known_lines import in_order, known_lines
from rollsound.log.line_words import change_in_words, line_in_words, value_in_words
from rollsound.log.model import Author, Edit, Entry
from rollsound.log.store import Store
from rollsound.log.tables import journal

_ID = re.compile(r"[a-z0-9][a-z0-9-]{2,63}")
_DAY = re.compile(r"[a-z0-9][a-z0-9-]{0,63}")
_MOST_AT_ONCE = 5000


@dataclass(frozen=True)
class NewLine:
    """A line that is to be written. Without ``at`` it happens now; without ``id`` it is given one."""

    kind: str
    fields: Mapping[str, Any]
    day: str
    at: datetime | None = None
    id: str = ""


@dataclass(frozen=True)
class Written:
    """What came of it: the lines as they stand now (none where they were taken out), and the entry in the history.

    ``entry`` is None when there was nothing to change.
    """

    lines: tuple[LogLine, ...]
    entry: Entry | None
    overlaps: tuple[Overlap, ...] = ()
    again: bool = field(default=False, kw_only=True)
    """Whether it was written before, under the same key."""

    @property
    def line(self) -> LogLine:
        """The only line."""
        (found,) = self.lines
        return found


class LogBook:
    """The log of every day of a show. Safe to use from several threads, and beside other programs.

    What a writing function returned is on the disk. Its ``key`` makes it safe to ask again: the same key writes once.
    """

    def __init__(self, store: Store) -> None:
        self._store = store

    def lines(self, day: str | None = None, *kinds: str) -> tuple[LogLine, ...]:
        """The lines, of one day and of some kinds or all of them, in the order in which they happened."""
        return in_order(known_lines(self._store).days(), day, kinds)

    def days(self) -> tuple[str, ...]:
        """The ids of the days that have lines."""
        return tuple(known_lines(self._store).days())

    def takes(self, day: str | None = None) -> tuple[tuple[LogLine, TakeEntry], ...]:
        """The takes of a day or of the show, in the order in which they were rolled."""
        found = ((line, line.entry) for line in self.lines(day, "take"))
        return tuple((line, entry) for line, entry in found if isinstance(entry, TakeEntry))

    def line(self, id: str) -> LogLine:
        """One line. Raises InputError when there is none, which tells who took it out."""
        with self._store._reading() as connection:
            return _there(connection, id)

    def last_number(self) -> int:
        """The number of the newest entry about the log; 0 when there is none."""
        with self._store._reading() as connection:
            newest = entries_where(connection, journal.c.kind.in_(OF_LOG), limit=1)
            return newest[0].number if newest else 0

    def history_of(self, id: str) -> list[Entry]:
        """Everything that was done to a line, newest first."""
        with self._store._reading() as connection:
            return entries_where(connection, at_path(path_of(id)), journal.c.kind.in_(OF_LOG))

    def add(
        self,
        kind: str,
        fields: Mapping[str, Any],
        author: Author,
        day: str,
        *,
        key: str = "",
        at: datetime | None = None,
        id: str = "",
    ) -> Written:
        """Write one line. The same words from two devices are two lines, unless their keys are the same.

        Parameters
        ----------
        at
            when it happened, with the offset of the place; now when left out
        id
            of the line, when the writer must know it before it is written, as a device that is out of reach must

        Raises
        ------
        InputError, MistakesError
            when the kind, a field or the day cannot be; nothing is written then
        StorageError
            when the disk fails or is full; nothing is written then
        """
        return self.add_all([NewLine(kind, fields, day, at, id)], author, key=key)

    def add_all(self, new: Sequence[NewLine], author: Author, *, key: str = "") -> Written:
        """Write several lines at once, all or none. Raises as ``add``."""
        if not 1 <= len(new) <= _MOST_AT_ONCE:
            raise InputError(f"{len(new)} lines cannot be written at once; write 1 to {_MOST_AT_ONCE}")
        entries = [(each, fields_of(entry_of(each.kind, each.fields))) for each in new]
        for each in new:
            _check_name(each)
        moment = datetime.now().astimezone()
        with self._store._writing() as connection:
            again = _again(connection, key)
            if again is not None:
                return again
            number = last_number(connection) + 1
            changes: list[Change] = []
            taken: set[str] = set()
            for position, (each, fields) in enumerate(entries, 1):
                id = each.id or f"{each.kind}-{number}" + (f"-{position}" if len(new) > 1 else "")
                if id in taken or read_line(connection, id) is not None:
                    raise InputError(
                        f"the log has a line {id} already; give the new one another id, or change that one"
                    )
                taken.add(id)
                line = LogLine(id, each.kind, each.day, _placed(each.at or moment), author, fields)
                changes.append(Change(path_of(id), ABSENT, line.as_json()))
            edit = Edit(author, _added_in_words(changes), tuple(changes), key=key, kind=LOGGED)
            return _write(connection, number, edit)

    def change(
        self,
        id: str,
        fields: Mapping[str, Any],
        author: Author,
        *,
        key: str = "",
        seen: int | None = None,
        day: str = "",
        at: datetime | None = None,
    ) -> Written:
        """Change fields of a line; those left out stay, and an empty value takes a field out.

        Parameters
        ----------
        seen
            the line's ``changed`` as the writer saw it: a field that somebody else changed since is told, with both
            values. The later one holds.
        day, at
            when the line belongs to another day or moment

        Raises as ``add``, and InputError when the line is not there.
        """
        with self._store._writing() as connection:
            again = _again(connection, key)
            if again is not None:
                return again
            line = _there(connection, id)
            new = LogLine(
                id, line.kind, day or line.day, line.at if at is None else _placed(at), line.by,
                fields_of(entry_of(line.kind, _merged(line.fields, fields))),
            )  # fmt: skip
            _check_name(NewLine(new.kind, {}, new.day))
            steps = changes_between({ROOT: {id: line.as_json()}}, {ROOT: {id: new.as_json()}})
            if not steps:
                return Written((line,), None)
            overlaps = tuple(overlaps_of(connection, id, steps, seen, author))
            sentence = change_in_words(new, steps)
            for each in overlaps:
                sentence += f" ({each.person or 'somebody'} had made it {value_in_words(each.theirs)})"
            number = last_number(connection) + 1
            return _write(connection, number, Edit(author, sentence, tuple(steps), key=key, kind=LOGGED), overlaps)

    def remove(self, id: str, author: Author, *, key: str = "") -> Written:
        """Take a line out; the history keeps it, and ``undo`` brings it back. Raises as ``change``."""
        with self._store._writing() as connection:
            again = _again(connection, key)
            if again is not None:
                return again
            line = _there(connection, id)
            gone = Change(path_of(id), line.as_json(), ABSENT)
            sentence = f"{line_in_words(line)} taken out of the log"
            return _write(
                connection, last_number(connection) + 1, Edit(author, sentence, (gone,), key=key, kind=LOGGED)
            )

    def undo(self, author: Author, *, key: str = "") -> Written:
        """Take back the author's last act in the log.

        Raises
        ------
        InputError
            when there is none
        ClashError
            when somebody else has changed the same since; it names who, and nothing is taken back
        """
        return self._turn("undo", author, key)

    def redo(self, author: Author, *, key: str = "") -> Written:
        """Do again what the author took back last; raises as ``undo``."""
        return self._turn("redo", author, key)

    def undoable(self, author: Author) -> Entry | None:
        """What ``undo`` would take back."""
        with self._store._reading() as connection:
            return last_undoable(connection, author.person_id or author.person, (LOGGED,))

    def redoable(self, author: Author) -> Entry | None:
        """What ``redo`` would do again."""
        with self._store._reading() as connection:
            return last_redoable(connection, author.person_id or author.person, (LOGGED,))

    def _turn(self, way: Literal["undo", "redo"], author: Author, key: str) -> Written:
        undoing = way == "undo"
        with self._store._writing() as connection:
            again = _again(connection, key)
            if again is not None:
                return again
            find = last_undoable if undoing else last_redoable
            found = find(connection, author.person_id or author.person, (LOGGED,))
            if found is None:
                word = "take back" if undoing else "do again"
                raise InputError(f"the log has nothing of {author.person or 'yours'} to {word}")
            steps = tuple(invert(found.changes)) if undoing else found.changes
            begun = "Took back" if undoing else "Did again"
            edit = Edit(
                author, f"{begun}: {found.sentence}", steps, None, key, LOG_UNDO if undoing else LOG_REDO, found.number
            )
            return _write(connection, last_number(connection) + 1, edit)


def _write(connection: Connection, number: int, edit: Edit, overlaps: tuple[Overlap, ...] = ()) -> Written:
    """One entry of the journal and the lines that it changes, in the transaction at hand."""
    ids = list(dict.fromkeys(split(change.path)[1] for change in edit.changes))
    before = {id: line.as_json() for id in ids if (line := read_line(connection, id)) is not None}
    try:
        after = apply({ROOT: before}, edit.changes)[ROOT]
    except ClashError as error:
        raise named(connection, error.clashes, before, edit) from error
    for id in ids:
        text_of(after.get(id))
    entry = write_entry(connection, number, edit, now())
    for id in ids:
        put_line(connection, id, after.get(id, ABSENT), number)
    return Written(_as_they_stand(connection, ids), entry, overlaps)


def _as_they_stand(connection: Connection, ids: Sequence[str]) -> tuple[LogLine, ...]:
    found = (read_line(connection, id) for id in ids)
    return tuple(line for line in found if line is not None)


def _again(connection: Connection, key: str) -> Written | None:
    """What the first edit with this key wrote, as it stands now."""
    entry = next(iter(entries_where(connection, journal.c.key == key, limit=1)), None) if key else None
    if entry is None:
        return None
    if entry.kind not in OF_LOG:
        raise InputError("this change has the key of another one that was made to the plan; give it a key of its own")
    ids = list(dict.fromkeys(split(change.path)[1] for change in entry.changes))
    return Written(_as_they_stand(connection, ids), entry, again=True)


def _there(connection: Connection, id: str) -> LogLine:
    line = read_line(connection, id)
    if line is not None:
        return line
    last = entries_where(connection, at_path(path_of(id)), journal.c.kind.in_(OF_LOG), limit=1) if id else []
    if not last:
        raise InputError(f"the log has no line '{id[:64]}'; look at the list again")
    who, when = last[0].author.person or "somebody", f"{last[0].at.astimezone():%Y-%m-%d %H:%M}"
    raise InputError(f"line {id} was taken out of the log by {who} ({when}); put it back there, or write a new one")


def _merged(old: Mapping[str, Any], given: Mapping[str, Any]) -> dict[str, Any]:
    """The fields after a change: groups are merged name by name, everything else is replaced."""
    new = dict(old)
    for name, value in given.items():
        if value is None or value == "":
            new.pop(name, None)
        elif isinstance(value, Mapping) and isinstance(old.get(name, {}), Mapping):
            merged = {**old.get(name, {}), **value}
            new[name] = {key: each for key, each in merged.items() if each not in (None, "")}
        else:
            new[name] = value
    return new


def _added_in_words(changes: Sequence[Change]) -> str:
    added = [(split(change.path)[1], change.after) for change in changes]
    told = [line_in_words(LogLine.from_json(id, kept)) for id, kept in added if isinstance(kept, dict)]
    return f"Log: {told[0]}" + (f" and {len(told) - 1} more" if len(told) > 1 else "")


def _check_name(each: NewLine) -> None:
    if not _DAY.fullmatch(each.day):
        raise InputError(f"'{each.day[:40]}' is no id of a day; write it as the plan does, for example day-4")
    if each.id and not _ID.fullmatch(each.id):
        raise InputError(f"'{each.id[:40]}' is no id of a line; write 3 to 64 small letters, digits and strokes")


def _placed(at: datetime) -> datetime:
    """A moment to the millisecond, with its offset."""
    placed = at if at.tzinfo is not None else at.replace(tzinfo=UTC)
    return placed.replace(microsecond=placed.microsecond // 1000 * 1000)


__all__ = ["LogBook", "LogLine", "NewLine", "Overlap", "Written"]
