"""Spares that were found before: which of them are still clear, and what stands beside those that are found now."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from rollsound.radio.carriers.spares import without_harm
from rollsound.radio.carriers.task import Task, Wanted
from rollsound.radio.model import RadioPart
from rollsound.radio.raster import whole

Spares = dict[str, tuple[int, ...]]


def written_spares(radio: RadioPart) -> Spares:
    """The spares that stand in the plan, in whole hertz."""
    return {
        each.id: tuple(hz for freq in each.spare_frequencies if (hz := whole(freq)) is not None)
        for each in radio.transmitters
        if each.spare_frequencies
    }


def kept_spares(task: Task, carriers_hz: Mapping[str, int], written_hz: Mapping[str, Sequence[int]]) -> Spares:
    """Of the spares that are written, those that are clear of these carriers and of each other."""
    known = {each.id for each in task.wanted}
    left = {id: list(dict.fromkeys(freqs)) for id, freqs in written_hz.items() if id in known}
    return {id: tuple(freqs) for id, freqs in without_harm(task, carriers_hz, left).items() if freqs}


def beside_found(
    task: Task,
    carriers_hz: Mapping[str, int],
    found_hz: Mapping[str, Sequence[int]],
    written_hz: Mapping[str, Sequence[int]],
) -> Spares:
    """Everybody's spares from now on: those found, and of those written what still holds beside them.

    Who wants a number of spares keeps written ones only up to it; who wants none keeps all that hold.
    """
    with_found, carriers = in_use(task, carriers_hz, found_hz)
    left = {id: [hz for hz in freqs if hz not in found_hz.get(id, ())] for id, freqs in written_hz.items()}
    kept = kept_spares(with_found, carriers, left)
    result: Spares = {}
    for each in task.wanted:
        found, held = found_hz.get(each.id, ()), kept.get(each.id, ())
        room = max(each.spares - len(found), 0) if each.spares else len(held)
        every = tuple(sorted((*found, *held[:room])))
        if every:
            result[each.id] = every
    return result


def in_use(
    task: Task, carriers_hz: Mapping[str, int], spares_hz: Mapping[str, Sequence[int]]
) -> tuple[Task, dict[str, int]]:
    """The task and carriers with these spares as if they were in use already: nothing new may harm them."""
    more: list[Wanted] = []
    carriers = dict(carriers_hz)
    for each in task.wanted:
        for n, freq in enumerate(spares_hz.get(each.id, ())):
            spare = replace(each, id=f"{each.id}, kept {n + 1}", fixed=True, now_hz=freq, spares=0)
            more.append(spare)
            carriers[spare.id] = freq
    return replace(task, wanted=(*task.wanted, *more)), carriers
