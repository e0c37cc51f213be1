"""Proofs over the kit: each can hold and each can fail, and each names its place."""

from __future__ import annotations

from typing import Any

import pytest

from rollsound.finding import Area, Finding, Weight
from rollsound.kit.model import KitPart
from rollsound.kit.proofs import proofs
from rollsound.kit.totals import totals


def kit(*items: dict[str, Any], **more: Any) -> KitPart:
    return KitPart.model_validate({"items": list(items), **more})


def found(part: KitPart, kind: str) -> list[Finding]:
    return [each for each in proofs(part) if each.kind == kind]


CART = {"id": "cart", "name": "Cart", "model": "trolley", "travels_in": "Cart"}
CASE = {"id": "case", "name": "Recorder in its case", "mass": "20 kg"}
ON_CART = {"id": "load", "name": "Recorder", "mass": "82 kg", "travels_in": "cart"}


def test_a_kit_without_anything_is_silent() -> None:
    assert proofs(KitPart()) == []


def test_names_that_are_not_there() -> None:
    part = kit(
        {"id": "a", "name": "A", "model": "nothing"},
        moves=[{"id": "m", "load": "b", "slope": "steep"}],
        raised=[{"id": "r", "item": "a", "carries": ["c"]}],
    )
    wrong = found(part, "kit list")
    assert [each.refs[0].path for each in wrong] == [
        "plan#/kit/items/a/model",
        "plan#/kit/moves/m/load",
        "plan#/kit/moves/m/slope",
        "plan#/kit/raised/r/carries",
    ]
    assert {each.weight for each in wrong} == {Weight.STOP}
    (fine,) = found(kit(CASE), "kit list")
    assert fine.weight is Weight.FINE


def test_totals_by_case() -> None:
    sums = totals(
        kit(
            CART,
            ON_CART,
            {
                "id": "b",
                "name": "Blocks",
                "model": "battery-98",
                "count": 8,
                "value": 200,
                "travels_in": "Battery case",
            },
            {"id": "x", "name": "Unweighed", "count": 3},
            {"id": "left", "name": "Left behind", "mass": "9 kg", "count": 0},
        )
    )
    assert sums.whole.mass_kg == pytest.approx(38 + 82 + 8 * 0.7)
    assert sums.whole.battery_wh == pytest.approx(8 * 97.92)
    assert sums.whole.pieces == 13
    assert sums.whole.value == 1600
    assert sums.whole.without_mass == ("x",)
    cart = sums.load("CART")
    assert cart is not None
    assert (cart.items, cart.mass_kg) == (("cart", "load"), 120)
    assert [load.name for load in sums.loads] == ["Cart", "Battery case", ""]
    assert sum(load.mass_kg for load in sums.loads) == pytest.approx(sums.whole.mass_kg)


def test_a_mass_that_is_missing() -> None:
    (short,) = found(kit(CASE, {"id": "x", "name": "Unweighed"}), "kit mass")
    assert short.weight is Weight.WATCH
    assert "Unweighed" in short.what
    (known,) = found(kit(CASE), "kit mass")
    assert known.weight is Weight.FINE


@pytest.mark.source("HSE INDG143: 20 kg is over the women's figure in every zone", kind="memory")
def test_a_heavy_case_is_looked_at_and_a_light_one_holds() -> None:
    (heavy,) = found(kit(CASE), "lifting")
    assert heavy.weight is Weight.WATCH
    assert "woman" in heavy.what
    (heavier,) = found(kit(CASE | {"mass": "26 kg"}), "lifting")
    assert "25 kg for men" in heavier.what
    (light,) = found(kit(CASE | {"mass": "16 kg"}), "lifting")
    assert light.weight is Weight.FINE
    assert found(kit(CART), "lifting") == []


def test_two_cases_of_one_name_do_not_hide_each_other() -> None:
    light = {"id": "light", "name": CASE["name"], "mass": "2 kg"}
    for items in ((CASE, light), (light, CASE)):
        (heavy,) = found(kit(*items), "lifting")
        assert heavy.weight is Weight.WATCH
        assert heavy.refs[0].path == "plan#/kit/items/case/mass"


def move(**words: Any) -> KitPart:
    return kit(CART, ON_CART, CASE, moves=[{"id": "m", "load": "cart", **words}])


@pytest.mark.source("HSE INDG143 and hse.gov.uk pushing and pulling, as in the tests of lifting", kind="memory")
def test_moves_are_held_against_their_figures() -> None:
    (good,) = found(move(), "rolling")
    (uneven,) = found(move(surface="uneven"), "rolling")
    assert good.weight is Weight.FINE
    assert uneven.weight is Weight.WATCH
    assert uneven.numbers["rolling_n"] == pytest.approx(117.7, abs=0.05)
    (ramp,) = found(move(slope="1:12"), "rolling")
    (ramp_in_twos,) = found(move(slope="1:12", people=2), "rolling")
    assert (ramp.weight, ramp_in_twos.weight) == (Weight.WATCH, Weight.FINE)

    def lift(**words: Any) -> Finding:
        return found(kit(CASE, moves=[{"id": "m", "load": "case", **words}]), "lifting")[0]

    assert lift(zones=["knuckle to elbow"]).weight is Weight.FINE
    assert lift(zones=["knuckle to elbow", "floor to shin"]).weight is Weight.WATCH
    assert lift(zones=["knuckle to elbow"], women=True, people=2).weight is Weight.FINE
    assert lift(zones=["knuckle to elbow"], women=True).weight is Weight.WATCH


@pytest.mark.source("HSE INDG143: no figure for stairs", kind="memory")
def test_over_steps_only_what_is_stated_counts() -> None:
    def steps(mass: str, model: str = "trolley-stairs", count: int = 8) -> Finding:
        items = [
            {"id": "t", "name": "Trolley", "model": model, "travels_in": "Sung scenes"},
            {"id": "l", "name": "Load", "mass": mass, "travels_in": "Sung scenes"},
        ]
        part = kit(*items, moves=[{"id": "m", "load": "Sung scenes", "steps": count}])
        return found(part, "steps")[0]

    within, over, unstated = steps("60 kg"), steps("61 kg"), steps("60 kg", "trolley")
    assert (within.weight, over.weight, unstated.weight) == (Weight.FINE, Weight.STOP, Weight.WATCH)
    for each in (within, over, unstated):
        assert "8 steps" in each.what
        assert "outside the lifting filter" in each.why
    assert within.source.startswith("stated")


@pytest.mark.source("antenna mast engineering sheet, as in the tests of wind", kind="published")
def test_a_mast_stands_or_goes_over() -> None:
    mast = {"id": "mast", "name": "Mast", "model": "mast-4"}
    top = {"id": "top", "name": "Antenna", "mass": "0 kg", "wind_area_m2": 0.09, "drag": 2.0}

    def raised(**words: Any) -> Finding:
        part = kit(mast, top, raised=[{"id": "r", "item": "mast", "carries": ["top"], **words}])
        return found(part, "wind")[0]

    # 63.5 kg with half as much again to spare, 42.3 kg to just stand; the mast itself is 6 kg.
    assert raised(gust="15 m/s", ballast="57.6 kg").weight is Weight.FINE
    assert raised(gust="15 m/s", ballast="57.3 kg").weight is Weight.WATCH
    assert raised(gust="15 m/s", ballast="36.2 kg").weight is Weight.STOP
    assert raised(gust="15 m/s").numbers["moment_nm"] == pytest.approx(166.05, abs=0.05)
    assert "gust" in raised().what
    flat = kit({"id": "pole", "name": "Pole"}, raised=[{"id": "r", "item": "pole", "gust": "5 m/s"}])
    assert "height" in found(flat, "wind")[0].what


def test_batteries_are_of_the_power_area_and_unknown_ones_are_told() -> None:
    part = kit(
        {"id": "b", "name": "Block", "model": "battery-lifepo4-150", "travels_by": "cabin"},
        {"id": "c", "name": "Own block", "kind": "battery", "mass": "1 kg"},
    )
    air = found(part, "battery by air")
    assert [each.weight for each in air] == [Weight.STOP, Weight.WATCH]
    assert air[0].area is Area.POWER
    assert air[0].refs[0].path == "plan#/kit/items/b"
    assert {each.area for each in proofs(part) if each.kind in ("kit mass", "lifting")} == {Area.SIGNAL}


def test_what_is_not_known_never_holds() -> None:
    unweighed = {"id": "x", "name": "Unweighed", "travels_in": "cart"}
    part = kit(
        CART,
        unweighed,
        moves=[
            {"id": "lift", "load": "cart", "zones": ["knuckle to elbow"], "people": 3, "slope": "1:100", "steps": 3},
        ],
    )
    for kind in ("lifting", "rolling", "steps"):
        assert [each.weight for each in found(part, kind)] == [Weight.WATCH], kind
    mast = {"id": "mast", "name": "Mast", "model": "mast-4"}
    for area, weight in ((None, Weight.WATCH), (0.001, Weight.FINE)):
        top = {"id": "top", "name": "Flag", "mass": "0 kg"} | ({"wind_area_m2": area} if area else {})
        raised = [{"id": "r", "item": "mast", "carries": ["top"], "gust": "5 m/s", "ballast": "80 kg"}]
        (stands,) = found(kit(mast, top, raised=raised), "wind")
        assert stands.weight is weight


def test_a_load_is_named_as_its_case_or_by_its_id() -> None:
    assert found(kit(CART, moves=[{"id": "m", "load": "CART"}]), "kit list")[0].weight is Weight.FINE
    assert found(kit(CASE, moves=[{"id": "m", "load": "CASE"}]), "kit list")[0].weight is Weight.STOP
