"""A show made, exported, imported, looked back on, and brought back."""

from __future__ import annotations

import contextlib
import getpass
import re
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path

from rollsound.actions.show_model import (
    BackupResult,
    BackupRow,
    ChangedValue,
    CompareResult,
    EditResult,
    EntryRow,
    ExportResult,
    HistoryResult,
    NewResult,
    RestoreResult,
)
from rollsound.errors import InputError, RollsoundError, storage
from rollsound.log.backups import backups_of, make_backup
from rollsound.log.changes import Side
from rollsound.log.model import BACKUPS, DATABASE, Author
from rollsound.log.restoring import restore as restore_database
from rollsound.show.folder import ClashError, Saved, Show
from rollsound.show.model import Plan
from rollsound.show.text import parse_plan, read_plan, write_text
from rollsound.whole import write_whole

DEVICE = "command line"
_LARGEST_TEXT_BYTES = 16_000_000
_NOT_OF_AN_ID = re.compile(r"[^a-z0-9]+")


def new_show(
    folder: Path, *, plan: Path | None = None, example: str = "", title: str = "", name: str = ""
) -> NewResult:
    """Make a show in a folder: from a plan in a file, from the text of an example, or nearly empty.

    Raises
    ------
    MistakesError
        with every mistake of the plan and its line; nothing is made then
    InputError
        when there is a show already, or both a plan and the example are wanted
    StorageError
        when the disk fails
    """
    if plan is not None and example:
        raise InputError("a show begins either from a plan or from the example; leave one of --from and --example out")
    text = _text_of(plan) if plan is not None else example if example else _first_text(folder, name)
    if title:
        read = read_plan(text)[1]
        document = {**read.document, "show": {**read.document["show"], "title": title}}
        text = write_text(document, read.comments)
    author = author_of(parse_plan(text), name)
    with Show.new(folder, text, author) as show:
        return NewResult(folder=str(folder), title=show.plan().show.title, revision=show.revision)


def export_plan(folder: Path, *, out: Path | None = None, revision: int | None = None) -> ExportResult:
    """The whole plan as one text, as it is or as it was; written to a file when one is named."""
    with _reading(folder) as show:
        at = show.revision if revision is None else revision
        text = show.text() if revision is None else write_text(show.store.at(at), show.store.comments_at(at))
    if out is not None:
        write_whole(out, text)
    return ExportResult(folder=str(folder), revision=at, out=str(out or ""), text=text)


def import_plan(
    folder: Path, plan: Path, *, name: str = "", base: int | None = None, take: Side | None = None, key: str = ""
) -> EditResult:
    """Take over a whole plan from a text.

    Parameters
    ----------
    base
        the revision that the text was exported from: what others changed since is kept, field by field. Without it the
        text replaces the plan as it is.
    take
        which side holds where both changed the same field

    Raises
    ------
    MistakesError
        with every mistake of the text and its line; nothing is changed then
    ClashError
        when both changed the same field and ``take`` is not given
    """
    text = _text_of(plan)
    with Show.open(folder) as show:
        author = author_of(_plan_of(show), name)
        start = show.revision if base is None else base
        before = show.document()
        try:
            saved = show.save_text(text, start, author, key, kind="import")
        except ClashError as error:
            if take is None:
                raise
            chosen = dict.fromkeys((clash.path for clash in error.clashes), take)
            saved = show.save_text(text, start, author, key, take=chosen, kind="import")
        return _edited(show, saved, before)


def undo(folder: Path, *, name: str = "") -> EditResult:
    """Take back a person's last edit. Raises ClashError, which names whoever changed the same since."""
    with Show.open(folder) as show:
        before = show.document()
        return _edited(show, show.undo(author_of(_plan_of(show), name)), before)


def redo(folder: Path, *, name: str = "") -> EditResult:
    """Make a person's edit again that was taken back last. Raises as ``undo``."""
    with Show.open(folder) as show:
        before = show.document()
        return _edited(show, show.redo(author_of(_plan_of(show), name)), before)


def history(
    folder: Path, *, person: str = "", path: str = "", limit: int = 30, before: int | None = None
) -> HistoryResult:
    """Who changed what and when, newest first."""
    if path and not path.startswith("/"):
        raise InputError(f"'{path}' is no place in the plan; write it as /people/mina/name, or /people for all of them")
    if limit < 1:
        raise InputError(f"a history of {limit} entries says nothing; write --limit 1 or more")
    with _reading(folder) as show:
        entries = show.history(limit=limit, before=before, person=person, path=path)
        document = show.document()
        rows = tuple(EntryRow.of(entry, document) for entry in entries)
        return HistoryResult(folder=str(folder), revision=show.revision, entries=rows)


def compare(folder: Path, revision_a: int, revision_b: int | None = None) -> CompareResult:
    """What differs between the plan at one revision and at another, or now."""
    with _reading(folder) as show:
        end = show.revision if revision_b is None else revision_b
        documents = (show.store.at(revision_a), show.store.at(end))
        changes = tuple(ChangedValue.of(change, *documents) for change in show.compare(revision_a, end))
        return CompareResult(folder=str(folder), from_revision=revision_a, to_revision=end, changes=changes)


def backup(folder: Path, *, make: bool = True) -> BackupResult:
    """Make a backup, proven by reading it back, unless only the list is wanted. Works beside a server."""
    database = _database(folder)
    made = BackupRow.of(make_backup(database)) if make else None
    rows = tuple(BackupRow.of(each) for each in backups_of(database))
    return BackupResult(folder=str(folder), made=made, backups=rows)


def restore(folder: Path, backup: str = "", *, name: str = "") -> RestoreResult:
    """Go back to a backup, by its name or path, or to the newest good one. What the show was is moved aside.

    Raises
    ------
    InputError
        when there is no such backup, it does not hold, or a server has the show
    StorageError
        when another program has the show open, or the disk fails
    """
    database = folder / DATABASE
    if not (folder / BACKUPS).is_dir() and not database.exists():
        raise InputError(f"{folder} holds no show; name a show's folder")
    chosen = _chosen(folder, backup) if backup else None
    plan = None
    # A show that is damaged has no plan to find the mixer in, and is what this is for.
    with contextlib.suppress(RollsoundError), _reading(folder) as show:
        plan = _plan_of(show)
    done = restore_database(database, chosen, author_of(plan, name))
    return RestoreResult(
        folder=str(folder),
        backup=str(done.backup),
        backup_revision=done.backup_revision,
        revision=done.revision,
        aside=str(done.aside or ""),
    )


def author_of(plan: Plan | None, name: str = "") -> Author:
    """Who edits: the person named (by name or id), else the mixer in the plan, else this computer's user."""
    people = () if plan is None else plan.people
    if name:
        found = next((each for each in people if name.casefold() in (each.name.casefold(), each.id)), None)
    else:
        found = next((each for each in people if each.role == "mixer"), None)
    if found is not None:
        return Author(found.name, found.id, DEVICE)
    return Author(name or _user(), "", DEVICE)


def _user() -> str:
    try:
        return getpass.getuser()
    except (KeyError, OSError, ImportError):  # a system without names for its users
        return "somebody"


def _plan_of(show: Show) -> Plan | None:
    """The plan, or none where it is one of another version: the history is there all the same."""
    try:
        return show.plan()
    except InputError:
        return None


@contextmanager
def _reading(folder: Path) -> Iterator[Show]:
    """A show opened to look at only, so that it may lie on a disk that is full or may not be written."""
    with Show.open(folder, read_only=True) as show:
        yield show


def _database(folder: Path) -> Path:
    if not (folder / DATABASE).is_file():
        raise InputError(f"{folder} holds no show; name a show's folder, or begin one with: rollsound new {folder}")
    return folder / DATABASE


def _chosen(folder: Path, backup: str) -> Path:
    for path in (folder / BACKUPS / backup, Path(backup)):
        if path.is_file():
            return path
    raise InputError(f"there is no backup {backup} of {folder}; list them with: rollsound backup {folder} --list")


def _edited(show: Show, saved: Saved, before: object) -> EditResult:
    after = show.document()
    return EditResult(
        folder=str(show.folder),
        revision=saved.revision,
        number=saved.entry.number if saved.entry else None,
        sentence=saved.entry.sentence if saved.entry else "Nothing was to change",
        changes=tuple(ChangedValue.of(change, after, before) for change in saved.changes),
    )


def _text_of(path: Path) -> str:
    with storage(path), open(path, "rb") as file:
        raw = file.read(_LARGEST_TEXT_BYTES + 1)
    if len(raw) > _LARGEST_TEXT_BYTES:
        raise InputError(f"{path} is larger than any plan; name the right file", path=str(path))
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw[: error.start].count(b"\n") + 1
        raise InputError(
            f"{path} holds letters in line {line} that are not UTF-8; save it as UTF-8, then do it again",
            path=str(path),
            line=line,
        ) from error


def _first_text(folder: Path, name: str) -> str:
    """The plan of a show that has only a title and, where we know who it is, its mixer."""
    title = re.sub(r"[-_\s]+", " ", folder.absolute().name).strip() or "Untitled"
    people = [{"id": _id_of(name), "name": name, "job": "sound mixer", "role": "mixer"}] if name else []
    document = {"version": 1, "show": {"title": title[:1].upper() + title[1:]}, "people": people}
    made = f" Begun on {datetime.now(UTC):%Y-%m-%d}. Everything about the show stands here; units are written out."
    return f"#{made}\n" + write_text(document)


def _id_of(name: str) -> str:
    return _NOT_OF_AN_ID.sub("-", name.lower()).strip("-")[:64] or "mixer"
