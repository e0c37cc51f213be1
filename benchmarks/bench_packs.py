"""Pack plans: a show of the demo's size to the end, and a large one: its first answer, and what looking longer gives.

python -m benchmarks packs
"""

from __future__ import annotations

import random
import time

from benchmarks.row import Row
from rollsound.packs.counting import cost
from rollsound.packs.find import PackPlan, SoFar, find
from rollsound.packs.task import Boom, Character, Gap, Level, Pack, PackTask, Slot, Voice


def show(characters: int, packs: int, days: int, *, seed: int, crowd: float = 0.1, spares: int = 0) -> PackTask:
    """An invented show: principals in most scenes, others now and then, and crowd scenes that want more than there is.

    Parameters
    ----------
    crowd
        share of scenes that everybody of the day, and a few beside, are in
    """
    chance = random.Random(seed)
    people = tuple(
        Character(
            f"c{n:02}",
            f"Character {n}",
            kind="child" if n % 9 == 8 else "stunt" if n % 13 == 12 else "adult",
            principal=n < 4,
            small=n % 9 == 8,
            rather_boom=n % 13 == 12,
            pack=f"pack-{n + 1:02}" if n in (0, 2) else "",
        )
        for n in range(characters)
    )
    weight = [6 if n < 4 else 3 if n < characters // 2 else 1 for n in range(characters)]
    slots = []
    number = 0
    for day in range(1, days + 1):
        scenes = chance.randint(2, 5)
        # who of the smaller parts is called that day
        called = sorted(set(chance.choices(range(characters), weight, k=max(4, characters // 3))))
        for at in range(scenes):
            number += 1
            gap: Gap = "day" if at == 0 else chance.choice(["scene", "break", "scene", "move"])
            if chance.random() < crowd:
                heard = sorted(set(called) | set(chance.sample(range(characters), max(2, characters // 3))))
            else:
                heard = sorted(chance.sample(called, chance.randint(1, len(called))))
            voices = tuple(Voice(f"c{n:02}", chance.randint(1, 120), 3, chance.random() < 0.1) for n in heard)
            slots.append(Slot(f"day-{day}", str(number), gap, voices))
    has = tuple(
        Pack(f"pack-{n:02}", f"Pack {n}", 5 + n, small=n % 6 == 5, spare=n > packs - spares)
        for n in range(1, packs + 1)
    )
    return PackTask(has, tuple(Boom(f"boom-{n}", f"Boom {n}", 2 + n) for n in range(1, 4)), people, tuple(slots))


def _timed(task: PackTask, moves: int) -> tuple[PackPlan, float, float, tuple[int, ...]]:
    """The plan, seconds to the first answer and to the last, and what the first cost."""
    begun = time.perf_counter()
    first: list[tuple[float, tuple[int, ...]]] = []

    def told(so_far: SoFar) -> None:
        if not first:
            first.append((time.perf_counter() - begun, so_far.cost))

    found = find(task, moves=moves, progress=told)
    return found, first[0][0], time.perf_counter() - begun, first[0][1]


def _least(found: PackPlan) -> str:
    open_ = [
        f"{each.level.name.lower()} {each.value}, at least {each.least}" for each in found.reached if not each.proved
    ]
    return "no better plan is possible" if not open_ else "; ".join(open_)


def run() -> list[Row]:
    """Every size."""
    rows = []
    for name, task, moves in (
        ("11 characters, 14 packs, 12 days", show(11, 14, 12, seed=1, spares=2), 40),
        ("11 characters, 7 packs, 12 days", show(11, 7, 12, seed=2, spares=1), 40),
        ("40 characters, 24 packs, 60 days", show(40, 24, 60, seed=3, spares=1), 40),
    ):
        found, first_s, whole_s, before = _timed(task, moves)
        small = found.proved
        rows.append(Row(f"{name}: first answer", first_s, "s", goal="< 5"))
        what = f"{name}: {found.moves} moves, {_least(found)}"
        rows.append(Row(what, whole_s, "s", goal="< 10, proved" if len(task.characters) == 11 else "improves"))
        after = cost(task, found.worn)
        assert after <= before, f"{name}: worse than the first answer"
        assert small or len(task.characters) != 11, f"{name}: {_least(found)}"
        wishes, packs = Level.WISHES, Level.PAIRS
        rows.append(Row(f"{name}: wishes missed", after[wishes], "", "first answer", before[wishes]))
        rows.append(Row(f"{name}: packs by character", after[packs], "", "first answer", before[packs]))
    return rows
