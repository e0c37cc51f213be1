"""Carriers kept free beside a plan: all of them may be switched on at once, with everything that is in use."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace

from rollsound.radio.carriers.audit import audit
from rollsound.radio.carriers.raster import Item
from rollsound.radio.carriers.search import place
from rollsound.radio.carriers.task import Task, Wanted


def spares(
    task: Task,
    carriers_hz: Mapping[str, int],
    *,
    seed: int = 0,
    effort_moves: int = 10_000,
    going: Callable[[int], bool] = lambda moves: True,
) -> tuple[dict[str, tuple[int, ...]], int]:
    """Spares for those with a carrier that want some, as many as find room; and how many moves it took.

    Parameters
    ----------
    task
        says who wants how many
    carriers_hz
        of the plan; none of them is moved
    going
        told the moves made; says whether to go on
    """
    used = [Item(each, frozen_hz=carriers_hz[each.id]) for each in task.wanted if each.id in carriers_hz]
    # one for everybody before a second for anybody
    wanted = [
        Item(replace(item.wanted, fixed=False, now_hz=None), spare=n + 1)
        for n in range(max((item.wanted.spares for item in used), default=0))
        for item in used
        if item.wanted.spares > n
    ]
    if not wanted:
        return {}, 0
    items = [*used, *wanted]
    enough = sum(item.worth for item in items)
    freqs, moves = place(
        task, items, seed=seed, effort_moves=effort_moves, enough=enough, going=lambda _, made: going(made)
    )
    found: dict[str, list[int]] = {}
    for n, item in enumerate(items):
        if item.spare and n in freqs:
            found.setdefault(item.wanted.id, []).append(freqs[n])
    clean = without_harm(task, carriers_hz, found)
    return {id: tuple(sorted(freqs)) for id, freqs in clean.items() if freqs}, moves


def switched_on(
    task: Task, carriers_hz: Mapping[str, int], spares_hz: Mapping[str, tuple[int, ...] | list[int]]
) -> tuple[Task, dict[str, int]]:
    """The task and carriers with every spare as one more transmitter: what is in use is fixed in it."""
    wanted = [replace(each, fixed=each.id in carriers_hz) for each in task.wanted]
    carriers = dict(carriers_hz)
    for each in task.wanted:
        for n, freq in enumerate(spares_hz.get(each.id, ())):
            spare: Wanted = replace(each, id=f"{each.id}, spare {n + 1}", fixed=False, now_hz=None)
            wanted.append(spare)
            carriers[spare.id] = freq
    return replace(task, wanted=tuple(wanted)), carriers


def without_harm(task: Task, carriers_hz: Mapping[str, int], found: dict[str, list[int]]) -> dict[str, list[int]]:
    """Spares without those that the full check rejects; ``found`` is changed."""
    while True:
        all_on, carriers = switched_on(task, carriers_hz, found)
        checked = audit(all_on, carriers)
        if checked.clean:
            return found
        gone: set[str] = set()
        for hold in checked.broken:  # the worst first; what goes takes its other relations with it
            involved = [id for id in (hold.hit, *hold.sources) if id not in carriers_hz]
            if gone.isdisjoint(involved):
                gone.add(min(involved))
        for id in gone:
            found[id.rsplit(", spare ", 1)[0]].remove(carriers[id])
