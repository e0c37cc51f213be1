"""The tables are what decides: a figure that is changed in one changes the answer that a document gives."""

from __future__ import annotations

import copy
import datetime as dt
from collections.abc import Callable
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

from rollsound.facts import table
from rollsound.kit import air_rules, carnet, lifting, wind
from rollsound.kit.kinds import table as kinds
from rollsound.kit.model import BatteryContent, KitPart

Change = Callable[[dict[str, Any]], None]


def changed(monkeypatch: pytest.MonkeyPatch, module: ModuleType, name: str, change: Change) -> None:
    made = copy.deepcopy(table(name))
    change(made)
    monkeypatch.setattr(module, "table", lambda asked: made if asked == name else table(asked))


def battery(wh: float, **more: object) -> BatteryContent:
    words = {"chemistry": "li-ion", "voltage": "14.4 V", "capacity": f"{wh} Wh", "loose": True}
    return BatteryContent.model_validate(words | more)


def test_the_lifting_filter(monkeypatch: pytest.MonkeyPatch) -> None:
    changed(monkeypatch, lifting, "kit_lifting", lambda t: t["filter"]["zone"][2].update(men_close_kg=24))
    assert lifting.filter_kg(("knuckle to elbow",), twist_deg=60) != pytest.approx(22.5, abs=0.05)


def test_the_force_of_rolling(monkeypatch: pytest.MonkeyPatch) -> None:
    changed(monkeypatch, lifting, "kit_lifting", lambda t: t["push"].update(good_share=0.021))
    assert lifting.push(200).rolling_n != pytest.approx(39.2, abs=0.05)


def test_the_wind(monkeypatch: pytest.MonkeyPatch) -> None:
    changed(monkeypatch, wind, "kit_wind", lambda t: t["figures"].update(density_kg_m3=1.226))
    assert wind.pressure_pa(15) != pytest.approx(140.6, abs=0.05)


def test_batteries_by_air(monkeypatch: pytest.MonkeyPatch) -> None:
    def later(rows: dict[str, Any]) -> None:
        rows["lithium_ion"].update(small_wh=101)
        rows["power_banks"].update({"from": dt.date(2026, 3, 28)})
        rows["cargo"].update(most_charged=0.31)

    bank, day = battery(20, power_bank=True), dt.date(2026, 3, 27)
    assert air_rules.ruling(battery(100.01)).baggage is air_rules.Baggage.APPROVAL
    assert air_rules.ruling(bank, day).most == 2
    changed(monkeypatch, air_rules, "kit_air", later)
    assert air_rules.ruling(battery(100.01)).baggage is air_rules.Baggage.ALLOWED
    assert air_rules.ruling(bank, day).most == 20
    rules = air_rules.cargo(battery(1920))
    assert rules is not None
    assert rules.charged_allowed(0.31)


def test_the_list_for_customs(monkeypatch: pytest.MonkeyPatch) -> None:
    item = {"id": "a", "name": "Assorted poles", "serials": ["NSN"], "value": 1, "origin": "DE", "mass": "1 kg"}
    kit = KitPart.model_validate({"items": [item]})
    assert carnet.general_list(kit).flaws
    changed(monkeypatch, carnet, "kit_carnet", lambda t: t["list"].update(vague=[]))
    assert not carnet.general_list(kit).flaws


def test_the_page_of_the_kit_tells_every_kind() -> None:
    page = (Path(__file__).parents[2] / "docs" / "kit.md").read_text("utf-8")
    rows = {line.split("|")[1].strip(" `"): line for line in page.splitlines() if line.startswith("| `")}
    assert set(rows) == set(kinds())
    for id, kind in kinds().items():
        assert kind.name in rows[id]
        for port in kind.ports:
            assert f" {port.id}" in rows[id], (id, port.id)
