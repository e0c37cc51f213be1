"""Several people write the log of a day at once: nothing is lost or written twice, everything can be taken back."""

from __future__ import annotations

import contextlib
import random
import shutil
import sqlite3
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path

import pytest
from aboard import MINA, TAREK, titled

from rollsound.errors import InputError, MistakesError
from rollsound.log.backups import make_backup, verify
from rollsound.log.changes import ClashError
from rollsound.log.daybook import LogBook, NewLine
from rollsound.log.entries import KINDS, BatteryEntry, TakeEntry, WearingEntry, entry_of, fields_of
from rollsound.log.model import Author, DamagedError
from rollsound.log.store import Store

DAY = "day-4"
PHONE = Author("Tarek", "tarek", "phone")
HERE = timezone(timedelta(hours=1))
MOMENT = datetime(2031, 2, 18, 12, 38, 41, tzinfo=HERE)


@pytest.fixture
def book(store: Store) -> LogBook:
    """The log of a new show."""
    return LogBook(store)


def _take(book: LogBook, take: str = "1", author: Author = MINA, **fields: object) -> str:
    return book.add("take", {"scene": "31", "slate": "214", "take": take, **fields}, author, DAY, at=MOMENT).line.id


def test_a_line_is_kept_with_who_and_when_and_where(book: LogBook, store: Store, path: Path) -> None:
    id = _take(book, timecode_in="12:38:08:00", circled="yes")
    store.close()
    with Store.open(path) as again:
        (line,) = LogBook(again).lines()
    assert (line.id, line.kind, line.day, line.by, line.made, line.changed) == (id, "take", DAY, MINA, 2, 2)
    assert line.at == MOMENT
    assert line.at.utcoffset() == timedelta(hours=1)
    assert line.entry == TakeEntry(scene="31", slate="214", take="1", timecode_in="12:38:08:00", circled=True)


def test_the_plan_and_its_revision_stay_as_they_are(book: LogBook, store: Store) -> None:
    head = store.head()
    for take in range(250):  # more than lie between two snapshots
        _take(book, str(take))
    assert store.head() == head
    assert store.at(100) == head.document
    store.commit(titled(store, "Southbound"))
    assert store.head().revision == 252
    _take(book, "250")
    assert store.at(200) == head.document
    assert store.at(253)["show"]["title"] == "Southbound"
    with pytest.raises(InputError, match="runs from 1 to 253"):
        store.at(254)
    assert [entry.kind for entry in store.journal(limit=3)] == ["log", "plan", "log"]
    assert store.journal(limit=1)[0].sentence == "Log: Slate 214 take 250"


def test_the_history_of_a_plan_after_a_long_log_is_still_rebuilt(book: LogBook, store: Store, path: Path) -> None:
    for round in range(60):
        store.commit(titled(store, f"Title {round}"))
        book.add_all([NewLine("note", {"text": f"{round}"}, DAY)], MINA)
        book.add("note", {"text": "more"}, TAREK, DAY)
    for number in range(2, 182):
        assert store.at(number)["show"]["title"] == f"Title {(number - 2) // 3}"
    store.close()
    Store.open(path).close()


def test_the_same_minute_typed_on_two_tablets_is_two_lines(book: LogBook) -> None:
    first, second = _take(book, author=MINA), _take(book, author=TAREK)
    assert first != second
    assert [line.by.device for line in book.lines(DAY)] == ["laptop", "tablet"]


def test_a_line_that_is_sent_again_is_written_once(book: LogBook) -> None:
    first = book.add("note", {"text": "rain"}, TAREK, DAY, key="tablet-000001")
    again = book.add("note", {"text": "rain"}, TAREK, DAY, key="tablet-000001")
    assert (again.line, again.again, first.again) == (first.line, True, False)
    changed = book.change(first.line.id, {"text": "snow"}, TAREK, key="tablet-000002")
    book.change(first.line.id, {"text": "hail"}, MINA)
    assert book.change(first.line.id, {"text": "snow"}, TAREK, key="tablet-000002").entry == changed.entry
    assert book.line(first.line.id).fields == {"text": "hail"}
    assert len(book.lines()) == 1
    book.remove(first.line.id, TAREK, key="tablet-000003")
    assert book.remove(first.line.id, TAREK, key="tablet-000003").lines == ()
    book.undo(TAREK, key="tablet-000004")
    book.undo(TAREK, key="tablet-000004")
    assert book.line(first.line.id).fields == {"text": "hail"}


def test_a_device_may_name_its_line_before_it_is_written(book: LogBook) -> None:
    assert book.add("note", {"text": "rain"}, TAREK, DAY, id="tablet-7-1").line.id == "tablet-7-1"
    with pytest.raises(InputError, match="has a line tablet-7-1 already"):
        book.add("note", {"text": "snow"}, TAREK, DAY, id="tablet-7-1")
    with pytest.raises(InputError, match="already"):
        book.add_all([NewLine("note", {"text": "a"}, DAY, id="same-id")] * 2, TAREK)
    assert len(book.lines()) == 1


def test_different_fields_from_two_devices_are_both_kept(book: LogBook) -> None:
    id = _take(book)
    seen = book.line(id).changed
    assert not book.change(id, {"circled": True}, MINA, seen=seen).overlaps
    assert not book.change(id, {"note": "ramp down"}, TAREK, seen=seen).overlaps
    book.change(id, {"track_notes": {"3": "rustle"}}, TAREK, seen=seen)
    assert not book.change(id, {"track_notes": {"4": "wind"}}, MINA, seen=seen).overlaps
    assert book.line(id).fields == {
        "scene": "31",
        "slate": "214",
        "take": "1",
        "circled": True,
        "note": "ramp down",
        "track_notes": {"3": "rustle", "4": "wind"},
    }


def test_the_same_field_twice_keeps_the_later_and_tells_both(book: LogBook) -> None:
    id = _take(book)
    seen = book.line(id).changed
    book.change(id, {"note": "ramp down"}, MINA, seen=seen)
    written = book.change(id, {"note": "ramp up"}, TAREK, seen=seen)
    (overlap,) = written.overlaps
    assert (overlap.field, overlap.theirs, overlap.mine, overlap.person) == ("note", "ramp down", "ramp up", "Mina")
    assert book.line(id).fields["note"] == "ramp up"
    assert written.entry is not None
    assert written.entry.sentence.endswith("note 'ramp down' → 'ramp up' (Mina had made it 'ramp down')")
    # The same person elsewhere is somebody else; on the same device it is one hand, whatever waited in its queue.
    assert book.change(id, {"note": "ramp half"}, PHONE, seen=seen).overlaps
    assert not book.change(id, {"note": "ramp"}, PHONE, seen=book.line(id).changed).overlaps
    assert not book.change(id, {"note": "Ramp"}, PHONE, seen=book.line(id).changed).overlaps
    assert not book.change(id, {"note": "ramp!"}, TAREK).overlaps


def test_an_empty_value_takes_a_field_out_and_nothing_new_is_no_change(book: LogBook) -> None:
    id = _take(book, note="ramp", track_notes={"3": "rustle"})
    assert book.change(id, {"note": "ramp"}, MINA).entry is None
    assert book.change(id, {"note": "", "track_notes": {"3": ""}}, MINA).line.fields == {
        "scene": "31",
        "slate": "214",
        "take": "1",
    }


def test_a_line_moves_to_another_day_or_moment(book: LogBook) -> None:
    id = _take(book)
    later = MOMENT + timedelta(hours=2)
    book.change(id, {}, MINA, day="day-5", at=later)
    assert book.lines(DAY) == ()
    (line,) = book.lines("day-5")
    assert line.at == later


def test_lines_stand_in_the_order_in_which_they_happened(book: LogBook) -> None:
    for minutes in (30, 10, 20):
        at = datetime(2031, 2, 18, 11, minutes, tzinfo=UTC).astimezone(HERE if minutes == 10 else UTC)
        book.add("note", {"text": str(minutes)}, TAREK, DAY, at=at)
    assert [line.fields["text"] for line in book.lines(DAY)] == ["10", "20", "30"]


def test_each_person_takes_back_their_own(book: LogBook, store: Store) -> None:
    mine, theirs = _take(book, "1"), _take(book, "2", TAREK)
    book.change(mine, {"note": "ramp"}, MINA)
    plan = store.commit(titled(store, "Southbound"))
    book.undo(MINA)
    assert "note" not in book.line(mine).fields
    book.undo(MINA)
    assert [line.id for line in book.lines()] == [theirs]
    with pytest.raises(InputError, match="nothing of Mina to take back"):
        book.undo(MINA)
    # The plan's own undo is another one.
    last = store.last_undoable("mina")
    assert last == plan
    book.redo(MINA)
    assert book.redo(MINA).line.fields["note"] == "ramp"
    with pytest.raises(InputError, match="nothing of Mina to do again"):
        book.redo(MINA)
    assert [(entry.kind, entry.undone) for entry in store.journal(limit=4)] == [
        ("log redo", False),
        ("log redo", False),
        ("log undo", False),
        ("log undo", False),
    ]


def test_what_somebody_else_changed_since_is_named_and_not_taken_back(book: LogBook) -> None:
    id = _take(book)
    book.change(id, {"note": "ramp"}, TAREK)
    with pytest.raises(ClashError, match=r"Tarek has changed Slate 214 take 1 since\. Nothing was taken back"):
        book.undo(MINA)
    book.change(id, {"note": "ramp down"}, MINA)
    with pytest.raises(ClashError, match="Slate 214 take 1, note: Mina has made it 'ramp down' since"):
        book.undo(TAREK)
    book.remove(id, TAREK)
    with pytest.raises(ClashError, match=f"Tarek has taken line {id} out since"):
        book.undo(MINA)
    assert book.lines() == ()


def test_a_line_that_was_taken_out_says_who_did(book: LogBook) -> None:
    id = _take(book)
    book.remove(id, TAREK)
    with pytest.raises(InputError, match=f"line {id} was taken out of the log by Tarek"):
        book.change(id, {"note": "ramp"}, MINA)
    with pytest.raises(InputError, match="no line 'take-99'"):
        book.line("take-99")
    assert [entry.author for entry in book.history_of(id)] == [TAREK, MINA]
    book.undo(TAREK)
    assert book.line(id).made == 4


def test_mistakes_are_told_all_at_once_and_nothing_is_written(book: LogBook) -> None:
    with pytest.raises(MistakesError) as caught:
        book.add("take", {"timecode_in": "25:00:00:00", "circled": "perhaps", "slat": "1"}, MINA, DAY)
    assert {mistake.place for mistake in caught.value.mistakes} == {"timecode_in", "circled", "slat"}
    for kind, fields, day in (("tak", {}, DAY), ("note", {"text": ""}, DAY), ("note", {"text": "a"}, "Day 4")):
        with pytest.raises(InputError):
            book.add(kind, fields, MINA, day)
    with pytest.raises(InputError, match="no id of a line"):
        book.add("note", {"text": "a"}, MINA, DAY, id="../x")
    with pytest.raises(InputError, match="no readable text"):
        book.add("note", {"text": "\ud800"}, MINA, DAY)
    with pytest.raises(InputError, match="0 lines cannot be written"):
        book.add_all([], MINA)
    id = _take(book)
    with pytest.raises(MistakesError):
        book.change(id, {"timecode_out": "12:61:00:00"}, MINA)
    assert book.lines()[0].changed == 2
    assert book.last_number() == 2


@pytest.mark.parametrize(
    ("kind", "fields"),
    [
        ("take", {"files": "a.wav, b.wav", "track_notes": {"3": "x"}, "timecode_in": "1:02:03;04"}),
        ("wearing", {"pack": "pack-3", "character": "bram", "power_mw": "10"}),
        ("battery", {"item": "pack-3", "percent": 40}),
        ("changeover", {"changeover": "boom-1", "position": "cable"}),
        ("jam", {"device": "slate", "timecode": "10:20:30:05", "offset_frames": -0.5}),
        ("temperature", {"temperature_c": "-4.5", "site": "quay"}),
        ("note", {"text": "rain", "track": "3"}),
        ("promise", {"text": "Ferry horn", "characters": ["bram"]}),
    ],
)
def test_every_kind_is_kept_and_read_as_it_was_written(kind: str, fields: dict[str, object]) -> None:
    entry = entry_of(kind, fields)
    assert entry_of(kind, fields_of(entry)) == entry
    assert isinstance(entry, KINDS[kind])


def test_a_take_is_read_as_people_write_it() -> None:
    entry = entry_of("take", {"files": "a.wav, b.wav", "circled": "x", "timecode_in": "1:02:03.04"})
    assert isinstance(entry, TakeEntry)
    assert (entry.files, entry.circled, entry.timecode_in) == (("a.wav", "b.wav"), True, "01:02:03;04")
    assert entry_of("wearing", {"pack": "p", "power_mw": ""}) == WearingEntry(pack="p")
    assert entry_of("battery", {"item": "p"}) == BatteryEntry(item="p", what="changed")


def test_a_backup_and_a_copied_folder_carry_the_log(book: LogBook, store: Store, path: Path, tmp_path: Path) -> None:
    id = _take(book)
    backup = make_backup(path)
    assert (backup.revision, verify(backup.path)) == (2, 2)
    assert make_backup(path, only_if_changed=True) == backup
    book.change(id, {"note": "ramp"}, MINA)
    second = make_backup(path, only_if_changed=True)
    assert second.revision == 3
    store.go_back(backup.path, MINA)
    assert "note" not in book.line(id).fields
    written = book.change(id, {"note": "again"}, MINA)
    assert written.line.changed > 3
    store.close()
    copy = tmp_path / "copy"
    shutil.copytree(path.parent, copy)
    with Store.open(copy / path.name) as again:
        assert LogBook(again).line(id).fields["note"] == "again"


@pytest.mark.parametrize(
    "harm",
    [
        "UPDATE lines SET line = replace(line, '214', '215')",
        "UPDATE lines SET day = 'day-9'",
        "DELETE FROM lines WHERE id LIKE '%2'",
        "UPDATE changes SET after = replace(after, '214', '215') WHERE path LIKE '/log/%'",
    ],
)
def test_a_byte_that_changed_is_noticed(book: LogBook, store: Store, path: Path, harm: str) -> None:
    _take(book)
    store.close()
    with contextlib.closing(sqlite3.connect(path)) as raw:
        assert raw.execute(harm).rowcount
        raw.commit()
    with pytest.raises(DamagedError):
        Store.open(path)


def test_lines_that_the_journal_does_not_lead_to_are_noticed(book: LogBook, store: Store, path: Path) -> None:
    _take(book)
    _take(book, "2")
    store.close()
    with contextlib.closing(sqlite3.connect(path)) as raw:
        # Each row for itself is whole; only the journal knows better.
        raw.execute("DELETE FROM lines WHERE id = 'take-3'")
        raw.commit()
    with pytest.raises(DamagedError, match="its journal and its log do not agree"):
        Store.open(path)


def test_what_is_known_keeps_up_with_everybody(book: LogBook, store: Store, path: Path) -> None:
    """One reader that looks after every act of others tells the same as one that reads all of it anew."""
    chance = random.Random(11)
    with Store.open(path) as beside:
        other = LogBook(beside)
        for _ in range(120):
            writer, author = chance.choice([(book, MINA), (other, TAREK)])
            there = book.lines()
            what = chance.randrange(5)
            if what < 2 or not there:
                day = f"day-{chance.randrange(3)}"
                at = MOMENT + timedelta(minutes=chance.randrange(60))
                writer.add_all([NewLine("note", {"text": "x"}, day, at)] * chance.randint(1, 3), author)
            elif what == 2:
                line = chance.choice(there)
                writer.change(line.id, {"text": str(chance.random())}, author, day=f"day-{chance.randrange(3)}")
            elif what == 3:
                writer.remove(chance.choice(there).id, author)
            else:
                with contextlib.suppress(InputError):
                    chance.choice([writer.undo, writer.redo])(author)
            with Store.open(path, read_only=True) as fresh:
                anew = LogBook(fresh)
                assert book.lines() == other.lines() == anew.lines()
                assert book.lines("day-1") == anew.lines("day-1")
                assert set(book.days()) == set(anew.days())
    backup = make_backup(path)
    book.add("note", {"text": "after the backup"}, MINA, "day-1")
    before = len(book.lines())
    store.go_back(backup.path, MINA)
    assert len(book.lines()) == before - 1
