"""An independent answer to what reaches what: the plan's own words walked through with a general graph library."""

from __future__ import annotations

from collections.abc import Collection, Mapping

import networkx as nx

from rollsound.rig.built import Rig


def _ends(text: str) -> tuple[str, list[int]]:
    words = text.split()
    if len(words) == 1:
        return words[0], []
    low, _, high = words[1].partition("-")
    return words[0], list(range(int(low), int(high or low) + 1))


def reached(rig: Rig, combination: Mapping[str, str], failed: Collection[str] = ()) -> set[tuple[str, str]]:
    """Every source and track with a way between them; ``failed`` as in ``State``."""
    part = rig.part
    chosen = set(combination.items())

    def in_use(kind: str, id: str) -> bool:
        for changeover in part.changeovers:
            naming = [each.id for each in changeover.positions if id in getattr(each, kind)]
            if naming and not any((changeover.id, each) in chosen for each in naming):
                return False
        return f"{kind[:-1]}:{id}" not in failed

    kinds = {piece.id: rig.pieces[piece.id].kind for piece in part.pieces}
    alive = {piece.id for piece in part.pieces if in_use("pieces", piece.id)}
    graph: nx.DiGraph[tuple[str, str, int]] = nx.DiGraph()
    net: nx.Graph[str] = nx.Graph()
    channels = {(id, port.id): port.channels for id, kind in kinds.items() for port in kind.ports}

    def joined(one: tuple[str, list[int]], other: tuple[str, list[int]], most: int) -> list[tuple[int, int]]:
        first, second = one[1], other[1]
        first = first or list(range(1, (len(second) or most) + 1))
        second = second or list(range(1, len(first) + 1))
        return list(zip(first, second, strict=False))

    for id in alive:
        for each in kinds[id].passes:
            for a, b in joined(_ends(each.from_), _ends(each.to), (channels[id, _ends(each.from_)[0]])):
                graph.add_edge((id, _ends(each.from_)[0] + "<", a), (id, _ends(each.to)[0] + ">", b))
    for link in part.links:
        (one, one_port), (other, other_port) = (each.split(":") for each in (link.from_, link.to))
        if not in_use("links", link.id) or one not in alive or other not in alive:
            continue
        if one_port.startswith("net") and other_port.startswith("net"):
            net.add_edge(one, other)
            continue
        first, second = _ends(one_port), _ends(other_port)
        for a, b in joined(first, second, (channels[one, first[0]])):
            graph.add_edge((one, first[0] + ">", a), (other, second[0] + "<", b))
    switches = {id for id in alive if kinds[id].category == "network"}
    for stream in part.streams:
        (one, one_port), (other, other_port) = (each.split(":") for each in (stream.from_, stream.to))
        if not in_use("streams", stream.id) or one not in alive or other not in alive:
            continue
        way = net.subgraph({*switches, one, other})
        if one in way and other in way and nx.has_path(way, one, other):
            for a, b in joined(_ends(one_port), _ends(other_port), 0):
                graph.add_edge((one, "net>", a), (other, "net<", b))
    for route in part.routes:
        if in_use("routes", route.id) and route.piece in alive:
            for a, b in joined(_ends(route.from_), _ends(route.to), 0):
                graph.add_edge((route.piece, _ends(route.from_)[0] + "<", a), (route.piece, "track", b))
    found = set()
    for source in part.sources:
        piece, port = source.at.split(":")
        start = (piece, port + "<", 1)
        if piece not in alive or start not in graph:
            continue
        there = nx.descendants(graph, start)
        found |= {(source.id, track.id) for track in part.tracks if ("recorder", "track", track.number) in there}
    return found
