"""Changeovers one behind the other: all their combinations, in time, and never more claimed than was looked at."""

from __future__ import annotations

import pytest
from random_rigs import random_rig
from small_rigs import kit_of

from rollsound.finding import Finding, Weight
from rollsound.rig import capacity, fallout, reaching
from rollsound.rig.building import build
from rollsound.rig.built import Rig
from rollsound.rig.fallout import Fallout
from rollsound.rig.model import RigPart
from rollsound.rig.proofs import arriving, proofs
from rollsound.rig.reaching import Reaching

KIT = """
items:
  - {id: mic, name: Mic, model: m}
  - {id: mixer, name: Mixer, count: 99, model: x}
  - {id: recorder, name: Recorder, model: r}
kinds:
  - id: m
    name: Mic
    category: microphone
    core: analogue
    ports: [{id: capsule, direction: in, medium: air}, {id: out, direction: out, medium: analogue}]
    passes: [{from: capsule, to: out}]
  - id: x
    name: Mixer
    category: mixer
    core: analogue
    ports: [{id: in, direction: in, medium: analogue}, {id: out, direction: out, medium: analogue}]
  - id: r
    name: Recorder
    category: recorder
    core: digital
    clock: own
    tracks: 2
    ports: [{id: in, direction: in, medium: analogue}]
"""


def _in_a_row(number: int, *, broken: int | None = None) -> Rig:
    """A voice through mixers, each with two routes of which one is chosen; one of them may be missing."""
    boxes = [f"x{n}" for n in range(number)]
    ends = ["mic:out", *(f"{box}:{port}" for box in boxes for port in ("in", "out")), "recorder:in"]
    routes = [
        {"id": f"{box}-{way}", "piece": box, "from": "in", "to": "out"}
        for n, box in enumerate(boxes)
        for way in "ab"
        if not (n == broken and way == "b")
    ]
    there = {each["id"] for each in routes}
    whole = {
        "pieces": [{"id": "mic"}, *({"id": box, "item": "mixer"} for box in boxes), {"id": "recorder"}],
        "links": [{"id": f"l{n}", "from": ends[n], "to": ends[n + 1]} for n in range(0, len(ends), 2)],
        "routes": [*routes, {"id": "rec", "piece": "recorder", "from": "in", "to": "track 1"}],
        "sources": [{"id": "voice", "at": "mic:capsule", "character": "Bram"}],
        "tracks": [{"id": "t", "number": 1, "name": "T", "source": "voice"}],
        "changeovers": [
            {
                "id": f"c-{box}",
                "positions": [
                    {"id": way, "routes": [f"{box}-{way}"] if f"{box}-{way}" in there else []} for way in "ab"
                ],
            }
            for box in boxes
        ],
    }
    rig = build(RigPart.model_validate(whole), kit_of(KIT))
    assert rig.wrong == ()
    return rig


def _of(rig: Rig, kind: str) -> list[Finding]:
    return [each for each in proofs(rig) if each.kind == kind]


def test_all_at_once_is_as_one_by_one(monkeypatch: pytest.MonkeyPatch) -> None:
    rigs = [random_rig(seed) for seed in range(60)]
    asked = [(rig, pair) for rig in rigs for pair in Reaching(rig).pairs()]
    first = [Reaching(rig).reach(*pair) for rig, pair in asked]
    monkeypatch.setattr(reaching, "_AT_ONCE", 0)
    assert [Reaching(rig).reach(*pair) for rig, pair in asked] == first
    assert sum(0 < len(each.arrives) < each.there_are for each in first) > 20


def test_sixteen_in_a_row_are_proven_in_every_combination() -> None:
    asked = Reaching(_in_a_row(16))
    assert list(arriving(asked)) == []
    reach = asked.reach("voice", "track:t")
    assert reach.covered
    assert len(reach.arrives) == 1 << 16


def test_one_that_is_lost_among_them_is_found_with_its_number() -> None:
    (found,) = arriving(Reaching(_in_a_row(12, broken=7)))
    assert found.weight is Weight.STOP
    assert found.numbers["combinations_failing"] == 2048


def test_what_was_not_looked_at_is_neither_lost_nor_proven(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(reaching, "MOST_PARTS", 8)
    rig = _in_a_row(4)
    (found,) = _of(rig, "everything arrives")
    assert (found.weight, found.numbers) == (Weight.WATCH, {"looked_at": 8.0, "combinations": 16.0})
    assert found.remedy
    told = _of(rig, "changeover")
    assert {each.weight for each in told} == {Weight.WATCH}
    assert all("part of the combinations" in each.what and each.remedy for each in told)


def test_failures_that_were_not_looked_at_are_told(monkeypatch: pytest.MonkeyPatch) -> None:
    rig = _in_a_row(4)
    assert Fallout(Reaching(rig)).complete
    monkeypatch.setattr(fallout, "MOST_CASES", 3)
    monkeypatch.setattr(fallout, "_LEAST_CASES", 3)
    assert not Fallout(Reaching(rig)).complete
    (found,) = _of(rig, "single failure")
    assert found.weight is Weight.WATCH
    assert found.remedy


def test_a_network_that_was_looked_at_in_part_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    rig = next(rig for rig in map(random_rig, range(200)) if _touching(rig) > 2)
    monkeypatch.setattr(capacity, "_MOST_COMBINATIONS", 2)
    found = [each for each in capacity.network(Reaching(rig)) if "looked at in 2 of the" in each.what]
    assert [each.weight for each in found] == [Weight.WATCH]
    assert found[0].remedy


def _touching(rig: Rig) -> int:
    if not rig.part.streams:
        return 0
    own = [each for each in rig.part.changeovers if capacity._touches_network(rig, each.id)]
    return 2 ** len(own)
