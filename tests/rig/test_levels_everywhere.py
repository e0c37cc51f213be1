"""Levels by part-combinations, against every combination of random rigs worked out by itself."""

from __future__ import annotations

import copy
import random

import pytest
import random_rigs
from random_rigs import random_rig

from rollsound.kit.model import KitPart
from rollsound.rig.building import build
from rollsound.rig.built import Rig
from rollsound.rig.combining import combinations
from rollsound.rig.levels_everywhere import Levels
from rollsound.rig.paths import all_paths
from rollsound.rig.reaching import Reaching
from rollsound.rig.state import State

FULL_SCALE_DBU = 20.0
AT_FIRST_DBU = -31.7609 + 90.0 - 94.0
"""90 dB SPL at 20 mV/Pa."""


def levelled(seed: int) -> Rig:
    """A random rig with levels, whose positions set gains besides what they name."""
    part = random_rig(seed).part
    chance = random.Random(seed)
    kinds = copy.deepcopy(random_rigs._KINDS)
    for kind in kinds:
        for port in kind["ports"]:
            if port["medium"] == "air":
                port["sensitivity"] = "20 mV/Pa"
            elif port["medium"] == "analogue" and kind["id"] != "mic":
                port["full_scale"] = f"{FULL_SCALE_DBU:g} dBu"
                port["gain"] = "-20 to 60 dB"
    ends = [f"box-{n}:in {channel}" for n in (1, 2) for channel in (1, 2, 3)] + [
        f"recorder:in {n}" for n in range(1, 7)
    ]
    changeovers = []
    for changeover in part.changeovers:
        own = [ends.pop(chance.randrange(len(ends))) for _ in range(2)]  # no two changeovers set the same gain
        positions = [
            each.model_copy(update={"gains": {end: float(chance.randint(-10, 30)) for end in own}})
            for each in changeover.positions
        ]
        changeovers.append(changeover.model_copy(update={"positions": tuple(positions)}))
    sources = [each.model_copy(update={"level_spl": 90.0, "distance_m": 1.0}) for each in part.sources]
    whole = part.model_copy(update={"sources": tuple(sources), "changeovers": tuple(changeovers)})
    items = [{"id": kind["id"], "name": kind["name"], "model": kind["id"], "count": 9} for kind in kinds]
    rig = build(whole, KitPart.model_validate({"items": items, "kinds": kinds}))
    assert rig.wrong == ()
    return rig


@pytest.mark.source("every combination worked out by itself; gains added up", kind="practice")
def test_levels_agree_with_every_combination_worked_out_by_itself() -> None:
    compared, moved = 0, set()
    for seed in range(30):
        rig = levelled(seed)
        reaching = Reaching(rig)
        levels = Levels(reaching)
        for combination in combinations(rig.part.changeovers):
            found = all_paths(State(rig, combination))
            for source, target in reaching.pairs():
                expected = sorted(
                    AT_FIRST_DBU + path.gain_db - FULL_SCALE_DBU
                    for path in (found[(source, target)].paths if (source, target) in found else ())
                )
                cases = levels.cases(source, target)
                assert cases.covered
                case = cases.at(tuple(combination[each] for each in cases.reach.changeovers))
                told = sorted(path.end.mean_db for path in case.paths) if case is not None else []
                assert told == pytest.approx(expected, abs=1e-3), f"seed {seed}, {combination}, {source} to {target}"
                compared += len(told)
                moved |= {round(each) for each in told}
    assert compared > 150
    assert len(moved) > 10  # gains do move them
