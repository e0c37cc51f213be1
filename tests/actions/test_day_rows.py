"""Which line of a sheet is a take's."""

from __future__ import annotations

from pathlib import Path

from rollsound.actions.day import row_of
from rollsound.log.sheet import TakeRow


def test_the_monos_of_take_10_are_not_those_of_take_1() -> None:
    rows = [TakeRow(file="S214_T1", take="1"), TakeRow(file="S214_T10", take="10")]

    def take_of(*names: str) -> str | None:
        found = row_of([Path(name) for name in names], rows)
        return found.take if found else None

    assert take_of("S214_T10_1.wav", "S214_T10_2.wav") == "10"
    assert take_of("S214_T1_1.wav", "S214_T1_2.wav") == "1"
    assert take_of("S214_T1.wav") == "1"
    assert take_of("S214_T11_1.wav", "S214_T11_2.wav") is None
