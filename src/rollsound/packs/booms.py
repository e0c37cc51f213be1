"""Which boom follows whom: one voice each first, the one with most words on the first boom."""

from __future__ import annotations

from rollsound.packs.task import Boom, PackTask, Worn


def booms_of(task: PackTask, worn: Worn, slot: int) -> dict[str, Boom]:
    """The boom of every character in a scene that a plan leaves to one, by character."""
    there = task.booms_on(task.slots[slot].day)
    voices = task.voices(slot)
    on_boom = [who for who in voices if (cover := worn.get((slot, who))) is not None and cover.boom]
    on_boom.sort(key=lambda who: (-voices[who].weight, who))
    return {who: there[n % len(there)] for n, who in enumerate(on_boom)} if there else {}
