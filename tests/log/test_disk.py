"""A disk that is full, fails, or is held by another program: one sentence, and nothing has changed."""

from __future__ import annotations

import contextlib
import errno
import os
import sqlite3
import subprocess
import sys
from pathlib import Path

import pytest
from aboard import MINA, ferry, titled

import rollsound.log.opening
from rollsound.errors import StorageError
from rollsound.log.backups import make_backup
from rollsound.log.changes import ABSENT, Change
from rollsound.log.model import BACKUPS, Edit
from rollsound.log.store import Store

LARGE = Edit(MINA, "", (Change("/show/note", ABSENT, "x" * 400_000),))

# Writes a show on a disk that takes files of at most so many bytes, and says what it was told.
FULL = """
import resource, signal, sys
from pathlib import Path
from rollsound.errors import StorageError
from rollsound.log.changes import ABSENT, Change
from rollsound.log.model import Author, Edit
from rollsound.log.store import Store
store = Store.open(Path(sys.argv[1]))
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
resource.setrlimit(resource.RLIMIT_FSIZE, (300_000, resource.RLIM_INFINITY))
try:
    store.commit(Edit(Author("Mina"), "", (Change("/show/note", ABSENT, "x" * 400_000),)))
except StorageError as error:
    print(error)
resource.setrlimit(resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY, resource.RLIM_INFINITY))
print(store.head().revision, store.commit(Edit(Author("Mina"), "", (Change("/show/note", ABSENT, "x"),))).number)
"""


@pytest.mark.skipif(os.name == "nt", reason="this system has no limit on the size of a program's files")
def test_a_write_that_the_disk_refuses_changes_nothing_and_the_next_one_works(store: Store, path: Path) -> None:
    store.close()
    done = subprocess.run([sys.executable, "-c", FULL, str(path)], capture_output=True, text=True, timeout=120)
    assert done.stderr == ""
    said, numbers = done.stdout.splitlines()
    assert "nothing was changed" in said
    assert str(path) in said
    assert numbers == "1 2"
    with Store.open(path) as again:
        assert again.head().document["show"]["note"] == "x"


def test_a_full_disk_changes_nothing_and_is_said(store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    plain = rollsound.log.opening.connect

    def full(path: Path, *, read_only: bool) -> sqlite3.Connection:
        connection = plain(path, read_only=read_only)
        # The file may not grow: SQLite then answers as it does on a full disk.
        pages = connection.execute("PRAGMA page_count").fetchone()[0]
        connection.execute(f"PRAGMA max_page_count={pages}")
        return connection

    monkeypatch.setattr(rollsound.log.opening, "connect", full)
    store._engine.dispose()
    with pytest.raises(StorageError, match=r"no space is left.*nothing was changed"):
        store.commit(LARGE)
    assert store.head().revision == 1
    assert len(store.journal()) == 1
    monkeypatch.undo()
    store._engine.dispose()
    assert store.commit(titled(store, "Southbound")).number == 2


def test_another_program_that_never_ends_its_writing_is_said(
    store: Store, path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(rollsound.log.opening, "WAIT_S", 0.1)
    store._engine.dispose()
    with contextlib.closing(sqlite3.connect(path, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(StorageError, match="busy; nothing was changed"):
            store.commit(titled(store, "Southbound"))
        # Reading does not wait for writing.
        assert store.head().document == ferry()
        other.execute("ROLLBACK")
    assert store.commit(titled(store, "Southbound")).number == 2


def test_a_backup_on_a_full_disk_leaves_nothing_half(store: Store, path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(_handle: int) -> None:
        raise OSError(errno.ENOSPC, "no space left")

    monkeypatch.setattr(os, "link", lambda *_: refuse(0))
    monkeypatch.setattr(os, "rename", lambda *_: refuse(0))
    with pytest.raises(StorageError, match="no space is left"):
        make_backup(path)
    assert list((path.parent / BACKUPS).iterdir()) == []


def test_a_show_that_cannot_be_made_leaves_nothing(tmp_path: Path) -> None:
    with pytest.raises(StorageError, match="is not there"):
        Store.create(tmp_path / "nowhere" / "show.sqlite", ferry(), {}, MINA)
    assert list(tmp_path.iterdir()) == []
