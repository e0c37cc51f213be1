"""Short ways to write a power part for tests."""

from __future__ import annotations

from typing import Any

from rollsound.power.answer import PowerAnswer, answer
from rollsound.power.day import Day, day_of
from rollsound.power.load import Load
from rollsound.power.model import PowerPart
from rollsound.power.tree import Loads
from rollsound.written import Band

DAY = day_of("day-1", "day 1", "07:00", "19:00", coldest_c=20.0)


def part(**lists: Any) -> PowerPart:
    """A power part from its lists; no reserve unless one is given."""
    return PowerPart.model_validate({"reserve": 0.0, **lists})


def battery(id: str = "block", **words: Any) -> dict[str, Any]:
    """A battery of 100 Wh that gives them all."""
    return {"id": id, "name": id.capitalize(), "voltage": "14.4 V", "capacity": "100 Wh", "depth": 1.0, **words}


def supply(id: str = "cart", load_w: float = 10.0, **words: Any) -> dict[str, Any]:
    """A supply on blocks that feeds one thing."""
    feeds = [{"id": "thing", "item": "thing", "draw": f"{load_w} W"}]
    return {"id": id, "name": id.capitalize(), "battery": "block", "feeds": feeds, **words}


def loads_of(power: PowerPart, limits: dict[str, Band] | None = None) -> Loads:
    """Loads from what is written where things are fed."""
    return {
        (each.id, fed.id): Load(
            fed.id,
            fed.id,
            fed.draw_w,
            fed.idle_w,
            fed.asleep_w,
            count=fed.count,
            input_v=(limits or {}).get(fed.id),
            capacitance_f=fed.capacitance_f,
        )
        for each in power.supplies
        for fed in each.feeds
    }


def answered(power: PowerPart, day: Day = DAY, limits: dict[str, Band] | None = None, **more: Any) -> PowerAnswer:
    """Everything of a day."""
    return answer(power, loads_of(power, limits), day, **more)
