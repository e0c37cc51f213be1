"""The demo's rig proves clean; six faults put into it are each found, at their place, with the remedy."""

from __future__ import annotations

import copy
from collections.abc import Callable
from typing import Any

import pytest

from rollsound.actions.power import of_plan
from rollsound.actions.power_gather import Gathered
from rollsound.actions.rig import all_proofs, rig_of
from rollsound.demo.example import example_plan_text
from rollsound.finding import Finding, Weight
from rollsound.show.model import Plan
from rollsound.show.text import read_text

Document = dict[str, Any]


@pytest.fixture(scope="module")
def ferry() -> Document:
    return read_text(example_plan_text()).document


def findings(document: Document) -> list[Finding]:
    """What is not kept of rig and power."""
    plan = Plan.model_validate(document)
    found = [*all_proofs(rig_of(plan), plan), *of_plan(Gathered(plan)).findings]
    return [each for each in found if each.weight is not Weight.FINE]


@pytest.fixture(scope="module")
def told(ferry: Document) -> list[Finding]:
    return findings(ferry)


def row(document: Document, part: str, name: str, id: str) -> Document:
    """A row of a list of the plan, to be changed."""
    found: Document = next(each for each in document[part][name] if each["id"] == id)
    return found


def lost_subscription(document: Document) -> None:
    document["rig"]["streams"] = [each for each in document["rig"]["streams"] if each["id"] != "booms"]


def over_long_link(document: Document) -> None:
    row(document, "rig", "links", "net-remote")["length"] = "170 m"


def two_masters(document: Document) -> None:
    row(document, "rig", "pieces", "converter-b")["clock"] = "internal"


def clip(document: Document) -> None:
    row(document, "rig", "pieces", "pack-03")["gains"] = {"mic-in": "50 dB"}


def self_hearing_feed(document: Document) -> None:
    route = {"id": "singers-hear-themselves", "piece": "recorder", "from": "net 1", "to": "line-out 3"}
    document["rig"]["routes"].append(route)


def flat_battery(document: Document) -> None:
    row(document, "power", "batteries", "main-block")["capacity"] = "400 Wh"


FAULTS: list[tuple[Callable[[Document], None], Weight, str, str]] = [
    (
        lost_subscription,
        Weight.STOP,
        "does not reach track 3 Boom 1 with Boom 1: radio",
        "Name in that position the link, stream or route that is to carry it",
    ),
    (
        over_long_link,
        Weight.STOP,
        "is 170 m long; network goes 100 m at most",
        "put a switch or converter between them",
    ),
    (
        two_masters,
        Weight.STOP,
        "each run on their own clock on one network",
        "Let Main recorder, 32 tracks be the master, and write 'clock: net' at Network converter B",
    ),
    (clip, Weight.STOP, "clips", "Take "),
    (self_hearing_feed, Weight.WATCH, "own voice", ""),
    (flat_battery, Weight.STOP, "Cart is flat at", "Bring "),
]


def test_the_ferry_is_clean(ferry: Document, told: list[Finding]) -> None:
    assert len(ferry["rig"]["pieces"]) >= 45
    assert [each for each in told if each.weight is Weight.STOP] == []


@pytest.mark.parametrize(("fault", "weight", "what", "remedy"), FAULTS, ids=[each[0].__name__ for each in FAULTS])
def test_a_fault_is_found_with_its_remedy(
    ferry: Document,
    told: list[Finding],
    fault: Callable[[Document], None],
    weight: Weight,
    what: str,
    remedy: str,
) -> None:
    before = {each.what for each in told}
    changed = copy.deepcopy(ferry)
    fault(changed)
    new = [each for each in findings(changed) if each.what not in before]
    right = [each for each in new if each.weight is weight and what in each.what and remedy in each.remedy]
    assert right, [(each.weight, each.what, each.remedy) for each in new]
    assert all(each.remedy and each.refs and each.refs[0].path.startswith("plan#/") for each in right)
