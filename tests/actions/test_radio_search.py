"""Searches for carriers that are cut short, and what is saved of a plan that has no room for everybody."""

from __future__ import annotations

from pathlib import Path

from rollsound.actions.radio import plan, read, save_plan
from rollsound.actions.radio_search import find_within
from rollsound.radio.carriers.audit import audit
from rollsound.radio.carriers.task import Guard, Mode, Product, Task, Wanted

MHZ = 1_000_000


def task_of(count: int, width_mhz: int) -> Task:
    guard = Guard("mic", 400_000, {Product.TWO_THIRD: 100_000, Product.THREE_THIRD: 50_000})
    low, high = 470 * MHZ, (470 + width_mhz) * MHZ
    wanted = tuple(Wanted(f"m{n}", "mic", low, high, 25_000, low, 200_000) for n in range(count))
    return Task({"mic": guard}, wanted)


def test_seconds_cut_a_search_short_that_would_not_end() -> None:
    task = task_of(30, 24)  # more than anybody has placed there, so it never ends by itself
    found = find_within(task, Mode.MOST, seconds=0.05, effort_moves=10**9)
    assert found.stopped
    assert audit(task, found.carriers_hz).clean


def test_who_asks_to_stop_is_heard_before_the_seconds_are_over() -> None:
    found = find_within(task_of(30, 24), Mode.MOST, seconds=3_600, stop=lambda: True)
    assert found.stopped


def test_who_has_no_room_is_told_to_stay_off_when_the_plan_is_saved(tmp_path: Path) -> None:
    text = "radio:\n  transmitters:\n" + "".join(
        f"    - {{id: p{n}, name: Pack {n}, tuning: 470-471 MHz, power: 10 mW, frequency: {470.1 + n * 0.1:.3f} MHz}}\n"
        for n in range(5)
    )
    path = tmp_path / "small.yaml"
    path.write_text(text, "utf-8")
    asked = read(path)
    found = plan(asked, Mode.MOST, moves=2_000)
    left = [each.name for each in found.unplaced]
    assert left
    told = save_plan(asked, found).saved
    assert told is not None
    assert "switched off" in told.sentence
    assert left[0] in told.sentence
    again = read(path)
    assert again.wanted(found.unplaced[0].id).now_hz is not None, "what was written stays"
