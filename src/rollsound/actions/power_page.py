"""What the page *Power* shows: a day's answer, kept while the plan stays as it is, its chart, and changes tried."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from rollsound.errors import InputError

if TYPE_CHECKING:
    from rollsound.actions.power_model import Compared, PowerResult, WhatIf
    from rollsound.report.charts import Chart
    from rollsound.show.folder import Show
    from rollsound.show.model import Plan

_KEPT = 24
_one = threading.Lock()
_results: OrderedDict[tuple[str, int, str], PowerResult] = OrderedDict()


@dataclass(frozen=True)
class PowerState:
    """A day's power as the plan stands; no result where nothing is written about power."""

    revision: int
    plan: Plan
    result: PowerResult | None


@dataclass(frozen=True)
class ChangeAt:
    """Batteries that are changed at one time of the day."""

    at: str
    at_min: float
    name: str
    battery: str
    count: int
    in_break: bool
    owned: bool
    """Whether there is a set for it."""


def state_of(show: Show, day: str = "") -> PowerState:
    """One day, or the hardest one; kept until the plan changes.

    Raises
    ------
    InputError
        when the schedule has no such day
    """
    revision, plan = show.store.head().revision, show.plan()
    return PowerState(revision, plan, _result(str(show.folder), revision, plan, day) if said(plan) else None)


def said(plan: Plan) -> bool:
    """Whether the plan says anything about power."""
    return bool(plan.power.batteries or plan.power.supplies)


def known(show: Show) -> PowerResult | None:
    """The hardest day, where somebody has looked since the plan was changed; nothing is worked out."""
    with _one:
        return _results.get((str(show.folder), show.store.head().revision, ""))


def _result(folder: str, revision: int, plan: Plan, day: str) -> PowerResult:
    from rollsound.actions.power import of_plan
    from rollsound.actions.power_gather import Gathered

    key = (folder, revision, day)
    with _one:
        kept = _results.get(key)
        if kept is None:
            kept = of_plan(Gathered(plan), day)
            _results[key] = kept
            while len(_results) > _KEPT:
                _results.popitem(last=False)
    return kept


def chart_of(result: PowerResult, *, narrow: bool = False) -> Chart:
    """The day's batteries as lanes."""
    from rollsound.actions.power import power_chart

    return power_chart(result, narrow=narrow)


def changes_of(result: PowerResult) -> list[ChangeAt]:
    """Every change of the day in order, those together that are made together."""
    found = []
    for row in result.batteries:
        name = row.names[0] if len(row.names) == 1 else ", ".join(row.names)
        for number, swap in enumerate(row.swaps):
            owned = number + 1 < row.sets_given
            found.append(ChangeAt(swap.at, swap.at_min, name, row.battery_name, swap.batteries, swap.in_break, owned))
    return sorted(found, key=lambda each: each.at_min)


def tried(plan: Plan, change: WhatIf, day: str) -> Compared:
    """The day as it would be; nothing is saved.

    Raises
    ------
    InputError
        when the change names what is not there, or a value that cannot be
    """
    from rollsound.actions.power_what_if import what_if

    if not said(plan):
        raise InputError("nothing is written about power yet; write batteries and supplies first")
    return what_if(plan, change, day)


def fields_of(plan: Plan, change: WhatIf) -> list[tuple[tuple[str, ...], Mapping[str, Any]]]:
    """What of a change is written into the plan, by its place; a cold that is tried is the forecast's, not the plan's.

    Raises
    ------
    InputError
        when the change names what is not there, or a value that cannot be
    """
    from rollsound.actions.power_what_if import tried as as_plan

    as_plan(plan, change)
    found: list[tuple[tuple[str, ...], Mapping[str, Any]]] = []
    for id, number in change.count_of.items():
        found.append((("power", "batteries", id), {"count": number}))
    for id, battery in change.battery_of.items():
        found.append((("power", "supplies", id), {"battery": battery, "from_supply": None, "mains": None}))
    for id, number in change.parallel_of.items():
        found.append((("power", "supplies", id), {"in_parallel": number if number > 1 else None}))
    for id, state in change.state_of.items():
        found.append((("power", "phases", id), {"state": state}))
    for id, is_break in change.break_of.items():
        found.append((("power", "phases", id), {"break": is_break or None}))
    for id, (start, end) in change.times_of.items():
        found.append((("power", "phases", id), {"from": start, "to": end}))
    if change.reserve is not None:
        found.append((("power",), {"reserve": change.reserve}))
    return found


def with_example(document: Mapping[str, Any]) -> dict[str, Any]:
    """A document with the demo's batteries of cart and bag, its breaks and its socket, and a bag that runs on them."""
    from importlib import resources

    from rollsound.show.text import read_text

    text = resources.files("rollsound.demo").joinpath("northbound.yaml").read_text(encoding="utf-8")
    demo = read_text(text).document["power"]
    batteries = [each for each in demo["batteries"] if each["id"] in ("cart-block", "bag-block")]
    bag = {"id": "bag", "name": "Bag recorder", "battery": "bag-block", "swappable_running": True}
    breaks = [each for each in demo["phases"] if each.get("break")]
    part = dict(document.get("power") or {})
    part |= {"batteries": batteries, "supplies": [bag], "phases": breaks, "sockets": demo["sockets"]}
    return {**document, "power": part}
