"""The last look at a pack plan before it leaves: whatever found it, what it may not do is counted again here."""

from __future__ import annotations

from collections import Counter

from rollsound.packs.task import PackTask, Worn


def faults(task: PackTask, worn: Worn) -> list[str]:
    """Everything in a plan that cannot be; empty for one that may leave."""
    found = []
    for n, slot in enumerate(task.slots):
        where = f"day {slot.day}, scene {slot.scene}"
        here = {who: cover for (at, who), cover in worn.items() if at == n}
        heard = {voice.character for voice in slot.voices}
        found += [f"{where}: {who} is not in it" for who in here.keys() - heard]
        times = Counter(pack for cover in here.values() for pack in cover.packs)
        found += [f"{where}: pack {pack} is worn {number} times" for pack, number in times.items() if number > 1]
        there = {pack.id for pack in task.packs if slot.day not in pack.out}
        found += [f"{where}: pack {pack} is not there" for pack in times.keys() - there]
        on_booms = sum(cover.boom for cover in here.values())
        booms = sum(slot.day not in boom.out for boom in task.booms)
        if on_booms > booms * task.boom_covers:
            found.append(f"{where}: {on_booms} on {booms} booms")
        for who, cover in here.items():
            character = task.character.get(who)
            if character is None:
                continue
            if cover.packs and (character.boom_only or slot.scene in character.no_pack):
                found.append(f"{where}: {who} wears a pack and must not")
            if len(cover.packs) > (2 if character.dual else 1):
                found.append(f"{where}: {who} wears {len(cover.packs)} packs")
            if cover.boom and cover.packs:
                found.append(f"{where}: {who} takes a boom's place beside a pack")
    return found
