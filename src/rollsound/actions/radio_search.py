"""A search for carriers that the clock may cut short: the search itself knows moves only."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING

from rollsound.radio.carriers.answer import CarrierPlan
from rollsound.radio.carriers.find import ENDLESS_MOVES, Found, find
from rollsound.radio.carriers.task import Mode, Task

if TYPE_CHECKING:
    from rollsound.radio.model import RadioPart


def find_within(
    task: Task,
    mode: Mode,
    *,
    seed: int = 0,
    seconds: float | None = None,
    effort_moves: int | None = None,
    progress: Callable[[Found], None] | None = None,
    stop: Callable[[], bool] | None = None,
) -> CarrierPlan:
    """Look for carriers as ``find`` does, for so many seconds at most.

    Parameters
    ----------
    seconds
        cuts the search short; what it gives then depends on the machine. Where only they are given, moves have no end
    """
    if seconds is None:
        return find(task, mode, seed=seed, effort_moves=effort_moves, progress=progress, stop=stop)
    until = time.monotonic() + seconds

    def late() -> bool:
        return time.monotonic() >= until or (stop is not None and stop())

    effort = ENDLESS_MOVES if effort_moves is None else effort_moves
    return find(task, mode, seed=seed, effort_moves=effort, progress=progress, stop=late)


def with_all_spares(task: Task, radio: RadioPart, found: CarrierPlan) -> CarrierPlan:
    """The same with everybody's spares: what was found, and of those in the plan what the new carriers leave clear."""
    from rollsound.radio.kept_spares import beside_found, written_spares

    return replace(found, spares_hz=beside_found(task, found.carriers_hz, found.spares_hz, written_spares(radio)))
