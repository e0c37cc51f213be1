"""What no plan can do better than, told by counting alone."""

from __future__ import annotations

from rollsound.packs.counting import DayCost
from rollsound.packs.task import Level, PackTask


def is_plain(task: PackTask, day: str, least: DayCost) -> bool:
    """Whether everybody of a day wears packs all day in every plan that costs a day's least.

    Parameters
    ----------
    least
        what the day costs at least, level by level
    """
    if least[Level.UNCOVERED] or least[Level.BOOM_ALONE] or least[Level.RERIGS]:
        return False
    for n in task.days[day]:
        for who in task.voices(n):
            character = task.character[who]
            if character.rather_boom or (character.no_pack and not character.boom_only):
                return False
            if character.dual and least[Level.WISHES]:
                return False
    return True


def fewest_pairs(task: PackTask, least: dict[str, DayCost]) -> int:
    """Characters that must wear a pack, those with two twice."""
    must: dict[str, int] = {}
    for day, of_day in least.items():
        if is_plain(task, day, of_day):
            for who in task.cast(day):
                if not task.character[who].boom_only:
                    must[who] = task.most_packs(who)
    return sum(must.values())
