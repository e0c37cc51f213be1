"""The list for customs: what it refuses, what shares a line, and sums that hold."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rollsound.finding import Weight
from rollsound.kit.carnet import Flaw, GeneralList, begun, columns, general_list, list_source, notes, origin_code
from rollsound.kit.model import KitPart
from rollsound.kit.proofs import proofs

GOV = "gov.uk, General list of goods"
WHOLE: dict[str, Any] = {
    "id": "mic",
    "name": "Short directional microphone",
    "make": "type 41",
    "mass": "75 g",
    "value": 900,
    "origin": "DE",
    "serials": ["1001"],
}


def listed(*items: dict[str, Any]) -> GeneralList:
    return general_list(KitPart.model_validate({"items": list(items)}))


def flaws(**words: Any) -> tuple[Flaw, ...]:
    return listed({key: value for key, value in (WHOLE | words).items() if value is not None}).flaws


def weights(found: tuple[Flaw, ...], field: str) -> list[Weight]:
    return [flaw.weight for flaw in found if flaw.field == field]


def test_a_whole_item_has_no_flaw() -> None:
    made = listed(WHOLE)
    assert made.flaws == ()
    (line,) = made.lines
    assert line.description == "Short directional microphone, type 41, S/N 1001"
    assert (line.number, line.pieces, line.mass_kg, line.value, line.origin) == (1, 1, 0.075, 900, "DE")


@pytest.mark.source(f"{GOV}: each description ends with a serial number or NSN", kind="published")
def test_a_blank_serial_is_refused() -> None:
    assert weights(flaws(serials=None), "serials") == [Weight.STOP]
    assert weights(flaws(serials=[" "]), "serials") == [Weight.STOP]
    assert weights(flaws(serials=["NSN"]), "serials") == []
    assert weights(flaws(count=3, serials=["1001"]), "serials") == [Weight.STOP]
    assert weights(flaws(count=3, serials=["1001", "1002", "NSN"]), "serials") == []
    assert listed(WHOLE | {"serials": ["nsn"]}).lines[0].description.endswith(", NSN")


@pytest.mark.source(f"{GOV}: no 'box of', 'bag of', 'assorted', 'various', 'accessories'", kind="published")
@pytest.mark.parametrize("name", ["Assorted accessories", "Box of cables", "bag  of clips", "Various clamps"])
def test_vague_words_are_refused(name: str) -> None:
    assert weights(flaws(name=name), "name") == [Weight.STOP]


def test_words_are_only_refused_whole() -> None:
    assert flaws(name="Set of cables") == ()
    assert flaws(name="Boxed officer's whistle") == ()


@pytest.mark.source(f"{GOV}: origin as two letters of the country", kind="published")
def test_an_origin_has_two_letters() -> None:
    (named,) = flaws(origin="Germany")
    assert named.weight is Weight.WATCH
    assert "DE" in named.sentence
    assert listed(WHOLE | {"origin": "Germany"}).lines[0].origin == "DE"
    assert weights(flaws(origin="de"), "origin") == [Weight.WATCH]
    assert weights(flaws(origin="UK"), "origin") == [Weight.WATCH]
    assert origin_code("UK") == "GB"
    assert weights(flaws(origin="XX"), "origin") == [Weight.STOP]
    assert weights(flaws(origin=None), "origin") == [Weight.STOP]


@pytest.mark.source(
    f"{GOV}: consumables, such as disposable batteries, tape and glue, are not listed", kind="published"
)
def test_what_is_used_up_is_never_listed() -> None:
    made = listed(WHOLE | {"name": "AA alkaline batteries"})
    assert made.lines == ()
    assert made.left_out == ("mic",)
    assert [flaw.field for flaw in made.flaws] == ["consumable"]
    assert listed(WHOLE | {"consumable": True}).flaws == ()
    assert listed(WHOLE | {"name": "Cells", "model": "aa-alkaline"}).lines == ()
    assert listed(WHOLE | {"name": "Cells", "model": "aa-nimh"}).lines
    assert listed(WHOLE | {"name": "Cloth tape"}).lines == ()
    assert listed(WHOLE | {"name": "Mixtape of the choir"}).lines


@pytest.mark.source(f"{GOV}: only identical items are grouped, all serials listed", kind="published")
def test_four_alike_share_a_line_with_all_their_serials() -> None:
    serials = ["1001", "1002", "1003", "1004"]
    (line,) = listed(WHOLE | {"count": 4, "serials": serials}).lines
    assert line.pieces == 4
    assert all(serial in line.description for serial in serials)
    apart = [WHOLE | {"id": f"mic-{serial}", "serials": [serial]} for serial in serials]
    (joined,) = listed(*apart).lines
    assert (joined.pieces, joined.serials, joined.mass_kg) == (4, tuple(serials), pytest.approx(0.3))
    dearer = WHOLE | {"id": "second", "serials": ["1009"], "value": 901}
    assert len(listed(WHOLE, dearer).lines) == 2


def test_one_serial_is_on_one_piece() -> None:
    made = listed(WHOLE, WHOLE | {"id": "again", "name": "Microphone with bag"})
    assert [(flaw.item, flaw.weight) for flaw in made.flaws] == [("again", Weight.STOP)]


@pytest.mark.source(f"{GOV}: a line without quantity, value or origin does not upload", kind="published")
def test_a_value_is_wanted_and_a_mass_missed() -> None:
    assert weights(flaws(value=None), "value") == [Weight.STOP]
    assert weights(flaws(value=0), "value") == [Weight.STOP]
    assert weights(flaws(mass=None), "mass") == [Weight.WATCH]
    assert listed(WHOLE | {"count": 0}).lines == ()


@pytest.mark.source(f"{GOV}: electrical items need make, model and serial number", kind="published")
def test_electrical_items_need_their_plate() -> None:
    assert weights(flaws(make=None), "make") == []
    assert weights(flaws(make=None, draw="2 W"), "make") == [Weight.WATCH]
    assert weights(flaws(draw="2 W", serials=["NSN"]), "serials") == [Weight.WATCH]


ITEM = st.fixed_dictionaries(
    {
        "name": st.sampled_from(["Microphone", "Pole", "Stand"]),
        "mass": st.sampled_from(["75 g", "1.5 kg"]),
        "value": st.sampled_from([None, 1, 900.5]),
        "origin": st.sampled_from(["DE", "JP", ""]),
        "count": st.integers(0, 5),
        "consumable": st.booleans(),
    }
)


@pytest.mark.source(f"{GOV}: sums of the lines are the totals", kind="published")
@given(st.lists(ITEM, max_size=12))
def test_sums_are_those_of_the_lines(items: list[dict[str, Any]]) -> None:
    rows = [row | {"id": f"i{n}", "serials": [f"s{n}"]} for n, row in enumerate(items)]
    kit = KitPart.model_validate({"items": rows})
    made = general_list(kit)
    there = [item for item in kit.items if item.count and not item.consumable]
    assert made.pieces == sum(line.pieces for line in made.lines) == sum(item.count for item in there)
    assert made.value == pytest.approx(sum(item.count * (item.value or 0) for item in there))
    assert made.mass_kg == pytest.approx(sum(item.count * (item.mass_kg or 0) for item in there))
    assert [line.number for line in made.lines] == list(range(1, len(made.lines) + 1))
    assert sorted(id for line in made.lines for id in line.items) == sorted(item.id for item in there)


def test_the_list_is_only_proved_where_it_is_begun_or_asked_for() -> None:
    plain = KitPart.model_validate({"items": [{"id": "pole", "name": "Pole", "mass": "1 kg"}]})
    assert not begun(plain)
    assert not [f for f in proofs(plain) if f.kind == "customs list"]
    assert [f for f in proofs(plain, listed=True) if f.kind == "customs list" and f.weight is Weight.STOP]
    whole = KitPart.model_validate({"items": [WHOLE]})
    assert begun(whole)
    (found,) = [f for f in proofs(whole) if f.kind == "customs list"]
    assert found.weight is Weight.FINE
    assert len(columns()) == 7
    assert notes()
    assert list_source()
