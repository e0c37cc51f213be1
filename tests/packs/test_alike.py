"""Packs that are alike change places for their names' sake, and the plan costs the same."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st
from tests.packs.pack_parts import booms, packs, person, slot, small_tasks

from rollsound.packs.alike import as_named
from rollsound.packs.check import faults
from rollsound.packs.counting import cost
from rollsound.packs.find import find
from rollsound.packs.task import PackTask


def _own_words(task: PackTask, worn: dict, named: dict[str, str]) -> int:  # type: ignore[type-arg]
    return sum(
        task.voices(n)[who].weight for (n, who), cover in worn.items() for pack in cover.packs if named.get(pack) == who
    )


@settings(max_examples=60, deadline=None)
@given(small_tasks(), st.permutations(["bram", "idris", "runa"]))
def test_nothing_is_given_up_for_names(task: PackTask, order: list[str]) -> None:
    named = dict(zip(("pack-01", "pack-02", "pack-03"), order, strict=True))
    before = dict(find(task, moves=0).worn)
    after = as_named(task, before, named)
    assert cost(task, after) == cost(task, before)
    assert not faults(task, after)
    assert _own_words(task, after, named) >= _own_words(task, before, named)


def test_everybody_gets_the_pack_that_has_his_or_her_name() -> None:
    task = PackTask(
        packs(4, spare={4: True}), booms(1), tuple(map(person, ("Bram", "Idris", "Runa"))),
        (slot(1, "4", "day", "Runa", "Bram"), slot(1, "5", "scene", "Idris")),
    )  # fmt: skip
    named = {"pack-01": "bram", "pack-02": "idris", "pack-03": "runa", "pack-04": "piano"}
    worn = as_named(task, find(task, moves=1).worn, named)
    assert {who: cover.packs for (_, who), cover in worn.items()} == {
        "runa": ("pack-03",),
        "bram": ("pack-01",),
        "idris": ("pack-02",),
    }
