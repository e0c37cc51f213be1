"""The search's own audit, and what it finds, against a check that shares no code with either."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from pathlib import Path

import brute
import made
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rollsound.errors import InputError
from rollsound.radio.carriers import instances
from rollsound.radio.carriers.audit import audit
from rollsound.radio.carriers.find import find
from rollsound.radio.carriers.task import Mode, Task, Wanted

DATA = Path(__file__).parents[2] / "reference" / "carriers"


@settings(max_examples=100, deadline=None)
@given(st.data())
def test_the_audit_finds_what_the_checker_finds(data: st.DataObject) -> None:
    """Three assignments of each of a hundred requests: every broken relation by name, their counts, and the margin."""
    task = data.draw(made.tasks())
    for _ in range(3):
        carriers = data.draw(made.assignments(task))
        found = audit(task, carriers)
        assert {limit.value: count for limit, count in found.counts.items() if count} == brute.counts(task, carriers)
        listed = sorted((hold.limit.value, hold.hit, sorted(hold.sources)) for hold in found.broken)
        assert listed == sorted((limit, hit, sorted(sources)) for limit, hit, sources in brute.broken(task, carriers))
        assert found.clean == (not listed)
        margins = [hold.margin_hz for hold in found.set_by.values()]
        assert min(margins, default=None) == brute.margin_hz(task, carriers)


@pytest.mark.parametrize("name", ["S1", "S2", "S3z"])
def test_the_audit_counts_as_the_checker_on_the_instances(name: str) -> None:
    """Many transmitters of two kinds, at random and on a lattice that makes products by the thousand."""
    task, _ = instances.read((DATA / f"{name}.json").read_text("utf-8"), name)
    rng = np.random.default_rng(7)
    total: Counter[str] = Counter()
    for pitch in (25_000, 25_000, 2_000_000):
        cells = [(each.high_hz - each.low_hz) // pitch for each in task.wanted]
        carriers = {
            each.id: each.low_hz + 100_000 + int(rng.integers(0, cell)) * pitch
            for each, cell in zip(task.wanted, cells, strict=True)
        }
        counts = brute.counts(task, carriers)
        assert {limit.value: count for limit, count in audit(task, carriers).counts.items() if count} == counts
        total.update(counts)
    assert {"spacing", "2A-B", "A+B-C"} <= set(total)
    assert total["A+B-C"] > 100


def test_the_made_assignments_break_every_rule() -> None:
    """What is compared is worth comparing: broken relations of every sort come up, and clean assignments too."""
    seen: Counter[str] = Counter()

    @settings(max_examples=100, deadline=None, derandomize=True, database=None)
    @given(st.data())
    def look(data: st.DataObject) -> None:
        task = data.draw(made.tasks())
        counts = brute.counts(task, data.draw(made.assignments(task)))
        seen.update(counts.keys() or ["clean"])

    look()
    wanted = {"clean", "spacing", "2A-B", "A+B-C", "3A-2B", "3A-B-C", "2A+B-2C", "range", "occupied", "step", "window"}
    assert wanted <= set(seen)


def with_spares(task: Task, spares_hz: dict[str, tuple[int, ...]]) -> tuple[Task, dict[str, int]]:
    """The task with a transmitter more for every spare, and where these are."""
    by_id = {each.id: each for each in task.wanted}
    more: list[Wanted] = []
    carriers: dict[str, int] = {}
    for owner, freqs in spares_hz.items():
        for n, freq in enumerate(freqs):
            more.append(replace(by_id[owner], id=f"{owner}/spare-{n}", fixed=False))
            carriers[more[-1].id] = freq
    return replace(task, wanted=(*task.wanted, *more)), carriers


def keeps_every_promise(task: Task, mode: Mode, seed: int, moves: int) -> None:
    """What is found is clean for the checker, with all spares on too, and says of everybody where or why not."""
    now = {each.id: each.now_hz for each in task.wanted if each.now_hz is not None}
    try:
        plan = find(task, mode, seed=seed, effort_moves=moves)
    except InputError:
        # nothing can be added beside carriers that collide as they are
        assert mode is Mode.ADD
        assert brute.broken(task, now)
        return
    assert brute.broken(task, plan.carriers_hz) == []
    assert plan.audit.clean
    assert {**plan.audit.margins_hz}.keys() == plan.carriers_hz.keys()
    left = [each.id for each in plan.unplaced]
    assert sorted([*plan.carriers_hz, *left]) == sorted(each.id for each in task.wanted)
    for each in task.wanted:
        if each.fixed:
            assert plan.carriers_hz.get(each.id, each.now_hz) == each.now_hz
    margins = [hold.margin_hz for hold in plan.audit.set_by.values()]
    assert min(margins, default=None) == brute.margin_hz(task, plan.carriers_hz)
    if plan.bound is not None:
        assert len(plan.carriers_hz) <= plan.bound.most
    bigger, spares = with_spares(task, plan.spares_hz)
    assert brute.broken(bigger, {**plan.carriers_hz, **spares}) == []
    if mode in (Mode.ADD, Mode.REPAIR) and not brute.broken(task, now):
        assert {name: plan.carriers_hz.get(name) for name in now} == now
        assert plan.moved == ()
    if mode is Mode.ADD:
        kept = {name: freq for name, freq in now.items() if name in plan.carriers_hz}
        assert all(plan.carriers_hz[name] == freq for name, freq in kept.items())


@pytest.mark.parametrize("mode", list(Mode))
@settings(max_examples=25, deadline=None)
@given(made.tasks(7), st.integers(0, 3))
def test_every_plan_that_is_found_is_clean_for_the_checker(mode: Mode, task: Task, seed: int) -> None:
    keeps_every_promise(task, mode, seed, 200)


@pytest.mark.parametrize("name", ["S1", "S1b", "S4_6", "S4_8"])
def test_plans_for_the_instances_are_clean_for_the_checker(name: str) -> None:
    task, mode = instances.read((DATA / f"{name}.json").read_text("utf-8"), name)
    keeps_every_promise(task, mode, 1, 2_000)
