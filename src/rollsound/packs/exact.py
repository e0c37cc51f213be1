"""Pack plans by constraint programming: a day at its least, level by level; and what days share at its least.

A pack *is on* a character in a slot, heard there or not; on one at a time. Putting it on in the course of a day counts
as a re-rig. The solver is loaded only when it is asked, and runs on one thread for a fixed amount of its own work, so
that the same question has the same answer on any machine.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Any

from rollsound.packs.alike import alike_packs
from rollsound.packs.bounds import is_plain
from rollsound.packs.counting import DayCost, day_cost, pairs
from rollsound.packs.day_model import Plan, add_day, hint
from rollsound.packs.hand_out import groups_of
from rollsound.packs.plain_day import add_plain_day
from rollsound.packs.task import DAY_LEVELS, Level, PackTask, Worn

if TYPE_CHECKING:
    from ortools.sat.python import cp_model


@dataclass(frozen=True)
class DaySolved:
    """A day at its least. ``least`` is what was proven; where it is less than ``cost``, work ran out."""

    worn: Worn
    cost: DayCost
    least: DayCost

    @property
    def proved(self) -> bool:
        """No plan of this day costs less."""
        return self.cost == self.least


def solve_day(task: PackTask, day: str, worn: Worn, *, effort: float, seed: int, stop: Callable[[], bool]) -> DaySolved:
    """A day at its least, from a plan that has it.

    Parameters
    ----------
    effort
        of the solver's own units of work, for each level
    """
    from ortools.sat.python import cp_model

    best: Worn = {key: cover for key, cover in worn.items() if task.slots[key[0]].day == day}
    now = day_cost(task, day, best)
    least: list[int] = []
    if not any(now):
        return DaySolved(best, now, now)
    model = cp_model.CpModel()
    made = add_day(model, task, day, groups_of(task, day))
    liked = pairs({key: cover for key, cover in worn.items() if key not in best})
    sure = True
    for level in DAY_LEVELS[:-1]:
        terms, scale = made.costs[level], 1
        if level is Level.WISHES:  # both at once: a wish that is met by a dear re-rig is not what is looked for
            scale = 1 + _most_rerigs(task, day)
            terms = [scale * sum(terms), *made.costs[Level.RERIGS]]
        goal = now[level] if scale == 1 else scale * now[level] + now[Level.RERIGS]
        bound = 0
        sure = sure and not stop()
        if sure and goal:
            model.minimize(sum(terms))
            hint(model, made, best)
            solver = _solver(effort, seed)
            status = solver.solve(model)
            if status in (cp_model.OPTIMAL, cp_model.FEASIBLE):
                found = made.read(lambda var, solver=solver: int(solver.value(var)), liked)  # type: ignore[misc]
                cost = day_cost(task, day, found)
                if cost < now:
                    best, now = found, cost
                bound = max(0, round(solver.best_objective_bound))
            sure = status == cp_model.OPTIMAL
        if scale > 1:
            wishes = bound // scale
            least += [wishes, bound - scale * wishes if wishes == now[level] else 0]
        else:
            least.append(bound)
        model.add(sum(made.costs[level]) <= now[level])
    a, b, c, d, e, f = least
    return DaySolved(best, now, (a, b, c, d, e, f))


def _most_rerigs(task: PackTask, day: str) -> int:
    """What re-rigs of a day count when everybody is put on anew in every scene."""
    return sum(task.price(n, who) * task.most_packs(who) for n in task.days[day] for who in task.voices(n))


@dataclass(frozen=True)
class Shared:
    """Days looked at together: the plan, its pairs, and how few no plan can go below."""

    worn: Plan
    pairs: int
    least: int
    proved: bool


def solve_shared(
    task: PackTask,
    days: Sequence[str],
    worn: Worn,
    costs: Mapping[str, DayCost],
    *,
    effort: float,
    seed: int,
    fixed_pairs: Iterable[tuple[str, str]] = (),
    order: Sequence[str] = (),
) -> Shared | None:
    """The fewest pairs of character and pack over some days, each at no more than its cost; none when time ran out.

    Parameters
    ----------
    fixed_pairs
        that the other days have anyway, and so cost nothing
    order
        of characters, where the days are all there are and the plan is ``by_first_wearer`` in it
    """
    from ortools.sat.python import cp_model

    model = cp_model.CpModel()
    free = set(fixed_pairs)
    ever: dict[tuple[str, str], Any] = {}

    def used(who: str, pack: str, var: Any) -> None:
        if (who, pack) in free:
            return
        if (who, pack) not in ever:
            ever[who, pack] = model.new_bool_var("")
        model.add_implication(var, ever[who, pack])

    reads: list[Callable[[Callable[[Any], int]], Plan]] = []
    for day in days:
        if is_plain(task, day, costs[day]):
            reads.append(add_plain_day(model, task, day, worn, costs[day], used))
            continue
        made = add_day(model, task, day, {pack.id: (pack.id,) for pack in task.packs_on(day)})
        hint(model, made, worn)
        for level in DAY_LEVELS:
            model.add(sum(made.costs[level]) <= costs[day][level])
        for (n, who, pack), var in made.on.items():
            if who in task.voices(n):
                used(who, pack, var)
        reads.append(made.read)
    for packs in alike_packs(task) if order else ():
        _keep_order(model, ever, packs, order)
    here = {(who, pack) for (n, who), cover in worn.items() if task.slots[n].day in days for pack in cover.packs}
    for pair, var in ever.items():
        model.add_hint(var, pair in here)
    model.minimize(sum(ever.values()))
    solver = _solver(effort, seed)
    solver.parameters.linearization_level = 2  # its bound comes from the linear part: proven in a quarter of the time
    status = solver.solve(model)
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return None
    plan: Plan = {}
    for read in reads:
        plan.update(read(lambda var: int(solver.value(var))))
    found = {(who, pack) for (_, who), cover in plan.items() for pack in cover.packs} - free
    bound = round(solver.best_objective_bound)
    return Shared(plan, len(found), bound, status == cp_model.OPTIMAL)


def _keep_order(
    model: cp_model.CpModel, ever: Mapping[tuple[str, str], Any], packs: Sequence[str], order: Sequence[str]
) -> None:
    """Alike packs by their first wearer: who wears one is, or comes after, somebody who wears the one before it."""
    for before, pack in pairwise(packs):
        for at, who in enumerate(order):
            if (who, pack) in ever:
                earlier = [ever[other, before] for other in order[: at + 1] if (other, before) in ever]
                model.add_bool_or(ever[who, pack].negated(), *earlier)


def _solver(effort: float, seed: int) -> cp_model.CpSolver:
    from ortools.sat.python import cp_model

    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = seed % (1 << 31)
    solver.parameters.max_deterministic_time = effort
    solver.parameters.catch_sigint_signal = False  # Ctrl-C is the command's own
    return solver
