"""Programs that write into a show until they are killed, and tell of what was acknowledged."""

from __future__ import annotations

import contextlib
import multiprocessing
import os
import random
import time
from collections.abc import Callable
from multiprocessing.connection import Connection
from pathlib import Path

# Programs of their own; where the system can, they are split off one that has loaded everything already.
_PROGRAMS = multiprocessing.get_context("spawn" if os.name == "nt" else "forkserver")
NAMES = ("Ane", "Ivo")

Writer = Callable[[Path, str, Connection], None]
Known = dict[str, dict[int, int]]
"""By name: which step was acknowledged as which entry."""


class Client:
    """A writer in a program of its own, and what it was told was kept."""

    def __init__(self, path: Path, name: str, write: Writer) -> None:
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


def rounds(path: Path, write: Writer, count: int, seed: int, look: Callable[[Known, bool], None]) -> dict[str, int]:
    """Kill both clients so often, at random moments, and look after each time.

    Returns how many edits each was acknowledged.

    Parameters
    ----------
    look
        is given what was acknowledged so far, and whether to look at the whole
    """
    chance = random.Random(seed)
    if os.name != "nt":
        _PROGRAMS.set_forkserver_preload(["rollsound.log.store", "rollsound.log.daybook", "sqlalchemy.dialects.sqlite"])
    known: Known = {name: {} for name in NAMES}
    for turn in range(count):
        clients = [Client(path, name, write) for name in NAMES]
        # Now and then they are killed while they open the show, else while both are writing.
        if chance.random() < 0.85:
            for client in clients:
                known[client.name].update([client.wait_for_first()])
        time.sleep(chance.uniform(0, 0.15))
        chance.shuffle(clients)
        for client in clients:
            known[client.name].update(client.kill())
            time.sleep(chance.choice([0, chance.uniform(0, 0.03)]))
        look(known, turn % 20 == 19 or turn == count - 1)
    return {name: len(steps) for name, steps in known.items()}
