"""Who feeds whom: supplies as a tree, their demand in every state, loops and what hangs in the air."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from rollsound.power.day import Stretch, state_at
from rollsound.power.load import Load
from rollsound.power.model import Feeding, PowerPart, State, Supply

Loads = Mapping[tuple[str, str], Load]
"""By id of the supply and id of the feeding; the supply's own draw under an empty second id."""


@dataclass(frozen=True)
class Tree:
    """The supplies of a plan, and what each fed thing takes."""

    supplies: Mapping[str, Supply]
    children: Mapping[str, tuple[str, ...]]
    """Ids of the supplies that a supply feeds."""
    loads: Loads
    rings: tuple[tuple[str, ...], ...]
    """Ids of supplies that feed each other in a ring, in the order that they feed; left out of every sum."""

    @property
    def loop(self) -> tuple[str, ...]:
        """Ids of all supplies of all rings."""
        return tuple(id for ring in self.rings for id in ring)

    def roots(self) -> tuple[Supply, ...]:
        """Supplies that nothing feeds, in the plan's order."""
        return tuple(s for s in self.supplies.values() if s.from_supply not in self.supplies and s.id not in self.loop)

    def below(self, id: str) -> tuple[str, ...]:
        """A supply and all that it feeds, itself first."""
        if id in self.loop:
            return (id,)
        found = [id]
        for child in self.children.get(id, ()):
            found += self.below(child)
        return tuple(found)

    def fed(self, id: str) -> tuple[tuple[Feeding, Load], ...]:
        """What a supply feeds itself, without further supplies."""
        supply = self.supplies[id]
        return tuple((each, self.loads[id, each.id]) for each in supply.feeds if (id, each.id) in self.loads)

    def own_w(self, id: str, state_of: Mapping[str, State]) -> float:
        """What a supply takes for itself."""
        own = self.loads.get((id, ""))
        return own.draw_w(state_of.get(id, "working")) if own else 0.0

    def output_w(self, id: str, state_of: Mapping[str, State]) -> float:
        """What a supply gives out, with every supply in its state.

        Parameters
        ----------
        state_of
            state by id of the supply that feeds; working where it is not named
        """
        state = state_of.get(id, "working")
        direct = sum(load.draw_w(state) for _, load in self.fed(id))
        return direct + sum(self.input_w(child, state_of) for child in self.children.get(id, ()))

    def input_w(self, id: str, state_of: Mapping[str, State]) -> float:
        """What a supply takes in for what it gives out."""
        return self.output_w(id, state_of) / self.supplies[id].efficiency + self.own_w(id, state_of)


def tree_of(power: PowerPart, loads: Loads) -> Tree:
    """The tree of a plan."""
    supplies = {supply.id: supply for supply in power.supplies}
    rings = _rings(supplies)
    inside = {id for ring in rings for id in ring}
    children: dict[str, list[str]] = {}
    for supply in power.supplies:
        if supply.from_supply in supplies and supply.id not in inside:
            children.setdefault(supply.from_supply, []).append(supply.id)
    return Tree(supplies, {key: tuple(ids) for key, ids in children.items()}, loads, rings)


def _rings(supplies: Mapping[str, Supply]) -> tuple[tuple[str, ...], ...]:
    """Every ring of supplies that feed each other."""
    found: list[tuple[str, ...]] = []
    done: set[str] = set()
    for start in supplies:
        way: list[str] = []
        here = start
        while here in supplies and here not in done:
            done.add(here)
            way.append(here)
            here = supplies[here].from_supply
        if here in way:  # else it ended, or ran into what was gone over before
            found.append(tuple(reversed(way[way.index(here) :])))
    return tuple(found)


@dataclass(frozen=True)
class Step:
    """A stretch of constant power out of a battery."""

    start_min: float
    end_min: float
    power_w: float
    is_break: bool

    @property
    def energy_wh(self) -> float:
        """What it takes."""
        return self.power_w * (self.end_min - self.start_min) / 60


def steps(tree: Tree, id: str, tables: Mapping[str, Sequence[Stretch]]) -> tuple[Step, ...]:
    """The power that a supply takes in over the day, from the stretches of itself and of all below it."""
    below = tree.below(id)
    edges = sorted({edge for each in below for part in tables.get(each, ()) for edge in (part.start_min, part.end_min)})
    found: list[Step] = []
    for start, end in pairwise(edges):
        states = {each: state_at(tables.get(each, ()), start) for each in below}
        power = tree.input_w(id, states)
        is_break = any(part.is_break for part in tables.get(id, ()) if part.start_min <= start and end <= part.end_min)
        found.append(Step(start, end, power, is_break))
    return tuple(found)


__all__ = ["Loads", "Step", "Tree", "steps", "tree_of"]
