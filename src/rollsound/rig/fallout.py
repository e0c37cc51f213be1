"""What is lost when one thing fails, or two at once, and what still covers each character.

Every path is a set of things without which it does not work; with a choice of ways through the network, one such set a
way. A failure takes a source from a track when it meets every set. So nothing is searched again for each failure.
"""

from __future__ import annotations

import itertools
from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import cached_property

from rollsound.kit.model import DIGITAL
from rollsound.rig.built import Rig, Way
from rollsound.rig.clocks import Following, clocks
from rollsound.rig.paths import Path
from rollsound.rig.reaching import Reaching, wanted_pairs

Element = str
"""``piece:``, ``link:``, ``stream:``, ``supply:`` or ``clock:`` and an id."""
MOST_VARIANTS = 256
MOST_CASES = 1 << 12
"""Of all sources at all targets together; where one has more than its share, ``complete`` is false."""
_LEAST_CASES = 64


@dataclass(frozen=True)
class Loss:
    """What goes when something fails, in the worst combination."""

    failed: tuple[Element, ...]
    tracks: tuple[str, ...]
    """Tracks that lose a source they are to have, in some combination."""
    mixes: tuple[str, ...]
    """Of these, sums that lose only a part of what is in them."""
    listeners: tuple[str, ...]
    sources: tuple[str, ...]
    uncovered: tuple[str, ...]
    """Characters whose voice is then on no track at all."""
    covered_by: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    """Characters that lose a track, with the tracks where they are still heard."""
    combination: Mapping[str, str] = field(default_factory=dict)
    """The first in which it costs most."""
    at_risk: tuple[str, ...] = ()
    """Of a clock: tracks whose samples slip, since nothing converts them."""

    @property
    def cost(self) -> tuple[int, int, int, int]:
        """For ranking: characters with no track, whole tracks, sums, listeners."""
        whole = len(self.tracks) - len(self.mixes)
        return len(self.uncovered), whole + len(self.at_risk), len(self.mixes), len(self.listeners)


class Fallout:
    """Everything that failures cost in a rig.

    Parameters
    ----------
    supplies
        by id of a supply or battery, the pieces that go when it is empty
    """

    def __init__(self, reaching: Reaching, supplies: Mapping[str, Collection[str]] | None = None) -> None:
        self.reaching, self.rig = reaching, reaching.rig
        self.supplies = {id: frozenset(f"piece:{piece}" for piece in pieces) for id, pieces in (supplies or {}).items()}
        self._bits: dict[Element, int] = {}
        self.complete = True
        self._cases = list(self._all_cases())
        self._by_element: dict[Element, set[int]] = defaultdict(set)
        self._by_pair: dict[tuple[str, str], dict[tuple[str, ...], _Case]] = defaultdict(dict)
        for number, case in enumerate(self._cases):
            self._by_pair[case.source, case.target][case.chosen] = case
            for element in self._elements(case.any):
                self._by_element[element].add(number)

    def _bit(self, element: Element) -> int:
        return self._bits.setdefault(element, 1 << len(self._bits))

    def _mask(self, elements: Iterable[Element]) -> int:
        mask = 0
        for element in elements:
            mask |= self._bit(element)
        return mask

    def _elements(self, mask: int) -> list[Element]:
        return [element for element, bit in self._bits.items() if mask & bit]

    def _all_cases(self) -> Iterator[_Case]:
        wanted = dict.fromkeys(wanted_pairs(self.rig))
        most = max(_LEAST_CASES, MOST_CASES // max(1, len(wanted)))
        for source, target in wanted:
            if not self.reaching.connected(source, target):
                continue
            reach = self.reaching.reach(source, target)
            arrives = sorted(reach.arrives)[:most]
            self.complete &= len(arrives) == len(reach.arrives)
            for chosen in arrives:
                found = self.reaching.paths_in(reach, chosen)
                variants = {self._mask(each) for path in found.paths for each in variants_of(path)}
                self.complete &= found.complete and len(variants) < MOST_VARIANTS and reach.covered
                every, some = -1, 0
                for variant in variants:
                    every &= variant
                    some |= variant
                yield _Case(source, target, reach.changeovers, chosen, tuple(variants), every, some)

    def elements(self) -> list[Element]:
        """Everything in use whose failure is asked about: pieces, cables, streams and supplies, in the rig's order."""
        rig = self.rig
        order = [f"piece:{id}" for id in rig.pieces]
        order += [f"link:{link.id}" for link in rig.part.links]
        order += [f"stream:{stream.id}" for stream in rig.part.streams]
        return [each for each in order if each in self._bits] + [f"supply:{id}" for id in self.supplies]

    def of(self, *failed: Element) -> Loss:
        """What is lost when these fail together."""
        down: set[Element] = set()
        for element in failed:
            kind, _, id = element.partition(":")
            down |= self.supplies.get(id, frozenset()) if kind == "supply" else {element}
        mask = sum(self._bits[each] for each in down if each in self._bits)
        touched = set().union(*(self._by_element.get(each, set()) for each in down))
        lost = [self._cases[number] for number in touched if self._cases[number].fails(mask)]
        return self._loss(failed, lost, mask)

    def single(self) -> list[Loss]:
        """The loss of each thing that costs something, dearest first; clocks among them."""
        found = [self.of(element) for element in self.elements()] + self._clock_losses()
        return sorted((loss for loss in found if any(loss.cost)), key=lambda loss: loss.cost, reverse=True)

    def pairs(self) -> list[Loss]:
        """Two things that cost together what neither costs alone, dearest first. Supplies are not paired."""
        hitting: set[tuple[int, int]] = set()
        for case in self._cases:
            hitting |= set(case.pairs())
        names = {bit: element for element, bit in self._bits.items()}
        found = [self.of(names[one], names[other]) for one, other in sorted(hitting)]
        return sorted(found, key=lambda loss: loss.cost, reverse=True)

    def _loss(self, failed: tuple[Element, ...], lost: Iterable[_Case], mask: int) -> Loss:
        lost = sorted(lost, key=lambda case: (case.target, case.source, case.chosen))
        rig = self.rig
        tracks = dict.fromkeys(case.target.partition(":")[2] for case in lost if case.target.startswith("track:"))
        listeners = dict.fromkeys(case.target.partition(":")[2] for case in lost if case.target.startswith("feed:"))
        gone = {(case.source, case.target) for case in lost}
        mixes = [
            track
            for track in tracks
            if len(rig.wanted(track)) > 1
            and not all((source, f"track:{track}") in gone for source in rig.wanted(track))
        ]
        uncovered: dict[str, None] = {}
        covered: dict[str, tuple[str, ...]] = {}
        worst: dict[str, str] = {}
        for case in lost:
            row = rig.source_rows[case.source]
            if not row.character or not case.target.startswith("track:"):
                continue
            combination = self.reaching.whole(case.changeovers, case.chosen)
            left = self._still_heard(row.character, combination, mask)
            if left:
                covered.setdefault(row.character, left)
            elif row.character not in uncovered:
                uncovered[row.character] = None
                worst = worst or dict(combination)
        if not worst and lost:
            worst = dict(self.reaching.whole(lost[0].changeovers, lost[0].chosen))
        return Loss(
            failed=failed,
            tracks=tuple(id for id in rig.tracks if id in tracks),
            mixes=tuple(mixes),
            listeners=tuple(id for id in rig.feeds if id in listeners),
            sources=tuple(dict.fromkeys(case.source for case in lost)),
            uncovered=tuple(uncovered),
            covered_by={name: left for name, left in covered.items() if name not in uncovered},
            combination=worst,
        )

    def _still_heard(self, character: str, combination: Mapping[str, str], mask: int) -> tuple[str, ...]:
        """Tracks, sums among them, where a character is still heard in a combination."""
        heard: dict[str, None] = {}
        for source, target in self._pairs_of.get(character, ()):
            changeovers = self.reaching.reach(source, target).changeovers
            case = self._by_pair[source, target].get(tuple(combination[each] for each in changeovers))
            if case is not None and not case.fails(mask):
                heard[target.partition(":")[2]] = None
        return tuple(heard)

    @cached_property
    def _pairs_of(self) -> Mapping[str, list[tuple[str, str]]]:
        """By character, every source of theirs with every track that it reaches."""
        found: dict[str, list[tuple[str, str]]] = defaultdict(list)
        for source, target in self._by_pair:
            if target.startswith("track:"):
                found[self.rig.source_rows[source].character].append((source, target))
        return found

    def _clock_losses(self) -> list[Loss]:
        """What slips when a master's clock goes and the pieces that follow it run on by themselves.

        Each source is looked at in its own combinations, the rest in their first positions.
        """
        rig = self.rig
        found: dict[str, dict[str, None]] = {}
        known: dict[tuple[tuple[str, str], ...], Mapping[str, Following]] = {}
        for case in self._cases:
            if not case.target.startswith("track:"):
                continue
            combination = self.reaching.whole(case.changeovers, case.chosen)
            key = tuple(combination.items())
            if key not in known:
                known[key] = clocks(rig, combination)
            following = known[key]
            masters = {each.master for each in following.values() if each.master and each.master != each.piece}
            reach = self.reaching.reach(case.source, case.target)
            for path in self.reaching.paths_in(reach, case.chosen).paths[:1]:
                for master in masters & set(self._unconverted(path, following)):
                    found.setdefault(master, {})[case.target.partition(":")[2]] = None
        return [
            Loss((f"clock:{master}",), (), (), (), (), (), at_risk=tuple(id for id in rig.tracks if id in tracks))
            for master, tracks in found.items()
        ]

    def _unconverted(self, path: Path, following: Mapping[str, Following]) -> Iterator[str]:
        """Masters that hold two pieces together over a hop at which nothing converts the rate."""
        rig = self.rig
        for hop in path.hops:
            if hop.way not in (Way.LINK, Way.STREAM) or hop.end.port not in rig.pieces[hop.end.piece].ports:
                continue
            port = rig.pieces[hop.end.piece].ports[hop.end.port]
            if port.medium not in DIGITAL or port.resamples:
                continue
            one, other = following.get(hop.start.piece), following.get(hop.end.piece)
            if one is not None and other is not None and one.master == other.master:
                yield one.master


@dataclass(frozen=True, slots=True)
class _Case:
    """One source at one target in one part-combination, with what each of its ways needs, as bits."""

    source: str
    target: str
    changeovers: tuple[str, ...]
    chosen: tuple[str, ...]
    variants: tuple[int, ...]
    every: int
    """What all ways need."""
    any: int

    def fails(self, down: int) -> bool:
        """Whether every way needs something that is down."""
        return all(variant & down for variant in self.variants)

    def pairs(self) -> Iterator[tuple[int, int]]:
        """Two bits that meet every way together, where neither does alone."""
        if len(self.variants) < 2:
            return
        first = self.variants[0] & ~self.every
        for one in _each(first):
            rest = [variant for variant in self.variants if not variant & one]
            if not rest:
                continue
            shared = rest[0]
            for variant in rest[1:]:
                shared &= variant
            for other in _each(shared & ~self.every):
                yield (one, other) if one < other else (other, one)


def _each(mask: int) -> Iterator[int]:
    while mask:
        low = mask & -mask
        yield low
        mask ^= low


def variants_of(path: Path) -> Iterator[frozenset[Element]]:
    """What a path needs, once for every choice of ways through the network; at most as many as are told apart."""
    for ways in itertools.islice(itertools.product(*path.choices), MOST_VARIANTS):
        yield path.elements.union(*ways)


def element_in_words(rig: Rig, element: Element) -> str:
    """What failed, for people: ``Main recorder``, ``the cable net-remote from Switch on the set to ...``."""
    kind, _, id = element.partition(":")
    if kind == "piece":
        return rig.name_of(id)
    if kind == "clock":
        return f"the clock of {rig.name_of(id)}"
    if kind == "link":
        row, (begin, end) = rig.link_rows[id], rig.link_ends[id]
        radio = rig.pieces[begin.piece].ports[begin.port].medium == "radio"
        what = "the radio path" if radio else "the cable"
        return f"{what} {row.name or row.id} from {rig.name_of(begin.piece)} to {rig.name_of(end.piece)}"
    if kind == "stream":
        row_of = rig.stream_rows[id]
        return f"the network subscription {row_of.name or row_of.id}"
    return f"the supply {id}"
