"""An open show: its plan, read and edited by several people at once, with everything that was ever changed.

SHOW/show.sqlite   the plan and its history
SHOW/backups/      rolling backups
SHOW/media/        measurements of the recordings
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

from rollsound.errors import InputError, storage
from rollsound.log.changes import ABSENT, ORDER, Change, Side, apply, changes_between, invert, merge, same, value_at
from rollsound.log.changes import ClashError as PlainClashError
from rollsound.log.model import DATABASE, Author, Edit, Entry, Head
from rollsound.log.store import Store
from rollsound.show.checked import checked
from rollsound.show.clashes import ClashError, NamedClash, named
from rollsound.show.model import Plan
from rollsound.show.rebasing import as_seen, with_room
from rollsound.show.sentences import place_in_words, sentence_of_changes
from rollsound.show.text import read_plan, write_text

Kind = Literal["plan", "import"]
Guard = Callable[[Any, Any], None]
"""Looks at the plan before and after an edit, and raises what refuses it; whatever way the edit came."""
# Each time somebody else was quicker by milliseconds.
_ATTEMPTS = 20


@dataclass(frozen=True)
class Saved:
    """What came of an edit: the revision that stands now, and what it changed; no entry when nothing was to change."""

    revision: int
    entry: Entry | None
    changes: tuple[Change, ...]


@dataclass(frozen=True)
class _Wish:
    """An edit on its way: what it starts from, what it would lead to, and how it is told."""

    author: Author
    key: str
    kind: str = "plan"
    sentence: str = ""
    refers_to: int | None = None
    take: Mapping[str, Side] | None = None
    guard: Guard | None = None


class Show:
    """An open show folder. Safe to use from several threads; other processes may edit the same show."""

    def __init__(self, folder: Path, store: Store, *, read_only: bool = False) -> None:
        self.folder, self.store, self.read_only = folder, store, read_only
        self._plan: tuple[int, Plan] | None = None
        self._guard = threading.Lock()

    @classmethod
    def new(cls, folder: Path, plan: str | dict[str, Any], author: Author) -> Show:
        """Begin a show in a folder, with a plan as text or as a document.

        Raises
        ------
        MistakesError
            when the plan has mistakes; nothing is made then
        InputError
            when a show is there already
        StorageError
            when the disk fails
        """
        if isinstance(plan, str):
            read = read_plan(plan)[1]
            document, comments = read.document, read.comments
        else:
            checked(plan)
            document, comments = plan, {}
        with storage(folder):
            folder.mkdir(parents=True, exist_ok=True)
        return cls(folder, Store.create(folder / DATABASE, document, comments, author))

    @classmethod
    def open(cls, folder: Path, *, read_only: bool = False) -> Show:
        """Open a show; raises InputError when there is none, DamagedError, StorageError."""
        if not (folder / DATABASE).is_file():
            raise InputError(f"{folder} holds no show; name a show's folder, or begin one with: rollsound new {folder}")
        return cls(folder, Store.open(folder / DATABASE, read_only=read_only), read_only=read_only)

    def close(self) -> None:
        """Let go of the show. What was saved is on the disk already."""
        self.store.close()

    def __enter__(self) -> Show:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    @property
    def revision(self) -> int:
        """The present revision: the number of the last edit."""
        return self.store.head().revision

    def plan(self) -> Plan:
        """The plan as it is now.

        Raises
        ------
        MistakesError, InputError
            when it was written by another version of this program and means nothing to this one
        """
        head = self.store.head()
        kept = self._plan
        if kept is None or kept[0] != head.revision:
            kept = (head.revision, checked(head.document, f"the plan in {self.folder}"))
            self._plan = kept
        return kept[1]

    def document(self) -> dict[str, Any]:
        """The plan's document as it is now; read it, never write into it."""
        return self.store.head().document

    def text(self) -> str:
        """The whole plan as one readable text."""
        head = self.store.head()
        return write_text(head.document, head.comments)

    def edit(
        self,
        changes: Sequence[Change],
        author: Author,
        sentence: str = "",
        key: str = "",
        base_revision: int | None = None,
        take: Mapping[str, Side] | None = None,
        guard: Guard | None = None,
    ) -> Saved:
        """Change single values of the plan, merged with what others changed since.

        Parameters
        ----------
        key
            of this edit; sent again, it is not made again
        base_revision
            what the author had before their eyes; without it, each change's ``before`` alone tells that
        take
            which side holds at paths that clash
        guard
            sees the plan before and after; what it raises refuses the edit

        Raises
        ------
        ClashError
            when somebody else changed the same; it names who, and both values
        MistakesError
            when the plan would have mistakes
        """
        return self._change(changes, _Wish(author, key, sentence=sentence, take=take, guard=guard), base_revision)

    def save_text(
        self,
        text: str,
        base_revision: int,
        author: Author,
        key: str = "",
        take: Mapping[str, Side] | None = None,
        kind: Kind = "plan",
        guard: Guard | None = None,
    ) -> Saved:
        """Save the whole plan as text, merged field by field with what others changed since ``base_revision``.

        Raises as ``edit``; mistakes carry their lines.
        """
        wish = _Wish(author, key, kind, take=take, guard=guard)
        again = self._again(wish)
        if again is not None:
            return again
        read = read_plan(text)[1]
        base = self.store.at(base_revision)
        base_comments = self.store.comments_at(base_revision)
        for _ in range(_ATTEMPTS):
            head = self.store.head()
            comments = _merged_comments(base_comments, read.comments, head.comments)
            # Comments of what was taken out wait for it, should it come back.
            waiting = {path: kept for path, kept in head.comments.items() if path not in comments}
            gone = {path: kept for path, kept in waiting.items() if value_at(read.document, path) is ABSENT}
            saved = self._commit(head, base, read.document, wish, {**comments, **gone})
            if saved is not None:
                return saved
        raise _too_busy()

    def undo(self, author: Author, key: str = "", guard: Guard | None = None) -> Saved:
        """Take back the author's last edit.

        Raises
        ------
        InputError
            when there is none
        ClashError
            when somebody else has changed the same since
        """
        entry = self.store.last_undoable(author.person_id or author.person)
        return self._turn(entry, "undo", author, key, guard)

    def redo(self, author: Author, key: str = "", guard: Guard | None = None) -> Saved:
        """Make the author's edit again that was taken back last; raises as ``undo``."""
        entry = self.store.last_redoable(author.person_id or author.person)
        return self._turn(entry, "redo", author, key, guard)

    def history(
        self, *, limit: int = 100, before: int | None = None, person: str = "", path: str = "", kind: str = ""
    ) -> list[Entry]:
        """The journal, newest first."""
        return self.store.journal(limit=limit, before=before, person=person, path=path, kind=kind)

    def compare(self, revision_a: int, revision_b: int) -> list[Change]:
        """What differs between the plan as it was and as it was or is."""
        return changes_between(self.store.at(revision_a), self.store.at(revision_b))

    def _turn(
        self, entry: Entry | None, kind: Literal["undo", "redo"], author: Author, key: str, guard: Guard | None
    ) -> Saved:
        wish = _Wish(author, key, kind)
        again = self._again(wish)
        if again is not None:
            return again
        if entry is None:
            word = "take back" if kind == "undo" else "make again"
            raise InputError(f"there is nothing of {author.person or 'yours'} to {word}")
        begun = "Took back" if kind == "undo" else "Made again"
        changes = invert(entry.changes) if kind == "undo" else entry.changes
        wish = _Wish(author, key, kind, f"{begun}: {entry.sentence}", entry.number, guard=guard)
        return self._change(changes, wish, None)

    def _change(self, changes: Sequence[Change], wish: _Wish, base_revision: int | None) -> Saved:
        again = self._again(wish)
        if again is not None:
            return again
        for _ in range(_ATTEMPTS):
            head = self.store.head()
            base = head.document
            if base_revision is not None and base_revision != head.revision:
                base = self.store.at(base_revision)
            try:
                steps = with_room(base, changes)
                base = as_seen(base, steps)
            except PlainClashError as error:
                raise named(error.clashes, self.store, head.document, wish.author.person) from error
            # Every value before is in its place; only an order may know more items than its maker did.
            saved = self._commit(head, base, apply(base, steps, check=False), wish, None)
            if saved is not None:
                if saved.entry is None and "theirs" not in (wish.take or {}).values():
                    _refuse_unmade(changes, head.document)
                return saved
        raise _too_busy()

    def _again(self, wish: _Wish) -> Saved | None:
        """What was saved when this edit was sent before."""
        if self.read_only:
            raise InputError(
                f"{self.folder} is open for reading only; close the other program that has it, then reopen"
            )
        entry = self.store.entry_of_key(wish.key) if wish.key else None
        return None if entry is None else Saved(entry.number, entry, entry.changes)

    def _commit(self, head: Head, base: Any, mine: Any, wish: _Wish, comments: dict[str, Any] | None) -> Saved | None:
        """Merge with what is there now and save; none when somebody was quicker and it is to be tried again."""
        merged = merge(base, mine, head.document, take=wish.take)
        if merged.clashes:
            raise named(merged.clashes, self.store, head.document, wish.author.person)
        if comments is not None and same(comments, head.comments):
            comments = None
        if wish.guard is not None:
            wish.guard(head.document, merged.document)
        # An undo is noted even when others have taken the same back: else it would be offered for ever.
        if not merged.changes and comments is None and wish.refers_to is None:
            return Saved(head.revision, None, ())
        kept = self._plan
        known = (head.document, kept[1]) if kept is not None and kept[0] == head.revision else None
        plan = checked(merged.document, known=known)
        sentence = wish.sentence or sentence_of_changes(merged.changes, head.document, merged.document)
        changes = tuple(merged.changes)
        edit = Edit(wish.author, sentence, changes, comments, wish.key, wish.kind, wish.refers_to)
        with self._guard:
            try:
                entry = self.store.commit(edit)
            except PlainClashError:
                return None
            if entry.number == head.revision + 1:
                self._plan = (entry.number, plan)
        return Saved(entry.number, entry, entry.changes)


def _refuse_unmade(changes: Sequence[Change], document: Any) -> None:
    """Nothing was to change; that is well only where everything stands already as it was wished."""
    for change in changes:
        stands = value_at(document, change.path)
        if not (
            _orders_alike(stands, change.after) if change.path.endswith(f"/{ORDER}") else same(stands, change.after)
        ):
            place = place_in_words(change.path, document) or "the plan"
            raise InputError(f"{place} cannot be changed in this way and was left as it is; read it anew and try again")


def _orders_alike(stands: Any, wished: Any) -> bool:
    """Whether all that is wished is there, in the order wished; others may have added to it."""
    if not isinstance(stands, list) or not isinstance(wished, list):
        return same(stands, wished)
    return [id for id in stands if id in wished] == wished


def _merged_comments(base: dict[str, Any], mine: dict[str, Any], theirs: dict[str, Any]) -> dict[str, Any]:
    """Comments of both sides; where both changed the same one, mine."""
    clashes = merge(base, mine, theirs).clashes
    return dict(merge(base, mine, theirs, take={clash.path: "mine" for clash in clashes}).document)


def _too_busy() -> InputError:
    return InputError("others changed the plan again and again in the meantime; save once more")


__all__ = ["ClashError", "NamedClash", "Saved", "Show"]
