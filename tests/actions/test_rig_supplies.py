"""Which pieces go when a battery is empty, as fallout asks it."""

from __future__ import annotations

from typing import Any

from rollsound.actions.rig import supplies_of
from rollsound.show.model import Plan


def _plan(*supplies: dict[str, Any]) -> Plan:
    return Plan.model_validate({"show": {"title": "Northbound Ferry"}, "power": {"supplies": list(supplies)}})


def _feeds(*pieces: str) -> list[dict[str, str]]:
    return [{"id": piece, "piece": piece} for piece in pieces]


def test_a_battery_takes_all_that_hangs_below_it() -> None:
    plan = _plan(
        {"id": "cart", "battery": "block", "feeds": _feeds("recorder")},
        {"id": "five-volts", "from_supply": "cart", "feeds": _feeds("hub", "recorder")},
        {"id": "mains", "mains": True, "feeds": _feeds("lamp")},
    )
    assert supplies_of(plan) == {"cart": ("recorder", "hub")}


def test_packs_with_cells_of_their_own_do_not_go_together() -> None:
    plan = _plan({"id": "packs", "battery": "cells", "each": True, "feeds": _feeds("pack-01", "pack-02")})
    assert supplies_of(plan) == {}


def test_a_long_row_or_a_ring_of_supplies_is_gone_through() -> None:
    row = [{"id": f"s{n}", "from_supply": f"s{n - 1}", "feeds": _feeds(f"p{n}")} for n in range(1, 3000)]
    plan = _plan({"id": "s0", "battery": "block"}, *row)
    assert len(supplies_of(plan)["s0"]) == 2999
    ring = _plan(
        {"id": "a", "battery": "block", "from_supply": "b", "feeds": _feeds("one")},
        {"id": "b", "from_supply": "a", "feeds": _feeds("two")},
    )
    assert supplies_of(ring) == {"a": ("one", "two")}
