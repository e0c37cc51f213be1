"""Looks for the pack plan: one answer at once, then every day at its least, then as few packs a character as can be.

The answer says of each level what was reached and what no plan can go below. It may be stopped at any time and has the
best found until then. The same seed and the same moves give the same plan, on any machine.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from rollsound.packs.alike import by_first_wearer
from rollsound.packs.bounds import fewest_pairs, is_plain
from rollsound.packs.check import faults
from rollsound.packs.counting import DayCost, cost, day_cost, pairs
from rollsound.packs.day_model import Plan
from rollsound.packs.exact import Shared, solve_day, solve_shared
from rollsound.packs.first import first_plan
from rollsound.packs.task import DAY_LEVELS, Level, PackTask, Worn

DEFAULT_MOVES = 40
ENDLESS_MOVES = 1 << 30
DAY_EFFORT, SHARED_EFFORT, WINDOW_EFFORT = 4.0, 6.0, 0.6
"""In the solver's units, each about a second of work."""
WHOLE_AT_MOST = 8_000
"""Characters times packs times days: above, all days at once are too much for a first look."""
WINDOW_DAYS = 12
_HARD_EVERY = 4


@dataclass(frozen=True)
class Reached:
    """One level: what the plan has, and what no plan that is as good before it can go below."""

    level: Level
    value: int
    least: int

    @property
    def proved(self) -> bool:
        """No plan does better here."""
        return self.value == self.least


@dataclass(frozen=True)
class SoFar:
    """The best until now."""

    phase: Literal["first", "days", "show"]
    done: int
    total: int
    cost: tuple[int, ...]


@dataclass(frozen=True)
class PackPlan:
    """An answer."""

    task: PackTask
    worn: Worn
    reached: tuple[Reached, ...]
    moves: int
    stopped: bool

    @property
    def proved(self) -> bool:
        """No plan is better."""
        return all(each.proved for each in self.reached)


def find(
    task: PackTask,
    *,
    moves: int = DEFAULT_MOVES,
    seed: int = 0,
    progress: Callable[[SoFar], None] | None = None,
    stop: Callable[[], bool] | None = None,
) -> PackPlan:
    """The best pack plan that so many moves find.

    Parameters
    ----------
    moves
        looks at several days together, once each day by itself is at its least; 0 for the first answer
    stop
        asked now and then; the search ends soon once it says yes

    Raises
    ------
    AssertionError
        when what was found breaks a rule of the task: a fault of ours, and no plan leaves
    """
    search = _Search(task, moves, seed, progress or (lambda _: None), stop or (lambda: False))
    return search.run()


class _Search:
    def __init__(
        self,
        task: PackTask,
        moves: int,
        seed: int,
        progress: Callable[[SoFar], None],
        stop: Callable[[], bool],
    ) -> None:
        self.task, self.moves, self.seed = task, moves, seed
        self.tell, self.stop = progress, stop
        self.worn: Plan = first_plan(task)
        self.costs: dict[str, DayCost] = {day: day_cost(task, day, self.worn) for day in task.days}
        self.least: dict[str, DayCost] = {}
        self.least_pairs = 0
        self.made = 0

    def run(self) -> PackPlan:
        self._told("first", 0, 1)
        if self.moves > 0:
            self._days()
            self._show()
        wrong = faults(self.task, self.worn)
        if wrong:
            raise AssertionError(f"the pack plan that was found breaks its rules: {'; '.join(wrong[:4])}")
        return PackPlan(self.task, dict(self.worn), self._reached(), self.made, self.stop())

    def _told(self, phase: Literal["first", "days", "show"], done: int, total: int) -> None:
        self.tell(SoFar(phase, done, total, cost(self.task, self.worn)))

    def _days(self) -> None:
        """Every day by itself: days do not touch each other but in who wears what over the show."""
        changed = []
        for n, day in enumerate(self.task.days):
            if not any(self.costs[day]):
                self.least[day] = self.costs[day]
                continue
            if self.stop():
                continue
            found = solve_day(self.task, day, self.worn, effort=DAY_EFFORT, seed=self.seed, stop=self.stop)
            if found.cost < self.costs[day]:
                self.worn.update(found.worn)
                self.costs[day] = found.cost
                changed.append(day)
            self.least[day] = found.least
            self._told("days", n + 1, len(self.task.days))
        for day in changed:  # again as near to the other days as it can be
            if not self.stop() and is_plain(self.task, day, self.costs[day]):
                self._anew((day,))
                self._told("days", len(self.task.days), len(self.task.days))

    @property
    def _days_proved(self) -> bool:
        return all(self.least.get(day) == self.costs[day] for day in self.task.days)

    def _show(self) -> None:
        if self._days_proved:
            self.least_pairs = fewest_pairs(self.task, self.costs)
        if self._done or self.stop():
            return
        task = self.task
        size = sum(len(task.cast(day)) * len(task.packs_on(day)) for day in task.days)
        if size <= WHOLE_AT_MOST:
            self.made += 1
            order = _busiest_first(task)
            self.worn = by_first_wearer(task, self.worn, order)
            found = solve_shared(
                task, tuple(task.days), self.worn, self.costs, effort=SHARED_EFFORT, seed=self.seed, order=order
            )
            if found is not None:
                self._take(found, tuple(task.days))
                if self._days_proved:
                    self.least_pairs = max(self.least_pairs, found.least)
            self._told("show", self.made, self.moves)
        chance = random.Random(self.seed)
        while self.made < self.moves and not self._done and not self.stop():
            self._window(chance)
            self.made += 1
            self._told("show", self.made, self.moves)

    @property
    def _done(self) -> bool:
        return self._days_proved and len(pairs(self.worn)) <= self.least_pairs

    def _window(self, chance: random.Random) -> None:
        """Days of some who wear several, and a few beside; a day that is hard by itself only now and then."""
        days = _window_of(self.task, self.worn, chance)
        if self.made % _HARD_EVERY:
            days = tuple(day for day in days if is_plain(self.task, day, self.costs[day])) or days
        self._anew(days)

    def _anew(self, days: Sequence[str]) -> None:
        """Some days anew, the others as they are."""
        rest = {key: cover for key, cover in self.worn.items() if self.task.slots[key[0]].day not in days}
        found = solve_shared(
            self.task,
            days,
            self.worn,
            self.costs,
            effort=WINDOW_EFFORT,
            seed=self.seed + self.made,
            fixed_pairs=pairs(rest),
        )
        if found is not None:
            self._take(found, days)

    def _take(self, found: Shared, days: Sequence[str]) -> None:
        made = {**self.worn, **found.worn}
        if len(pairs(made)) > len(pairs(self.worn)):
            return
        costs = {day: day_cost(self.task, day, made) for day in days}
        if any(costs[day] > self.costs[day] for day in days):
            raise AssertionError("days looked at together came out dearer than each by itself")
        self.worn = made
        self.costs.update(costs)

    def _reached(self) -> tuple[Reached, ...]:
        whole = cost(self.task, self.worn)
        reached = []
        sure = True
        for level in DAY_LEVELS:
            least = sum(each[level] for each in self.least.values()) if sure else 0
            reached.append(Reached(level, whole[level], least))
            sure = sure and least == whole[level]
        reached.append(Reached(Level.PAIRS, whole[Level.PAIRS], self.least_pairs if sure else 0))
        return tuple(reached)


def _busiest_first(task: PackTask) -> list[str]:
    days = {who.id: sum(who.id in task.cast(day) for day in task.days) for who in task.characters}
    return sorted(days, key=lambda who: (-days[who], who))


def _window_of(task: PackTask, worn: Mapping[tuple[int, str], object], chance: random.Random) -> tuple[str, ...]:
    """Days of one or two characters who wear more packs than they need, and of whoever wears the same."""
    several: dict[str, set[str]] = {}
    for who, pack in pairs(worn):  # type: ignore[arg-type]
        several.setdefault(who, set()).add(pack)
    restless = sorted(who for who, packs in several.items() if len(packs) > task.most_packs(who))
    days: list[str] = []
    for who in chance.sample(restless, min(3, len(restless))):
        own = [day for day in task.days if who in task.cast(day)]
        chance.shuffle(own)
        days += own[: max(3, WINDOW_DAYS // 2)]
    others = list(task.days)
    chance.shuffle(others)
    chosen = set(list(dict.fromkeys([*days, *others]))[: min(WINDOW_DAYS, len(others))])
    return tuple(day for day in task.days if day in chosen)
