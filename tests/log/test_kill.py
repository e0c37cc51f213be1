"""Two clients write and are killed at random moments: what was acknowledged is there, once; the show opens clean."""

from __future__ import annotations

import contextlib
import multiprocessing
import os
import random
import time
from pathlib import Path

import pytest
from aboard import MINA
from writer import write

from rollsound.log.changes import apply
from rollsound.log.model import DATABASE
from rollsound.log.store import Store

# Programs of their own; where the system can, they are split off one that has loaded everything already.
_PROGRAMS = multiprocessing.get_context("spawn" if os.name == "nt" else "forkserver")
NAMES = ("Ane", "Ivo")


class Client:
    """A writer in a program of its own, and what it was told was kept."""

    def __init__(self, path: Path, name: str) -> None:
        self.name = name
        self._told, theirs = _PROGRAMS.Pipe(duplex=False)
        self._program = _PROGRAMS.Process(target=write, args=(path, name, theirs), daemon=True)
        self._program.start()
        theirs.close()
        assert self._told.recv() == "ready"

    def wait_for_first(self) -> tuple[int, int]:
        """Wait until one edit was acknowledged; its step and its entry."""
        return _acknowledged(self._told.recv())

    def kill(self) -> list[tuple[int, int]]:
        """Kill it, and return the rest of what was acknowledged."""
        assert self._program.is_alive(), "it ended by itself"
        self._program.kill()
        self._program.join()
        rest = []
        # A word that was cut off was never told.
        with contextlib.suppress(EOFError, ConnectionResetError):
            while True:
                rest.append(_acknowledged(self._told.recv()))
        self._told.close()
        self._program.close()
        return rest


def _acknowledged(told: object) -> tuple[int, int]:
    assert isinstance(told, tuple), told
    return told


def rounds(path: Path, count: int, seed: int) -> dict[str, int]:
    """Kill both clients so often, at random moments; returns how many edits each was acknowledged."""
    chance = random.Random(seed)
    Store.create(path, {"counts": {}}, {}, MINA).close()
    if os.name != "nt":
        _PROGRAMS.set_forkserver_preload(["rollsound.log.store", "sqlalchemy.dialects.sqlite"])
    known: dict[str, dict[int, int]] = {name: {} for name in NAMES}
    for turn in range(count):
        clients = [Client(path, name) for name in NAMES]
        # Now and then they are killed while they open the show, else while both are writing.
        if chance.random() < 0.85:
            for client in clients:
                known[client.name].update([client.wait_for_first()])
        time.sleep(chance.uniform(0, 0.15))
        chance.shuffle(clients)
        for client in clients:
            known[client.name].update(client.kill())
            time.sleep(chance.choice([0, chance.uniform(0, 0.03)]))
        with Store.open(path) as store:
            _nothing_is_lost(store, known, whole=turn % 20 == 19 or turn == count - 1)
    return {name: len(steps) for name, steps in known.items()}


def _nothing_is_lost(store: Store, known: dict[str, dict[int, int]], *, whole: bool) -> None:
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
    counts = rounds(tmp_path / DATABASE, 10, seed=1)
    assert min(counts.values()) > 0


@pytest.mark.soak
def test_two_hundred_kills_lose_nothing(tmp_path: Path) -> None:
    counts = rounds(tmp_path / DATABASE, 200, seed=2)
    print(f"acknowledged: {counts}")
    assert min(counts.values()) > 200
