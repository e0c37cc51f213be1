"""The day in minutes, and the fewest changes with most of them in breaks."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from power_parts import DAY, battery, part, supply

from rollsound.power.day import clock, day_of, span_of, stretches
from rollsound.power.model import Phase
from rollsound.power.swaps import drained, swap_plan, time_at
from rollsound.power.tree import Step

HOUR = 60.0


def phase(id: str, start: str, end: str, **words: object) -> Phase:
    return Phase.model_validate({"id": id, "from": start, "to": end, **words})


def test_a_night_goes_on_past_midnight() -> None:
    night = day_of(call="18:00", wrap="04:30")
    assert (night.call_min, night.wrap_min) == (1080, 1710)
    assert span_of(night, "00:30", "01:15") == (1470, 1515)
    assert span_of(night, "23:30", "00:30") == (1410, 1470)
    assert clock(1710) == "04:30"
    assert not night.assumed
    assert day_of(call="06:00").assumed


def test_phases_from_the_general_to_the_particular() -> None:
    day = day_of("day-1", call="08:00", wrap="18:00")
    phases = (
        phase("prep", "07:00", "08:00", state="idle"),
        phase("lunch", "12:00", "13:00", state="idle", **{"break": True}),
        phase("song", "09:00", "10:00", state="asleep", day="day-2"),
        phase("off", "08:00", "12:30", state="off", supplies=["playback"]),
    )
    cart = stretches(day, phases, "cart")
    assert [(p.start_min, p.end_min, p.state, p.is_break) for p in cart] == [
        (420, 480, "idle", False),
        (480, 720, "working", False),
        (720, 780, "idle", True),
        (780, 1080, "working", False),
    ]
    playback = stretches(day, phases, "playback")
    assert [(p.start_min, p.end_min, p.state, p.is_break) for p in playback] == [
        (420, 480, "idle", False),
        (480, 720, "off", False),
        (720, 750, "off", True),
        (750, 780, "idle", True),
        (780, 1080, "working", False),
    ]
    assert stretches(day_of("day-2", call="08:00", wrap="18:00"), phases, "cart")[2].state == "asleep"


def test_without_phases_everything_works_from_call_to_wrap() -> None:
    (only,) = stretches(DAY, (), "cart")
    assert (only.start_min, only.end_min, only.state) == (420, 1140, "working")


@pytest.mark.parametrize(("wrong", "sentence"), [("7.30", "time of day"), ("25:00", "time of day")])
def test_a_time_that_is_none_is_refused(wrong: str, sentence: str) -> None:
    with pytest.raises(ValueError, match=sentence):
        phase("x", wrong, "09:00")


def day_with_breaks(*breaks: tuple[float, float], hours: float = 12.0, power_w: float = 10.0) -> list[Step]:
    edges = sorted({0.0, hours, *(edge for each in breaks for edge in each)})
    return [
        Step(a * HOUR, b * HOUR, power_w, any(start <= a and b <= end for start, end in breaks))
        for a, b in itertools.pairwise(edges)
    ]


def test_fewest_changes_are_put_into_breaks() -> None:
    plan = swap_plan(day_with_breaks((5, 5.5), (9, 9.25)), 70.0)  # 120 Wh of 70: one change, by hour 7
    assert [(swap.at_min / HOUR, swap.in_break) for swap in plan.swaps] == [(5.5, True)]
    assert plan.swaps[0].told == "05:00 to 05:30"
    assert plan.all_in_breaks is None


def test_a_change_is_told_with_the_part_of_its_break_that_serves() -> None:
    """120 Wh of 65: the second set lasts from 05:30 on, and the first until 06:30."""
    (swap,) = swap_plan(day_with_breaks((5, 6)), 65.0).swaps
    assert swap.told == "05:30 to 06:00"
    (swap,) = swap_plan(day_with_breaks((6, 7)), 65.0).swaps
    assert swap.told == "06:00 to 06:30"
    (swap,) = swap_plan(day_with_breaks((5, 5.75), (5.75, 6.5)), 65.0).swaps
    assert swap.told == "05:30 to 06:30", "two breaks that follow on each other are one"
    (swap,) = swap_plan(day_with_breaks(), 65.0).swaps
    assert (swap.told, swap.from_min) == ("06:30", None)


def test_an_early_change_is_not_taken_when_it_costs_another() -> None:
    """100 Wh a set, 120 Wh a day: a change at hour 1 would leave 110 Wh to the second set."""
    plan = swap_plan(day_with_breaks((0.5, 1.0)), 100.0)
    assert [(swap.at_min / HOUR, swap.in_break) for swap in plan.swaps] == [(10.0, False)]
    assert plan.all_in_breaks is None


def test_more_changes_that_are_all_in_breaks_are_offered() -> None:
    plan = swap_plan(day_with_breaks((3, 3.25), (6.5, 7)), 60.0)  # two sets of 60: a change at hour 6 exactly
    assert [(swap.at_min / HOUR, swap.in_break) for swap in plan.swaps] == [(6.0, False)]
    assert plan.all_in_breaks is not None
    assert [swap.at_min / HOUR for swap in plan.all_in_breaks] == [3.25, 7.0]


def test_while_nothing_is_drawn_is_as_good_as_a_break() -> None:
    steps = [Step(0, 300, 10, False), Step(300, 360, 0, False), Step(360, 720, 10, False)]
    (swap,) = swap_plan(steps, 60.0).swaps
    assert swap.in_break
    assert 300 <= swap.at_min <= 360


def test_a_battery_that_just_suffices_is_not_changed() -> None:
    assert swap_plan(day_with_breaks(), 120.0).swaps == ()
    assert len(swap_plan(day_with_breaks(), 119.0).swaps) == 1
    assert not swap_plan(day_with_breaks(), 0.0).fits
    assert not swap_plan(day_with_breaks(), 0.1).fits


days = st.lists(st.tuples(st.integers(0, 3), st.booleans()), min_size=1, max_size=7)


@given(days, st.integers(3, 9))
@settings(max_examples=60)
def test_the_plan_is_the_best_of_all_plans(day: list[tuple[int, bool]], battery_wh: int) -> None:
    """Held against every choice of changes on whole hours, where powers and batteries are whole numbers."""
    steps = [Step(n * HOUR, (n + 1) * HOUR, float(power), is_break) for n, (power, is_break) in enumerate(day)]
    plan = swap_plan(steps, float(battery_wh))
    total = drained(steps)
    least = max(0, -(-int(total) // battery_wh) - 1)
    assert plan.fits
    assert len(plan.swaps) == least
    spans = [(swap.at_min if swap.from_min is None else swap.from_min, swap.at_min) for swap in plan.swaps]
    for start, end in itertools.pairwise([(-1.0, -1.0), *spans, (1e9, 1e9)]):  # changed at whatever time is told
        inside = [Step(max(s.start_min, start[0]), min(s.end_min, end[1]), s.power_w, s.is_break) for s in steps]
        assert drained([s for s in inside if s.end_min > s.start_min]) <= battery_wh + 1e-3
    for earliest, latest in (span for span, swap in zip(spans, plan.swaps, strict=True) if swap.in_break):
        touched = [n for n in range(len(day)) if n * HOUR < latest - 1e-6 and (n + 1) * HOUR > earliest + 1e-6]
        assert all(day[n][1] or day[n][0] == 0 for n in touched)
    quiet = [n for n, (power, is_break) in enumerate(day) if is_break or power == 0]
    most = 0
    for times in itertools.combinations(range(1, len(day)), least):
        parts = itertools.pairwise([0, *times, len(day)])
        if all(sum(day[n][0] for n in range(a, b)) <= battery_wh for a, b in parts):
            most = max(most, sum(any(n in quiet for n in (t - 1, t)) for t in times))
    assert sum(swap.in_break for swap in plan.swaps) >= most


@given(days, st.floats(0.1, 20))
@settings(max_examples=60)
def test_time_at_is_when_it_was_taken(day: list[tuple[int, bool]], taken: float) -> None:
    steps = [Step(n * HOUR, (n + 1) * HOUR, float(power), False) for n, (power, _) in enumerate(day)]
    minute = time_at(steps, taken)
    if minute is None:
        assert drained(steps) <= taken + 1e-5
    else:
        before = [Step(s.start_min, min(s.end_min, minute), s.power_w, False) for s in steps if s.start_min < minute]
        assert drained(before) == pytest.approx(taken, abs=1e-5)


def test_parts_are_read_as_people_write_them() -> None:
    power = part(batteries=[battery(cold_factor={"-10": 0.7})], supplies=[supply(wire={"length": "2 m", "awg": 14})])
    assert power.batteries[0].capacity_wh == 100
    assert power.supplies[0].feeds[0].draw_w == 10
