"""The search: deterministic, clean at all times, and moving only what must be moved."""

from __future__ import annotations

from dataclasses import replace

import pytest
from tests.radio.carriers.brute import broken

from rollsound.errors import InputError
from rollsound.radio.carriers.audit import audit
from rollsound.radio.carriers.find import Found, find
from rollsound.radio.carriers.repair import cheapest_hit
from rollsound.radio.carriers.spares import switched_on
from rollsound.radio.carriers.task import Guard, Mode, Occupied, Product, Task, Wanted

MIC = Guard("mic", 400_000, {Product.TWO_THIRD: 100_000, Product.THREE_THIRD: 50_000})
LOW = 470_000_000


def task_of(count: int, width_mhz: int = 16, **more: object) -> Task:
    wanted = tuple(
        Wanted(f"m{n:02}", "mic", LOW, LOW + width_mhz * 1_000_000, 25_000, LOW, 200_000) for n in range(count)
    )
    return replace(Task({"mic": MIC}, wanted), **more)  # type: ignore[arg-type]


def on_air(task: Task, carriers_hz: dict[str, int]) -> Task:
    return replace(
        task, wanted=tuple(replace(e, now_hz=carriers_hz.get(e.id), on_air=e.id in carriers_hz) for e in task.wanted)
    )


def test_the_same_seed_gives_the_same_plan() -> None:
    task = task_of(10)
    assert find(task, effort_moves=1_500, seed=3) == find(task, effort_moves=1_500, seed=3)


def test_all_are_placed_clean_and_with_a_margin() -> None:
    task = task_of(10, occupied=(Occupied(LOW + 4_000_000, LOW + 6_000_000, 100_000),))
    plan = find(task, effort_moves=2_000)
    assert set(plan.carriers_hz) == {each.id for each in task.wanted}
    assert not broken(task, plan.carriers_hz)
    assert (plan.margin_hz or 0) >= 25_000


@pytest.mark.parametrize(("width_mhz", "most"), [(6, 10), (8, 12)])
@pytest.mark.source("gap bound and exhaustive search over a television channel, project notes", kind="practice")
def test_a_channel_is_filled_to_what_is_proved(width_mhz: int, most: int) -> None:
    plan = find(task_of(16, width_mhz), Mode.MOST, effort_moves=120_000)
    assert len(plan.carriers_hz) == most
    assert plan.proved
    assert len(plan.unplaced) == 16 - most


def test_all_products_are_kept_clear_of() -> None:
    guard = Guard("mic", 400_000, dict.fromkeys(Product, 50_000))
    task = replace(task_of(8, 24), guards={"mic": guard})
    plan = find(task, effort_moves=300)
    assert len(plan.carriers_hz) == 8
    assert not broken(task, plan.carriers_hz)


def test_a_repair_moves_only_what_a_new_carrier_hits() -> None:
    task = task_of(9)
    before = find(task, effort_moves=800).carriers_hz
    hit = sorted(before, key=lambda id: before[id])[4]
    taken = Occupied(before[hit] - 40_000, before[hit] + 40_000, 50_000, "a strange carrier")
    asked = on_air(replace(task, occupied=(taken,)), before)
    plan = find(asked, Mode.REPAIR, effort_moves=1_000)
    assert plan.moved == (hit,)
    assert {id: freq for id, freq in plan.carriers_hz.items() if id != hit} == {
        id: freq for id, freq in before.items() if id != hit
    }
    assert not broken(asked, plan.carriers_hz)


def test_a_clean_plan_is_not_touched_by_a_repair() -> None:
    task = task_of(8)
    before = find(task, effort_moves=200).carriers_hz
    plan = find(on_air(task, before), Mode.REPAIR, effort_moves=500)
    assert plan.carriers_hz == before
    assert not plan.moved


def test_one_more_is_added_and_nobody_moved() -> None:
    task = task_of(8)
    before = {id: freq for id, freq in find(task, effort_moves=200).carriers_hz.items() if id != "m03"}
    plan = find(on_air(task, before), Mode.ADD, effort_moves=500)
    assert not plan.moved
    assert before.items() <= plan.carriers_hz.items()
    assert "m03" in plan.carriers_hz
    assert not broken(task, plan.carriers_hz)


def test_nothing_is_added_to_carriers_that_collide() -> None:
    task = task_of(3)
    asked = on_air(task, {"m00": LOW + 1_000_000, "m01": LOW + 1_100_000})
    with pytest.raises(InputError, match="m00 and m01 do not go together"):
        find(asked, Mode.ADD)


def test_fixed_carriers_stay_and_the_rest_goes_around_them() -> None:
    task = task_of(7)
    wanted = (replace(task.wanted[0], now_hz=LOW + 7_012_500, fixed=True), *task.wanted[1:])
    # off its own step: told, and never moved
    asked = replace(task, wanted=wanted)
    plan = find(asked, effort_moves=400)
    assert plan.carriers_hz["m00"] == LOW + 7_012_500
    assert len(plan.carriers_hz) == 7
    assert not broken(asked, plan.carriers_hz)


def test_who_must_be_placed_is_placed_first() -> None:
    task = task_of(16, 6)
    strong = Guard("monitor", 800_000, {Product.TWO_THIRD: 300_000, Product.THREE_THIRD: 200_000})
    wanted = tuple(replace(e, guard="monitor", priority=1) if n >= 14 else e for n, e in enumerate(task.wanted))
    asked = replace(task, guards={"mic": MIC, "monitor": strong}, wanted=wanted)
    plan = find(asked, Mode.MOST, effort_moves=4_000)
    assert {"m14", "m15"} <= set(plan.carriers_hz)
    assert not broken(asked, plan.carriers_hz)


def test_what_one_receiver_hears_lies_in_its_window() -> None:
    task = task_of(8, 24, windows_hz={"rack": 5_000_000})
    asked = replace(task, wanted=tuple(replace(e, within="rack" if n < 4 else "") for n, e in enumerate(task.wanted)))
    plan = find(asked, effort_moves=1_500)
    assert len(plan.carriers_hz) == 8
    assert not broken(asked, plan.carriers_hz)


def test_spares_may_all_be_switched_on_at_once() -> None:
    task = task_of(6, 24)
    asked = replace(task, wanted=tuple(replace(e, spares=1 if n < 4 else 0) for n, e in enumerate(task.wanted)))
    plan = find(asked, effort_moves=800)
    assert sum(len(spares) for spares in plan.spares_hz.values()) == 4
    all_on, carriers = switched_on(asked, plan.carriers_hz, plan.spares_hz)
    assert len(carriers) == 10
    assert not broken(all_on, carriers)


def test_zones_make_no_products_with_each_other() -> None:
    task = task_of(16, 8)
    asked = replace(task, wanted=tuple(replace(e, zone="AB"[n % 2]) for n, e in enumerate(task.wanted)))
    plan = find(asked, Mode.MOST, effort_moves=6_000)
    assert len(plan.carriers_hz) > 12
    assert not broken(asked, plan.carriers_hz)


def test_progress_is_clean_never_falls_and_a_stop_is_heeded() -> None:
    task = task_of(28, 24)
    heard: list[Found] = []
    plan = find(task, Mode.MOST, effort_moves=10**9, progress=heard.append, stop=lambda: len(heard) >= 5)
    assert plan.stopped
    assert len(heard) <= 8
    placed = [each.placed for each in heard]
    assert placed == sorted(placed)
    assert all(audit(task, each.carriers_hz).clean for each in heard)
    assert not broken(task, plan.carriers_hz)


def test_five_hundred_in_a_megahertz_end_at_once() -> None:
    task = task_of(500, 1)
    plan = find(task, Mode.ALL)
    assert plan.moves < 1_000
    assert len(plan.carriers_hz) == 2
    assert plan.bound is not None
    assert plan.bound.most == 2
    assert len(plan.unplaced) == 498


def test_steps_of_a_hertz_and_origins_that_do_not_agree() -> None:
    task = task_of(7)
    wanted = tuple(replace(e, step_hz=1 + 999 * n, origin_hz=LOW + 333 * n) for n, e in enumerate(task.wanted))
    asked = replace(task, wanted=wanted)
    plan = find(asked, effort_moves=200)
    assert len(plan.carriers_hz) == 7
    assert not broken(asked, plan.carriers_hz)


def test_the_cheapest_choice_of_whom_to_move() -> None:
    sets = {frozenset("ab"), frozenset("bc"), frozenset("bd")}
    assert cheapest_hit(sets, lambda id: 1) == {"b"}
    assert cheapest_hit(sets, lambda id: 10 if id == "b" else 1) == {"a", "c", "d"}
