"""Pack plans by constraint programming: a day at its least, level by level; and what days share at its least.

A pack *is on* a character in a slot, heard there or not; on one at a time. Putting it on in the course of a day counts
as a re-rig. The solver is loaded only when it is asked, and runs on one thread for a fixed amount of its own work, so
that the same question has the same answer on any machine.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from typing import TYPE_CHECKING, Any

from rollsound.packs.bounds import is_plain
from rollsound.packs.counting import DayCost, day_cost, held, pairs
from rollsound.packs.task import DAY_LEVELS, Cover, Level, PackTask, Worn

if TYPE_CHECKING:
    from ortools.sat.python import cp_model

Plan = dict[tuple[int, str], Cover]


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


@dataclass
class _Day:
    """The variables of one day: a pack on a character in a slot, a boom on a character in a slot."""

    task: PackTask
    day: str
    on: dict[tuple[int, str, str], Any] = field(default_factory=dict)
    boom: dict[tuple[int, str], Any] = field(default_factory=dict)
    costs: dict[Level, list[Any]] = field(default_factory=lambda: {level: [] for level in DAY_LEVELS})

    spares: dict[str, Any] = field(default_factory=dict)

    def read(self, value: Callable[[Any], int]) -> Plan:
        """The plan that a solution is."""
        made: Plan = {}
        for n in self.task.days[self.day]:
            for who in self.task.voices(n):
                packs = tuple(
                    sorted(
                        pack for (at, other, pack), var in self.on.items() if at == n and other == who and value(var)
                    )
                )
                made[n, who] = Cover(packs, not packs and (n, who) in self.boom and bool(value(self.boom[n, who])))
        return made


def packs_for(task: PackTask, day: str, worn: Worn) -> list[str]:
    """Packs that make a difference on a day: of those that are alike, as many as there are characters."""
    cast = task.cast(day)
    named = {task.character[who].pack for who in cast} | {
        pack for n in task.days[day] for who in cast for pack in task.kept.get((n, who), Cover()).packs
    }
    tracks = {task.character[who].track for who in cast} - {0}
    here = {pack for n in task.days[day] for who in cast for pack in worn.get((n, who), Cover()).packs}
    most = sum(task.most_packs(who) for who in cast)
    taken: dict[tuple[object, ...], int] = {}
    found = []
    for pack in sorted(task.packs_on(day), key=lambda pack: pack.id not in here):
        own = pack.id if pack.id in named or pack.track in tracks else ""
        alike = (pack.small, pack.spare, own)
        if taken.get(alike, 0) < most:
            taken[alike] = taken.get(alike, 0) + 1
            found.append(pack.id)
    return found


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
    made = _add_day(model, task, day, packs_for(task, day, worn))
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
            _hint(model, made, best)
            solver = _solver(effort, seed)
            status = solver.solve(model)
            if status in (cp_model.OPTIMAL, cp_model.FEASIBLE):
                found = made.read(lambda var, solver=solver: int(solver.value(var)))  # type: ignore[misc]
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
    model.add(sum(made.costs[Level.RERIGS]) <= now[Level.RERIGS])
    if best != {key: worn[key] for key in best}:
        best, now = _near(model, made, task, best, now, worn, effort, seed)
    a, b, c, d, e, f = least
    return DaySolved(best, now, (a, b, c, d, e, f))


def _near(
    model: cp_model.CpModel, made: _Day, task: PackTask, best: Worn, now: DayCost, worn: Worn, effort: float, seed: int
) -> tuple[Worn, DayCost]:
    """Of a day's plans that cost the same, one with few packs that their wearers do not have on other days."""
    from ortools.sat.python import cp_model

    others = pairs({key: cover for key, cover in worn.items() if task.slots[key[0]].day != made.day})
    strange = [var for (n, who, pack), var in made.on.items() if who in task.voices(n) and (who, pack) not in others]
    model.minimize(sum(strange))
    _hint(model, made, best)
    solver = _solver(effort, seed)
    if solver.solve(model) not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return best, now
    found = made.read(lambda var: int(solver.value(var)))
    cost = day_cost(task, made.day, found)
    return (found, cost) if cost <= now else (best, now)


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
) -> Shared | None:
    """The fewest pairs of character and pack over some days, each at no more than its cost; none when time ran out.

    Parameters
    ----------
    fixed_pairs
        that the other days have anyway, and so cost nothing
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
            reads.append(_add_plain_day(model, task, day, worn, costs[day], used))
            continue
        made = _add_day(model, task, day, [pack.id for pack in task.packs_on(day)])
        _hint(model, made, worn)
        for level in DAY_LEVELS:
            model.add(sum(made.costs[level]) <= costs[day][level])
        for (n, who, pack), var in made.on.items():
            if who in task.voices(n):
                used(who, pack, var)
        reads.append(made.read)
    here = {(who, pack) for (n, who), cover in worn.items() if task.slots[n].day in days for pack in cover.packs}
    for pair, var in ever.items():
        model.add_hint(var, pair in here)
    model.minimize(sum(ever.values()))
    solver = _solver(effort, seed)
    status = solver.solve(model)
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return None
    plan: Plan = {}
    for read in reads:
        plan.update(read(lambda var: int(solver.value(var))))
    found = {(who, pack) for (_, who), cover in plan.items() for pack in cover.packs} - free
    bound = round(solver.best_objective_bound)
    return Shared(plan, len(found), bound, status == cp_model.OPTIMAL)


def _add_day(model: cp_model.CpModel, task: PackTask, day: str, packs: Sequence[str]) -> _Day:
    """A day slot by slot, with every cost."""
    made = _Day(task, day)
    slots, cast = task.days[day], task.cast(day)
    spare: dict[str, Any] = {id: model.new_bool_var("") for id in packs if task.pack[id].spare}
    wearing = [who for who in cast if any(task.may_wear(who, n) for n in slots if who in task.voices(n))]
    for n in slots:
        voices = task.voices(n)
        for who in wearing:
            if who in voices and not task.may_wear(who, n):
                continue
            for pack in packs:
                made.on[n, who, pack] = model.new_bool_var("")
            model.add(sum(made.on[n, who, pack] for pack in packs) <= task.most_packs(who))
        for pack in packs:
            model.add_at_most_one(made.on[n, who, pack] for who in wearing if (n, who, pack) in made.on)
        for who in voices:
            made.boom[n, who] = model.new_bool_var("")
            _add_voice(model, made, n, who, packs, spare)
        model.add(sum(made.boom[n, who] for who in voices) <= task.boom_places(day))
    put_ons: list[Any] = []
    for before, n in pairwise(slots):
        for who in wearing:
            for pack in packs:
                now, then = made.on.get((n, who, pack)), made.on.get((before, who, pack))
                if now is None:
                    continue
                put_on = model.new_bool_var("")
                model.add_bool_or(put_on, now.negated(), *([] if then is None else [then]))
                made.costs[Level.RERIGS].append(task.price(n, who) * put_on)
                put_ons.append(put_on)
    made.costs[Level.SPARES] += spare.values()
    made.spares = spare
    _add_shortage(model, made, slots, packs, put_ons)
    return made


def _add_shortage(
    model: cp_model.CpModel, made: _Day, slots: Sequence[int], packs: Sequence[str], put_ons: Sequence[Any]
) -> None:
    """What follows from the rest and is told for speed: whoever wears one beyond the number of packs asks a re-rig."""
    wearers = []
    for who in sorted({who for _, who, _ in made.on}):
        ever = model.new_bool_var("")
        for n in slots:
            heard = [made.on[n, who, pack] for pack in packs if (n, who, pack) in made.on]
            if heard and who in made.task.voices(n):
                model.add(sum(heard) <= made.task.most_packs(who) * ever)
        wearers.append(ever)
    there = [made.spares.get(id, 1) for id in packs]
    model.add(sum(put_ons) >= sum(wearers) - sum(there))


def _add_voice(
    model: cp_model.CpModel, made: _Day, n: int, who: str, packs: Sequence[str], spare: Mapping[str, Any]
) -> None:
    """A character in a slot: covered or not, and what that costs."""
    task = made.task
    character, weight = task.character[who], task.voices(n)[who].weight
    on = {pack: made.on[n, who, pack] for pack in packs if (n, who, pack) in made.on}
    boom = made.boom[n, who]
    bare = model.new_bool_var("")
    model.add_bool_or(*on.values(), boom, bare)
    for var in on.values():
        model.add_implication(var, boom.negated())
    made.costs[Level.UNCOVERED].append(weight * bare)
    if task.wants_pack(who, n):
        made.costs[Level.BOOM_ALONE].append(weight * boom)
    for pack, var in on.items():
        if pack in spare:
            model.add_implication(var, spare[pack])
    kept = task.kept.get((n, who))
    if kept is not None:
        made.costs[Level.MOVED].append(_differs(model, on, boom, kept))
    if not on:
        return
    any_pack = model.new_bool_var("")
    model.add_max_equality(any_pack, list(on.values()))
    if character.rather_boom:
        made.costs[Level.WISHES].append(character.weight * any_pack)
        return

    def missed(*mets: Any) -> None:
        miss = model.new_bool_var("")
        model.add_bool_or(miss, any_pack.negated(), *mets)
        made.costs[Level.WISHES].append(character.weight * miss)

    if character.pack:
        missed(*[var for pack, var in on.items() if pack == character.pack])
    if character.track:
        missed(*[var for pack, var in on.items() if task.pack[pack].track == character.track])
    if character.small:
        miss = model.new_bool_var("")
        for pack, var in on.items():
            if not task.pack[pack].small:
                model.add_implication(var, miss)
        made.costs[Level.WISHES].append(character.weight * miss)
    if character.dual:
        miss = model.new_bool_var("")
        model.add(sum(on.values()) + 2 * miss >= 2 * any_pack)
        made.costs[Level.WISHES].append(character.weight * miss)


def _differs(model: cp_model.CpModel, on: Mapping[str, Any], boom: Any, kept: Cover) -> Any:
    """True unless a cover is the one that was kept."""
    differs = model.new_bool_var("")
    for pack, var in on.items():
        model.add_implication(differs.negated(), var if pack in kept.packs else var.negated())
    model.add_implication(differs.negated(), boom if kept.boom else boom.negated())
    if any(pack not in on for pack in kept.packs):
        model.add(differs == 1)
    return differs


def _add_plain_day(
    model: cp_model.CpModel,
    task: PackTask,
    day: str,
    worn: Worn,
    cost: DayCost,
    used: Callable[[str, str, Any], None],
) -> Callable[[Callable[[Any], int]], Plan]:
    """A day on which everybody keeps what is put on in the morning."""
    slots = task.days[day]
    packs = [pack.id for pack in task.packs_on(day)]
    wearing = [who for who in task.cast(day) if not task.character[who].boom_only]
    has: dict[tuple[str, str], Any] = {}
    costs: dict[Level, list[Any]] = {level: [] for level in DAY_LEVELS}
    scenes = {who: [n for n in slots if who in task.voices(n)] for who in wearing}
    for who in wearing:
        for pack in packs:
            has[who, pack] = model.new_bool_var("")
            model.add_hint(has[who, pack], pack in worn.get((scenes[who][0], who), Cover()).packs)
            used(who, pack, has[who, pack])
            if not task.character[who].dual:
                alike = sum(task.kept.get((n, who)) == Cover((pack,)) for n in scenes[who])
                costs[Level.MOVED].append(-alike * has[who, pack])
        if not task.character[who].dual:
            costs[Level.MOVED].append(sum((n, who) in task.kept for n in scenes[who]))
            model.add_exactly_one(has[who, pack] for pack in packs)
        else:
            _plain_dual(model, task, who, scenes[who], {pack: has[who, pack] for pack in packs}, costs)
        _plain_wishes(model, task, who, len(scenes[who]), {pack: has[who, pack] for pack in packs}, costs)
    for pack in packs:
        model.add_at_most_one(has[who, pack] for who in wearing)
        if task.pack[pack].spare:
            costs[Level.SPARES] += [has[who, pack] for who in wearing]
    on_boom = {(n, who) for n in slots for who in task.voices(n) if task.character[who].boom_only}
    costs[Level.MOVED].append(sum(task.kept.get(key, Cover((), True)) != Cover((), True) for key in on_boom))
    for level in (Level.SPARES, Level.MOVED, Level.WISHES):
        model.add(sum(costs[level]) <= cost[level])

    def read(value: Callable[[Any], int]) -> Plan:
        mine = {who: tuple(sorted(pack for pack in packs if value(has[who, pack]))) for who in wearing}
        plan = {(n, who): Cover(mine[who]) for who in wearing for n in scenes[who]}
        return {**plan, **{key: Cover((), True) for key in on_boom}}

    return read


def _plain_dual(
    model: cp_model.CpModel,
    task: PackTask,
    who: str,
    scenes: Sequence[int],
    has: Mapping[str, Any],
    costs: dict[Level, list[Any]],
) -> None:
    model.add(sum(has.values()) == 2)
    for n in scenes:
        kept = task.kept.get((n, who))
        if kept is not None:
            never = model.new_constant(0)
            costs[Level.MOVED].append(_differs(model, has, never, kept))


def _plain_wishes(
    model: cp_model.CpModel,
    task: PackTask,
    who: str,
    scenes: int,
    has: Mapping[str, Any],
    costs: dict[Level, list[Any]],
) -> None:
    character = task.character[who]
    weight = character.weight * scenes
    if character.pack:
        costs[Level.WISHES].append(weight * (1 - has[character.pack]) if character.pack in has else weight)
    if character.track:
        on_track = [var for pack, var in has.items() if task.pack[pack].track == character.track]
        costs[Level.WISHES].append(weight * (1 - sum(on_track)))
    if character.small:
        miss = model.new_bool_var("")
        for pack, var in has.items():
            if not task.pack[pack].small:
                model.add_implication(var, miss)
        costs[Level.WISHES].append(weight * miss)


def _hint(model: cp_model.CpModel, made: _Day, worn: Worn) -> None:
    model.clear_hints()  # type: ignore[no-untyped-call]
    on = held(made.task, made.day, worn)
    for key, on_var in made.on.items():
        model.add_hint(on_var, key in on)
    for (n, who), var in made.boom.items():
        model.add_hint(var, worn.get((n, who), Cover()).boom)


def _solver(effort: float, seed: int) -> cp_model.CpSolver:
    from ortools.sat.python import cp_model

    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = seed % (1 << 31)
    solver.parameters.max_deterministic_time = effort
    solver.parameters.catch_sigint_signal = False  # Ctrl-C is the command's own
    return solver
