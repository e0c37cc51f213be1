"""A day on which everybody keeps what is put on in the morning, in the solver's words: one choice for the whole day."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from rollsound.packs.bounds import on_booms
from rollsound.packs.counting import DayCost
from rollsound.packs.day_model import Plan, differs
from rollsound.packs.task import DAY_LEVELS, Cover, Level, PackTask, Worn

if TYPE_CHECKING:
    from ortools.sat.python import cp_model


def add_plain_day(
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
    wearing = [who for who in task.cast(day) if not on_booms(task, who)]
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
    on_boom = {(n, who) for n in slots for who in task.voices(n) if on_booms(task, who)}
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
            costs[Level.MOVED].append(differs(model, has, never, kept))


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
