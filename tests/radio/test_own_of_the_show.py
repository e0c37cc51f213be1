"""What a show writes itself goes before the tables, everywhere it is used."""

from __future__ import annotations

from typing import Any

import pytest
from radio_parts import pack, part

from rollsound.errors import InputError
from rollsound.radio.asking import asked
from rollsound.radio.chains import chains
from rollsound.radio.model import RadioPart
from rollsound.radio.naming import names_wrong
from rollsound.radio.reach.budget import place
from rollsound.radio.reach.through import walls_at


def hall(**more: Any) -> dict[str, Any]:
    ground = {"id": "hall", "width": "20 m", "depth": "10 m", "antennas": [{"id": "left", "at": "1, 5 m"}], **more}
    receiver = {"id": "r", "name": "R", "hears": ["p1"]}
    return {"receivers": [receiver], "grounds": [ground]}


def test_the_noise_of_a_place_is_that_of_the_show() -> None:
    loud = {"id": "city", "c": "60 dB", "d": "0 dB"}
    quiet, own = (
        chains(part(pack(frequency="500 MHz"), noise_environments=list(rows), **hall()), {"p1": 500_000_000})[0]
        for rows in ((), (loud,))
    )
    assert own.noise_dbm > quiet.noise_dbm + 30


def test_a_wall_whose_loss_is_written_needs_no_known_material() -> None:
    wall = {"id": "w", "line": "5, 0; 5, 10 m", "material": "driftwood"}
    radio = part(pack(frequency="500 MHz"), **hall(walls=[{**wall, "loss": "25 dB"}]))
    assert names_wrong(radio) == ()
    assert [each.loss_db(500e6) for each in walls_at(radio, radio.grounds[0])] == [25.0]
    found = place(radio, "hall", "p1", (10.0, 5.0))
    assert any(term.db == -25.0 for budget in found.budgets for term in budget.terms)
    bare = part(pack(), **hall(walls=[wall]))
    with pytest.raises(InputError, match="driftwood"):
        walls_at(bare, bare.grounds[0])


def test_a_part_without_anything_of_its_own_takes_the_tables() -> None:
    assert walls_at(RadioPart(), part(**hall()).grounds[0]) == ()


def test_a_rule_of_high_power_holds_for_the_strong_that_name_none() -> None:
    loud = {"id": "loud", "spacing": "800 kHz", "high_power": True}
    radio = part(
        pack("a"), pack("b", kind="monitor"), pack("c", power="250 mW"), pack("d", kind="monitor", rule="microphone")
    )
    plain = [each.guard for each in asked(radio).task.wanted]
    assert plain == ["microphone", "high-power", "high-power", "microphone"]
    own = radio.model_copy(update={"rules": part(rules=[loud]).rules})
    assert [each.guard for each in asked(own).task.wanted] == ["microphone", "loud", "loud", "microphone"]
