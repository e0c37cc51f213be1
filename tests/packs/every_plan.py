"""Pack plans by trying every one: nothing of the search is used; re-rigs come from walking all states of the packs."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations, product
from typing import TypeAlias

from rollsound.packs.task import PackTask

Choice: TypeAlias = tuple[tuple[str, ...], bool]  # packs, boom
OfDay: TypeAlias = dict[tuple[int, str], Choice]
State: TypeAlias = tuple[str, ...]  # who holds each pack


def best_cost(task: PackTask) -> tuple[int, ...]:
    """What the best of all plans costs."""
    total = [0] * 6
    ways: list[set[frozenset[tuple[str, str]]]] = []
    for day in task.days:
        least: tuple[int, ...] | None = None
        here: set[frozenset[tuple[str, str]]] = set()
        for plan in _plans(task, day):
            now = _cost(task, day, plan)
            if least is None or now < least:
                least, here = now, set()
            if now == least:
                here.add(frozenset((who, pack) for (_, who), (packs, _) in plan.items() for pack in packs))
        assert least is not None
        total = [a + b for a, b in zip(total, least, strict=True)]
        ways.append(here)
    unions: set[frozenset[tuple[str, str]]] = {frozenset()}
    for way in ways:
        unions = {one | other for one in unions for other in way}
    return (*total, min(map(len, unions)))


def _plans(task: PackTask, day: str) -> Iterator[OfDay]:
    slots = task.days[day]
    for whole in product(*(list(_of_slot(task, n)) for n in slots)):
        yield {(n, who): choice for n, here in zip(slots, whole, strict=True) for who, choice in here.items()}


def _of_slot(task: PackTask, n: int) -> Iterator[dict[str, Choice]]:
    slot = task.slots[n]
    there = [pack.id for pack in task.packs if slot.day not in pack.out]
    places = sum(slot.day not in boom.out for boom in task.booms) * task.boom_covers
    options: list[list[Choice]] = []
    for voice in slot.voices:
        who = next(each for each in task.characters if each.id == voice.character)
        mine: list[Choice] = [((), False), ((), True)]
        if not who.boom_only and slot.scene not in who.no_pack:
            for number in range(1, 3 if who.dual else 2):
                mine += [(packs, False) for packs in combinations(sorted(there), number)]
        options.append(mine)
    for chosen in product(*options):
        packs = [pack for mine, _ in chosen for pack in mine]
        if len(packs) == len(set(packs)) and sum(boom for _, boom in chosen) <= places:
            yield {voice.character: choice for voice, choice in zip(slot.voices, chosen, strict=True)}


def _cost(task: PackTask, day: str, plan: OfDay) -> tuple[int, ...]:
    uncovered = alone = moved = missed = 0
    spares = set()
    by_id = {pack.id: pack for pack in task.packs}
    for (n, who), (packs, boom) in plan.items():
        voice = next(each for each in task.slots[n].voices if each.character == who)
        character = next(each for each in task.characters if each.id == who)
        words = max(voice.words, 1)
        banned = character.boom_only or task.slots[n].scene in character.no_pack
        if not packs and not boom:
            uncovered += words
        if not packs and boom and not banned and not character.rather_boom:
            alone += words
        spares |= {pack for pack in packs if by_id[pack].spare}
        if (n, who) in task.kept:
            kept = task.kept[n, who]
            moved += (set(kept.packs), kept.boom) != (set(packs), boom)
        if character.rather_boom:
            missed += character.weight if packs else 0
        elif packs:
            missed += character.weight * (character.pack not in ("", *packs))
            missed += character.weight * (character.track not in (0, *(by_id[pack].track for pack in packs)))
            missed += character.weight * (character.small and any(not by_id[pack].small for pack in packs))
            missed += character.weight * (character.dual and len(packs) == 1)
    return uncovered, alone, len(spares), moved, missed, fewest_rerigs(task, day, plan)


def fewest_rerigs(task: PackTask, day: str, plan: OfDay) -> int:
    """By all ways that packs may go from hand to hand, heard or not."""
    packs = sorted({pack for mine, _ in plan.values() for pack in mine})
    cast = sorted({who for _, who in plan})
    most = {each.id: 2 if each.dual else 1 for each in task.characters}
    states: dict[State, int] | None = None
    for n in task.days[day]:
        heard = {who: set(mine) for (at, who), (mine, _) in plan.items() if at == n}
        allowed = [
            state
            for state in product(["", *cast], repeat=len(packs))
            if all({p for p, on in zip(packs, state, strict=True) if on == who} == mine for who, mine in heard.items())
            and all(state.count(who) <= most[who] for who in cast)
        ]
        if states is None:
            states = dict.fromkeys(allowed, 0)
            continue
        easy = task.slots[n].gap in ("break", "move")
        states = {
            state: min(
                cost
                + sum(
                    (1 if easy else 4 if on in heard else 2)
                    for was, on in zip(before, state, strict=True)
                    if on and on != was
                )
                for before, cost in states.items()
            )
            for state in allowed
        }
    return min((states or {(): 0}).values())
