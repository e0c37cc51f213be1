"""What a region closes to one transmitter, for its use or power, is closed to no other."""

from __future__ import annotations

from typing import Any

import pytest
from radio_parts import REGION, pack, part

from rollsound.radio.asking import asked
from rollsound.radio.carriers.answer import Limit
from rollsound.radio.carriers.audit import audit
from rollsound.radio.carriers.bounds import free_stretches
from rollsound.radio.carriers.find import find
from rollsound.radio.carriers.free import free
from rollsound.radio.carriers.task import Mode, Occupied
from rollsound.radio.model import RadioPart
from rollsound.radio.proofs import proofs

MHZ = 1_000_000
GAP = Occupied(608 * MHZ, 614 * MHZ, 0, "not listed for a boom in Here")
# in the middle band the region lets monitors send; booms and packs tune over it
BANDS = [*REGION["bands"], {"id": "gap", "range": "608-614 MHz", "power": "50 mW", "uses": ["monitor"]}]


def plan(**more: Any) -> RadioPart:
    boom = pack("boom", kind="boom", tuning="600-620 MHz", **more)
    ears = pack("ears", kind="monitor", tuning="604-613 MHz", frequency="611 MHz", power="10 mW")
    return part(boom, ears, region="here", regions=[{**REGION, "bands": BANDS}])


def test_a_gap_of_one_is_its_own() -> None:
    task = asked(plan()).task
    boom, ears = task.wanted
    assert task.occupied == ()
    assert boom.occupied == (GAP,)
    assert ears.occupied == ()
    assert audit(task, {"ears": 611 * MHZ}).clean
    broken = audit(task, {"boom": 611 * MHZ}).broken
    assert [(hold.limit, hold.why) for hold in broken] == [(Limit.OCCUPIED, GAP.why)]


def test_places_bounds_and_searches_keep_out_of_it() -> None:
    task = asked(plan()).task
    boom, ears = task.wanted
    stretches = free_stretches(task, [boom])
    assert stretches == [(600_100_000, 607_900_000), (614_100_000, 619_900_000)]
    assert (611 * MHZ in free(task, {}, ears).freqs_hz, 611 * MHZ in free(task, {}, boom).freqs_hz) == (True, False)
    found = find(task, Mode.ALL, effort_moves=1_000)
    assert len(found.carriers_hz) == 2
    assert not 607_900_000 < found.carriers_hz["boom"] < 614_100_000


def test_two_that_differ_only_in_what_is_closed_to_them_are_placed_apart() -> None:
    # the pack may go where the boom may not: with one map for both, only one of them would have a place
    narrow = {"tuning": "607.7-614 MHz", "step": "100 kHz"}
    bands = [
        {"id": "low", "range": "607.7-607.9 MHz", "power": "50 mW", "uses": ["boom"]},
        {"id": "high", "range": "613.8-614 MHz", "power": "50 mW", "uses": ["boom"]},
        {"id": "packs", "range": "607.7-614 MHz", "power": "50 mW", "uses": ["body pack"]},
    ]
    radio = part(
        pack("boom-1", kind="boom", **narrow),
        pack("boom-2", kind="boom", **narrow),
        pack("pack", **narrow),
        region="here",
        regions=[{**REGION, "bands": bands}],
    )
    found = find(asked(radio).task, Mode.ALL, effort_moves=1_000)
    assert len(found.carriers_hz) == 3
    assert {found.carriers_hz["boom-1"], found.carriers_hz["boom-2"]} == {607_800_000, 613_900_000}


@pytest.mark.parametrize(("frequency", "weight"), [("611 MHz", "stop"), ("606 MHz", "fine")])
def test_proofs_tell_it_of_its_own_transmitter_alone(frequency: str, weight: str) -> None:
    radio = plan(frequency=frequency)
    asking = asked(radio)
    carriers = {each.id: each.now_hz for each in asking.task.wanted if each.now_hz}
    found = proofs(radio, asking, audit(asking.task, carriers), carriers, reach=False)
    told = [(each.subject, each.weight.value) for each in found if each.kind == "occupied spectrum"]
    assert told == ([("BOOM", "stop")] if weight == "stop" else [])
