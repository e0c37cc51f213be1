"""A walk test on the steel deck: Idris walks, somebody reads the receiver. Made up from a seed, its truth known.

One reading is wrong (a hand over the antenna), as one always is.
"""

from __future__ import annotations

import math

import numpy as np

from rollsound.demo.chance import generator

TRANSMITTER, ANTENNA = "pack-02", "deck-cart"
ANTENNA_M, ANTENNA_HEIGHT_M = (5.0, 5.5), 2.4
WORN_HEIGHT_M = 1.2
POWER_DBM = 13.98
"""25 mW."""
FREQ_MHZ = 500.0
EXPONENT = 1.75
"""Between steel walls loss grows slower with distance than in the open."""
BODY_LOSS_DB = 17.0
FEEDER_DB = 9.4
"""Four metres of cable, connectors, and a splitter of five ways."""
GAIN_DBI = 2.15
SCATTER_DB = 2.2
CASING_M = (
    ((22.0, 7.5), (22.0, 10.5)),
    ((22.0, 10.5), (36.0, 10.5)),
    ((36.0, 7.5), (36.0, 10.5)),
    ((22.0, 7.5), (36.0, 7.5)),
)
CASING_DB = 5.0
"""What each wall of the engine casing takes: far less than steel would, as most comes round it."""
STRANGE = (13, -21.0)
"""Which reading is wrong, and by how much."""
WAY_M = ((8.0, 14.0), (34.0, 14.0), (52.0, 9.0))
READINGS = 26


def places_m() -> list[tuple[float, float]]:
    """Evenly along the way that Idris walks."""
    corners = np.array(WAY_M)
    lengths = np.hypot(*np.diff(corners, axis=0).T)
    way = np.linspace(0.0, float(lengths.sum()), READINGS)
    ends = np.concatenate([[0.0], np.cumsum(lengths)])
    xs, ys = (np.interp(way, ends, corners[:, axis]) for axis in (0, 1))
    return [(round(float(x), 1), round(float(y), 1)) for x, y in zip(xs, ys, strict=True)]


def level_dbm(at_m: tuple[float, float]) -> float:
    """What the model behind the readings gives, without scatter: loss of the first metre, then by the exponent."""
    flat = math.dist(at_m, ANTENNA_M)
    distance = math.hypot(flat, ANTENNA_HEIGHT_M - WORN_HEIGHT_M)
    first = 20 * math.log10(FREQ_MHZ) + 20 * math.log10(0.001) + 32.4478
    loss = first + 10 * EXPONENT * math.log10(max(distance, 1.0))
    walls = CASING_DB * sum(_crosses(at_m, ANTENNA_M, *wall) for wall in CASING_M)
    return POWER_DBM - BODY_LOSS_DB - loss - walls + GAIN_DBI - FEEDER_DB


At = tuple[float, float]


def _crosses(one: At, other: At, start: At, end: At) -> bool:
    """Whether two straight lines cross."""

    def side(a: At, b: At, c: At) -> float:
        return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])

    apart = side(one, other, start) * side(one, other, end)
    return apart < 0 and side(start, end, one) * side(start, end, other) < 0


def walk_csv(seed: int) -> str:
    """The readings as they would be noted: place, transmitter, antenna, level."""
    rng = generator(seed, "walk test")
    rows = [
        "# Northbound Ferry: an invented walk test, made by the demo; nobody walked",
        "x m,y m,transmitter,antenna,level dBm,note",
    ]
    scatter = rng.normal(0.0, SCATTER_DB, READINGS)
    for number, (x, y) in enumerate(places_m()):
        level = level_dbm((x, y)) + float(scatter[number])
        note = ""
        if number == STRANGE[0]:
            level += STRANGE[1]
            note = "turned to wave at Runa"
        rows.append(f"{x:.1f},{y:.1f},{TRANSMITTER},{ANTENNA},{level:.1f},{note}")
    return "\n".join(rows) + "\n"
