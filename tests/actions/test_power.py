"""Power of a whole plan: joined with kit, rig, radio, sites and schedule; compared with a copy; drawn."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest
from lxml import etree

from rollsound.actions.plan_read import read_plan
from rollsound.actions.power import power, power_chart, write_power_chart
from rollsound.actions.power_gather import Gathered
from rollsound.actions.power_model import PowerResult, WhatIf
from rollsound.actions.power_what_if import what_if
from rollsound.errors import InputError, MistakesError, RollsoundError
from rollsound.finding import Weight
from rollsound.report.charts import draw
from rollsound.show.text import parse_plan

PLAN = """\
show: {title: Northbound Ferry}
sites:
  - {id: quay, name: Quay at Skarvik, temperature: "-9 to -1 °C"}
  - {id: chapel, name: Timber chapel, temperature: 8 to 15 °C}
schedule:
  days:
    - {id: day-1, number: 1, date: 2031-02-14, site: chapel, call: "07:30", wrap: "18:30"}
    - {id: day-2, number: 2, date: 2031-02-17, site: chapel, moves: [quay], call: "06:30", wrap: "18:30"}
kit:
  items:
    - {id: recorder, name: Main recorder, model: recorder-32}
    - {id: packs, name: Body pack, model: body-pack, count: 2}
    - {id: generator, name: Time code generator, model: time-code-generator}
    - {id: boom, name: Boom microphone, model: boom-mic-analogue}
    - {id: spare-charger, name: Charger, model: charger}
    - {id: own, name: Own thing, draw: 9 W, idle: 4 W, input: 10-16 V}
radio:
  transmitters:
    - {id: tx-1, name: Pack 1, kind: body pack, power: 50 mW, tuning: 470-542 MHz}
    - {id: tx-2, name: Pack 2, kind: body pack, power: 2 mW, tuning: 470-542 MHz}
rig:
  pieces:
    - {id: recorder}
    - {id: bram, item: packs, name: Bram's pack, transmitter: tx-1}
    - {id: idris, item: packs, name: Idris' pack, transmitter: tx-2}
    - {id: generator}
    - {id: boom}
    - {id: spare-charger}
    - {id: own}
power:
  batteries:
    - {id: cart, name: Cart battery, chemistry: lifepo4, voltage: 12.8 V, ampere_hours: 100 Ah, charge_power: 250 W}
    - {id: block, name: Block, voltage: 14.4 V, capacity: 98 Wh, count: 6, charge_power: 50 W}
    - {id: aa, name: Lithium AA, chemistry: lithium, cell: fr6, count: 16}
  supplies:
    - id: main
      name: Cart
      battery: cart
      feeds:
        - {id: recorder, piece: recorder, wire: {length: 1.5 m, section: 2.5 mm², fuse: 5 A}}
        - {id: own, piece: own}
    - id: packs
      name: Packs
      battery: aa
      in_series: 2
      each: true
      temperature: 15 to 25 °C
      feeds:
        - {id: bram, piece: bram}
        - {id: idris, piece: idris}
  phases:
    - {id: lunch, from: "12:30", to: "13:15", state: idle, break: true}
  sockets:
    - {id: hotel, name: Hotel, most: 350 W, temperature: 15 to 20 °C, attended: true}
"""


@pytest.fixture
def plan_of(tmp_path: Path) -> Any:
    def make(*changes: tuple[str, str]) -> Path:
        text = PLAN
        for before, after in changes:
            assert before in text
            text = text.replace(before, after)
        path = tmp_path / "plan.yaml"
        path.write_text(text, "utf-8")
        return path

    return make


def asked(path: Path, **how: Any) -> PowerResult:
    return power(read_plan(path), **how)


def test_a_plan_is_joined(plan_of: Any) -> None:
    result = asked(plan_of(), day="day-1")
    rows = {row.name: row for row in result.batteries}
    assert list(rows) == ["Cart", "Bram's pack", "Idris' pack", "Time code generator"]
    assert 28 + 9 < rows["Cart"].load_w < 1.01 * (28 + 9)  # a little is lost in the wire
    assert rows["Bram's pack"].load_w == pytest.approx(1.2)  # at 50 mW
    assert rows["Idris' pack"].load_w == pytest.approx(0.8)  # at 2 mW
    assert (rows["Cart"].temperature_c, rows["Bram's pack"].temperature_c) == (8, 15)
    lunch = next(step for step in rows["Cart"].steps if step.is_break)
    assert lunch.power_w == pytest.approx(20 + 4, rel=0.01)
    assert (result.call, result.wrap, result.coldest_c) == ("07:30", "18:30", 8)
    assert {wire.name: wire.input_v for wire in result.wires} == {"Main recorder": "10-18 V", "Own thing": "10-16 V"}
    assert result.cautions
    assert result.day_chosen


def test_what_is_told_of_a_plan_comes_back_from_json(plan_of: Any) -> None:
    result = asked(plan_of(), day="day-1")
    assert PowerResult.model_validate_json(result.model_dump_json()) == result


def test_the_hardest_day_is_taken_and_its_coldest_site(plan_of: Any) -> None:
    result = asked(plan_of())
    assert (result.day, result.coldest_c, result.day_chosen) == ("day-2", -9, False)
    assert [row.id for row in result.days] == ["day-1", "day-2"]
    with pytest.raises(InputError, match="no day 'day-9'; there are: day-1, day-2"):
        asked(plan_of(), day="day-9")


def test_the_next_call_may_be_days_away(plan_of: Any) -> None:
    gathered = Gathered(read_plan(plan_of()).plan)
    assert gathered.next_call_min(gathered.day("day-1")) == 3 * 1440 + 390
    assert gathered.next_call_min(gathered.day("day-2")) is None


def test_what_needs_no_supply_is_not_asked_for_one(plan_of: Any) -> None:
    """A microphone on phantom power, a charger on the mains, and a box with its own battery."""
    gathered = Gathered(read_plan(plan_of()).plan)
    assert gathered.unfed == ()
    assert [each.load.id for each in gathered.insides] == ["generator"]
    bare = Gathered(read_plan(plan_of(("        - {id: own, piece: own}\n", ""))).plan)
    assert [(each.name, each.draw_w) for each in bare.unfed] == [("Own thing", 9)]


def test_every_mistake_has_its_line(plan_of: Any) -> None:
    path = plan_of(
        ("battery: cart\n", "battery: kart\n"), ("piece: bram}", "piece: brom}"), ('to: "13:15"', 'to: "12:30"')
    )
    with pytest.raises(MistakesError) as caught:
        asked(path)
    lines = path.read_text("utf-8").splitlines()
    told = {mistake.place: lines[mistake.line - 1] for mistake in caught.value.mistakes}
    assert "battery: kart" in told["supplies main, battery"]
    assert "brom" in told["supplies packs, feeds, bram, piece"]
    assert "12:30" in told["phases lunch, to"]
    assert "perhaps 'cart' was meant" in str(caught.value)
    loose = asked(path, strict=False)
    assert sum(each.kind == "power plan" for each in loose.findings) == 3
    assert [row.name for row in loose.batteries] == ["Idris' pack", "Time code generator"]


def test_a_form_that_is_wrong_is_told_by_its_line(plan_of: Any) -> None:
    with pytest.raises(MistakesError, match=r"line 40, .*section: is '2.5' without a unit"):
        asked(plan_of(("section: 2.5 mm²", 'section: "2.5"')))


def test_a_plan_without_power_says_so(tmp_path: Path) -> None:
    path = tmp_path / "plan.yaml"
    path.write_text("show: {title: Nothing}\n", "utf-8")
    with pytest.raises(InputError, match="says nothing about power"):
        asked(path)


def test_a_kind_that_is_not_there_is_told(plan_of: Any) -> None:
    with pytest.raises(MistakesError) as error:
        asked(plan_of(("model: recorder-32", "model: recorder-23")))
    (mistake,) = error.value.mistakes
    assert mistake.place == "items recorder, model"
    assert mistake.line
    assert "perhaps 'recorder-24'" in mistake.sentence or "perhaps 'recorder-32'" in mistake.sentence


def test_pieces_without_a_name_are_told_apart_by_their_ids(plan_of: Any) -> None:
    nameless = plan_of((", name: Bram's pack", ""), (", name: Idris' pack", ""))
    assert [row.name for row in asked(nameless, day="day-1").batteries][1:3] == ["bram", "idris"]


def test_notes_tell_what_was_assumed(plan_of: Any) -> None:
    lunch = '    - {id: lunch, from: "12:30", to: "13:15", state: idle, break: true}\n'
    path = plan_of((', call: "07:30", wrap: "18:30"', ""), (f"phases:\n{lunch}", "phases: []\n"))
    notes = " ".join(asked(path, day="day-1").notes)
    assert "07:00 to 19:00 was taken" in notes
    assert "No phases are written" in notes
    assert "planning figures" in notes
    assert "At 12.8 V at rest, its content cannot be told" in notes
    lead = ("chemistry: lifepo4, voltage: 12.8 V", "chemistry: lead-acid, voltage: 12 V")
    assert "A label with hours on it means the first. The first is used." in " ".join(asked(plan_of(lead)).notes)


def test_another_battery_and_count_are_compared(plan_of: Any) -> None:
    plan = read_plan(plan_of()).plan
    worse = what_if(plan, WhatIf(battery_of={"main": "block"}), "day-1")
    (row,) = worse.changed
    assert row.name == "Cart"
    assert row.swaps_before == 0
    assert row.swaps_after > 0
    assert row.hours_after < row.hours_before
    assert worse.before.batteries[0].battery == "cart"
    assert plan.power.supplies[0].battery == "cart"
    fewer = what_if(plan, WhatIf(count_of={"aa": 2}), "day-1")
    assert fewer.after.weight is Weight.STOP
    assert any("AA" in told for told in fewer.new)
    assert "stop" in fewer.sentence
    better = what_if(plan, WhatIf(battery_of={"main": "block"}, parallel_of={"main": 6}), "day-1")
    assert better.changed[0].swaps_after == 0


def test_other_phases_cold_and_reserve_are_compared(plan_of: Any) -> None:
    plan = read_plan(plan_of()).plan
    off = what_if(plan, WhatIf(state_of={"lunch": "off"}), "day-1")
    assert off.after.batteries[0].day_wh < off.before.batteries[0].day_wh
    longer = what_if(plan, WhatIf(times_of={"lunch": ("12:00", "14:00")}, break_of={"lunch": False}), "day-1")
    assert longer.after.batteries[0].day_wh < longer.before.batteries[0].day_wh
    assert not any(step.is_break for step in longer.after.batteries[0].steps)
    cold = what_if(plan, WhatIf(temperature_c=-20), "day-1")
    assert cold.after.batteries[0].set_wh < cold.before.batteries[0].set_wh
    weak = what_if(plan, WhatIf(radio_power_of={"tx-1": 2.0}), "day-1")
    assert [(row.name, row.hours_after > row.hours_before) for row in weak.changed] == [("Bram's pack", True)]
    assert what_if(plan, WhatIf(reserve=0.5), "day-1").after.reserve == 0.5
    assert what_if(plan, WhatIf(), "day-1").changed == ()
    assert "nothing that weighs changes" in what_if(plan, WhatIf(), "day-1").sentence


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (WhatIf(battery_of={"main": "x"}), "no kind of battery 'x'"),
        (WhatIf(battery_of={"x": "block"}), "no supply 'x'"),
        (WhatIf(count_of={"aa": -1}), "under 0"),
        (WhatIf(state_of={"lunch": "asleeep"}), "cannot be tried"),
        (WhatIf(times_of={"lunch": ("noon", "13:00")}), "cannot be tried"),
        (WhatIf(radio_power_of={"tx-9": 1.0}), "no transmitter 'tx-9'"),
        (WhatIf(radio_power_of={"tx-1": -1.0}), "0 mW or more"),
        (WhatIf(break_of={"tea": True}), "no phase 'tea'; there are: lunch"),
    ],
)
def test_a_change_that_cannot_be_is_refused(plan_of: Any, change: WhatIf, words: str) -> None:
    with pytest.raises(InputError, match=words):
        what_if(read_plan(plan_of()).plan, change, "day-1")


def test_a_mistake_in_times_of_a_change_is_told(plan_of: Any) -> None:
    plan = read_plan(plan_of()).plan
    same = what_if(plan, WhatIf(times_of={"lunch": ("12:30", "12:30")}), "day-1")
    assert any("begins and ends" in told for told in same.new)


def test_lanes_are_drawn_with_their_figures(plan_of: Any, tmp_path: Path) -> None:
    result = asked(plan_of(("count: 16", "count: 4"), ("battery: cart\n", "battery: block\n")), day="day-1")
    chart = power_chart(result)
    told = " ".join(etree.fromstring(draw(chart, "svg")).itertext())
    for words in ("Cart: Block, 37.1 W", "set 2", "flat", "12:00"):
        assert words in told
    assert "Flat before the end: Bram's pack" in chart.alt
    narrow = power_chart(result, narrow=True)
    assert narrow.spec["width"] < chart.spec["width"]
    written = write_power_chart(result, tmp_path / "day.pdf")
    assert (tmp_path / "day.pdf").read_bytes().startswith(b"%PDF-")
    assert written.chart_file.endswith("day.pdf")
    with pytest.raises(RollsoundError, match=r"\.png, \.svg or \.pdf"):
        write_power_chart(result, tmp_path / "day.gif")


def test_the_example_of_the_documentation_is_a_plan(tmp_path: Path) -> None:
    page = (Path(__file__).parents[2] / "docs" / "power.md").read_text("utf-8")
    (example,) = re.findall(r"```yaml\n(.*?)```", page, re.DOTALL)
    cells = "    - {id: pack-cell, name: Cell, chemistry: lithium, cell: fr6, count: 4}\n  supplies:\n"
    kit = "kit:\n  items:\n" + "".join(
        f"    - {{id: {id}, name: {id}, draw: 1 W}}\n" for id in ("recorder", "fader-panel", "sync-box", "pack-01")
    )
    rig = "rig:\n  pieces: [{id: recorder}, {id: pack-01}]\n"
    path = tmp_path / "plan.yaml"
    path.write_text(f"show: {{title: Example}}\n{kit}{rig}{example.replace('  supplies:', cells, 1)}", "utf-8")
    result = asked(path)
    assert result.weight is not Weight.STOP
    assert [row.name for row in result.batteries] == ["cart", "pack-01"]
    assert result.day_name == ""


def test_a_day_without_batteries_draws_an_empty_chart() -> None:
    from rollsound.report.power_lanes_chart import power_lanes

    chart = power_lanes("nothing", [], call_min=420, wrap_min=1140)
    assert draw(chart, "svg").startswith(b"<svg")
    assert "none is in use" in chart.alt


def test_a_result_that_has_everything_is_whole(plan_of: Any) -> None:
    """Whatever the result says of changes, stock and charging belongs together."""
    result = asked(plan_of(), day="day-2")
    packs = [row for row in result.batteries if row.battery == "aa"]
    stock = next(row for row in result.stock if row.id == "aa")
    assert stock.needed == sum(row.sets_needed * row.in_set * row.alike for row in packs)
    assert stock.missing == max(0, stock.needed - stock.owned)
    assert {row.battery for row in result.charging} == {"cart"}
    assert not any(row.late for row in result.charging)
    assert parse_plan(PLAN).power.supplies[1].each
