"""A rig in one combination, with or without some of its pieces and links: what reaches what."""

from __future__ import annotations

from collections import deque
from collections.abc import Collection
from dataclasses import dataclass

from rollsound.rig.built import Edge, NetLink, Rig, Way
from rollsound.rig.combining import Combination, holds

MOST_WAYS = 64
"""Of the network, between two pieces; more are not told apart."""


@dataclass(frozen=True)
class NetWay:
    """A way of a stream through the network: its links and the pieces between, in order."""

    links: tuple[str, ...]
    through: tuple[str, ...]


class State:
    """A rig in one combination.

    Parameters
    ----------
    without
        ids of pieces, links and streams that have failed; ids of pieces and links are told apart by ``piece:`` and
        ``link:`` before them, as in ``link:boom-1-cable``
    """

    def __init__(self, rig: Rig, combination: Combination, without: Collection[str] = ()) -> None:
        self.rig, self.combination, self.without = rig, combination, frozenset(without)
        self._ways: dict[tuple[str, str, str, str], tuple[NetWay, ...]] = {}
        self._holding: dict[int, bool] = {}

    def holds(self, place: int) -> bool:
        """Whether an edge, by its place in ``rig.edges``, carries sound now."""
        known = self._holding.get(place)
        if known is None:
            known = self._holding[place] = self._holds(self.rig.edges[place])
        return known

    def _holds(self, edge: Edge) -> bool:
        rig = self.rig
        if not rig.edge_holds(edge, self.combination):
            return False
        if self.without:
            pieces = {rig.spots[edge.start].piece, rig.spots[edge.end].piece}
            if any(f"piece:{piece}" in self.without for piece in pieces):
                return False
            if edge.way is not Way.PASS and f"{edge.way.value}:{edge.id}" in self.without:
                return False
        return edge.way is not Way.STREAM or bool(self.network_ways(edge))

    def _net_link_holds(self, link: NetLink) -> bool:
        return (
            holds(link.condition, self.combination)
            and self.rig.in_use(link.first, self.combination)
            and self.rig.in_use(link.second, self.combination)
            and not self.without & {f"link:{link.id}", f"piece:{link.first}", f"piece:{link.second}"}
        )

    def network_ways(self, edge: Edge) -> tuple[NetWay, ...]:
        """The ways that a stream can take through the network now, shortest first; none where it is cut off."""
        start, end = self.rig.spots[edge.start], self.rig.spots[edge.end]
        key = (start.piece, start.port, end.piece, end.port)
        if key not in self._ways:
            self._ways[key] = self._find_ways(*key)
        return self._ways[key]

    def _find_ways(self, start: str, start_port: str, end: str, end_port: str) -> tuple[NetWay, ...]:
        around: dict[str, list[tuple[str, str, str, str]]] = {}
        for link in self.rig.net_links:
            if self._net_link_holds(link):
                around.setdefault(link.first, []).append((link.first_port, link.id, link.second, link.second_port))
                around.setdefault(link.second, []).append((link.second_port, link.id, link.first, link.first_port))
        found: list[NetWay] = []
        queue: deque[tuple[str, tuple[str, ...], tuple[str, ...]]] = deque([(start, (), (start,))])
        while queue and len(found) < MOST_WAYS:
            here, links, pieces = queue.popleft()
            for port, link_id, there, there_port in around.get(here, ()):
                if here == start and port != start_port:
                    continue
                if there == end and there_port == end_port:
                    found.append(NetWay((*links, link_id), pieces[1:]))
                elif there not in pieces and self.rig.pieces[there].carries_network:
                    queue.append((there, (*links, link_id), (*pieces, there)))
        return tuple(found)

    def reached_from(self, spots: Collection[int]) -> set[int]:
        """All spots that sound from these reaches."""
        return self._spread(spots, forward=True)

    def reaching(self, spots: Collection[int]) -> set[int]:
        """All spots whose sound reaches these."""
        return self._spread(spots, forward=False)

    def _spread(self, spots: Collection[int], *, forward: bool) -> set[int]:
        edges = self.rig.edges
        near = self.rig.leaving if forward else self.rig.entering
        seen, waiting = set(spots), list(spots)
        while waiting:
            for place in near[waiting.pop()]:
                there = edges[place].end if forward else edges[place].start
                if there not in seen and self.holds(place):
                    seen.add(there)
                    waiting.append(there)
        return seen

    def alive(self, spot: int) -> bool:
        """Whether the piece of a spot is in use and has not failed."""
        piece = self.rig.spots[spot].piece
        return self.rig.in_use(piece, self.combination) and f"piece:{piece}" not in self.without
