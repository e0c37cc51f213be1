"""What the proofs of power find, each with its place, its numbers and the cheapest remedy; and that each can hold."""

from __future__ import annotations

import time
from typing import Any

import pytest
from power_parts import DAY, answered, battery, part, supply

from rollsound.finding import Area, Finding, Weight
from rollsound.power.answer import PowerAnswer
from rollsound.power.day import Day, day_of
from rollsound.power.load import Inside, Load, Unfed
from rollsound.power.model import PowerPart
from rollsound.power.naming import names_wrong, without_wrong
from rollsound.power.proofs import proofs
from rollsound.written import Band

LUNCH = {"id": "lunch", "from": "12:30", "to": "13:15", "state": "working", "break": True}
HOTEL = {"id": "hotel", "name": "Hotel", "most": "200 W", "temperature": "18 to 20 °C", "attended": True}


def found(answer: PowerAnswer, kind: str, weight: Weight | None = None) -> list[Finding]:
    return [each for each in proofs(answer) if each.kind == kind and (weight is None or each.weight is weight)]


def one(answer: PowerAnswer, kind: str, weight: Weight) -> Finding:
    (only,) = found(answer, kind, weight)
    return only


def whole(**lists: Any) -> PowerPart:
    """A part on which everything holds, with some lists replaced."""
    lasting = battery(capacity="300 Wh", charge_power="60 W")
    return part(**{"batteries": [lasting], "supplies": [supply()], "phases": [LUNCH], "sockets": [HOTEL], **lists})


def test_where_everything_holds_every_proof_says_so() -> None:
    result = proofs(answered(whole()))
    assert {each.weight for each in result} == {Weight.FINE}
    assert {each.area for each in result} == {Area.POWER}
    kinds = {each.kind for each in result}
    assert {"power plan", "loop of supplies", "battery named", "fed by something", "flat before wrap"} <= kinds
    assert {"spares", "temperature known", "charged by call", "charging in the cold"} <= kinds


def test_flat_before_wrap_with_its_numbers() -> None:
    blocks = [battery(charge_power="50 W")]
    flat = one(answered(whole(batteries=blocks, supplies=[supply(load_w=20)])), "flat before wrap", Weight.STOP)
    assert "Cart is flat at 11:5" in flat.what
    assert flat.refs[0].path == "plan#/power/supplies/cart"
    assert flat.numbers["day_wh"] == pytest.approx(240)
    assert flat.numbers["short_wh"] == pytest.approx(240 - flat.numbers["set_wh"])
    assert "Bring 2 more of Block" in flat.remedy


def test_the_cheapest_remedy_comes_first() -> None:
    """Idling over lunch saves enough; else batteries that lie unused; else more are brought."""
    short = whole(batteries=[battery(capacity="116 Wh", charge_power="50 W")])
    assert "switch it off in breaks" in one(answered(short), "flat before wrap", Weight.STOP).remedy
    other = battery("other", capacity="200 Wh", count=2)
    spare = whole(batteries=[battery(charge_power="50 W"), other], supplies=[supply(load_w=16)])
    assert "Run it on 1 of Other, of which 2 lie unused" in one(answered(spare), "flat before wrap", Weight.STOP).remedy


def test_on_the_reserve_only_is_watched() -> None:
    power = whole(batteries=[battery(capacity="130 Wh", charge_power="50 W")], reserve=0.2, phases=[])
    assert "reserve of 20 %" in one(answered(power), "flat before wrap", Weight.WATCH).what
    assert one(answered(power), "spares", Weight.WATCH).numbers["missing"] == 1


def test_a_built_in_battery_that_does_not_last() -> None:
    box = Inside(Load("tab", "Tablet", 6.0), "li-ion", 3.7, 30.0, False, ("rig", "pieces", "tab"))
    flat = one(answered(whole(), insides=[box]), "flat before wrap", Weight.STOP)
    assert flat.refs[0].path == "plan#/rig/pieces/tab"
    assert "Charge it for a while" in flat.remedy


def test_spares_against_those_owned() -> None:
    power = whole(batteries=[battery(count=3, charge_power="50 W")], supplies=[supply("a"), supply("b")])
    spares = one(answered(power), "spares", Weight.STOP)
    assert "takes 4 of Block (2 in use and 2 spares), and the plan has 3" in spares.what
    assert spares.refs[0].path == "plan#/power/batteries/block/count"
    cells = {"id": "block", "name": "AA", "chemistry": "alkaline", "cell": "lr6", "count": 1}
    assert "Buy" in one(answered(whole(batteries=[cells])), "spares", Weight.STOP).remedy


def test_changes_in_the_middle_of_work() -> None:
    """130 Wh a set at 20 W: the only change lies by 13:20; a break that ends at 13:15 takes it, one at 09:00 not."""
    blocks = [battery(capacity="130 Wh", count=3, charge_power="50 W")]
    in_lunch = whole(batteries=blocks, supplies=[supply(load_w=20)])
    assert one(answered(in_lunch), "change in a break", Weight.FINE).numbers["swaps"] == 1
    early = {**LUNCH, "from": "09:00", "to": "09:30"}
    outside = whole(batteries=blocks, supplies=[supply(load_w=20)], phases=[early])
    told = one(answered(outside), "change in a break", Weight.WATCH)
    assert "in the middle of work" in told.what
    assert "Plan a break by 13:" in told.remedy
    twice = whole(
        batteries=blocks,
        supplies=[supply(load_w=20)],
        phases=[early, {**LUNCH, "id": "b", "from": "15:00", "to": "15:10"}],
    )
    assert "1 set more, and no interruption" in one(answered(twice), "change in a break", Weight.WATCH).remedy
    running = whole(batteries=blocks, supplies=[supply(load_w=20, swappable_running=True)], phases=[early])
    assert found(answered(running), "change in a break", Weight.FINE)


def test_other_batteries_that_spare_a_change_are_named() -> None:
    """Cells of one size stand in for each other; those of another voltage do not."""
    feeds = [{"id": f"pack-{n}", "item": "thing", "draw": "1 W"} for n in range(3)]
    packs = supply("packs", battery="block", each=True, in_series=2, feeds=feeds)
    nimh = {**battery(chemistry="nimh", capacity="2.9 Wh", charge_power="1 W"), "voltage": "1.2 V", "count": 40}
    cold = {**battery("quay", chemistry="lithium", capacity="4.5 Wh", count=40), "voltage": "1.5 V"}
    told = one(answered(whole(batteries=[nimh, cold], supplies=[packs])), "change in a break", Weight.WATCH)
    assert told.what.startswith("pack-0, pack-1 and pack-2 must change batteries by ")
    assert "are off while" in told.what
    assert "run them on 12 of Quay, of which 40 lie unused (all changes in breaks)" in told.remedy
    high = {**cold, "voltage": "9 V"}
    told = one(answered(whole(batteries=[nimh, high], supplies=[packs])), "change in a break", Weight.WATCH)
    assert "take batteries of 3.09 Wh or more, which need one change less" in told.remedy


def test_no_battery_named() -> None:
    bare = one(answered(whole(supplies=[supply(battery="")])), "battery named", Weight.STOP)
    assert bare.refs[0].path == "plan#/power/supplies/cart"
    assert "Block" in bare.remedy
    assert found(answered(whole(supplies=[supply(battery="", mains=True)])), "battery named", Weight.FINE)


def test_an_overloaded_supply() -> None:
    feeds = [{"id": "a", "item": "a", "draw": "30 W"}, {"id": "b", "item": "b", "draw": "8 W"}]
    over = one(answered(whole(supplies=[supply(feeds=feeds, most="35 W")])), "supply overloaded", Weight.STOP)
    assert over.numbers == {"load_w": 38.0, "most_w": 35.0}
    assert "Feed b (8.0 W) from another supply" in over.remedy
    assert found(answered(whole(supplies=[supply(feeds=feeds, most="38 W")])), "supply overloaded", Weight.FINE)


def test_supplies_in_a_ring() -> None:
    ring = [supply("a", battery="", from_supply="b"), supply("b", battery="", from_supply="a"), supply("c")]
    told = one(answered(whole(supplies=ring)), "loop of supplies", Weight.STOP)
    assert "feeds" in told.what
    assert found(answered(whole(supplies=ring)), "flat before wrap")  # the rest is still worked out
    itself = [supply("a", battery="", from_supply="a"), *ring[:2]]
    itself[1:] = [{**each, "id": f"{each['id']}2", "from_supply": f"{each['from_supply']}2"} for each in itself[1:]]
    assert len(found(answered(whole(supplies=itself)), "loop of supplies", Weight.STOP)) == 2


def test_what_takes_power_and_is_fed_by_nothing() -> None:
    bare = Unfed("Stage box", 30.0, ("rig", "pieces", "box"))
    told = one(answered(whole(), unfed=[bare]), "fed by something", Weight.STOP)
    assert told.refs[0].path == "plan#/rig/pieces/box"
    assert "would last 7.3 h in place of 29.4 h" in told.remedy
    (nothing,) = proofs(answered(part(), unfed=[bare]))
    assert nothing.weight is Weight.WATCH
    assert "1 piece of the rig takes power (30 W" in nothing.what
    assert proofs(answered(part())) == []
    many = [Unfed(f"Box {n}", 5.0, ("rig", "pieces", f"box-{n}")) for n in range(7)]
    assert len(found(answered(whole(), unfed=many[:6]), "fed by something", Weight.STOP)) == 6
    together = one(answered(whole(), unfed=many), "fed by something", Weight.STOP)
    assert "Box 0, Box 1, Box 2, Box 3 and 3 more take 35 W" in together.what
    silent = [{"id": "x", "item": "x"}]
    assert found(answered(whole(supplies=[supply(feeds=silent)])), "draw known", Weight.WATCH)


def wired(wire: dict[str, Any], load: str = "30 W", **more: Any) -> dict[str, Any]:
    return supply(feeds=[{"id": "box", "item": "box", "draw": load, "wire": wire, **more}])


def lfp(**words: Any) -> dict[str, Any]:
    return battery(chemistry="lifepo4", voltage="12.8 V", capacity="2000 Wh", charge_power="150 W", **words)


def ends(
    wire: dict[str, Any], limits: Band, load: str = "30 W", more: dict[str, Any] | None = None, **words: Any
) -> PowerAnswer:
    power = whole(batteries=[lfp(**words)], supplies=[wired(wire, load, **(more or {}))])
    return answered(power, limits={"box": limits})


GOOD = {"length": "2 m", "section": "2.5 mm²", "fuse": "5 A"}


@pytest.mark.source("four lithium-ion cells at 16.8 V exceed a device that bears 10 to 16 V", kind="practice")
def test_a_full_pack_over_the_maximum() -> None:
    power = whole(supplies=[wired(GOOD)])
    over = one(answered(power, limits={"box": Band(10, 16)}), "voltage at the far end", Weight.STOP)
    assert "bears 16 V at the most, and gets 16.8 V" in over.what
    assert over.refs[0].path == "plan#/power/supplies/cart/feeds/box"
    assert not found(answered(power, limits={"box": Band(10, 18)}), "voltage at the far end", Weight.STOP)


def test_under_the_minimum_at_the_far_end() -> None:
    thin = ends({"length": "20 m", "section": "0.75 mm²", "fuse": "5 A"}, Band(11.5, 18))
    low = one(thin, "voltage at the far end", Weight.STOP)
    assert "needs 11.5 V" in low.what
    assert "Take " in low.remedy
    assert "mm²" in low.remedy
    assert one(thin, "voltage drop", Weight.WATCH).numbers["lost_percent"] > 3
    assert found(ends(GOOD, Band(9.5, 18)), "voltage at the far end", Weight.FINE)


def test_near_empty_something_switches_off_first() -> None:
    told = one(ends(GOOD, Band(10, 18)), "voltage near empty", Weight.WATCH)
    assert "Write 10.1 V as the battery's cutoff" in told.remedy
    assert not found(ends(GOOD, Band(10, 18), cutoff="11 V"), "voltage near empty")


def test_a_load_that_collapses() -> None:
    told = one(
        ends({"length": "20 m", "section": "0.5 mm²", "fuse": "3 A"}, Band(5, 18), "60 W"),
        "voltage at the far end",
        Weight.STOP,
    )
    assert "collapses" in told.what
    assert "mm²" in told.remedy


def test_one_load_that_collapses_leaves_the_others_theirs() -> None:
    bad = {"id": "bad", "item": "bad", "draw": "60 W", "wire": {"length": "20 m", "section": "0.5 mm²", "fuse": "3 A"}}
    good = {"id": "box", "item": "box", "draw": "10 W", "wire": GOOD}
    told = found(answered(whole(batteries=[lfp()], supplies=[supply(feeds=[bad, good])])), "voltage at the far end")
    assert [each.subject for each in told] == ["bad"]


@pytest.mark.parametrize(
    ("fuse", "weight", "words"),
    [
        ("2 A", Weight.STOP, "it blows"),
        ("3 A", Weight.STOP, "it blows"),
        ("10 A", None, ""),
        ("25 A", Weight.STOP, "burns"),
    ],
)
def test_a_fuse_against_load_and_wire(fuse: str, weight: Weight | None, words: str) -> None:
    answer = ends({**GOOD, "fuse": fuse}, Band(9, 18))
    if weight is None:
        assert found(answer, "fuse", Weight.FINE)
    else:
        assert words in one(answer, "fuse", weight).what


def test_a_fuse_that_bears_the_load_but_not_for_long() -> None:
    answer = ends({**GOOD, "fuse": "5 A"}, Band(9, 18), "45 W")  # 4.5 A at 10 V: 5.7 A are asked for
    assert "7.5 A" in one(answer, "fuse", Weight.WATCH).remedy


def test_a_wire_without_a_fuse_and_one_that_is_too_thin() -> None:
    bare = {"length": "2 m", "section": "2.5 mm²"}
    assert "box 4 A" in one(ends(bare, Band(9, 18)), "fuse", Weight.WATCH).remedy
    hot = found(ends({"length": "0.5 m", "section": "0.5 mm²"}, Band(9, 18), "60 W"), "fuse", Weight.STOP)
    assert "bears 3 A" in hot[0].what


def test_a_short_circuit_that_the_fuse_cannot_break() -> None:
    shorted = {"length": "0.2 m", "section": "10 mm²", "fuse": "30 A", "fuse_breaks": "1000 A", "carries": "60 A"}
    answer = ends(shorted, Band(9, 18), resistance="2 mohm")
    assert "more than its fuse can interrupt" in one(answer, "fuse", Weight.STOP).what
    assert found(ends({**shorted, "fuse_breaks": "10000 A"}, Band(9, 18), resistance="2 mohm"), "fuse", Weight.FINE)


def test_inrush_that_melts_a_fuse() -> None:
    quick = {"length": "1 m", "section": "4 mm²", "fuse": "5 A", "fuse_melts_a2s": 10.0}
    answer = ends(quick, Band(9, 18), more={"capacitance": "4700 uF"})
    assert "A²s" in one(answer, "fuse", Weight.WATCH).what
    slow = {**quick, "fuse_melts_a2s": 500.0}
    assert found(ends(slow, Band(9, 18), more={"capacitance": "4700 uF"}), "fuse", Weight.FINE)


def test_a_further_supply_has_its_own_wire() -> None:
    """What hangs behind a distributor gets what both wires leave."""
    wire = {"length": "5 m", "section": "1.5 mm²", "fuse": "10 A"}
    far = {"id": "far", "item": "far", "draw": "40 W", "wire": {**wire, "fuse": "7.5 A"}}
    down = {"id": "dist", "from_supply": "cart", "wire": wire, "feeds": [far]}
    answer = answered(whole(batteries=[lfp()], supplies=[supply(load_w=1, feeds=[]), down]))
    outer = next(end for end in answer.wires if end.feeding == "far")
    inner = next(end for end in answer.wires if end.supply == "dist" and not end.feeding)
    loop = inner.loop_ohm + outer.loop_ohm
    assert outer.nominal_v == pytest.approx(12.8 - loop * 40 / outer.nominal_v, abs=1e-5)
    assert inner.worst_a == pytest.approx(outer.worst_a, rel=1e-6)


def test_a_converter_begins_a_voltage_of_its_own() -> None:
    conv = {
        "id": "conv",
        "from_supply": "cart",
        "output": "5 V",
        "efficiency": 0.9,
        "feeds": [{"id": "small", "item": "small", "draw": "5 W", "wire": GOOD}],
    }
    answer = answered(whole(batteries=[lfp()], supplies=[supply(feeds=[]), conv]), limits={"small": Band(4.8, 5.5)})
    small = next(end for end in answer.wires if end.feeding == "small")
    assert (small.full_v, small.source.low_v) == (5, 5)
    assert not found(answer, "voltage at the far end", Weight.STOP)


def cold_night(**socket: Any) -> PowerAnswer:
    return answered(whole(sockets=[{**HOTEL, **socket}]))


def test_charging_below_freezing_and_with_nobody_there() -> None:
    cold = one(cold_night(temperature="-5 to 2 °C"), "charging in the cold", Weight.STOP)
    assert "never charged below 0 °C" in cold.what
    assert cold.refs[0].path == "plan#/power/sockets/hotel"
    assert found(cold_night(temperature="0 to 2 °C"), "charging in the cold", Weight.FINE)
    unknown = {key: value for key, value in HOTEL.items() if key != "temperature"}
    assert found(answered(whole(sockets=[unknown])), "charging in the cold", Weight.WATCH)
    assert found(cold_night(attended=False), "charging with somebody there", Weight.STOP)
    assert found(cold_night(attended=None), "charging with somebody there", Weight.WATCH)
    assert not found(cold_night(), "charging with somebody there")


def test_charging_that_is_not_done_by_the_call() -> None:
    late = one(cold_night(to="20:30"), "charged by call", Weight.STOP)
    assert "Block alone takes" in late.remedy
    assert late.numbers["late"] == 1
    weak = one(cold_night(most="20 W"), "charged by call", Weight.STOP)
    assert "cannot be charged anywhere" in weak.what
    assert one(answered(whole(sockets=[])), "charged by call", Weight.WATCH)
    early = answered(whole(), next_call_min=21 * 60)
    assert found(early, "charged by call", Weight.STOP)
    guessed = whole(batteries=[battery(capacity="300 Wh")])
    assert found(answered(guessed), "charger known", Weight.WATCH)


def at(degrees: float | None) -> Day:
    return day_of("day-1", "day 1", "07:00", "19:00", coldest_c=degrees)


def test_cold_that_nobody_knows_about() -> None:
    assert found(answered(whole(), at(None)), "temperature known", Weight.WATCH)
    arctic = one(answered(whole(), at(-30)), "temperature known", Weight.WATCH)
    assert "−20 °C" in arctic.what
    assert found(answered(whole(), at(-5)), "temperature known", Weight.FINE)


WRONG: list[tuple[dict[str, Any], str, str]] = [
    ({"batteries": [{"id": "block", "name": "B"}]}, "/power/batteries/block", "has no capacity"),
    ({"batteries": [{"id": "block", "name": "B", "ampere_hours": "5 Ah"}]}, "/power/batteries/block", "no voltage"),
    ({"batteries": [battery(cell="d-cell")]}, "/power/batteries/block", "kind of cell"),
    ({"batteries": [battery(cutoff="20 V")]}, "/power/batteries/block/cutoff", "not under its nominal"),
    ({"batteries": [battery(cold_factor={"warm": 1})]}, "/power/batteries/block/cold_factor", "no temperature"),
    ({"supplies": [supply(battery="blok")]}, "/power/supplies/cart/battery", "perhaps 'block'"),
    ({"supplies": [supply(battery="", from_supply="x")]}, "/power/supplies/cart/from_supply", "not there"),
    ({"supplies": [supply(mains=True)]}, "/power/supplies/cart", "at once"),
    ({"supplies": [supply(site="moon")]}, "/power/supplies/cart/site", "not there"),
    ({"supplies": [supply(item="moon")]}, "/power/supplies/cart/item", "not there"),
    ({"supplies": [supply(output="0 V")]}, "/power/supplies/cart/output", "0 V or less"),
    ({"supplies": [supply(wire={"length": "2 m"})]}, "/power/supplies/cart/wire", "without a size"),
    ({"supplies": [wired({"length": "2 m", "section": "3 mm²"})]}, "/power/supplies/cart/feeds/box/wire", "standard"),
    ({"supplies": [wired({**GOOD, "awg": 14})]}, "/power/supplies/cart/feeds/box/wire", "one of them"),
    ({"supplies": [supply(feeds=[{"id": "x"}])]}, "/power/supplies/cart/feeds/x", "neither"),
    ({"supplies": [supply(feeds=[{"id": "x", "piece": "y"}])]}, "/power/supplies/cart/feeds/x/piece", "not there"),
    ({"phases": [{**LUNCH, "supplies": ["crat"]}]}, "/power/phases/lunch/supplies", "perhaps 'cart'"),
    ({"phases": [{**LUNCH, "day": "day-9"}]}, "/power/phases/lunch/day", "perhaps 'day-1'"),
    ({"phases": [{**LUNCH, "to": "12:30"}]}, "/power/phases/lunch/to", "begins and ends"),
    ({"sockets": [{**HOTEL, "site": "moon"}]}, "/power/sockets/hotel/site", "not there"),
    ({"cold": [{"id": "plutonium", "share": {"0": 1}}]}, "/power/cold/plutonium", "no chemistry"),
    ({"cold": [{"id": "li-ion", "share": {"0": 3}}]}, "/power/cold/li-ion/share", "share in the cold"),
]


@pytest.mark.parametrize(("lists", "path", "words"), WRONG)
def test_bad_input_is_one_sentence_with_its_place(lists: dict[str, Any], path: str, words: str) -> None:
    power = whole(**lists)
    (wrong,) = names_wrong(power, item_ids=("thing", "box"), day_ids=("day-1",))
    assert wrong.path == path
    assert words in wrong.sentence
    rest = without_wrong(power, (wrong,))
    told = proofs(answered(rest, DAY), (wrong,))
    assert told[0].weight is Weight.STOP
    assert told[0].refs[0].path == f"plan#{path}"


def test_a_row_of_supplies_that_nobody_could_wire() -> None:
    row = [supply("s0"), *(supply(f"s{n}", battery="", from_supply=f"s{n - 1}") for n in range(1, 40))]
    wrong = names_wrong(whole(supplies=row), item_ids=("thing",))
    assert {each.at[2] for each in wrong} == {f"s{n}" for n in range(20, 40)}
    rest = without_wrong(whole(supplies=row), wrong)
    assert answered(rest).runs[0].working_w == 200


def test_a_good_part_has_nothing_wrong() -> None:
    power = whole(cold=[{"id": "li-ion", "share": {"-10": 0.8, "20": 1.0}}])
    assert names_wrong(power, item_ids=("thing",)) == ()
    assert without_wrong(power, ()) == power


def test_a_row_of_two_thousand_supplies_is_told_at_once() -> None:
    row = [{"id": f"s{n}", "from_supply": f"s{n - 1}" if n else ""} for n in range(2000)]
    began = time.process_time()
    wrong = names_wrong(PowerPart.model_validate({"supplies": row}))
    assert len(wrong) == 2000 - 20
    assert time.process_time() - began < 10
