"""Combinations: one position for every changeover, and what holds in them.

What no position names always holds. What positions name holds where, of every changeover that names it, one of those
positions is chosen.
"""

from __future__ import annotations

import itertools
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from math import prod
from typing import TypeAlias

from rollsound.errors import InputError
from rollsound.rig.model import Changeover

Combination: TypeAlias = Mapping[str, str]
"""By a changeover's id, the id of the position that is chosen."""
Condition: TypeAlias = tuple[tuple[str, frozenset[str]], ...]
"""What must be chosen for something to hold: changeovers, each with the positions of which one is needed."""
ALWAYS: Condition = ()


def holds(condition: Condition, combination: Combination) -> bool:
    """Whether something with this condition holds in a combination."""
    return all(combination.get(changeover) in positions for changeover, positions in condition)


def both(first: Condition, second: Condition) -> Condition | None:
    """The condition under which both hold; none when they cannot hold together."""
    if not first or first == second:
        return second
    if not second:
        return first
    joined = dict(first)
    for changeover, positions in second:
        joined[changeover] = joined[changeover] & positions if changeover in joined else positions
        if not joined[changeover]:
            return None
    return tuple(sorted(joined.items(), key=lambda each: each[0]))


def conditions(changeovers: Iterable[Changeover], part: str) -> dict[str, Condition]:
    """By id, the conditions of all links, streams, routes or pieces (``part``) that positions name."""
    found: dict[str, dict[str, set[str]]] = {}
    for changeover in changeovers:
        for position in changeover.positions:
            for name in getattr(position, part):
                found.setdefault(name, {}).setdefault(changeover.id, set()).add(position.id)
    return {
        name: tuple(sorted((changeover, frozenset(positions)) for changeover, positions in where.items()))
        for name, where in found.items()
    }


def first_combination(changeovers: Sequence[Changeover]) -> dict[str, str]:
    """Every changeover in its first position."""
    return {changeover.id: changeover.positions[0].id for changeover in changeovers}


def how_many(changeovers: Iterable[Changeover]) -> int:
    """How many combinations there are."""
    return prod(len(changeover.positions) for changeover in changeovers)


def combinations(
    changeovers: Sequence[Changeover], only: Collection[str] | None = None, rest: Combination | None = None
) -> Iterator[dict[str, str]]:
    """All combinations in the order they are written, the last changeover turning fastest.

    Parameters
    ----------
    only
        ids of the changeovers that are turned; the others stay as in ``rest``, or in their first position
    """
    base = {**first_combination(changeovers), **(rest or {})}
    turned = [changeover for changeover in changeovers if only is None or changeover.id in only]
    for chosen in itertools.product(*([position.id for position in each.positions] for each in turned)):
        yield {**base, **{each.id: position for each, position in zip(turned, chosen, strict=True)}}


def read_combination(text: str, changeovers: Sequence[Changeover]) -> dict[str, str]:
    """Read ``boom-1=radio, receivers=cart``; what is not named stays in its first position.

    Raises
    ------
    InputError
        for a changeover or position that is not there
    """
    chosen = first_combination(changeovers)
    known = {changeover.id: [position.id for position in changeover.positions] for changeover in changeovers}
    for part in filter(None, (each.strip() for each in text.split(","))):
        name, _, position = (each.strip() for each in part.partition("="))
        if name not in known:
            there = ", ".join(known) or "none in this rig"
            raise InputError(f"'{name}' is no changeover; there are: {there}")
        if position not in known[name]:
            raise InputError(f"'{part}' chooses no position; {name} has: {', '.join(known[name])}")
        chosen[name] = position
    return chosen


def in_words(combination: Combination, changeovers: Sequence[Changeover]) -> str:
    """A combination for people: ``Boom 1: radio, Receivers: at the cart``."""
    told = []
    for changeover in changeovers:
        position = next((each for each in changeover.positions if each.id == combination.get(changeover.id)), None)
        if position is not None:
            told.append(f"{changeover.name or changeover.id}: {position.name or position.id}")
    return ", ".join(told)
