"""Going back to a backup while another program opens the show: no edit that was acknowledged is lost."""

from __future__ import annotations

import os
import threading
from pathlib import Path

import pytest
from aboard import MINA, TAREK

from rollsound.errors import StorageError
from rollsound.log import restoring
from rollsound.log.backups import make_backup
from rollsound.log.changes import Change
from rollsound.log.model import Author, Edit
from rollsound.log.restoring import restore
from rollsound.log.store import Store

pytestmark = pytest.mark.skipif(os.name == "nt", reason="the system itself refuses to replace an open file there")


def _rename(store: Store, to: str) -> int:
    title = store.head().document["show"]["title"]
    return store.commit(Edit(TAREK, f"Called it {to}", (Change("/show/title", title, to),))).number


@pytest.mark.parametrize("moment", ["_move_aside", "copy_database", "_mark"])
def test_an_edit_that_comes_while_going_back_is_made_in_what_came(
    path: Path, store: Store, monkeypatch: pytest.MonkeyPatch, moment: str
) -> None:
    backup = make_backup(path)
    store.close()
    acknowledged: list[int] = []
    failed: list[BaseException] = []
    early: list[int] = []

    def late() -> None:
        try:
            with Store.open(path) as other:
                acknowledged.append(_rename(other, "Southbound Ferry"))
        except Exception as error:
            failed.append(error)

    thread = threading.Thread(target=late)
    whole = getattr(restoring, moment)

    def with_another(*given: object) -> object:
        done = whole(*given)
        thread.start()
        # Far longer than opening and one edit take where nothing holds them back.
        thread.join(1.0)
        early.extend(acknowledged)
        return done

    monkeypatch.setattr(restoring, moment, with_another)
    done = restore(path, backup.path, MINA)
    thread.join(20.0)
    assert not failed
    assert early == []
    assert acknowledged == [done.revision + 1]
    with Store.open(path) as after:
        assert after.head().document["show"]["title"] == "Southbound Ferry"
        assert after.head().revision == done.revision + 1


def test_one_who_may_still_write_is_not_overtaken(path: Path, store: Store) -> None:
    backup = make_backup(path)
    with pytest.raises(StorageError, match=r"another program has .* open; close it, then go back"):
        restore(path, backup.path, Author("Mina"))
    number = _rename(store, "Southbound Ferry")
    store.close()
    done = restore(path, backup.path, MINA)
    assert done.revision == number + 1
