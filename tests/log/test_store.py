"""A show's database: made, opened, edited, and refused when it is not what it should be."""

from __future__ import annotations

import math
import shutil
import sqlite3
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from aboard import MINA, TAREK, ferry, titled

from rollsound.errors import InputError, StorageError
from rollsound.log.changes import ABSENT, Change, ClashError
from rollsound.log.lock import serve_alone
from rollsound.log.model import DATABASE, Author, DeviceRow, Edit, JobRow, Reply
from rollsound.log.store import Store


def test_a_new_show_holds_what_it_was_made_of(store: Store) -> None:
    head = store.head()
    assert (head.revision, head.document, head.comments) == (1, ferry(), {"/people": "who is on board"})
    (entry,) = store.journal()
    assert (entry.number, entry.kind, entry.author, entry.changes) == (1, "new", MINA, ())
    assert abs(entry.at - datetime.now(UTC)) < timedelta(minutes=1)


def test_what_was_committed_is_there_after_opening_again(store: Store, path: Path) -> None:
    entry = store.commit(titled(store, "Southbound"))
    store.close()
    with Store.open(path) as again:
        assert again.head().revision == entry.number == 2
        assert again.head().document["show"]["title"] == "Southbound"
        assert again.journal(limit=1) == [entry]


def test_a_show_is_never_made_over_another(store: Store, path: Path) -> None:
    with pytest.raises(InputError, match="holds a show already"):
        Store.create(path, {}, {}, MINA)
    assert store.head().document == ferry()
    assert [each.name for each in path.parent.iterdir() if ".part-" in each.name] == []


def test_values_that_no_file_can_keep_are_refused_before_anything_is_written(store: Store, path: Path) -> None:
    for value in (math.nan, math.inf, "\ud800"):
        with pytest.raises(InputError):
            store.commit(Edit(MINA, "", (Change("/show/unit", ABSENT, value),)))
        with pytest.raises(InputError):
            Store.create(path.with_name("other.sqlite"), {"a": value}, {}, MINA)
    assert store.head().revision == 1
    assert not path.with_name("other.sqlite").exists()


def test_an_edit_that_no_longer_fits_changes_nothing(store: Store) -> None:
    store.commit(titled(store, "Southbound"))
    with pytest.raises(ClashError) as caught:
        store.commit(
            Edit(TAREK, "", (Change("/people/tarek/mass", 250, 300), Change("/show/title", "Northbound Ferry", "West")))
        )
    (clash,) = caught.value.clashes
    assert (clash.path, clash.theirs) == ("/show/title", "Southbound")
    assert store.head().revision == 2
    assert store.head().document["people"][1]["mass"] == 250
    assert len(store.journal()) == 2


def test_an_edit_sent_twice_is_made_once(store: Store) -> None:
    edit = titled(store, "Southbound", key="tablet-1")
    first = store.commit(edit)
    store.commit(titled(store, "Westbound", key="tablet-2"))
    assert store.commit(edit) == first
    assert store.head().document["show"]["title"] == "Westbound"
    assert [entry.number for entry in store.journal()] == [3, 2, 1]
    assert store.entry_of_key("tablet-1") == first
    assert store.entry_of_key("") is None


def test_edits_without_a_key_are_all_made(store: Store) -> None:
    for title in ("a", "b"):
        store.commit(titled(store, title))
    assert store.head().revision == 3


def test_null_and_nothing_are_different_values(store: Store) -> None:
    entry = store.commit(Edit(MINA, "", (Change("/show/unit", ABSENT, None),)))
    assert store.head().document["show"]["unit"] is None
    (kept,) = store.journal(limit=1)
    assert kept.changes == entry.changes
    assert kept.changes[0].before is ABSENT
    assert kept.changes[0].after is None


def test_comments_change_only_when_an_edit_says_so(store: Store) -> None:
    store.commit(titled(store, "Southbound"))
    assert store.head().comments == {"/people": "who is on board"}
    store.commit(Edit(MINA, "", (), {"/sites": "where"}))
    assert store.head().comments == {"/sites": "where"}
    assert store.comments_at(2) == {"/people": "who is on board"}
    assert store.comments_at(3) == {"/sites": "where"}


def test_the_journal_is_searched_by_person_path_and_kind(store: Store) -> None:
    store.commit(titled(store, "Southbound"))
    store.commit(Edit(TAREK, "", (Change("/people/tarek/mass", 250, 300),)))
    store.commit(Edit(TAREK, "", (Change("/people/tarek", {"id": "tarek", "name": "Tarek", "role": "crew", "mass": 300},
                                         ABSENT),), kind="import"))  # fmt: skip
    numbers = lambda **asked: [entry.number for entry in store.journal(**asked)]  # noqa: E731
    assert numbers(person="tarek") == numbers(person="Tarek") == numbers(person="TAREK") == [4, 3]
    assert numbers(path="/people/tarek/mass") == [4, 3]
    assert numbers(path="/people/tarek") == [4, 3]
    assert numbers(path="/people") == [4, 3]
    assert numbers(path="/people/tar") == []
    assert numbers(path="/show") == [2]
    assert numbers(kind="import") == [4]
    assert numbers(before=4, limit=2) == [3, 2]
    assert numbers(after=2) == [4, 3]
    assert numbers(person="nobody") == []


def test_reading_only_writes_nothing(store: Store, path: Path) -> None:
    with Store.open(path, read_only=True) as reader:
        assert reader.head().document == ferry()
        with pytest.raises(InputError, match="reading only"):
            reader.commit(Edit(TAREK, "", ()))
        store.commit(titled(store, "Southbound"))
        assert reader.head().document["show"]["title"] == "Southbound"


def test_a_show_on_a_disk_that_may_not_be_written_opens_for_reading(store: Store, path: Path, tmp_path: Path) -> None:
    store.close()
    shelf = tmp_path / "shelf"
    shutil.copytree(path.parent, shelf)
    shelf.chmod(0o555)
    try:
        with Store.open(shelf / DATABASE, read_only=True) as reader:
            assert reader.head().document == ferry()
    finally:
        shelf.chmod(0o755)


def test_two_openers_see_each_other(store: Store, path: Path) -> None:
    before = store.data_version()
    assert store.data_version() == before
    with Store.open(path) as other:
        other.commit(titled(other, "Southbound", author=TAREK))
        assert store.data_version() != before
        assert store.head().document["show"]["title"] == "Southbound"
        store.commit(titled(store, "Westbound"))
        assert other.head().document["show"]["title"] == "Westbound"


def test_another_program_is_seen(store: Store, path: Path) -> None:
    before = store.data_version()
    program = (
        "import sys; from pathlib import Path; from rollsound.log.store import Store;"
        "from rollsound.log.model import *;"
        "from rollsound.log.changes import Change; store = Store.open(Path(sys.argv[1]));"
        "store.commit(Edit(Author('Tarek'), '', (Change('/show/title', 'Northbound Ferry', 'Southbound'),)))"
    )
    subprocess.run([sys.executable, "-c", program, str(path)], check=True, timeout=120)
    assert store.data_version() != before
    assert store.head().document["show"]["title"] == "Southbound"


def test_eight_threads_lose_nothing(store: Store) -> None:
    count, each = 8, 25
    store.commit(
        Edit(MINA, "", tuple(Change(f"/sites/s{n}", ABSENT, {"id": f"s{n}", "count": 0}) for n in range(count)))
    )

    def work(number: int) -> None:
        for step in range(each):
            change = Change(f"/sites/s{number}/count", step, step + 1)
            entry = store.commit(Edit(Author(f"Thread {number}"), "", (change,), key=f"{number}-{step}"))
            assert store.entry(entry.number) == entry
            assert store.head().revision >= entry.number
            store.put(f"thread {number}", step)
            if step % 8 == 0:
                assert store.at(entry.number)["sites"][number]["count"] == step + 1

    with ThreadPoolExecutor(count) as threads:
        for done in [threads.submit(work, number) for number in range(count)]:
            done.result()
    assert [site["count"] for site in store.head().document["sites"]] == [each] * count
    assert store.head().revision == 2 + count * each
    assert [store.get(f"thread {number}") for number in range(count)] == [each - 1] * count


def test_one_server_has_a_show_and_the_next_is_told_where(path: Path) -> None:
    first = serve_alone(path.parent, "http://127.0.0.1:8150")
    with pytest.raises(InputError, match=r"http://127\.0\.0\.1:8150.*--read-only"):
        serve_alone(path.parent, "http://127.0.0.1:8151")
    first.let_go()
    serve_alone(path.parent, "http://127.0.0.1:8151").let_go()


def test_a_killed_server_lets_go_of_its_show(path: Path) -> None:
    program = (
        "import sys, time; from pathlib import Path; from rollsound.log.lock import serve_alone;"
        "held = serve_alone(Path(sys.argv[1]), 'here'); print('held', flush=True); time.sleep(60)"
    )
    with subprocess.Popen([sys.executable, "-c", program, str(path.parent)], stdout=subprocess.PIPE) as other:
        assert other.stdout is not None
        assert other.stdout.readline() == b"held\n"
        with pytest.raises(InputError, match="another server"):
            serve_alone(path.parent, "there")
        other.kill()
    serve_alone(path.parent, "there").let_go()


def test_no_show_another_database_and_no_database_are_told_apart(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="holds no show"):
        Store.open(tmp_path / DATABASE)
    other = tmp_path / "other.sqlite"
    sqlite3.connect(other).execute("CREATE TABLE t (a)").connection.close()
    with pytest.raises(InputError, match="not that of a show"):
        Store.open(other)
    text = tmp_path / "text.sqlite"
    text.write_text("not a database at all, but long enough to be looked at\n" * 40)
    with pytest.raises(InputError, match="damaged"):
        Store.open(text)


def test_a_closed_store_says_so_and_opens_again(store: Store) -> None:
    before = store.data_version()
    store.close()
    for act in (store.head, store.journal, store.data_version, lambda: store.commit(Edit(MINA, "", ()))):
        with pytest.raises(StorageError, match="closed"):
            act()
    store.reopen()
    assert store.head().document == ferry()
    assert store.data_version() != before
    assert store.commit(titled(store, "Southbound")).number == 2


NOW = datetime(2026, 2, 3, 10, 0, tzinfo=UTC)


def test_devices_join_are_seen_and_are_kept_out(store: Store) -> None:
    device = DeviceRow("d1", "hash-1", "Tarek's tablet", "Tarek", "tarek", "crew", NOW, NOW, address="10.0.0.7")
    store.add_device(device)
    assert store.device("hash-1") == device
    assert store.device("hash-2") is None
    with pytest.raises(InputError, match="joined already"):
        store.add_device(device)
    store.touch_device("d1", NOW + timedelta(hours=1))
    store.revoke_device("d1", NOW + timedelta(hours=2))
    store.revoke_device("d1")
    (kept,) = store.devices()
    assert kept.address == "10.0.0.7"
    assert (kept.seen, kept.revoked) == (NOW + timedelta(hours=1), NOW + timedelta(hours=2))
    with pytest.raises(InputError, match="no device"):
        store.revoke_device("d2")


def test_jobs_are_kept_as_they_came(store: Store) -> None:
    job = JobRow("j1", "inspect", {"paths": ["a", "b"]}, MINA, "waiting", NOW, NOW)
    later = JobRow("j2", "verify", {}, TAREK, "done", NOW + timedelta(1), NOW, {"done": 1.5}, {"weight": "fine"}, {})
    store.add_job(job)
    store.add_job(later)
    assert store.jobs() == [later, job]
    assert store.jobs(limit=1) == [later]
    running = JobRow("j1", "inspect", {"paths": ["a", "b"]}, MINA, "running", NOW, NOW, {"done": 0.5})
    store.update_job(running)
    assert store.job("j1") == running
    assert store.job("j3") is None
    with pytest.raises(InputError, match="already"):
        store.add_job(job)
    with pytest.raises(InputError, match="no job"):
        store.update_job(JobRow("j3", "", {}, MINA, "", NOW, NOW))


def test_settings_and_replies(store: Store) -> None:
    assert store.get("theme", "day") == "day"
    store.put("theme", {"night": True})
    store.put("theme", None)
    assert store.get("theme", "day") is None
    assert store.keep_reply("k", Reply(200, "first")) == Reply(200, "first")
    assert store.keep_reply("k", Reply(500, "second")) == Reply(200, "first")
    assert store.reply("k") == Reply(200, "first")
    assert store.reply("other") is None
