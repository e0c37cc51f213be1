"""Packs of a day that are alike, taken together while it is looked for, and handed out one by one at last.

Whoever has a pack without a stop has it for a stretch of scenes. Stretches that never need more packs at one time than
there are can be handed out in the order in which they begin, whatever pack of those that are free is taken: so nothing
is given up by taking packs together, and there is far less to look through.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence

from rollsound.packs.task import Cover, PackTask

Groups = Mapping[str, tuple[str, ...]]
"""Packs that are alike, by the first of them."""


def groups_of(task: PackTask, day: str) -> Groups:
    """The packs of a day. Spares, and those that a wish or a kept plan names, stand alone; all do where one has two."""
    cast = task.cast(day)
    alone = {task.character[who].pack for who in cast} | {
        pack for n in task.days[day] for who in cast for pack in task.kept.get((n, who), Cover()).packs
    }
    tracks = {task.character[who].track for who in cast} - {0}
    double = any(task.character[who].dual for who in cast)
    groups: dict[tuple[bool, str], list[str]] = {}
    for pack in task.packs_on(day):
        own = double or pack.spare or pack.id in alone or pack.track in tracks
        groups.setdefault((pack.small, pack.id if own else ""), []).append(pack.id)
    return {packs[0]: tuple(packs) for packs in groups.values()}


def hand_out(
    task: PackTask,
    day: str,
    groups: Groups,
    on: Collection[tuple[int, str, str]],
    booms: Collection[tuple[int, str]],
    liked: Collection[tuple[str, str]],
) -> dict[tuple[int, str], Cover]:
    """A day's plan with packs of their own.

    Parameters
    ----------
    on
        slots in which a character has a pack of a group, heard or not: slot, character, first of the group
    booms
        slots in which a boom covers a character
    liked
        characters with packs that they have on other days
    """
    slots = task.days[day]
    whose = {pack for _, pack in liked}
    has: dict[tuple[int, str], list[str]] = {}
    for name, packs in groups.items():
        until = dict.fromkeys(packs, -1)  # the last place at which each is on somebody
        stretches = _stretches(slots, {(n, who) for n, who, pack in on if pack == name})
        stretches.sort(key=lambda each: (each[0], not any((each[2], pack) in liked for pack in packs)))
        for first, last, who in stretches:
            free = [pack for pack in packs if until[pack] < first]
            pack = min(free, key=lambda each: ((who, each) not in liked, each in whose))
            until[pack] = last
            for n in slots[first : last + 1]:
                has.setdefault((n, who), []).append(pack)
    return {
        (n, who): Cover(tuple(sorted(packs)), (n, who) in booms and not packs)
        for n in slots
        for who in task.voices(n)
        for packs in (has.get((n, who), []),)
    }


def _stretches(slots: Sequence[int], on: Collection[tuple[int, str]]) -> list[tuple[int, int, str]]:
    """From which place to which a character has a pack without a stop."""
    found: list[tuple[int, int, str]] = []
    for who in sorted({who for _, who in on}):
        for at, n in enumerate(slots):
            if (n, who) not in on:
                continue
            if found and found[-1][1:] == (at - 1, who):
                found[-1] = (found[-1][0], at, who)
            else:
                found.append((at, at, who))
    return found
