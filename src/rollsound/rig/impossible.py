"""What cannot be in a rig put together: two ends in one input, two cables in one socket, ways that go round."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Iterator, Mapping, Sequence

from rollsound.rig.built import BuiltPiece, Edge, NetLink, Spot, Way
from rollsound.rig.combining import ALWAYS, Condition, both, combinations, holds, how_many
from rollsound.rig.ends import End
from rollsound.rig.model import Changeover
from rollsound.wrong import Wrong

_MOST_COMBINATIONS = 4096
_MOST_ROUNDS = 200
_PART = {Way.LINK: "links", Way.STREAM: "streams", Way.ROUTE: "routes", Way.PASS: "pieces"}


def socket_taken(
    link: str, ends: Iterable[tuple[str, End]], condition: Condition, before: Iterable[NetLink]
) -> Iterator[Wrong]:
    """A network socket that takes a second cable at the same time.

    Parameters
    ----------
    ends
        of the link with this id: the field that names it, and the end
    before
        the network cables that are plugged already
    """
    plugged = list(before)
    for name, end in ends:
        for other in plugged:
            sockets = ((other.first, other.first_port), (other.second, other.second_port))
            if (end.piece, end.port) in sockets and both(other.condition, condition) is not None:
                yield Wrong(
                    ("rig", "links", link, name),
                    f"is {end.piece}:{end.port}, where '{other.id}' is plugged as well; a socket takes one cable",
                )


def used_twice(
    pieces: Mapping[str, BuiltPiece], spots: Sequence[Spot], edges: Sequence[Edge], entering: Sequence[Sequence[int]]
) -> Iterator[Wrong]:
    """Inputs at which two links or streams end at the same time, other than through the air.

    Parameters
    ----------
    entering
        by spot, the edges that end there
    """
    for place, some in enumerate(entering):
        spot = spots[place]
        port = pieces[spot.piece].ports.get(spot.port)
        if port is None or port.medium == "air" or spot.side == "out":
            continue
        outer = [edges[each] for each in some if edges[each].way in (Way.LINK, Way.STREAM)]
        for one, other in itertools.combinations(outer, 2):
            if one.id != other.id and both(one.condition, other.condition) is not None:
                yield Wrong(
                    ("rig", _PART[other.way], other.id, "to"),
                    f"ends at {spot}, where '{one.id}' ends as well; an input takes one",
                )


def loops(
    pieces: Mapping[str, BuiltPiece], spots: Sequence[Spot], edges: Sequence[Edge], changeovers: Sequence[Changeover]
) -> Iterator[Wrong]:
    """Ways that come back to where they began, other than through the air; one of each group that hangs together.

    Every combination of the changeovers that touch the group is looked at. Where there are very many of them, the
    group's rounds are gone through one by one instead, as far as ``_MOST_ROUNDS``.
    """
    import networkx as nx  # takes a tenth of a second to load

    ways = [edge for edge in edges if not _by_air(pieces, spots, edge)]
    graph: nx.DiGraph[int] = nx.DiGraph([(edge.start, edge.end) for edge in ways])
    for group in nx.strongly_connected_components(graph):
        if len(group) < 2 and not any(graph.has_edge(each, each) for each in group):
            continue
        inside = [edge for edge in ways if edge.start in group and edge.end in group]
        found = _round_of(inside, changeovers)
        if found is None:
            continue
        written = {edge for edge in found if edge.way is not Way.PASS}
        named = next((edge for edge in inside if edge in written), found[0])
        through = list(dict.fromkeys(pieces[spots[edge.start].piece].name for edge in found))
        yield Wrong(
            ("rig", _PART[named.way], named.id),
            f"comes back to where it began, through {', '.join(through[:6])}; take one of these ways out",
        )


def _by_air(pieces: Mapping[str, BuiltPiece], spots: Sequence[Spot], edge: Edge) -> bool:
    port = pieces[spots[edge.start].piece].ports.get(spots[edge.start].port)
    return edge.way is Way.LINK and port is not None and port.medium == "air"


def _round_of(edges: Sequence[Edge], changeovers: Sequence[Changeover]) -> list[Edge] | None:
    """Edges that hold together and go round; none where there are none."""
    import networkx as nx

    touching = {changeover for edge in edges for changeover, _ in edge.condition}
    if how_many(each for each in changeovers if each.id in touching) > _MOST_COMBINATIONS:
        return _round_by_round(edges)
    for combination in combinations(changeovers, only=touching):
        graph: nx.MultiDiGraph[int] = nx.MultiDiGraph()
        for edge in edges:
            if holds(edge.condition, combination):
                graph.add_edge(edge.start, edge.end, edge=edge)
        try:
            return [graph.edges[step]["edge"] for step in nx.find_cycle(graph)]
        except nx.NetworkXNoCycle:
            continue
    return None


def _round_by_round(edges: Iterable[Edge]) -> list[Edge] | None:
    import networkx as nx

    between: dict[tuple[int, int], list[Edge]] = {}
    for edge in edges:
        between.setdefault((edge.start, edge.end), []).append(edge)
    for cycle in itertools.islice(nx.simple_cycles(nx.DiGraph(list(between))), _MOST_ROUNDS):
        found = _together([between[step] for step in zip(cycle, [*cycle[1:], cycle[0]], strict=True)])
        if found is not None:
            return found
    return None


def _together(steps: Sequence[Sequence[Edge]]) -> list[Edge] | None:
    """One edge of every step, all of which can hold together; none where no such choice was found."""
    open_: list[tuple[Condition, list[Edge]]] = [(ALWAYS, [])]
    for edges in steps:
        grown: dict[Condition, list[Edge]] = {}
        for condition, way in open_:
            for edge in edges:
                joined = both(condition, edge.condition)
                if joined is not None:
                    grown.setdefault(joined, [*way, edge])
        open_ = list(grown.items())[:_MOST_ROUNDS]
    return open_[0][1] if open_ else None
