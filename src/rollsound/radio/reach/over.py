"""What is heard from many places at once: levels of every antenna, margins of every branch, the share of time."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rollsound.errors import InputError
from rollsound.radio import fading
from rollsound.radio.model import AntennaPlaced, Ground
from rollsound.radio.reach.answer import Array
from rollsound.radio.reach.crossing import Stretches, crossed, stretches
from rollsound.radio.reach.link import Link, Path
from rollsound.radio.reach.way import Way, gain_towards_dbi, path_loss_db, way_to

_NEPER = math.log(10) / 10
_HIGHEST_M = 1_000.0
FAR_DB = 1_000.0
"""Margins beyond hold always, or never."""


@dataclass(frozen=True)
class Heard:
    """At every place what is heard from the worst of the transmitters there, and which one that is."""

    level_dbm: Array
    margin_db: Array
    share_of_time: Array
    worst: NDArray[np.int64]


def over(ground: Ground, links: Sequence[Link], at_m: Array, height_m: float) -> Heard:
    """Level of the best antenna, margin of the best branch and share of time; places of shape (places, 2)."""
    view = View(ground, links, at_m, height_m)
    level, margin = np.empty(len(at_m)), np.empty(len(at_m))
    share = np.full(len(at_m), np.inf)
    worst = np.zeros(len(at_m), np.int64)
    for number, link in enumerate(links):
        levels = view.levels_dbm(link)
        branches = margins_db(link, levels)
        found, best, held = levels.max(axis=0), branches.max(axis=0), share_of_time(link, branches)
        worse = (held < share) | ((held == share) & (best < margin))
        level, margin, share = (
            np.where(worse, found, level),
            np.where(worse, best, margin),
            np.where(worse, held, share),
        )
        worst[worse] = number
    return Heard(level, margin, share, worst)


def margins_db(link: Link, levels_dbm: Array) -> Array:
    """The margin of each branch: shape (branches, places).

    Antennas of one branch add up as powers, and what comes out is taken to fade as one signal does.
    """
    rows = []
    for branch, floor in zip(link.branches, link.floors, strict=True):
        chosen = levels_dbm[list(branch)]
        together = chosen[0] if len(branch) == 1 else _together_db(chosen)
        rows.append(together - floor.noise_dbm - link.needed_db)
    return np.stack(rows)


def _together_db(levels: Array) -> Array:
    """Levels added up as powers; the largest is taken out first, so that nothing is lost far below."""
    largest = levels.max(axis=0)
    total: Array = largest + np.log(np.exp((levels - largest) * _NEPER).sum(axis=0)) / _NEPER
    return total


def share_of_time(link: Link, margins: Array) -> Array:
    """How much of the time at least one branch is above what is needed: branches fade independently."""
    return 1 - fading.outage_of(np.clip(margins, -FAR_DB, FAR_DB), link.rician_k_db)


class View:
    """The places as the antennas see them: what does not change from one transmitter to the next is kept."""

    def __init__(self, ground: Ground, links: Sequence[Link], at_m: Array, height_m: float) -> None:
        if not 0 <= height_m <= _HIGHEST_M:
            raise InputError(f"a transmitter {height_m:g} m over the floor cannot be reckoned; 1.2 m is usual")
        self._ground, self._at_m, self._height_m = ground, at_m, height_m
        self._lines: Stretches = stretches(ground.walls)
        self._seen: dict[str, tuple[Way, Array, Array]] = {}
        self._freqs = sorted({link.freq_hz for link in links})
        walls = links[0].walls if links else ()
        losses = np.array([[wall.loss_db(freq) for freq in self._freqs] for wall in walls])
        # walls that lose the same at every frequency share channel 0, by their loss; the rest a channel each kind
        self._channel = np.zeros(len(self._lines.wall), np.int64)
        self._weight = np.zeros(len(self._lines.wall))
        self._losses = np.zeros((1, len(self._freqs)))
        if len(walls):
            of_stretch = losses[self._lines.wall]
            level = np.all(of_stretch == of_stretch[:, :1], axis=1)
            kinds, which = np.unique(of_stretch[~level], axis=0, return_inverse=True)
            self._weight[level], self._weight[~level] = of_stretch[level, 0], 1.0
            self._channel[~level] = 1 + which.reshape(-1)
            self._losses = np.vstack([np.ones((1, len(self._freqs))), kinds])

    def levels_dbm(self, link: Link) -> Array:
        """The level of each path at the receiver's input: shape (paths, places)."""
        return np.stack([self._level_dbm(path, link) for path in link.paths])

    def _level_dbm(self, path: Path, link: Link) -> Array:
        way, gain_db, sums = self._see(path)
        walls_db = self._losses[:, self._freqs.index(link.freq_hz)] @ sums
        level: Array = path.fixed_db + gain_db - path_loss_db(self._ground, way, link.freq_hz) - walls_db
        return level

    def _see(self, path: Path) -> tuple[Way, Array, Array]:
        placed: AntennaPlaced = path.antenna
        if placed.id not in self._seen:
            [antenna_m] = placed.at_m.points_m
            sums = crossed(self._lines, antenna_m, self._at_m, self._channel, self._weight)
            if len(sums) < len(self._losses):
                sums = np.vstack([sums, np.zeros((len(self._losses) - len(sums), len(self._at_m)))])
            way = way_to(placed, self._at_m, self._height_m)
            self._seen[placed.id] = (way, gain_towards_dbi(path.kind, placed, self._at_m), sums)
        return self._seen[placed.id]
