"""Housekeeping goes on after a fault."""

from __future__ import annotations

import threading

import pytest

from rollsound.web import housekeeping
from rollsound.web.desk import Desk


def test_a_fault_does_not_end_it(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(housekeeping, "_LOOK_S", 0.01)
    keeping = housekeeping.Housekeeping(desk)
    looks: list[int] = []
    twice = threading.Event()

    def look() -> None:
        looks.append(1)
        if len(looks) > 1:
            twice.set()
        raise ValueError("odd")

    monkeypatch.setattr(keeping, "look", look)
    keeping.start()
    assert twice.wait(10)
    keeping.stop()
