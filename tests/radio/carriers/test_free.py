"""The map of free carriers, and the check that follows moves, against the full check."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from rollsound.errors import InputError
from rollsound.radio.carriers import dense
from rollsound.radio.carriers.answer import Limit
from rollsound.radio.carriers.audit import audit, present, products
from rollsound.radio.carriers.free import FEW, free
from rollsound.radio.carriers.live import Live
from rollsound.radio.carriers.task import Guard, Occupied, Product, Task, Wanted

LOW = 470_000_000


def made(seed: int) -> tuple[Task, dict[str, int]]:
    dice = random.Random(seed)
    guards = {
        id: Guard(
            id,
            dice.choice([0, 300_000, 400_000]),
            {product: dice.choice([0, 25_000, 50_000, 100_000]) for product in Product},
        )
        for id in "xyz"
    }
    wanted = tuple(
        Wanted(
            f"t{n}",
            dice.choice("xyz"),
            LOW,
            LOW + 6_000_000,
            dice.choice([25_000, 20_000]),
            LOW,
            200_000,
            zone=dice.choice(["", "", "B"]),
            fixed=dice.random() < 0.2,
            within=dice.choice(["", "r"]),
        )
        for n in range(dice.randrange(2, 9))
    )
    task = Task(guards, wanted, (Occupied(LOW + 2_000_000, LOW + 2_500_000, 100_000),), {"r": 4_000_000})
    return task, {each.id: LOW + 12_500 * dice.randrange(480) for each in wanted}


@pytest.fixture(params=[FEW, 0], ids=["sorted", "marked"])
def marked(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> int:
    """Up to how many others the map is made without a compiled loop."""
    monkeypatch.setattr("rollsound.radio.carriers.free.FEW", request.param)
    return int(request.param)


@given(st.integers(0, 100_000))
@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_the_map_is_the_check_of_every_place(marked: int, seed: int) -> None:
    task, carriers = made(seed)
    new = replace(task.wanted[-1], fixed=False)
    # all others fixed: what counts is only what the new one takes part in
    task = replace(task, wanted=(*(replace(each, fixed=True) for each in task.wanted[:-1]), new))
    found = free(task, {id: freq for id, freq in carriers.items() if id != new.id}, new)
    alone = (Limit.RANGE, Limit.STEP, Limit.OCCUPIED)
    for freq in range(LOW, LOW + 6_000_001, 100_000):
        checked = audit(task, {**carriers, new.id: freq})
        places = [hold for hold in checked.broken if hold.limit in alone and hold.hit == new.id]
        heard = [hold for hold in checked.broken if hold.limit is Limit.WINDOW] if new.within else []
        at = [int(margin) for f, margin in zip(found.freqs_hz, found.margin_hz, strict=True) if f == freq]
        if places:
            assert not at
        elif not heard:
            assert at == [checked.margin_hz]


def test_the_best_are_told_widest_first() -> None:
    task, carriers = made(5)
    new = replace(task.wanted[0], id="new", fixed=False, within="")
    best = free(task, carriers, new).best(5)
    assert [margin for _, margin in best] == sorted((margin for _, margin in best), reverse=True)
    assert all(margin >= 0 for _, margin in best)


@pytest.fixture(params=[dense.FEW, 0], ids=["all at once", "with the kernels"])
def few(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> int:
    """Up to how many carriers are checked without kernels."""
    monkeypatch.setattr(dense, "FEW", request.param)
    return int(request.param)


def walk(task: Task, carriers: dict[str, int], dice: random.Random, moves: int, cells: int) -> None:
    """Move, take off and put back at random: after each, the live check is the full check to the last relation."""
    carriers = dict(carriers)
    live = Live(task, carriers)
    for _ in range(moves):
        id = dice.choice(task.wanted).id
        if dice.random() < 0.2:
            live.remove(id)
            carriers.pop(id, None)
        else:
            carriers[id] = LOW + 12_500 * dice.randrange(cells)
            assert live.move(id, carriers[id]) == live.audit
        assert live.audit == audit(task, carriers, listed=100)
        assert live.carriers_hz == carriers


@given(st.integers(0, 100_000))
@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_after_any_moves_the_live_check_is_the_full_check(few: int, seed: int) -> None:
    task, carriers = made(seed)
    walk(task, carriers, random.Random(seed), 6, 480)


@pytest.mark.parametrize(("most", "width"), [(100, 200), (60, 12)])
def test_after_moves_of_many_the_live_check_is_the_full_check(most: int, width: int) -> None:
    """Of many in wide spectrum, where carriers keep what is asked, and in narrow, where next to nobody does."""
    dice = random.Random(most)
    task, _ = made(9)
    wanted = tuple(
        replace(
            task.wanted[n % len(task.wanted)], id=f"t{n}", fixed=dice.random() < 0.1, zone="B" if n % 9 == 0 else ""
        )
        for n in range(most)
    )
    task = replace(task, wanted=wanted)
    cells = width * 80
    walk(task, {each.id: LOW + 12_500 * dice.randrange(cells) for each in wanted}, dice, 12, cells)


@given(st.integers(0, 100_000))
@settings(max_examples=40, deadline=None)
def test_the_check_of_few_is_the_check_with_kernels(seed: int) -> None:
    """The same relations from both ways of measuring, the same one named of those alike."""
    task, carriers = made(seed)
    here = present(task, carriers)
    found = audit(task, carriers)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(dense, "FEW", 0)
        again = products(here)
        assert audit(task, carriers) == found
    assert sorted(again.codes.tolist()) == sorted(products(here).codes.tolist())


def test_who_is_not_of_the_plan_cannot_be_moved() -> None:
    task, carriers = made(1)
    with pytest.raises(InputError, match="nobody is not among the transmitters"):
        Live(task, carriers).move("nobody", LOW)
