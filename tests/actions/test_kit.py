"""The kit of a plan as it travels: loads, batteries of kit and power, the list for customs, labels."""

from __future__ import annotations

import csv
import datetime as dt
import io
from pathlib import Path
from typing import Any

import pytest

from rollsound.actions.kit import kit, travel_date
from rollsound.actions.kit_papers import carnet_data, label_rows, write_papers
from rollsound.actions.plan_read import PlanRead, read_plan
from rollsound.errors import InputError, MistakesError
from rollsound.finding import Weight
from rollsound.report.pictures import page_pictures

PLAN = """\
show: {title: Northbound Ferry, production: Lanternfish Drama (invented)}
kit:
  items:
    - {id: mic, name: Short mic, make: type 41, count: 2, mass: 75 g, serials: ["1", "2"], value: 900, origin: DE}
    - {id: pole, name: "=Boom pole, Łódź", mass: 780 g, serials: [NSN], value: 690.5, origin: PL, travels_in: Tube}
    - {id: tape, name: Cloth tape, consumable: true, count: 9, mass: 100 g}
    - {id: laptop, name: Laptop, model: laptop, make: type 15, serials: ["77"], value: 1500, origin: CN}
power:
  batteries:
    - {id: block, name: Bag block, voltage: 14.4 V, capacity: 98 Wh, count: 3}
    - {id: cart, name: Cart block, chemistry: lifepo4, voltage: 12.8 V, ampere_hours: 150 Ah}
    - {id: laptop, name: Told in the kit already, voltage: 12 V, capacity: 500 Wh}
"""


def read(tmp_path: Path, text: str = PLAN) -> PlanRead:
    path = tmp_path / "plan.yaml"
    path.write_text(text, encoding="utf-8")
    return read_plan(path)


def test_loads_and_batteries_of_both_parts(tmp_path: Path) -> None:
    result = kit(read(tmp_path))
    assert result.whole.pieces == 13
    assert result.whole.mass_kg == pytest.approx(0.15 + 0.78 + 0.9 + 1.5)
    assert {row.name: row.pieces for row in result.loads} == {"Tube": 1, "": 12}
    assert {row.id: (row.capacity_wh, row.pieces, row.loose) for row in result.batteries} == {
        "laptop": (60, 1, False),
        "block": (98, 3, True),
        "cart": (1920, 1, True),
    }
    (cart,) = [f for f in result.findings if f.subject == "Cart block"]
    assert cart.weight is Weight.WATCH
    assert cart.refs[0].path == "plan#/power/batteries/cart"
    assert result.notes
    assert result.cautions


def test_a_flight_has_its_date_and_its_rules(tmp_path: Path) -> None:
    result = kit(read(tmp_path), date=travel_date("2026-04-12"))
    assert result.travel_date == dt.date(2026, 4, 12)
    assert result.weight is Weight.STOP
    assert travel_date("") is None
    with pytest.raises(InputError, match="'12 April' is no date"):
        travel_date("12 April")


@pytest.mark.parametrize(
    ("said", "weight", "words"),
    [
        ("", Weight.STOP, "not as baggage"),
        (", travels_by: road or sea", None, ""),
        (", travels_by: air cargo", Weight.WATCH, "charged to 30 % at most, 576 Wh"),
        (", travels_by: air cargo, charged: 0.5", Weight.STOP, "charged to 50 %"),
        (", travels_by: air cargo, charged: 0.3", Weight.WATCH, "UN3480"),
    ],
)
def test_a_battery_of_the_power_part_says_how_it_travels(
    tmp_path: Path, said: str, weight: Weight | None, words: str
) -> None:
    text = PLAN.replace("ampere_hours: 150 Ah}", f"ampere_hours: 150 Ah{said}}}")
    result = kit(read(tmp_path, text), date=travel_date("2026-04-12"))
    found = [each for each in result.findings if each.subject == "Cart block"]
    assert [each.weight for each in found] == ([] if weight is None else [weight])
    assert all(words in each.what for each in found)


@pytest.mark.parametrize(
    ("before", "after", "sentence"),
    [
        ("mass: 780 g", "mass: 1e300 kg", "it must be 100000 kg or less"),
        ("capacity: 98 Wh", "capacity: 1e300 Wh", "it must be 1000000 Wh or less"),
        ("count: 9", "count: 1000000000000", "it must be 100000 or less"),
    ],
)
def test_a_figure_that_nobody_could_carry_is_refused(tmp_path: Path, before: str, after: str, sentence: str) -> None:
    with pytest.raises(MistakesError) as error:
        read(tmp_path, PLAN.replace(before, after))
    (mistake,) = error.value.mistakes
    assert sentence in mistake.sentence


def test_the_list_as_csv_is_whole_and_no_formula(tmp_path: Path) -> None:
    plan = read(tmp_path)
    result = write_papers(plan, kit(plan, listed=True), carnet_file=tmp_path / "list.csv")
    assert result.files == (str(tmp_path / "list.csv"),)
    text = (tmp_path / "list.csv").read_bytes().decode("utf-8-sig")
    head, *rows, total = csv.reader(io.StringIO(text))
    assert len(head) == 7
    assert [row[2:6] for row in rows] == [
        ["2", "0.150 kg", "1800.00 EUR", "DE"],
        ["1", "0.780 kg", "690.50 EUR", "PL"],
        ["1", "1.500 kg", "1500.00 EUR", "CN"],
    ]
    assert rows[1][1].startswith("'=Boom pole, Łódź")
    assert total[1:5] == ["Total", "4", "2.430 kg", "3990.50 EUR"]
    assert "tape" not in text


def test_a_draft_says_so(tmp_path: Path) -> None:
    plan = read(tmp_path, PLAN.replace("origin: PL, ", ""))
    result = kit(plan)
    assert result.weight is Weight.STOP
    assert carnet_data(result)["verdict"] == "A draft: 1 thing would be refused."
    write_papers(plan, result, carnet_file=tmp_path / "list.csv")
    assert "# A draft: " in (tmp_path / "list.csv").read_text("utf-8")
    assert carnet_data(kit(read(tmp_path)))["verdict"] == "3 lines, 4 pieces."


def test_papers_are_typeset_alike_each_time(tmp_path: Path) -> None:
    plan = read(tmp_path)
    result = kit(plan, listed=True)
    for name in ("one", "two"):
        written = write_papers(
            plan, result, carnet_file=tmp_path / f"{name}.pdf", labels_file=tmp_path / f"{name}-labels.pdf"
        )
        assert written.labels == 4
    for kind in ("", "-labels"):
        first, second = ((tmp_path / f"{name}{kind}.pdf").read_bytes() for name in ("one", "two"))
        assert first == second
        assert len(page_pictures(first, ppi=20)) == 1


def test_every_piece_has_a_label_of_its_own(tmp_path: Path) -> None:
    rows = label_rows(read(tmp_path))
    assert [(row["id"], row["piece"], row["serial"]) for row in rows] == [
        ("mic", "1 of 2", "1"),
        ("mic", "2 of 2", "2"),
        ("pole", "", ""),
        ("laptop", "", "77"),
    ]
    assert len({row["code"] for row in rows}) == 4
    assert rows[0]["owner"] == "Northbound Ferry, Lanternfish Drama (invented)"


@pytest.mark.parametrize(
    ("files", "sentence"),
    [
        ({"carnet_file": "list.doc"}, r"as \.pdf or \.csv, not as list\.doc"),
        ({"labels_file": "labels.csv"}, r"labels are written as \.pdf"),
        ({"carnet_file": "a.pdf", "labels_file": "a.pdf"}, "cannot both be"),
    ],
)
def test_a_file_of_another_kind_is_refused(tmp_path: Path, files: dict[str, Any], sentence: str) -> None:
    plan = read(tmp_path)
    with pytest.raises(InputError, match=sentence):
        write_papers(plan, kit(plan), **{name: tmp_path / file for name, file in files.items()})
    assert [each.name for each in tmp_path.iterdir()] == ["plan.yaml"]


def test_what_is_not_there_is_told_with_its_line(tmp_path: Path) -> None:
    with pytest.raises(MistakesError, match=r"line 7, items laptop, model: names the kind 'lapdog'.*laptop"):
        kit(read(tmp_path, PLAN.replace("model: laptop", "model: lapdog")))
    with pytest.raises(InputError, match="has no kit"):
        kit(read(tmp_path, "show: {title: Empty}\n"))
    only = read(tmp_path, "kit:\n  items:\n    - {id: tape, name: Tape, consumable: true}\n")
    with pytest.raises(InputError, match="nothing that customs list"):
        write_papers(only, kit(only, listed=True), carnet_file=tmp_path / "list.pdf")
    with pytest.raises(InputError, match="nothing to label"):
        label_rows(only)
