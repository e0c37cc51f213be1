"""One day in the solver's words: which pack is on whom in which slot, what a boom covers, and what all of it costs."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from typing import TYPE_CHECKING, Any

from rollsound.packs.counting import held
from rollsound.packs.hand_out import Groups, hand_out
from rollsound.packs.task import DAY_LEVELS, Cover, Level, PackTask, Worn

if TYPE_CHECKING:
    from ortools.sat.python import cp_model

Plan = dict[tuple[int, str], Cover]


@dataclass
class Day:
    """The variables of one day, a pack or a boom on a character in a slot, and the terms of each level."""

    task: PackTask
    day: str
    groups: Groups
    on: dict[tuple[int, str, str], Any] = field(default_factory=dict)
    """By slot, character and the first pack of a group."""
    boom: dict[tuple[int, str], Any] = field(default_factory=dict)
    costs: dict[Level, list[Any]] = field(default_factory=lambda: {level: [] for level in DAY_LEVELS})
    spares: dict[str, Any] = field(default_factory=dict)

    def read(self, value: Callable[[Any], int], liked: Collection[tuple[str, str]] = ()) -> Plan:
        """The plan that a solution is; packs that are alike go to whom they are ``liked`` by."""
        on = {key for key, var in self.on.items() if value(var)}
        booms = {key for key, var in self.boom.items() if value(var)}
        return hand_out(self.task, self.day, self.groups, on, booms, liked)


def add_day(model: cp_model.CpModel, task: PackTask, day: str, groups: Groups) -> Day:
    """A day slot by slot, with every cost."""
    made = Day(task, day, groups)
    packs = tuple(groups)
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
            on = [made.on[n, who, pack] for who in wearing if (n, who, pack) in made.on]
            if len(groups[pack]) < len(on):
                model.add(sum(on) <= len(groups[pack]))
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
    model: cp_model.CpModel, made: Day, slots: Sequence[int], packs: Sequence[str], put_ons: Sequence[Any]
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
    there = [made.spares.get(id, len(made.groups[id])) for id in packs]
    model.add(sum(put_ons) >= sum(wearers) - sum(there))


def _add_voice(
    model: cp_model.CpModel, made: Day, n: int, who: str, packs: Sequence[str], spare: Mapping[str, Any]
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
        made.costs[Level.MOVED].append(differs(model, on, boom, kept))
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


def differs(model: cp_model.CpModel, on: Mapping[str, Any], boom: Any, kept: Cover) -> Any:
    """True unless a cover is the one that was kept."""
    differs = model.new_bool_var("")
    for pack, var in on.items():
        model.add_implication(differs.negated(), var if pack in kept.packs else var.negated())
    model.add_implication(differs.negated(), boom if kept.boom else boom.negated())
    if any(pack not in on for pack in kept.packs):
        model.add(differs == 1)
    return differs


def hint(model: cp_model.CpModel, made: Day, worn: Worn) -> None:
    """Begin from a plan."""
    model.clear_hints()  # type: ignore[no-untyped-call]
    first = {pack: name for name, packs in made.groups.items() for pack in packs}
    on = {(n, who, first.get(pack, pack)) for n, who, pack in held(made.task, made.day, worn)}
    for key, on_var in made.on.items():
        model.add_hint(on_var, key in on)
    for (n, who), var in made.boom.items():
        model.add_hint(var, worn.get((n, who), Cover()).boom)
