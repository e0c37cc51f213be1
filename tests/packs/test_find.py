"""The search for a pack plan: against every plan there is, its proofs, its steadiness."""

from __future__ import annotations

from hypothesis import given, settings
from tests.packs.every_plan import best_cost, fewest_rerigs
from tests.packs.pack_parts import NAMES, booms, packs, person, slot, small_tasks

from rollsound.packs.alike import alike_packs, by_first_wearer
from rollsound.packs.check import faults
from rollsound.packs.counting import cost, rerigs
from rollsound.packs.exact import solve_day
from rollsound.packs.find import SoFar, find
from rollsound.packs.first import first_plan
from rollsound.packs.task import Cover, Level, PackTask

ALL = tuple(person(name) for name in NAMES)


@settings(max_examples=40, deadline=None)
@given(small_tasks())
def test_no_plan_is_better(task: PackTask) -> None:
    found = find(task)
    assert found.proved
    assert cost(task, found.worn) == best_cost(task) == tuple(each.value for each in found.reached)


@settings(max_examples=25, deadline=None)
@given(small_tasks(kept=True))
def test_no_plan_is_nearer_to_the_kept_one(task: PackTask) -> None:
    found = find(task)
    assert found.proved
    assert cost(task, found.worn) == best_cost(task)


@settings(max_examples=150, deadline=None)
@given(small_tasks(kept=True))
def test_first_answers_break_no_rule_and_their_rerigs_are_laid_best(task: PackTask) -> None:
    worn = first_plan(task)
    assert faults(task, worn) == []
    for day in task.days:
        here = {key: (cover.packs, cover.boom) for key, cover in worn.items() if task.slots[key[0]].day == day}
        assert sum(each.price for each in rerigs(task, day, worn)) == fewest_rerigs(task, day, here)


def test_whoever_has_packs_enough_keeps_one_all_through_at_once() -> None:
    days = [
        slot(day, f"{day}{part}", "scene" if part else "day", *NAMES[day % 3 :: 2])
        for day in (1, 2, 3)
        for part in (0, 1)
    ]
    found = find(PackTask(packs(14), booms(3), ALL, tuple(days)))
    assert found.proved
    assert found.moves == 0
    assert [each.value for each in found.reached] == [0, 0, 0, 0, 0, 0, len(NAMES)]


def test_a_rerig_is_laid_in_the_break_even_when_that_is_earlier() -> None:
    scenes = (slot(1, "1", "day", "Bram", "Runa"), slot(1, "2", "break", "Runa"), slot(1, "3", "scene", "Haru", "Runa"))
    task = PackTask(packs(2), (), ALL, scenes)
    found = find(task)
    (only,) = rerigs(task, "day-1", found.worn)
    assert (only.slot, only.needed, only.price) == (1, 2, 1)
    assert (only.off, only.to) == ("bram", "haru")


def test_booms_cover_whom_packs_cannot_and_the_fewest_words_go_without() -> None:
    task = PackTask(packs(1), booms(1), ALL, (slot(1, "4", "day", *NAMES[:4], words=(50, 3, 40, 30)),), boom_covers=1)
    found = find(task)
    assert found.proved
    covers = {who: found.worn[0, who] for who in ("bram", "idris", "runa", "tomasz")}
    assert covers == {
        "bram": Cover(("pack-01",)),
        "runa": Cover((), True),
        "idris": Cover(),
        "tomasz": Cover(),
    }


def test_a_pack_that_fails_moves_nobody_else() -> None:
    days = tuple(slot(day, str(day), "day", *NAMES[:5]) for day in (1, 2, 3))
    before = find(PackTask(packs(6, spare={6: True}), booms(1), ALL, days)).worn
    lost = before[1, "runa"].packs[0]
    has = tuple(
        pack if pack.id != lost else type(pack)(pack.id, pack.name, pack.track, out=frozenset({"day-2"}))
        for pack in packs(6, spare={6: True})
    )
    after = find(PackTask(has, booms(1), ALL, days, kept=before)).worn
    assert {key for key in before if before[key] != after[key]} == {(1, "runa")}
    assert after[1, "runa"].packs == ("pack-06",)


def test_the_same_seed_gives_the_same_plan_and_stopping_keeps_the_best() -> None:
    people = tuple(person(name, small=n % 2 == 0) for n, name in enumerate(NAMES[:5]))
    days = tuple(
        slot(day, f"{day}.{part}", ("day", "scene", "break")[part], *NAMES[(day + part) % 3 : 5 : 2 - part % 2])
        for day in range(1, 4)
        for part in range(3)
    )
    task = PackTask(packs(3, small={2: True}), booms(1), people, days)
    told: list[SoFar] = []
    whole = find(task, seed=3, moves=3, progress=told.append)
    assert whole.worn == find(task, seed=3, moves=3).worn
    assert [each.cost for each in told] == sorted((each.cost for each in told), reverse=True)
    stopped = find(task, seed=3, stop=lambda: True)
    assert stopped.stopped
    assert stopped.worn == find(task, moves=0).worn
    assert not stopped.proved
    assert cost(task, whole.worn) < cost(task, stopped.worn)
    assert stopped.reached[Level.UNCOVERED].least <= whole.reached[Level.UNCOVERED].value


def test_a_day_with_more_wearers_than_packs_is_proven_whatever_pack_of_those_alike_it_is() -> None:
    scenes = (
        slot(1, "1", "day", *NAMES[:7]),
        slot(1, "2", "scene", *NAMES[4:]),
        slot(1, "3", "break", *NAMES[::2]),
        slot(1, "4", "scene", *NAMES[1::2]),
    )
    task = PackTask(packs(7, small={2: True, 5: True}), booms(1), ALL, scenes)
    found = solve_day(task, "day-1", first_plan(task), effort=4.0, seed=0, stop=lambda: False)
    assert found.proved
    assert faults(task, found.worn) == []
    assert found.cost[Level.UNCOVERED] == found.cost[Level.BOOM_ALONE] == 0
    assert found.cost[Level.RERIGS] >= len(NAMES) - 7
    assert {pack for cover in found.worn.values() for pack in cover.packs} == {pack.id for pack in task.packs}


@settings(max_examples=60, deadline=None)
@given(small_tasks())
def test_alike_packs_in_the_order_of_their_first_wearers_cost_the_same(task: PackTask) -> None:
    order = ["runa", "bram", "idris"]
    before = first_plan(task)
    after = by_first_wearer(task, before, order)
    assert faults(task, after) == []
    assert cost(task, after) == cost(task, before)
    for alike in alike_packs(task):
        first = [[order.index(who) for (_, who), cover in after.items() if pack in cover.packs] for pack in alike]
        firsts = [min(each, default=len(order)) for each in first]
        assert firsts == sorted(firsts)
