"""What a pack plan costs, level by level, and where each re-rig of it is best laid."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TypeAlias

from rollsound.packs.task import Cover, Level, PackTask, Worn

DayCost: TypeAlias = tuple[int, int, int, int, int, int]
"""Of one day: every level but the last."""
NOTHING = Cover()


@dataclass(frozen=True)
class Rerig:
    """A pack put on a character in the course of a day: just before ``slot``, at the latest before ``needed``."""

    day: str
    pack: str
    to: str
    off: str
    """Who wore it before; empty when nobody did."""
    changed_from: str
    """What the character wore before; empty when nothing."""
    after: int
    """The slot after which it can be done."""
    slot: int
    needed: int
    price: int


def day_cost(task: PackTask, day: str, worn: Worn) -> DayCost:
    """What a day costs."""
    uncovered = alone = moved = missed = 0
    spares: set[str] = set()
    for n in task.days[day]:
        for voice in task.slots[n].voices:
            who = voice.character
            cover = worn.get((n, who), NOTHING)
            uncovered += voice.weight * cover.nothing
            alone += voice.weight * (cover.boom and not cover.packs and task.wants_pack(who, n))
            spares.update(id for id in cover.packs if task.pack[id].spare)
            moved += (n, who) in task.kept and task.kept[n, who] != cover
            missed += task.missed(who, cover)
    return uncovered, alone, len(spares), moved, missed, sum(each.price for each in rerigs(task, day, worn))


def pairs(worn: Worn) -> set[tuple[str, str]]:
    """Every character with every pack that he or she ever wears."""
    return {(who, pack) for (_, who), cover in worn.items() for pack in cover.packs}


def cost(task: PackTask, worn: Worn) -> tuple[int, ...]:
    """What a whole plan costs, by ``Level``: the smaller, the better, the first before the next."""
    days = [day_cost(task, day, worn) for day in task.days]
    sums = [sum(each[level] for each in days) for level in range(Level.PAIRS)]
    return (*sums, len(pairs(worn)))


def rerigs(task: PackTask, day: str, worn: Worn) -> Iterator[Rerig]:
    """Every re-rig of a day, laid where it counts least; the latest such place."""
    last_of_pack: dict[str, tuple[int, str]] = {}  # where a pack was worn last, and by whom
    last_of_who: dict[str, tuple[int, Cover]] = {}  # where a character was heard last, and how
    for n in task.days[day]:
        puts = [(who, worn.get((n, who), NOTHING)) for who in task.voices(n)]
        for who, cover in puts:
            for pack in cover.packs:
                event = _put_on(task, day, n, who, pack, last_of_pack.get(pack), last_of_who.get(who))
                if event is not None:
                    yield event
        for who, cover in puts:
            last_of_who[who] = (n, cover)
            last_of_pack.update((pack, (n, who)) for pack in cover.packs)


def _put_on(
    task: PackTask,
    day: str,
    n: int,
    who: str,
    pack: str,
    of_pack: tuple[int, str] | None,
    of_who: tuple[int, Cover] | None,
) -> Rerig | None:
    after, off, changed_from = -1, "", ""
    if of_pack is not None and of_pack[1] != who:
        after, off = of_pack
    if of_who is not None and pack not in of_who[1].packs:
        after = max(after, of_who[0])
        changed_from = of_who[1].packs[0] if of_who[1].packs else ""
    if after < 0:
        return None
    places = [slot for slot in task.days[day] if after < slot <= n]
    best = min(places, key=lambda slot: (task.price(slot, who), -slot))
    return Rerig(day, pack, who, off, changed_from, after, best, n, task.price(best, who))


def held(task: PackTask, day: str, worn: Worn) -> set[tuple[int, str, str]]:
    """Where every pack is in every slot of a day, heard or not: slot, character, pack."""
    put_on = {(each.needed, each.to, each.pack): each.slot for each in rerigs(task, day, worn)}
    last: dict[tuple[str, str], int] = {}
    slots = task.days[day]
    found = set()
    for n in slots:
        for who in task.voices(n):
            for pack in worn.get((n, who), NOTHING).packs:
                begins = put_on.get((n, who, pack), last.get((who, pack), slots[0]))
                found |= {(at, who, pack) for at in slots if begins <= at <= n}
                last[who, pack] = n
    return found
