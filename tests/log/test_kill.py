"""Two clients write and are killed at random moments: what was acknowledged is there, once; the show opens clean."""

from __future__ import annotations

from pathlib import Path

import pytest
from aboard import MINA
from killing import NAMES, Known, rounds
from writer import LINES, write, write_log

from rollsound.log.changes import apply
from rollsound.log.daybook import LogBook
from rollsound.log.model import DATABASE
from rollsound.log.store import Store


def _plan(path: Path, count: int, seed: int) -> dict[str, int]:
    Store.create(path, {"counts": {}}, {}, MINA).close()

    def look(known: Known, whole: bool) -> None:
        with Store.open(path) as store:
            _nothing_is_lost(store, known, whole=whole)

    return rounds(path, write, count, seed, look)


def _nothing_is_lost(store: Store, known: Known, *, whole: bool) -> None:
    head = store.head()
    entries = store.journal(limit=10**6)
    assert [entry.number for entry in entries] == list(range(head.revision, 0, -1))
    for name, acknowledged in known.items():
        kept = {entry.changes[0].after: entry.number for entry in reversed(entries) if entry.author.person == name}
        steps = [entry.changes[0].after for entry in reversed(entries) if entry.author.person == name]
        assert steps == list(range(1, len(steps) + 1)), "an edit is there twice, or is missing"
        for step, number in acknowledged.items():
            assert kept.get(step) == number, f"{name} was told that edit {step} is entry {number}"
        assert head.document["counts"].get(name, 0) == len(steps)
    if whole:
        document = {"counts": {}}
        for entry in reversed(entries):
            document = apply(document, entry.changes)
        assert document == head.document
        assert store.at(1) == {"counts": {}}


def test_ten_kills_lose_nothing(tmp_path: Path) -> None:
    counts = _plan(tmp_path / DATABASE, 10, seed=1)
    assert min(counts.values()) > 0


@pytest.mark.soak
def test_two_hundred_kills_lose_nothing(tmp_path: Path) -> None:
    counts = _plan(tmp_path / DATABASE, 200, seed=2)
    print(f"acknowledged: {counts}")
    assert min(counts.values()) > 200


def _log(path: Path, count: int, seed: int) -> dict[str, int]:
    Store.create(path, {"counts": {}}, {}, MINA).close()

    def look(known: Known, whole: bool) -> None:
        with Store.open(path) as store:  # which proves the lines against the journal
            if whole or count < 50:  # opening has proven the rest
                _no_line_is_lost(store, known)

    return rounds(path, write_log, count, seed, look)


def _no_line_is_lost(store: Store, known: Known) -> None:
    assert store.head().revision == 1
    entries = {entry.number: entry for entry in store.journal(limit=10**6)}
    book = LogBook(store)
    for name in NAMES:
        written = [entry for entry in entries.values() if entry.author.person == name]
        lines = {line.id: line for line in book.lines() if line.by.person == name}
        # One of three steps writes a line, the others change it.
        assert len(lines) == -(-len(written) // LINES), "a step is there twice, or is missing"
        for step, number in known[name].items():
            entry = entries[number]
            assert entry.author.person == name, f"{name} was told that step {step} is entry {number}"
            line = lines[f"{name.lower()}-{step - step % LINES}"]
            assert line.fields["text"].startswith(name)
            if step % LINES:
                assert line.fields["track"] >= str(step % LINES)


def test_ten_kills_lose_no_line(tmp_path: Path) -> None:
    counts = _log(tmp_path / DATABASE, 10, seed=3)
    assert min(counts.values()) > 0


@pytest.mark.soak
@pytest.mark.parametrize("seed", [4, 5, 6, 7])
def test_two_hundred_kills_lose_no_line(tmp_path: Path, seed: int) -> None:
    """Fifty in each of four shows: in one alone, most of the time goes into opening what has grown."""
    counts = _log(tmp_path / DATABASE, 50, seed=seed)
    print(f"acknowledged: {counts}")
    assert min(counts.values()) > 50
