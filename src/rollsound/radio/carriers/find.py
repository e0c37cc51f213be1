"""The search for carriers."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from rollsound.radio.carriers.answer import CarrierPlan, Unplaced
from rollsound.radio.carriers.audit import audit
from rollsound.radio.carriers.free import free
from rollsound.radio.carriers.task import Mode, Task


@dataclass(frozen=True)
class Found:
    """How far a search is."""

    placed: int
    of: int
    margin_hz: int | None
    moves: int
    effort_moves: int
    carriers_hz: dict[str, int]
    """The best so far; clean."""


def find(
    task: Task,
    mode: Mode = Mode.ALL,
    *,
    seed: int = 0,
    effort_moves: int | None = None,
    seconds: float | None = None,
    progress: Callable[[Found], None] | None = None,
    stop: Callable[[], bool] | None = None,
) -> CarrierPlan:
    """Look for carriers.

    Parameters
    ----------
    task
        what is asked
    mode
        what is looked for
    seed
        the same seed and effort give the same plan
    effort_moves
        how many moves are tried at most
    seconds
        cuts the search short; what it gives then depends on the machine
    progress
        called with the best so far
    stop
        asked now and then whether to stop

    Returns
    -------
    CarrierPlan
        clean by a full audit
    """
    from rollsound.radio.carriers import bounds, relax

    carriers = {each.id: each.now_hz for each in task.wanted if each.fixed and each.now_hz is not None}
    left = []
    for each in sorted(task.wanted, key=lambda e: e.priority):
        if each.id in carriers:
            continue
        best = free(task, carriers, each).best(1)
        if best:
            carriers[each.id] = best[0][0]
        else:
            left.append(each.id)
    checked = audit(task, carriers)
    unplaced: tuple[Unplaced, ...] = tuple(relax.reasons(task, carriers, left)) if left else ()
    return CarrierPlan(carriers, checked, unplaced, bound=bounds.bound(task))
