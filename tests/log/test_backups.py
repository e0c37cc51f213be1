"""Backups are proven when made, thinned out by age, and going back to one loses nothing."""

from __future__ import annotations

import contextlib
import sqlite3
import threading
import time
from concurrent.futures import Future, ThreadPoolExecutor
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from aboard import MINA, TAREK, ferry, titled

import rollsound.log.backups
import rollsound.log.restoring
from rollsound.errors import InputError, StorageError
from rollsound.log.backups import KEPT_DAYS, KEPT_NEWEST, backups_of, last_good, make_backup, verify
from rollsound.log.lock import serve_alone
from rollsound.log.model import BACKUPS, DATABASE, DamagedError, Edit
from rollsound.log.opening import BytesDamagedError
from rollsound.log.restoring import restore
from rollsound.log.store import Store


def test_a_backup_is_one_whole_show_that_opens_anywhere(store: Store, path: Path, tmp_path: Path) -> None:
    store.commit(titled(store, "Southbound"))
    backup = make_backup(path)
    assert (backup.kind, backup.revision) == ("show", 2)
    assert verify(backup.path) == 2
    assert [each.name for each in (path.parent / BACKUPS).iterdir()] == [backup.path.name]
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    backup.path.rename(elsewhere / DATABASE)
    with Store.open(elsewhere / DATABASE) as copy:
        assert copy.head() == store.head()
        assert copy.journal() == store.journal()


def test_a_backup_made_while_others_write_holds_whole_edits(store: Store, path: Path) -> None:
    stop = threading.Event()

    def write() -> None:
        number = 0
        while not stop.is_set():
            number += 1
            store.commit(titled(store, f"Title {number}"))

    writer = threading.Thread(target=write)
    writer.start()
    try:
        revisions = [verify(make_backup(path).path) for _ in range(5)]
    finally:
        stop.set()
        writer.join()
    assert revisions == sorted(revisions)
    assert revisions[-1] > revisions[0]


def test_a_copy_never_replaces_a_file(store: Store, tmp_path: Path) -> None:
    taken = tmp_path / "taken"
    taken.write_text("mine")
    with pytest.raises(StorageError, match="there already"):
        store.backup_to(taken)
    assert taken.read_text() == "mine"
    store.backup_to(tmp_path / "new" / "copy.sqlite")
    assert verify(tmp_path / "new" / "copy.sqlite") == 1


def test_nothing_new_needs_no_new_backup(store: Store, path: Path) -> None:
    first = make_backup(path, only_if_changed=True)
    assert make_backup(path, only_if_changed=True) == first
    store.commit(titled(store, "Southbound"))
    assert make_backup(path, only_if_changed=True) != first
    assert len(backups_of(path)) == 2


def test_the_newest_and_the_last_of_each_day_are_kept(
    store: Store, path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = path.parent / BACKUPS
    folder.mkdir()
    start = datetime(2026, 1, 1, 8, tzinfo=UTC)
    # Forty days, three backups a day; and one that was moved aside long ago, and a file that is none of ours.
    for hours in range(0, 40 * 24, 8):
        at = start + timedelta(hours=hours)
        (folder / f"show-{at:%Y%m%d-%H%M%S}-r{hours}.sqlite").touch()
    (folder / "aside-20250101-000000-r7.sqlite").touch()
    (folder / "my own copy.sqlite").touch()
    monkeypatch.setattr(rollsound.log.backups, "now", lambda: start + timedelta(days=40))
    newest = make_backup(path)
    rolling = [backup for backup in backups_of(path) if backup.kind == "show"]
    days = sorted({backup.at.date() for backup in rolling})
    assert rolling[0] == newest
    assert len(days) == KEPT_DAYS
    assert [backup.at for backup in rolling[1:KEPT_NEWEST]] == [
        start + timedelta(days=40, hours=-8 * back) for back in range(1, KEPT_NEWEST)
    ]
    # Of older days only the last one: 8, 16 and 0 o'clock were made, and 0 o'clock belongs to the next day.
    assert {backup.at.hour for backup in rolling[KEPT_NEWEST:]} == {16}
    assert {"aside-20250101-000000-r7.sqlite", "my own copy.sqlite"} < {each.name for each in folder.iterdir()}


def test_a_copy_that_does_not_hold_is_not_kept(store: Store, path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(_path: Path) -> int:
        raise BytesDamagedError("as a trial")

    monkeypatch.setattr(rollsound.log.backups, "verify", refuse)
    with pytest.raises(DamagedError, match="as a trial"):
        make_backup(path)
    assert backups_of(path) == []
    assert list((path.parent / BACKUPS).iterdir()) == []


def test_going_back_keeps_what_there_was(store: Store, path: Path) -> None:
    backup = make_backup(path)
    store.commit(titled(store, "Southbound"))
    store.commit(titled(store, "Westbound"))
    store.close()
    done = restore(path, backup.path, TAREK)
    assert (done.backup, done.backup_revision, done.revision) == (backup.path, 1, 4)
    with Store.open(path) as again:
        assert again.head().document == ferry()
        # Higher than any revision that a device may still hold.
        assert again.head().revision == 4
        entry = again.journal(limit=1)[0]
        assert (entry.kind, entry.author) == ("restore", TAREK)
        assert again.at(1) == again.at(4) == ferry()
        with pytest.raises(InputError, match="gap where a backup was restored"):
            again.at(3)
        assert again.commit(titled(again, "Eastbound")).number == 5
    assert done.aside is not None
    with Store.open(done.aside) as aside:
        assert aside.head().document["show"]["title"] == "Westbound"
        assert len(aside.journal()) == 3
    # And forth again.
    restore(path, done.aside, MINA)
    with Store.open(path) as forth:
        assert forth.head().document["show"]["title"] == "Westbound"
        assert forth.head().revision == 6


def test_the_newest_good_backup_is_taken_when_none_is_named(store: Store, path: Path) -> None:
    make_backup(path)
    store.commit(titled(store, "Southbound"))
    newest = make_backup(path)
    store.close()
    assert restore(path, None, MINA).backup == newest.path


def test_a_damaged_show_is_moved_aside_as_it_is(store: Store, path: Path) -> None:
    backup = make_backup(path)
    store.commit(titled(store, "Southbound"))
    store.close()
    spoilt = path.read_bytes().replace(b"Southbound", b"Southmound")
    path.write_bytes(spoilt)
    with pytest.raises(DamagedError):
        Store.open(path)
    done = restore(path, None, MINA)
    assert done.backup == backup.path
    assert done.aside is not None
    with Store.open(path) as again:
        assert again.head().document == ferry()
    # The switch of one header field is all that may differ: how the file was last opened.
    kept = done.aside.read_bytes()
    assert kept[100:] == spoilt[100:]


def test_a_ruin_is_moved_aside_with_its_log(store: Store, path: Path) -> None:
    make_backup(path)
    store.close()
    ruin, log = b"ruin" * 3000, b"its log"
    path.write_bytes(ruin)
    path.with_name(path.name + "-wal").write_bytes(log)
    done = restore(path, None, MINA)
    assert done.aside is not None
    assert done.aside.read_bytes() == ruin
    assert done.aside.with_name(done.aside.name + "-wal").read_bytes() == log
    assert done.revision > 100_000
    with Store.open(path) as again:
        assert again.head().document == ferry()
    assert last_good(path) is not None


def test_a_show_that_is_gone_comes_back(store: Store, path: Path) -> None:
    make_backup(path)
    store.close()
    path.unlink()
    done = restore(path, None, MINA)
    assert (done.aside, done.revision) == (None, 2)
    with Store.open(path) as again:
        assert again.head().document == ferry()


def test_nobody_goes_back_under_a_server_or_another_program(store: Store, path: Path) -> None:
    backup = make_backup(path)
    with pytest.raises(StorageError, match="another program has"):
        restore(path, backup.path, MINA)
    store.close()
    held = serve_alone(path.parent, "http://127.0.0.1:8150")
    with pytest.raises(InputError, match=r"a server has .* at http"):
        restore(path, backup.path, MINA)
    # The server itself may, once it has closed its store.
    restore(path, backup.path, MINA, serving=True)
    held.let_go()


def _wait_for(acknowledged: list[int], count: int, writers: list[Future[None]]) -> None:
    while len(acknowledged) < count and not any(writer.done() for writer in writers):
        time.sleep(0.01)


def test_going_back_while_others_edit_loses_no_edit_that_was_acknowledged(store: Store, path: Path) -> None:
    backup = make_backup(path)
    stop = threading.Event()
    acknowledged: list[int] = []

    def write() -> None:
        while not stop.is_set():
            acknowledged.append(store.commit(Edit(TAREK, "", ())).number)

    with ThreadPoolExecutor(2) as threads:
        writers = [threads.submit(write) for _ in range(2)]
        try:
            _wait_for(acknowledged, 20, writers)
            done = store.go_back(backup.path, MINA, serving=True)
            _wait_for(acknowledged, len(acknowledged) + 20, writers)
        finally:
            stop.set()
        for writer in writers:
            writer.result()
    assert done.aside is not None
    with Store.open(done.aside) as aside:
        kept = {entry.number for entry in (*aside.journal(limit=10**6), *store.journal(limit=10**6))}
    assert set(acknowledged) <= kept
    assert len(set(acknowledged)) == len(acknowledged)


def test_going_back_that_fails_goes_on_with_the_show_as_it_was(store: Store, path: Path) -> None:
    store.commit(titled(store, "Southbound"))
    with pytest.raises(InputError, match="no good backup"):
        store.go_back(None, MINA, serving=True)
    assert store.head().document["show"]["title"] == "Southbound"
    assert store.commit(titled(store, "Westbound")).number == 3


def test_a_backup_that_does_not_hold_is_refused(store: Store, path: Path) -> None:
    backup = make_backup(path)
    store.close()
    backup.path.write_bytes(backup.path.read_bytes().replace(b"Northbound", b"Northmound"))
    before = path.read_bytes()
    with pytest.raises(InputError, match="damaged itself"):
        restore(path, backup.path, MINA)
    with pytest.raises(InputError, match="no good backup"):
        restore(path, None, MINA)
    assert path.read_bytes() == before


def test_going_back_that_fails_at_any_step_leaves_the_show(
    store: Store, path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    backup = make_backup(path)
    store.commit(titled(store, "Southbound"))
    store.close()
    for step in ("copy_database", "_mark", "_move_aside"):
        with monkeypatch.context() as patch:

            def stop(*_: object, step: str = step) -> None:
                raise StorageError(f"stopped at {step}")

            patch.setattr(rollsound.log.restoring, step, stop)
            with pytest.raises(StorageError, match=step):
                restore(path, backup.path, MINA)
        with Store.open(path) as again:
            assert again.head().document["show"]["title"] == "Southbound"
        assert [each.name for each in path.parent.iterdir() if ".part-" in each.name] == []


def test_a_backup_of_an_old_schema_can_be_gone_back_to(store: Store, path: Path) -> None:
    store.close()
    old = Path(__file__).parent / "data" / "schema-0001.sqlite"
    restore(path, old, MINA)
    with Store.open(path) as again:
        assert again.head().document["people"][0]["name"] == "Mina B."
        assert again.jobs() == []
    with contextlib.closing(sqlite3.connect(f"file:{old}?mode=ro", uri=True)) as kept:
        assert kept.execute("SELECT version_num FROM alembic_version").fetchall() == [("0001",)]
