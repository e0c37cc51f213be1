"""Small random rigs for tests: boxes in layers, some ways only in some positions, a network with more than one way."""

from __future__ import annotations

import random
from typing import Any

from rollsound.kit.model import KitPart
from rollsound.rig.building import build
from rollsound.rig.built import Rig
from rollsound.rig.model import RigPart

_KINDS: list[dict[str, Any]] = [
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
        "name": "Box",
        "category": "converter",
        "core": "digital",
        "ports": [
            {"id": "in", "direction": "in", "medium": "analogue", "channels": 3},
            {"id": "out", "direction": "out", "medium": "analogue", "channels": 3},
            {"id": "net", "direction": "both", "medium": "network", "channels": 3},
        ],
        "passes": [{"from": "in", "to": "out"}, {"from": "in", "to": "net"}],
    },
    {
        "id": "switch",
        "name": "Switch",
        "category": "network",
        "core": "none",
        "ports": [{"id": f"net-{n}", "direction": "both", "medium": "network"} for n in range(1, 7)],
    },
    {
        "id": "recorder",
        "name": "Recorder",
        "category": "recorder",
        "core": "digital",
        "tracks": 6,
        "ports": [
            {"id": "in", "direction": "in", "medium": "analogue", "channels": 6},
            {"id": "net", "direction": "both", "medium": "network", "channels": 6},
        ],
    },
]


def random_rig(seed: int, changeovers: int = 3) -> Rig:
    """A rig with 3 microphones, 2 boxes, 3 switches and a recorder; everything else by chance of the seed."""
    chance = random.Random(seed)
    links: list[dict[str, Any]] = []
    routes: list[dict[str, Any]] = []
    streams: list[dict[str, Any]] = []
    pieces = [{"id": f"mic-{n}", "item": "mic"} for n in (1, 2, 3)]
    pieces += [{"id": f"box-{n}", "item": "box"} for n in (1, 2)]
    pieces += [{"id": f"switch-{n}", "item": "switch"} for n in (1, 2, 3)] + [{"id": "recorder"}]

    def link(start: str, end: str) -> None:
        links.append({"id": f"l{len(links)}", "from": start, "to": end})

    for n in (1, 2, 3):
        for box in chance.sample((1, 2), chance.choice((1, 1, 2))):
            link(f"mic-{n}:out", f"box-{box}:in {n}")
    for box in (1, 2):
        for n in (1, 2, 3):
            if chance.random() < 0.5:
                link(f"box-{box}:out {n}", f"recorder:in {3 * box - 3 + n}")
        link(f"box-{box}:net", f"switch-{box}:net-1")
        if chance.random() < 0.7:
            streams.append(
                {"id": f"s{box}", "from": f"box-{box}:net 1-3", "to": f"recorder:net {3 * box - 2}-{3 * box}"}
            )
    ports = {1: 2, 2: 2, 3: 1}
    for one, other in ((1, 2), (1, 3), (2, 3), (1, 3)):
        if chance.random() < 0.6:
            link(f"switch-{one}:net-{ports[one]}", f"switch-{other}:net-{ports[other]}")
            ports[one] += 1
            ports[other] += 1
    link(f"switch-{chance.choice((1, 2, 3))}:net-6", "recorder:net")
    for n in range(1, 7):
        for port in ("in", "net"):
            if chance.random() < 0.7:
                track = (n - 1) % 3 + 1 if chance.random() < 0.8 else chance.randint(1, 6)
                routes.append(
                    {"id": f"r{len(routes)}", "piece": "recorder", "from": f"{port} {n}", "to": f"track {track}"}
                )
    named = {"links": links, "streams": streams, "routes": routes}
    changes = []
    for n in range(changeovers):
        positions: list[dict[str, Any]] = [{"id": f"p{k}"} for k in range(chance.choice((2, 2, 3)))]
        for part, rows in named.items():
            for row in chance.sample(rows, min(len(rows), chance.randint(0, 3))):
                for position in chance.sample(positions, chance.randint(1, len(positions) - 1)):
                    position.setdefault(part, []).append(row["id"])
        if chance.random() < 0.3:
            positions[0].setdefault("pieces", []).append(chance.choice(pieces[:8])["id"])
        changes.append({"id": f"c{n}", "positions": positions})
    whole = {
        "pieces": pieces,
        **named,
        "sources": [{"id": f"v{n}", "at": f"mic-{n}:capsule", "character": ("A", "B", "A")[n - 1]} for n in (1, 2, 3)],
        "tracks": [{"id": f"t{n}", "number": n, "name": f"T{n}", "source": f"v{(n - 1) % 3 + 1}"} for n in range(1, 7)],
        "changeovers": changes,
    }
    items = [{"id": kind["id"], "name": kind["name"], "model": kind["id"], "count": 9} for kind in _KINDS]
    return build(RigPart.model_validate(whole), KitPart.model_validate({"items": items, "kinds": _KINDS}))
