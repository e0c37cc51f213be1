"""Bytes that changed on the disk are noticed, and never taken for what somebody wrote."""

from __future__ import annotations

import random
import shutil
from pathlib import Path

import pytest
from aboard import MINA, TAREK, ferry, titled

from rollsound.errors import InputError, RollsoundError
from rollsound.log.backups import make_backup
from rollsound.log.changes import Change
from rollsound.log.model import DATABASE, DamagedError, Edit
from rollsound.log.store import Store


@pytest.fixture
def sailed(path: Path) -> Path:
    """A show with some history, closed: all of it lies in the one file."""
    with Store.create(path, ferry(), {}, MINA) as store:
        for number in range(30):
            before = store.head().document["people"][1]["mass"]
            change = Change("/people/tarek/mass", before, 1000 + number)
            store.commit(Edit(TAREK, f"Mass {number}", (change,), key=f"key-{number}"))
    return path


def _spoil(path: Path, old: bytes, new: bytes) -> None:
    data = path.read_bytes()
    assert len(old) == len(new)
    assert old in data
    path.write_bytes(data.replace(old, new))


def test_a_figure_that_changed_in_the_plan_is_noticed(sailed: Path) -> None:
    backup = make_backup(sailed)
    _spoil(sailed, b'"mass":1029', b'"mass":9029')
    before = sailed.read_bytes()
    with pytest.raises(DamagedError) as caught:
        Store.open(sailed)
    assert caught.value.last_good == backup.path
    assert f"rollsound restore {sailed.parent} {backup.path.name}" in str(caught.value)
    assert sailed.read_bytes() == before


def test_without_a_good_backup_the_sentence_says_so(sailed: Path) -> None:
    backup = make_backup(sailed)
    for path in (sailed, backup.path):
        _spoil(path, b'"mass":1029', b'"mass":9029')
    with pytest.raises(DamagedError, match="no good backup") as caught:
        Store.open(sailed)
    assert caught.value.last_good is None


def test_a_damaged_backup_is_passed_over_for_an_older_good_one(sailed: Path) -> None:
    good = make_backup(sailed)
    with Store.open(sailed) as store:
        store.commit(titled(store, "Southbound"))
    newer = make_backup(sailed)
    _spoil(newer.path, b"Southbound", b"Southmound")
    _spoil(sailed, b"Southbound", b"Southmound")
    with pytest.raises(DamagedError) as caught:
        Store.open(sailed)
    assert caught.value.last_good == good.path


@pytest.mark.parametrize("words", [b"Mass 7", b"key-7", b"tablet"])
def test_a_word_that_changed_in_the_journal_is_noticed(sailed: Path, words: bytes) -> None:
    _spoil(sailed, words, words[:-1] + b"\x01")
    with pytest.raises(DamagedError):
        Store.open(sailed)


def test_a_file_that_was_cut_is_noticed(sailed: Path) -> None:
    data = sailed.read_bytes()
    for length in (len(data) - 4096, len(data) // 2, 5000, 100):
        sailed.write_bytes(data[:length])
        with pytest.raises(InputError):
            Store.open(sailed)


def test_damage_that_comes_while_the_show_is_open_is_noticed(sailed: Path) -> None:
    with Store.open(sailed) as store:
        assert store.head().revision == 31
        _spoil(sailed, b"Mass 3", b"Moss 3")
        store._engine.dispose()  # what was read before is in memory, and still right
        with pytest.raises(DamagedError):
            store.journal()


def test_any_byte_may_change_and_no_wrong_answer_comes(sailed: Path, tmp_path: Path) -> None:
    """Where a byte lies in no row (unused room, a counter of the file), the show may open; then all of it is right."""
    with Store.open(sailed) as store:
        head, journal, old = store.head(), store.journal(), store.at(12)
    data = sailed.read_bytes()
    chance = random.Random(3)
    noticed = 0
    folder = tmp_path / "spoilt"
    for _ in range(150):
        shutil.rmtree(folder, ignore_errors=True)
        folder.mkdir()
        spoilt = bytearray(data)
        for place in {chance.randrange(len(data)) for _ in range(chance.choice([1, 1, 8]))}:
            spoilt[place] ^= 1 << chance.randrange(8)
        (folder / DATABASE).write_bytes(spoilt)
        try:
            with Store.open(folder / DATABASE) as store:
                assert (store.head(), store.journal(), store.at(12)) == (head, journal, old)
        except RollsoundError as error:
            noticed += 1
            assert "\n" not in str(error)
    assert noticed > 20
