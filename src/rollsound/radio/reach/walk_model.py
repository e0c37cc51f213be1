"""What a walk test may bend: loss with distance, what each kind of wall takes, what the body takes.

All three add up in dB, so a reading is a straight line in them: known − body − 10·n·log d − walls crossed · loss.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rollsound.radio.model import Ground, Wall
from rollsound.radio.reach.answer import Array
from rollsound.radio.reach.crossing import crossed, stretches
from rollsound.radio.reach.walk_readings import HEIGHT_M, Usable
from rollsound.radio.reach.way import first_metre_db, gain_towards_dbi, path_loss_db, way_to

Whole = NDArray[np.int64]
Mask = NDArray[np.bool_]
EXPONENT, BODY = 0, 1


@dataclass(frozen=True)
class Parameter:
    """One number that may be fitted: what it was, its bounds, and how well it must be known to be told."""

    id: str
    name: str
    unit: str
    before: float | None
    start: float
    low: float
    high: float
    most_sigma: float
    walls: tuple[str, ...] = ()


@dataclass(frozen=True)
class Model:
    """All readings through all antennas they may have come by: rows of (reading, path of its link)."""

    readings: tuple[Usable, ...]
    parameters: tuple[Parameter, ...]
    reading: Whole
    path: Whole
    known_db: Array
    """All that is not bent: shape (rows,)."""
    slopes: Array
    """How much a row falls with each parameter, below 0: shape (rows, parameters)."""
    before_db: Array
    """What each parameter's part of the level was before: shape (rows, parameters)."""
    distance_m: Array

    @property
    def start(self) -> Array:
        """What the search for the parameters begins at."""
        return np.array([one.start for one in self.parameters])

    def levels_dbm(self, values: Array, free: Mask) -> Array:
        """What is computed for every row, with what is not free as it was."""
        parts = np.where(free, self.slopes * values + self._beside(free), self.before_db)
        total: Array = self.known_db + parts.sum(axis=1)
        return total

    def targets(self, rows: Whole, free: Mask) -> tuple[Array, Array]:
        """The slopes of what is free, and what of the readings is left for it."""
        levels = np.array([self.readings[number].level_dbm for number in self.reading[rows]])
        fixed = np.where(free, self._beside(free)[rows], self.before_db[rows]).sum(axis=1)
        return self.slopes[rows][:, free], levels - self.known_db[rows] - fixed

    def strongest(self, levels_dbm: Array) -> Whole:
        """For each reading the row of the antenna that is strongest there."""
        order = np.lexsort((levels_dbm, self.reading))
        last = np.searchsorted(self.reading[order], np.arange(len(self.readings)), side="right") - 1
        chosen: Whole = order[last]
        return chosen

    def _beside(self, free: Mask) -> Array:
        """The loss of the first metre goes with an exponent that is free."""
        beside = np.zeros_like(self.slopes)
        beside[:, EXPONENT] = self._first_metre
        return beside * free

    @property
    def _first_metre(self) -> Array:
        freqs = np.array([self.readings[number].link.freq_hz for number in self.reading])
        near: Array = -first_metre_db(self.distance_m, freqs)
        return near


def model_of(ground: Ground, readings: Sequence[Usable]) -> Model:
    """Set up the straight lines of all readings."""
    groups = _alike(ground.walls)
    lines = stretches(ground.walls)
    group_of_wall = {wall: number for number, group in enumerate(groups) for wall in group}
    channel = np.array([group_of_wall[wall] for wall in lines.wall.tolist()], np.int64)
    known, slopes, before, far = [], [], [], []
    rows = [(number, path) for number, one in enumerate(readings) for path in one.paths]
    for number, choice in rows:
        link, at_m = readings[number].link, np.array([readings[number].at_m])
        path = link.paths[choice]
        [antenna_m] = path.antenna.at_m.points_m
        way = way_to(path.antenna, at_m, HEIGHT_M)
        slant = float(way.slant_m[0])
        crossings = np.zeros(len(groups))
        if groups:
            found = crossed(lines, antenna_m, at_m, channel, np.ones(len(channel)))[:, 0]
            crossings[: len(found)] = found
        losses = np.array([link.walls[group[0]].loss_db(link.freq_hz) for group in groups])
        law = float(path_loss_db(ground, way, link.freq_hz)[0])
        known.append(path.fixed_db + link.sender.body_db + float(gain_towards_dbi(path.kind, path.antenna, at_m)[0]))
        slopes.append([-10 * np.log10(max(slant, 1.0)), -float(link.sender.worn), *-crossings])
        before.append([-law, -link.sender.body_db, *(-crossings * losses)])
        far.append(slant)
    pairs = np.array(rows, np.int64)
    return Model(
        tuple(readings),
        (_exponent(ground), _body(ground, readings), *(_walls(ground, readings, group) for group in groups)),
        pairs[:, 0],
        pairs[:, 1],
        np.array(known),
        np.array(slopes, float),
        np.array(before, float),
        np.array(far),
    )


def _alike(walls: Sequence[Wall]) -> list[list[int]]:
    """Walls of one material and one written loss: the numbers of each such group."""
    groups: dict[tuple[str, float | None], list[int]] = {}
    for number, wall in enumerate(walls):
        groups.setdefault((wall.material, wall.loss_db), []).append(number)
    return list(groups.values())


def _exponent(ground: Ground) -> Parameter:
    before = ground.exponent
    if before is None and ground.surroundings in ("free space", "multi-wall"):
        before = 2.0
    return Parameter("exponent", "loss with distance", "", before, before or 2.5, 1.0, 8.0, 0.5)


def _body(ground: Ground, readings: Sequence[Usable]) -> Parameter:
    worn = [one.link.sender.body_db for one in readings if one.link.sender.worn]
    before = float(np.mean(worn)) if worn else ground.body_loss_db
    return Parameter("body", "body loss", "dB", before, before or 15.0, -10.0, 60.0, 5.0)


def _walls(ground: Ground, readings: Sequence[Usable], group: Sequence[int]) -> Parameter:
    walls = [ground.walls[number] for number in group]
    before = float(np.mean([one.link.walls[group[0]].loss_db(one.link.freq_hz) for one in readings]))
    same = sum(1 for wall in _first_of_each(ground.walls) if wall.material == walls[0].material)
    name = f"loss of {walls[0].material}" + (f", {before:.1f} dB as written" if same > 1 else "")
    id = "wall-" + (walls[0].id if same > 1 else walls[0].material)
    return Parameter(id, name, "dB", before, min(before, 60.0), 0.0, 80.0, 4.0, tuple(wall.id for wall in walls))


def _first_of_each(walls: Sequence[Wall]) -> list[Wall]:
    return [walls[group[0]] for group in _alike(walls)]
