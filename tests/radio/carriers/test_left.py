"""Whoever a search leaves out is put where the rules leave a place, and a proof claims no more than it shows."""

from __future__ import annotations

import pytest

from rollsound.errors import InputError
from rollsound.radio.carriers.audit import audit
from rollsound.radio.carriers.find import find
from rollsound.radio.carriers.task import Guard, Mode, Occupied, Product, Task, Wanted

MHZ = 1_000_000


def wanted(id: str, low: int, high: int, **more: object) -> Wanted:
    return Wanted(id, "m", low, high, 25_000, low, 200_000, **more)  # type: ignore[arg-type]


def test_nobody_is_left_out_where_the_rules_leave_a_place() -> None:
    # protection wider than spacing: the search keeps carriers apart by the wider, the rules do not ask for that
    guard = Guard("m", 25_000, {Product.TWO_THIRD: 100_000})
    task = Task({"m": guard}, tuple(wanted(id, 500 * MHZ, 500_225_000) for id in "ab"))
    assert audit(task, {"a": 500_100_000, "b": 500_125_000}).clean
    found = find(task, effort_moves=2_000)
    assert sorted(found.carriers_hz.values()) == [500_100_000, 500_125_000]
    assert found.audit.clean
    assert found.unplaced == ()


GUARD = Guard("m", 400_000, {Product.TWO_THIRD: 100_000, Product.THREE_THIRD: 50_000})


def crowded(**more: object) -> Task:
    """Room for two of three."""
    return Task({"m": GUARD}, tuple(wanted(f"p{n}", 470 * MHZ, 470_700_000, **more) for n in range(3)))


@pytest.mark.parametrize(
    ("mode", "proved"), [(Mode.ALL, True), (Mode.MOST, True), (Mode.REPAIR, False), (Mode.ADD, False)]
)
def test_only_searches_for_as_many_as_can_be_are_proved_by_their_number(mode: Mode, proved: bool) -> None:
    found = find(crowded(), mode, effort_moves=2_000)
    assert len(found.carriers_hz) == 2
    assert found.proved is proved


def test_nothing_is_proved_while_one_that_must_be_placed_is_not() -> None:
    assert not find(crowded(priority=1), Mode.ALL, effort_moves=2_000).proved


@pytest.mark.parametrize(
    ("now", "more", "told"),
    [
        (470_100_000, {"occupied": (Occupied(470 * MHZ, 470_050_000, 0, "television"),)}, "in occupied spectrum"),
        (470_110_000, {}, "off its steps"),
        (471 * MHZ, {}, "outside of its range"),
    ],
)
def test_one_that_cannot_stay_is_told_as_one(now: int, more: dict[str, object], told: str) -> None:
    task = Task({"m": GUARD}, (wanted("p0", 470 * MHZ, 470_700_000, now_hz=now, **more),))
    with pytest.raises(InputError, match=f"p0 cannot stay where it is \\({told}"):
        find(task, Mode.ADD, effort_moves=100)
