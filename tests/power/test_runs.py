"""Batteries in use over a day: hours, dry time, changes, what is owned, and what experienced mixers find plausible."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from power_parts import DAY, answered, battery, part, supply

from rollsound.kit.kinds import table
from rollsound.power.charging import charge_hours, jobs_of
from rollsound.power.day import Day, day_of
from rollsound.power.energy import runtime_h
from rollsound.power.load import Inside, Load
from rollsound.power.model import PowerPart
from rollsound.power.peukert import hours_from_rated


def cart(kinds: dict[str, int], *, efficiency: float = 1.0, **of_battery: Any) -> PowerPart:
    """A cart on one lithium iron phosphate battery, with kinds of the table and their numbers."""
    feeds = [
        {"id": id, "item": id, "count": number, "draw": f"{table()[id].draw_w:g} W"} for id, number in kinds.items()
    ]
    return PowerPart.model_validate(
        {
            "batteries": [{"id": "big", "name": "Big", "chemistry": "lifepo4", "voltage": "12.8 V", **of_battery}],
            "supplies": [{"id": "cart", "battery": "big", "efficiency": efficiency, "feeds": feeds}],
        }
    )


def hours_of(power: PowerPart, day: Day = DAY) -> float:
    (run,) = answered(power, day).runs
    return run.hours


@pytest.mark.source("location mixers: 150 Ah at 12.8 V carries a full main cart through a day", kind="practice")
def test_a_main_cart_runs_through_a_day() -> None:
    kinds = {"recorder-32": 1, "receiver-8-net": 2, "network-switch": 1, "antenna-distribution": 1}
    power = cart(kinds | {"monitor-transmitter": 2, "control-surface": 1}, ampere_hours="150 Ah")
    (run,) = answered(power).runs
    assert 80 <= run.working_w <= 130
    assert run.plan.swaps == ()
    assert run.hours * (1 - run.reserve) >= 12
    assert run.hours < 24


@pytest.mark.source("location mixers' practice: 60 Ah carries a receiver trolley two to three days", kind="practice")
def test_a_receiver_trolley_runs_two_to_three_days() -> None:
    power = cart({"receiver-8-net": 1, "network-fibre": 1}, ampere_hours="60 Ah")
    assert 2 <= hours_of(power) / 11 <= 3


@pytest.mark.source("location mixers' practice: 100 Ah carries a playback cart six to eight hours", kind="practice")
def test_a_playback_cart_runs_six_to_eight_hours() -> None:
    kinds = {"playback-computer": 2, "playback-interface": 2, "network-switch": 1, "monitor-transmitter": 2}
    kinds |= {"loop-amplifier": 1, "control-surface": 1, "recorder-16": 1, "tablet": 1}
    assert 6 <= hours_of(cart(kinds, efficiency=0.9, ampere_hours="100 Ah")) <= 8


@pytest.mark.source("energy balance; B-2 through a whole plan", kind="published")
def test_hours_are_those_of_the_formula() -> None:
    feeds = [{"id": "all", "item": "all", "draw": "85 W"}]
    power = part(
        batteries=[{"id": "b", "name": "B", "voltage": "12.8 V", "ampere_hours": "150 Ah", "depth": 0.9}],
        supplies=[{"id": "s", "battery": "b", "efficiency": 0.92, "feeds": feeds}],
    )
    day = day_of(call="07:00", wrap="19:00", coldest_c=25)
    assert hours_of(power, day) == pytest.approx(18.703, abs=0.0005)


@pytest.mark.source("Peukert's law, rated-hours form; B-10 through a whole plan", kind="published")
def test_lead_acid_gives_less_at_a_greater_current() -> None:
    feeds = [{"id": "all", "item": "all", "draw": "12 W"}]  # 1 A at 12 V
    lead = {"id": "b", "name": "B", "chemistry": "lead-acid", "voltage": "12 V", "ampere_hours": "7 Ah", "depth": 1}
    warm = day_of(call="07:00", wrap="19:00", coldest_c=25)
    power = part(batteries=[lead], supplies=[{"id": "s", "battery": "b", "feeds": feeds}])
    assert hours_of(power, warm) == pytest.approx(hours_from_rated(7, 20, 1.15, 1)) == pytest.approx(5.980, abs=5e-4)
    two = part(batteries=[lead], supplies=[{"id": "s", "battery": "b", "in_parallel": 2, "feeds": feeds}])
    assert hours_of(two, warm) == pytest.approx(hours_from_rated(14, 20, 1.15, 1))


@pytest.mark.source("two FR6 at 0.9 W behind 0.85; B-13 through a whole plan", kind="memory")
def test_cells_in_packs_are_one_set_each() -> None:
    feeds = [{"id": "a", "item": "pack", "draw": "0.9 W"}, {"id": "b", "item": "pack", "draw": "0.9 W", "count": 3}]
    cells = {"id": "aa", "name": "AA", "chemistry": "lithium", "cell": "fr6", "depth": 1, "count": 40}
    packs = {"id": "packs", "battery": "aa", "in_series": 2, "each": True, "efficiency": 0.85, "feeds": feeds}
    found = answered(part(batteries=[cells], supplies=[packs]), day_of(call="07:00", wrap="19:00", coldest_c=25))
    (run,) = found.runs
    assert (run.alike, run.names, run.name) == (4, ("a", "b"), "a and b")
    assert run.hours == pytest.approx(7.93, abs=0.005)
    assert len(run.plan.swaps) == 1
    (stock,) = found.stock
    assert (stock.in_use, stock.needed, stock.spares_needed, stock.missing) == (8, 16, 8, 0)


def test_packs_that_do_not_get_the_same_are_told_apart() -> None:
    feeds = [{"id": id, "item": "pack", "draw": draw} for id, draw in (("a", "10 W"), ("b", "10 W"), ("c", "5 W"))]
    packs = supply("packs", each=True, feeds=feeds)
    enough = answered(part(batteries=[battery(count=5)], supplies=[packs])).runs
    assert [(run.names or (run.name,), run.given) for run in enough] == [(("a", "b"), 2), (("c",), 1)]
    short = answered(part(batteries=[battery(count=4)], supplies=[packs])).runs
    assert [(run.name, run.given) for run in short] == [("a", 2), ("b", 1), ("c", 1)]


def test_a_converter_and_a_distributor_add_up_on_the_battery() -> None:
    power = part(
        batteries=[battery()],
        supplies=[
            supply("main", 10),
            supply("conv", 9, battery="", from_supply="main", efficiency=0.9, output="5 V"),
            supply("dist", 5, battery="", from_supply="main"),
        ],
    )
    found = answered(power)
    assert [run.working_w for run in found.runs] == [pytest.approx(25)]
    idle = [{"id": "x", "from": "07:00", "to": "19:00", "state": "off", "supplies": ["conv"]}]
    quiet = answered(power.model_validate({**power.model_dump(by_alias=True), "phases": idle}))
    assert quiet.runs[0].steps[0].power_w == pytest.approx(15)


@pytest.mark.source("P = V·I: a far end of 60 W at V takes 60/V, given at the source's voltage", kind="published")
def test_what_wires_lose_is_taken_out_of_the_battery() -> None:
    wire = {"length": "5 m", "section": "1.5 mm²", "fuse": "10 A"}
    feeds = [{"id": "far", "item": "far", "draw": "60 W", "wire": wire}]
    block = battery(chemistry="lifepo4", voltage="12.8 V", capacity="1000 Wh")
    found = answered(part(batteries=[block], supplies=[supply(feeds=feeds)]))
    (end,) = found.wires
    assert end.nominal_v < 12.3
    assert found.runs[0].working_w == pytest.approx(60 * 12.8 / end.nominal_v)
    conv = {"id": "conv", "from_supply": "cart", "output": "5 V", "efficiency": 0.9, "wire": wire}
    conv["feeds"] = [{"id": "far", "item": "far", "draw": "54 W"}]
    behind = answered(part(batteries=[block], supplies=[supply(feeds=[]), conv]))
    assert behind.runs[0].working_w == pytest.approx(found.runs[0].working_w)
    assert behind.day_runs.tree.input_w("conv", {}) == pytest.approx(60)


def test_age_cold_reserve_and_depth_multiply() -> None:
    blocks = [battery(depth=0.8, cycles=500, cycles_to_80=2000, cold_factor={"-10": 0.5, "20": 1.0})]
    day = day_of(call="07:00", wrap="19:00", coldest_c=-10)
    (run,) = answered(part(batteries=blocks, supplies=[supply()], reserve=0.2), day).runs
    assert run.usable_wh == pytest.approx(100 * 0.8 * 0.95 * 0.5)
    assert run.planned_wh == pytest.approx(run.usable_wh * 0.8)
    kept = supply(temperature="20 to 25 °C")
    (warm,) = answered(part(batteries=blocks, supplies=[kept]), day).runs
    assert warm.usable_wh == pytest.approx(100 * 0.8 * 0.95)


def test_a_site_of_its_own_counts_before_the_days_coldest() -> None:
    day = day_of(call="07:00", wrap="19:00", coldest_c=-10, site_coldest_c=(("hall", 15.0), ("quay", -10.0)))
    (run,) = answered(part(batteries=[battery()], supplies=[supply(site="hall")]), day).runs
    assert run.temperature_c == 15
    (unknown,) = answered(part(batteries=[battery()], supplies=[supply()]), day_of(call="07:00", wrap="19:00")).runs
    assert (unknown.temperature_c, unknown.temperature_known) == (20, False)


def test_batteries_are_shared_out_first_sets_first() -> None:
    """120 Wh a day each, 100 Wh a battery: two sets each; three are owned."""
    power = part(batteries=[battery(count=3)], supplies=[supply("a"), supply("b")])
    first, second = answered(power).runs
    assert (first.given, second.given) == (2, 1)
    assert first.flat_min is None
    flat = 7 * 60 + second.usable_wh * 6  # at 10 W, from the call
    assert second.flat_min == pytest.approx(flat)


def test_a_thing_with_its_own_battery_is_a_lane() -> None:
    day = day_of(call="07:00", wrap="19:00", coldest_c=25)
    box = Inside(Load("tc", "Time code box", 0.4), "li-ion", 3.7, 7.4, removable=False)
    (run,) = answered(part(), day, insides=[box]).runs
    assert run.hours == pytest.approx(7.4 * 0.9 / 0.4)
    assert run.plan.swaps == ()
    assert run.given == 1


@given(st.floats(1, 60), st.integers(1, 6), st.floats(0, 0.4), st.floats(-20, 30))
@settings(max_examples=40)
def test_sets_are_enough_and_no_fewer_would_be(load: float, count: int, reserve: float, degrees: float) -> None:
    day = day_of(call="07:00", wrap="19:00", coldest_c=degrees)
    power = part(batteries=[battery(count=count)], supplies=[supply(load_w=round(load, 2))], reserve=reserve)
    (run,) = answered(power, day).runs
    assert run.sets_needed * run.planned_wh >= run.day_wh - 1e-3
    assert (run.sets_needed - 1) * run.planned_wh < run.day_wh + 1e-3
    assert sum(run.set_wh) == pytest.approx(run.day_wh)
    assert all(taken <= run.planned_wh + 1e-3 for taken in run.set_wh)
    assert run.given == min(count, run.sets_needed)
    whole = runtime_h(100, load_w=round(load, 2), cold=run.cold.share)
    assert run.hours == pytest.approx(whole)
    assert (run.flat_min is None) == (run.given * run.usable_wh >= run.day_wh - 1e-6)


def night(**socket: Any) -> dict[str, Any]:
    return {"id": "hotel", "name": "Hotel", "most": "100 W", "temperature": "18 to 20 °C", "attended": True, **socket}


def test_charging_goes_by_need_within_the_power() -> None:
    power = part(
        batteries=[battery(count=4, charge_power="50 W")],
        supplies=[supply("a"), supply("b")],
        sockets=[night()],
    )
    plan = answered(power).charging
    assert [charge.job.number for charge in plan.charges] == [0, 0, 1, 1]
    for minute in range(1200, 1900, 7):
        beside = [c for c in plan.charges if c.start_min <= minute < c.end_min]
        assert sum(charge.job.charge_w for charge in beside) <= 100
    assert {charge.start_min for charge in plan.charges[:2]} == {20 * 60.0}
    assert plan.late == ()
    taken = sum(charge.job.taken_wh for charge in plan.charges)
    assert taken == pytest.approx(240)


def test_charging_that_cannot_be_done_is_late_or_nowhere() -> None:
    blocks = [battery(count=4, charge_power="50 W")]
    both = [supply("a"), supply("b")]
    slow = answered(part(batteries=blocks, supplies=both, sockets=[night(to="22:00", places=1)])).charging
    assert len(slow.late) == 4 - sum(charge.end_min <= 22 * 60 for charge in slow.charges)
    weak = answered(part(batteries=blocks, supplies=both, sockets=[night(most="40 W")])).charging
    assert all(charge.socket is None for charge in weak.charges)
    assert weak.late == weak.charges


def test_what_is_thrown_away_is_not_charged() -> None:
    cells = {"id": "block", "name": "AA", "chemistry": "alkaline", "cell": "lr6"}
    assert jobs_of(answered(part(batteries=[cells], supplies=[supply()])).runs) == ()


@pytest.mark.source("energy over power, with the charger's losses and slow end", kind="practice")
def test_hours_of_a_charge() -> None:
    assert charge_hours(95, 50, 0.95) == pytest.approx(2)
    assert charge_hours(95, 50, 0.95, 1.25) == pytest.approx(2.5)
    assert charge_hours(1, 0) == float("inf")


def test_after_a_night_the_sockets_wait_for_the_wrap() -> None:
    day = day_of(call="18:00", wrap="04:30", coldest_c=20)
    power = part(
        batteries=[battery(count=2, charge_power="50 W")],
        supplies=[supply()],
        sockets=[night(**{"from": "04:00", "to": "12:00"})],
    )
    assert answered(power, day).charging.charges[0].start_min == 1710
