"""A large rig: all paths and every single failure, beside a general graph library; and many combinations.

python -m benchmarks rig
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable
from typing import Any

import networkx as nx

from benchmarks.row import Row
from rollsound.kit.model import KitPart
from rollsound.rig.building import build
from rollsound.rig.built import Rig
from rollsound.rig.fallout import Fallout
from rollsound.rig.model import RigPart
from rollsound.rig.paths import all_paths
from rollsound.rig.proofs import proofs
from rollsound.rig.reaching import Reaching, wanted_pairs
from rollsound.rig.state import State

SIZES = (75, 150, 300)
"""Pieces of the rig."""
CHANNELS_EACH = 16
KINDS: list[dict[str, Any]] = [
    {
        "id": "mic",
        "name": "Microphone",
        "category": "microphone",
        "ports": [
            {"id": "capsule", "direction": "in", "medium": "air"},
            {"id": "out", "direction": "out", "medium": "analogue"},
        ],
        "passes": [{"from": "capsule", "to": "out"}],
    },
    {
        "id": "box",
        "name": "Stage box",
        "category": "converter",
        "core": "digital",
        "ports": [
            {"id": "in", "direction": "in", "medium": "analogue", "channels": CHANNELS_EACH},
            {"id": "net", "direction": "both", "medium": "network", "channels": CHANNELS_EACH},
            {"id": "out", "direction": "out", "medium": "aes10 coax", "channels": 64},
        ],
        "passes": [{"from": f"in 1-{CHANNELS_EACH}", "to": f"net 1-{CHANNELS_EACH}"}],
    },
    {
        "id": "switch",
        "name": "Switch",
        "category": "network",
        "core": "none",
        "ports": [{"id": f"net-{n}", "direction": "both", "medium": "network"} for n in range(1, 60)],
    },
    {
        "id": "recorder",
        "name": "Recorder",
        "category": "recorder",
        "core": "digital",
        "tracks": 512,
        "ports": [{"id": "net", "direction": "both", "medium": "network", "channels": 512}],
    },
]


def large_rig(pieces: int) -> Rig:
    """A rig of so many pieces: microphones into stage boxes, two switches in a ring, two recorders that take all."""
    boxes = max(1, round((pieces - 4) / (CHANNELS_EACH + 1)))
    rows: dict[str, list[dict[str, Any]]] = {
        name: [] for name in ("pieces", "links", "streams", "routes", "sources", "tracks")
    }
    rows["pieces"] += [{"id": "recorder-1", "item": "recorder"}, {"id": "recorder-2", "item": "recorder"}]
    rows["pieces"] += [{"id": "switch-1", "item": "switch"}, {"id": "switch-2", "item": "switch"}]
    for n in (1, 2):
        rows["links"].append({"id": f"ring-{n}", "from": f"switch-1:net-{57 + n}", "to": f"switch-2:net-{57 + n}"})
        rows["links"].append({"id": f"record-{n}", "from": f"switch-{n}:net-57", "to": f"recorder-{n}:net"})
    for box in range(boxes):
        rows["pieces"].append({"id": f"box-{box}", "item": "box"})
        rows["links"].append(
            {"id": f"box-{box}", "from": f"box-{box}:net", "to": f"switch-{box % 2 + 1}:net-{box // 2 + 1}"}
        )
        for n in range(1, CHANNELS_EACH + 1):
            mic, number = f"mic-{box}-{n}", box * CHANNELS_EACH + n
            rows["pieces"].append({"id": mic, "item": "mic"})
            rows["links"].append({"id": mic, "from": f"{mic}:out", "to": f"box-{box}:in {n}"})
            rows["sources"].append({"id": mic, "at": f"{mic}:capsule", "character": f"C{number}"})
            for recorder in (1, 2):
                rows["tracks"].append(
                    {
                        "id": f"t{recorder}-{number}",
                        "number": number,
                        "name": mic,
                        "source": mic,
                        "recorder": f"recorder-{recorder}",
                    }
                )
        first = box * CHANNELS_EACH + 1
        span = f"{first}-{first + CHANNELS_EACH - 1}"
        for recorder in (1, 2):
            rows["streams"].append(
                {
                    "id": f"s{recorder}-{box}",
                    "from": f"box-{box}:net 1-{CHANNELS_EACH}",
                    "to": f"recorder-{recorder}:net {span}",
                }
            )
            rows["routes"].append(
                {
                    "id": f"r{recorder}-{box}",
                    "piece": f"recorder-{recorder}",
                    "from": f"net {span}",
                    "to": f"track {span}",
                }
            )
    items = [{"id": kind["id"], "name": kind["name"], "model": kind["id"], "count": 999} for kind in KINDS]
    return build(RigPart.model_validate(rows), KitPart.model_validate({"items": items, "kinds": KINDS}))


def by_networkx(rig: Rig) -> int:
    """Every single failure by a general library: take each thing out and search again. Links and pieces only."""
    graph: nx.DiGraph[Any] = nx.DiGraph()
    net: nx.Graph[str] = nx.Graph()
    for link in rig.net_links:
        net.add_edge(link.first, f"link:{link.id}")
        net.add_edge(f"link:{link.id}", link.second)
    for edge in rig.edges:
        start, end = rig.spots[edge.start], rig.spots[edge.end]
        graph.add_edge(edge.start, edge.end, pieces={start.piece, end.piece}, id=f"{edge.way.value}:{edge.id}")
    lost = 0
    things = [f"piece:{id}" for id in rig.pieces] + [f"link:{link.id}" for link in rig.part.links]
    sources = {source: spots[0] for source, spots in rig.sources.items()}
    tracks = {rig.tracks[track]: rig.wanted(track)[0] for track in rig.tracks}
    for thing in things:
        what, _, id = thing.partition(":")
        without = net.copy()
        without.remove_nodes_from([id if what == "piece" else thing])
        joined = {piece: number for number, part in enumerate(nx.connected_components(without)) for piece in part}
        left: nx.DiGraph[Any] = nx.DiGraph()
        for one, other, data in graph.edges(data=True):
            if (what == "piece" and id in data["pieces"]) or data["id"] == thing:
                continue
            if data["id"].startswith("stream:"):
                first, second = (rig.spots[each].piece for each in (one, other))
                if joined.get(first, -1) != joined.get(second, -2):
                    continue
            left.add_edge(one, other)
        for track, source in tracks.items():
            if not (sources[source] in left and track in left and nx.has_path(left, sources[source], track)):
                lost += 1
    return lost


def many_combinations(changeovers: int = 16) -> Rig:
    """Sixty pieces with sixteen booms that are each plugged into one of two inputs of a stage box."""
    rows: dict[str, list[dict[str, Any]]] = {
        name: [] for name in ("pieces", "links", "streams", "routes", "sources", "tracks", "changeovers")
    }
    rows["pieces"] += [{"id": "recorder-1", "item": "recorder"}, {"id": "switch-1", "item": "switch"}]
    rows["links"].append({"id": "record", "from": "switch-1:net-57", "to": "recorder-1:net"})
    for n in range(changeovers):
        rows["pieces"] += [{"id": f"mic-{n}", "item": "mic"}, {"id": f"box-{n}", "item": "box"}]
        rows["links"] += [
            {"id": f"a{n}", "from": f"mic-{n}:out", "to": f"box-{n}:in 1"},
            {"id": f"b{n}", "from": f"mic-{n}:out", "to": f"box-{n}:in 2"},
            {"id": f"n{n}", "from": f"box-{n}:net", "to": f"switch-1:net-{n + 1}"},
        ]
        rows["streams"].append(
            {"id": f"s{n}", "from": f"box-{n}:net 1-2", "to": f"recorder-1:net {2 * n + 1}-{2 * n + 2}"}
        )
        for port in (2 * n + 1, 2 * n + 2):
            for track in (n + 2, 1):
                rows["routes"].append(
                    {"id": f"r{port}-{track}", "piece": "recorder-1", "from": f"net {port}", "to": f"track {track}"}
                )
        rows["sources"].append({"id": f"mic-{n}", "at": f"mic-{n}:capsule", "character": f"C{n}"})
        rows["tracks"].append({"id": f"t{n}", "number": n + 2, "name": f"T{n}", "source": f"mic-{n}"})
        positions = [{"id": "one", "links": [f"a{n}"]}, {"id": "two", "links": [f"b{n}"]}]
        rows["changeovers"].append({"id": f"c{n}", "positions": positions})
    mix = {"id": "mix", "number": 1, "name": "Mix", "sources": [f"mic-{n}" for n in range(changeovers)]}
    rows["tracks"].append(mix)
    more = 60 - len(rows["pieces"])
    rows["pieces"] += [{"id": f"spare-{n}", "item": "mic"} for n in range(more)]
    items = [{"id": kind["id"], "name": kind["name"], "model": kind["id"], "count": 999} for kind in KINDS]
    return build(RigPart.model_validate(rows), KitPart.model_validate({"items": items, "kinds": KINDS}))


def _seconds(work: Callable[[], object]) -> float:
    began = time.perf_counter()
    work()
    return time.perf_counter() - began


def run() -> list[Row]:
    """Measured lines."""
    found: list[Row] = []
    times: list[float] = []
    for pieces in SIZES:
        made = large_rig(pieces)
        taken = _seconds(lambda made=made: (all_paths(State(made, {})), Fallout(Reaching(made)).single()))  # type: ignore[misc]
        times.append(taken)
        if pieces == SIZES[0]:
            peer = _seconds(lambda made=made: by_networkx(made))  # type: ignore[misc]
            size = f"{len(made.pieces)} pieces, {len(made.spots)} channels"
            found.append(Row(f"every single failure, {size}", taken, "s", "networkx, each taken out", peer))
    exponent = math.log(times[-1] / times[0]) / math.log(SIZES[-1] / SIZES[0])
    size = f"{len(made.pieces)} pieces, {len(made.spots)} channels"
    found.append(Row(f"all paths and every single failure, {size}", times[-1], "s", goal="under 5 s"))
    found.append(Row("growth with size, exponent", exponent, "", goal="written down"))
    rig = many_combinations()
    reaching = Reaching(rig)
    taken = _seconds(lambda: [reaching.reach(*pair) for pair in wanted_pairs(rig)])
    what = f"everything arrives: {reaching.combinations:,} combinations of {len(rig.pieces)} pieces"
    found.append(Row(what, taken, "s", goal="under 10 s"))
    taken = _seconds(lambda: list(proofs(many_combinations())))
    what = f"every proof: {reaching.combinations:,} combinations of {len(rig.pieces)} pieces"
    found.append(Row(what, taken, "s", goal="under 10 s"))
    return found
