"""The map of free carriers, and the check that follows moves, against the full check."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rollsound.errors import InputError
from rollsound.radio.carriers.answer import Limit
from rollsound.radio.carriers.audit import audit
from rollsound.radio.carriers.free import free
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


@given(st.integers(0, 100_000))
@settings(max_examples=25, deadline=None)
def test_the_map_is_the_check_of_every_place(seed: int) -> None:
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


@given(st.integers(0, 100_000))
@settings(max_examples=30, deadline=None)
def test_after_any_moves_the_live_check_is_the_full_check(seed: int) -> None:
    task, carriers = made(seed)
    dice = random.Random(seed)
    live = Live(task, carriers)
    for _ in range(5):
        id = dice.choice(task.wanted).id
        if dice.random() < 0.2:
            live.remove(id)
            carriers.pop(id, None)
        else:
            carriers[id] = LOW + 12_500 * dice.randrange(480)
            assert live.move(id, carriers[id]) == live.audit
        full = audit(task, carriers, listed=100)
        assert live.audit.margins_hz == full.margins_hz
        assert live.audit.counts == full.counts
        assert live.carriers_hz == carriers


def test_who_is_not_of_the_plan_cannot_be_moved() -> None:
    task, carriers = made(1)
    with pytest.raises(InputError, match="nobody is not among the transmitters"):
        Live(task, carriers).move("nobody", LOW)
