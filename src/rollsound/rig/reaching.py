"""What arrives where in every combination, exactly, without walking through every combination.

Whether a source reaches a spot depends only on the changeovers that touch some way between the two. So each pair is
settled over the positions of those changeovers alone: sixteen independent booms are sixteen times two questions, not
two to the sixteenth. What is learned of one part-combination serves every pair that asks for it.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from math import prod

from rollsound.rig.built import Rig, Way
from rollsound.rig.combining import Combination, Condition, first_combination, how_many
from rollsound.rig.paths import Paths, paths, target_spots, targets
from rollsound.rig.state import State

MOST_PARTS = 1 << 16
"""Part-combinations of one pair that are looked at; beyond, the rest is said not to be covered."""
_AT_ONCE = 64
"""Part-combinations of one pair above which they are worked out together."""
Chosen = tuple[str, ...]
"""Positions of a pair's own changeovers, in their order."""


@dataclass(frozen=True)
class Reach:
    """Of one source and one target, the part-combinations in which the source arrives."""

    source: str
    target: str
    changeovers: tuple[str, ...]
    """Those that matter to this pair; none of the others does."""
    arrives: frozenset[Chosen]
    looked_at: int
    there_are: int

    @property
    def in_all(self) -> bool:
        """Whether it arrives in every combination."""
        return len(self.arrives) == self.there_are

    @property
    def covered(self) -> bool:
        """Whether every combination was settled."""
        return self.looked_at == self.there_are

    def at(self, combination: Combination) -> bool:
        """Whether it arrives in a combination."""
        return tuple(combination[each] for each in self.changeovers) in self.arrives


class Reaching:
    """Answers about every combination of a rig, each worked out once."""

    def __init__(self, rig: Rig) -> None:
        self.rig = rig
        self._states: dict[tuple[tuple[str, str], ...], State] = {}
        self._reached: dict[tuple[int, str], set[int]] = {}
        self._paths: dict[tuple[str, str, tuple[tuple[str, str], ...]], Paths] = {}
        self._pairs: dict[tuple[str, str], Reach] = {}
        self.positions = {each.id: tuple(position.id for position in each.positions) for each in rig.part.changeovers}

    @cached_property
    def first(self) -> dict[str, str]:
        """Every changeover in its first position."""
        return first_combination(self.rig.part.changeovers)

    @cached_property
    def combinations(self) -> int:
        """How many combinations the whole rig has."""
        return how_many(self.rig.part.changeovers)

    @cached_property
    def _after(self) -> dict[str, set[int]]:
        """By source, the spots that it reaches in some position or other."""
        return {source: self._union(spots, forward=True) for source, spots in self.rig.sources.items()}

    @cached_property
    def _before(self) -> dict[str, set[int]]:
        return {target: self._union(target_spots(self.rig, target), forward=False) for target in targets(self.rig)}

    @cached_property
    def _network(self) -> frozenset[str]:
        """Changeovers that touch the network."""
        rig = self.rig
        found = {each for link in rig.net_links for each, _ in link.condition}
        for link in rig.net_links:
            for piece in (link.first, link.second):
                found |= {each for each, _ in rig.pieces[piece].condition}
        return frozenset(found)

    def _union(self, spots: Iterable[int], *, forward: bool) -> set[int]:
        edges = self.rig.edges
        near = self.rig.leaving if forward else self.rig.entering
        seen, waiting = set(spots), list(spots)
        while waiting:
            for place in near[waiting.pop()]:
                there = edges[place].end if forward else edges[place].start
                if there not in seen:
                    seen.add(there)
                    waiting.append(there)
        return seen

    def before(self, spots: Iterable[int]) -> set[int]:
        """Spots from which these are reached in some position or other."""
        return self._union(spots, forward=False)

    def after(self, spots: Iterable[int]) -> set[int]:
        """Spots that these reach in some position or other."""
        return self._union(spots, forward=True)

    def relevant(self, source: str, before: set[int]) -> tuple[str, ...]:
        """The changeovers that matter between a source and the spots that ``before`` leads to, in the rig's order."""
        return self.touching(self._after[source] & before)

    def touching(self, cone: set[int]) -> tuple[str, ...]:
        """The changeovers that a piece or a way inside a set of spots depends on, in the rig's order."""
        rig = self.rig
        found: set[str] = set()
        for spot in cone:
            found |= {each for each, _ in rig.pieces[rig.spots[spot].piece].condition}
            for place in rig.leaving[spot]:
                edge = rig.edges[place]
                if edge.end in cone:
                    found |= {each for each, _ in edge.condition}
                    if edge.way is Way.STREAM:
                        found |= self._network
        return tuple(each for each in self.positions if each in found)

    def parts(self, changeovers: Sequence[str]) -> Iterator[Chosen]:
        """All part-combinations of some changeovers, at most as many as are looked at."""
        return itertools.islice(itertools.product(*(self.positions[each] for each in changeovers)), MOST_PARTS)

    def state(self, changeovers: Sequence[str], chosen: Chosen) -> State:
        """The rig with these positions, all other changeovers in their first."""
        key = tuple(zip(changeovers, chosen, strict=True))
        if key not in self._states:
            self._states[key] = State(self.rig, {**self.first, **dict(key)})
        return self._states[key]

    def reached_in(self, state: State, source: str) -> set[int]:
        """Everything that a source reaches in a state of this rig; kept, so that it may be asked for again."""
        key = (id(state), source)
        if key not in self._reached:
            spots = [spot for spot in self.rig.sources[source] if state.alive(spot)]
            self._reached[key] = state.reached_from(spots)
        return self._reached[key]

    def reach(self, source: str, target: str) -> Reach:
        """In which combinations a source arrives at a track or listener."""
        if (source, target) not in self._pairs:
            changeovers = self.relevant(source, self._before[target])
            there_are = prod(len(self.positions[each]) for each in changeovers)
            ask = self._one_by_one if there_are <= _AT_ONCE else self._together
            arrives = ask(source, target, changeovers)
            looked_at = min(there_are, MOST_PARTS)
            self._pairs[(source, target)] = Reach(source, target, changeovers, frozenset(arrives), looked_at, there_are)
        return self._pairs[(source, target)]

    def _one_by_one(self, source: str, target: str, changeovers: tuple[str, ...]) -> set[Chosen]:
        ends = target_spots(self.rig, target)
        arrives = set()
        for chosen in self.parts(changeovers):
            state = self.state(changeovers, chosen)
            reached = self.reached_in(state, source)
            if any(end in reached and state.alive(end) for end in ends):
                arrives.add(chosen)
        return arrives

    def _together(self, source: str, target: str, changeovers: tuple[str, ...]) -> set[Chosen]:
        """As ``_one_by_one``, of all part-combinations at once: for every spot, in which of them it is reached."""
        import numpy as np  # a small rig needs none

        rig, chosen = self.rig, list(self.parts(changeovers))
        at = {name: np.array([each[n] for each in chosen]) for n, name in enumerate(changeovers)}
        nothing = np.zeros(len(chosen), dtype=bool)

        def where(condition: Condition) -> np.ndarray:
            found: np.ndarray = ~nothing
            for name, positions in condition:
                found &= np.isin(at[name], list(positions))
            return found

        def usable(place: int) -> np.ndarray:
            edge = rig.edges[place]
            parts = [rig.pieces[rig.spots[spot].piece].condition for spot in (edge.start, edge.end)]
            found: np.ndarray = where(edge.condition) & where(parts[0]) & where(parts[1])
            if edge.way is Way.STREAM:
                own = [each for each in changeovers if each in self._network]
                keys = list(zip(*(at[each] for each in own), strict=True)) if own else [()] * len(chosen)
                cut = {key for key in set(keys) if not self.state(own, tuple(map(str, key))).network_ways(edge)}
                found &= np.array([key not in cut for key in keys])
            return found

        cone = self._after[source] & self._before[target]
        inside = [place for spot in cone for place in rig.leaving[spot] if rig.edges[place].end in cone]
        holding = {place: usable(place) for place in inside}
        reached = {spot: nothing.copy() for spot in cone}
        waiting = [spot for spot in rig.sources[source] if spot in cone]
        for spot in waiting:
            reached[spot] = where(rig.pieces[rig.spots[spot].piece].condition)
        while waiting:
            spot = waiting.pop(0)
            for place in rig.leaving[spot]:
                end = rig.edges[place].end
                if place in holding:
                    grown = reached[end] | (reached[spot] & holding[place])
                    if (grown != reached[end]).any():
                        reached[end] = grown
                        waiting.append(end)
        arrives = nothing.copy()
        for end in target_spots(rig, target):
            if end in cone:
                arrives |= reached[end] & where(rig.pieces[rig.spots[end].piece].condition)
        return {each for each, there in zip(chosen, arrives, strict=True) if there}

    def with_gains(self, source: str, target: str) -> Reach:
        """As ``reach``, over the changeovers that only set a gain between the two as well: for levels."""
        reach = self.reach(source, target)
        cone = self._after[source] & self._before[target]
        turned = {
            changeover
            for (changeover, _), gains in self.rig.position_gains_db.items()
            if any(self.rig.place_of.get(spot) in cone for spot in gains)
        }
        changeovers = tuple(each for each in self.positions if each in turned or each in reach.changeovers)
        if changeovers == reach.changeovers:
            return reach
        own = [changeovers.index(each) for each in reach.changeovers]
        chosen = list(self.parts(changeovers))
        arrives = frozenset(each for each in chosen if tuple(each[at] for at in own) in reach.arrives)
        there_are = prod(len(self.positions[each]) for each in changeovers)
        return Reach(source, target, changeovers, arrives, len(chosen), there_are)

    def pairs(self) -> Iterator[tuple[str, str]]:
        """Every source and target between which there is a way in some position."""
        for source in self.rig.sources:
            for target, before in self._before.items():
                if self._after[source] & before:
                    yield source, target

    def connected(self, source: str, target: str) -> bool:
        """Whether there is a way in some position."""
        return target in self._before and source in self._after and bool(self._after[source] & self._before[target])

    def paths_in(self, reach: Reach, chosen: Chosen) -> Paths:
        """All paths of a pair in one of its part-combinations."""
        key = (reach.source, reach.target, tuple(zip(reach.changeovers, chosen, strict=True)))
        if key not in self._paths:
            self._paths[key] = paths(self.state(reach.changeovers, chosen), reach.source, reach.target)
        return self._paths[key]

    def whole(self, changeovers: Sequence[str], chosen: Chosen) -> Mapping[str, str]:
        """A part-combination as a whole one, the rest in their first positions."""
        return {**self.first, **dict(zip(changeovers, chosen, strict=True))}


def wanted_pairs(rig: Rig) -> list[tuple[str, str]]:
    """Every source and the track or listener that is to have it, as the plan says."""
    found = [
        (source, f"track:{track.id}")
        for track in rig.part.tracks
        if track.id in rig.tracks
        for source in rig.wanted(track.id)
        if source in rig.sources
    ]
    found += [
        (source, f"feed:{feed.id}")
        for feed in rig.part.feeds
        if feed.id in rig.feeds
        for source in feed.sources
        if source in rig.sources
    ]
    return found
