"""What no plan can do better than, told by counting alone."""

from __future__ import annotations

from rollsound.packs.counting import DayCost
from rollsound.packs.task import Level, PackTask


def is_plain(task: PackTask, day: str, least: DayCost) -> bool:
    """Whether everybody of a day wears packs all day, or none at all, in every plan that costs a day's least.

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
            if not (character.boom_only or task.may_wear(who, n)):
                return False
            # With every wish met, who would rather have a boom has one.
            if (character.dual or character.rather_boom) and least[Level.WISHES]:
                return False
    return True


def on_booms(task: PackTask, who: str) -> bool:
    """Whether a character wears no pack on a plain day."""
    return task.character[who].boom_only or task.character[who].rather_boom


def fewest_pairs(task: PackTask, least: dict[str, DayCost]) -> int:
    """Characters that must wear a pack, those with two twice."""
    must: dict[str, int] = {}
    for day, of_day in least.items():
        if is_plain(task, day, of_day):
            for who in task.cast(day):
                if not on_booms(task, who):
                    must[who] = task.most_packs(who)
    return sum(must.values())
