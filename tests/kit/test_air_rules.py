"""Batteries by air: classes by content, dates, and how many a person may have along."""

from __future__ import annotations

import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rollsound.finding import Finding, Weight
from rollsound.kit.air_proofs import Travelling, air_proofs
from rollsound.kit.air_rules import Baggage, cargo, known, ruling
from rollsound.kit.model import BatteryContent

DGR = "IATA DGR 67th edition (2026), passenger provisions, as given by regulators' and specialists' pages"
ADDENDUM = "ICAO Technical Instructions, Addendum 1, effective 2026-03-27, as given by the UK CAA"
BEFORE, AFTER = dt.date(2026, 3, 26), dt.date(2026, 3, 27)


def battery(wh: float, chemistry: str = "li-ion", volts: float = 14.4, **more: object) -> BatteryContent:
    content = {"chemistry": chemistry, "voltage": f"{volts} V", "capacity": f"{wh} Wh", "loose": True}
    return BatteryContent.model_validate(content | more)


def proved(*batteries: Travelling, travellers: int = 1, date: dt.date | None = AFTER) -> list[Finding]:
    return list(air_proofs(batteries, travellers, date))


def one(content: BatteryContent, count: int = 1, by: str | None = None, mass: float | None = None) -> Travelling:
    return Travelling("Block", ("kit", "items", "block"), content, count, by, mass)  # type: ignore[arg-type]


@pytest.mark.source(DGR, kind="published")
@pytest.mark.parametrize(
    ("wh", "baggage", "most"),
    [
        (97.92, Baggage.ALLOWED, 20),
        (100.0, Baggage.ALLOWED, 20),
        (100.01, Baggage.APPROVAL, 2),
        (149.76, Baggage.APPROVAL, 2),
        (160.0, Baggage.APPROVAL, 2),
        (160.01, Baggage.FORBIDDEN, 0),
        (190.08, Baggage.FORBIDDEN, 0),
        (1920, Baggage.FORBIDDEN, 0),
    ],
)
def test_spares_by_content(wh: float, baggage: Baggage, most: int) -> None:
    said = ruling(battery(wh), AFTER)
    assert (said.baggage, said.most, said.hold) == (baggage, most, False)
    assert ruling(battery(wh, "lifepo4")).baggage is baggage


@pytest.mark.source(DGR, kind="published")
def test_inside_equipment_the_hold_is_open_to_what_is_off() -> None:
    said = ruling(battery(60), AFTER, loose=False)
    assert (said.baggage, said.hold, said.most) == (Baggage.ALLOWED, True, 15)
    assert ruling(battery(120), AFTER, loose=False).baggage is Baggage.APPROVAL
    assert ruling(battery(161), AFTER, loose=False).baggage is Baggage.FORBIDDEN


@pytest.mark.source("49 CFR 175.10(a)(18)(iii), edition of 2018-10-01", kind="published")
def test_sealed_lead() -> None:
    small, large = battery(84, "lead-acid", 12), battery(216, "lead-acid", 12)
    assert (ruling(small).baggage, ruling(small).most) == (Baggage.ALLOWED, 2)
    assert ruling(large).baggage is Baggage.FORBIDDEN
    assert ruling(battery(84, "lead-acid", 24)).baggage is Baggage.FORBIDDEN
    assert ruling(battery(84, "lead-acid", 12, sealed=False)).baggage is Baggage.FORBIDDEN


@pytest.mark.source(ADDENDUM, kind="published")
def test_three_power_banks_are_one_too_many_from_the_day_of_the_rule() -> None:
    bank = battery(20, volts=3.7, power_bank=True)
    (after,) = [f for f in proved(one(bank, 3)) if f.weight is Weight.STOP]
    assert "one too many" in after.what
    assert after.numbers["most"] == 2
    assert all(f.weight is Weight.FINE for f in proved(one(bank, 3), date=BEFORE))
    assert all(f.weight is Weight.FINE for f in proved(one(bank, 3), travellers=2))
    assert any(f.weight is Weight.STOP for f in proved(one(bank, 3, by="hold"), travellers=2))
    assert ruling(battery(170, power_bank=True), AFTER).baggage is Baggage.FORBIDDEN
    assert ruling(battery(120, power_bank=True), AFTER).most == 2


@pytest.mark.source(DGR, kind="published")
def test_lithium_metal_by_its_grams() -> None:
    assert ruling(battery(4.5, "lithium", 1.5, lithium_g=1.0)).baggage is Baggage.ALLOWED
    assert ruling(battery(4.5, "lithium", 1.5, lithium_g=2.0)).baggage is Baggage.ALLOWED
    assert ruling(battery(9, "lithium", 3, lithium_g=2.01)).baggage is Baggage.FORBIDDEN
    assert "its maker tells" in ruling(battery(4.5, "lithium", 1.5)).sentence
    assert not ruling(battery(4.5, "lithium", 1.5)).hold


@pytest.mark.source("IATA special provisions A123 and A199", kind="memory")
@pytest.mark.parametrize("chemistry", ["nimh", "alkaline", "zinc-carbon"])
def test_dry_cells_may_fly(chemistry: str) -> None:
    said = ruling(battery(3, chemistry, 1.5))
    assert (said.baggage, said.most) == (Baggage.ALLOWED, None)


CARGO = "IATA packing instruction 965, UN3480: cargo aircraft only, not over 30 % charged (A331), since 2016-04-01"


@pytest.mark.source(CARGO, kind="published")
def test_batteries_alone_as_cargo() -> None:
    large = battery(1920, "lifepo4", 12.8)
    rules = cargo(large, AFTER)
    assert rules is not None
    assert rules.number.startswith("UN3480")
    assert rules.packing.endswith("IA")
    assert rules.cargo_aircraft_only
    assert rules.most_kg == 35
    assert rules.charged_allowed(0.30)
    assert not rules.charged_allowed(0.31)
    small, before = cargo(battery(90), AFTER), cargo(large, dt.date(2016, 3, 31))
    assert small is not None
    assert (small.packing[-2:], small.most_kg) == ("IB", 10)
    assert before is not None
    assert before.charged_allowed(1.0)
    assert cargo(battery(216, "lead-acid", 12)) is None


@pytest.mark.source(
    "IATA answers on 2026: packed with equipment over 2.7 Wh, 30 % from 2026-01-01, copy", kind="published"
)
def test_packed_with_equipment_from_its_day() -> None:
    def allowed(wh: float, date: dt.date) -> bool:
        rules = cargo(battery(wh), date, packed_with=True)
        assert rules is not None
        return rules.charged_allowed(0.5)

    assert allowed(50, dt.date(2025, 12, 31))
    assert not allowed(50, dt.date(2026, 1, 1))
    assert allowed(2.7, dt.date(2026, 1, 1))


@pytest.mark.source("IATA packing instruction 967, Section I: 5 kg of battery on passenger aircraft", kind="published")
def test_contained_in_a_cart() -> None:
    heavy, light = battery(1920, mass="18 kg", loose=False), battery(90, mass="700 g", loose=False)
    first, second = cargo(heavy), cargo(light)
    assert first is not None
    assert second is not None
    assert first.cargo_aircraft_only
    assert not second.cargo_aircraft_only


@pytest.mark.source(CARGO, kind="published")
def test_the_large_pack_in_words() -> None:
    pack = battery(1920, "lifepo4", 12.8)
    (as_baggage,) = proved(one(pack, by="cabin"))
    assert as_baggage.weight is Weight.STOP
    assert "with or without approval" in as_baggage.what
    (as_cargo,) = proved(one(pack, by="air cargo", mass=18))
    assert as_cargo.weight is Weight.WATCH
    assert "576 Wh" in as_cargo.what
    assert "cargo aircraft only" in as_cargo.what
    (charged,) = proved(one(battery(1920, "lifepo4", 12.8, charged=0.31), by="air cargo"))
    assert charged.weight is Weight.STOP
    (right,) = proved(one(battery(1920, "lifepo4", 12.8, charged=0.3), by="air cargo"))
    assert right.weight is Weight.WATCH
    (heavy,) = proved(one(pack, by="air cargo", mass=36))
    assert heavy.weight is Weight.STOP
    (road,) = proved(one(pack, by="road or sea"))
    assert road.weight is Weight.FINE


def test_without_a_flight_it_is_only_warned_of() -> None:
    (warned,) = proved(one(battery(1920)), date=None)
    assert warned.weight is Weight.WATCH
    assert "travels_by" in warned.remedy


def test_spares_go_by_the_person() -> None:
    assert any(f.weight is Weight.STOP for f in proved(one(battery(149.76), 3)))
    assert all(f.weight is Weight.WATCH for f in proved(one(battery(149.76), 3), travellers=2))
    (many,) = proved(one(battery(97.92), 21))
    assert many.weight is Weight.WATCH
    assert "operator may approve" in many.why
    assert all(f.weight is Weight.FINE for f in proved(one(battery(97.92), 20)))
    assert any(f.weight is Weight.STOP for f in proved(one(battery(97.92), by="hold")))


def test_a_day_that_the_table_does_not_know_is_said() -> None:
    assert not known(dt.date(2027, 1, 1))
    assert any(f.kind == "rules of the day" for f in proved(one(battery(90)), date=dt.date(2027, 1, 1)))
    assert proved() == []


@given(st.floats(0.01, 5000), st.floats(0.01, 5000), st.sampled_from(["li-ion", "lifepo4"]), st.booleans())
def test_more_content_never_has_an_easier_way(first: float, second: float, chemistry: str, loose: bool) -> None:
    order = list(Baggage)
    less, more = sorted((round(first, 2), round(second, 2)))
    content = [ruling(battery(wh, chemistry), AFTER, loose=loose).baggage for wh in (max(less, 0.01), max(more, 0.01))]
    assert order.index(content[0]) <= order.index(content[1])


@given(st.integers(1, 60), st.integers(1, 9), st.sampled_from([20.0, 97.92, 149.76]), st.booleans())
def test_more_people_are_never_worse(count: int, travellers: int, wh: float, bank: bool) -> None:
    order = [Weight.FINE, Weight.WATCH, Weight.STOP]

    def worst(people: int) -> int:
        found = proved(one(battery(wh, power_bank=bank), count), travellers=people)
        return max(order.index(f.weight) for f in found)

    assert worst(travellers + 1) <= worst(travellers)
