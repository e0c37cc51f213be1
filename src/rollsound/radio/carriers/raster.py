"""The cells that a search works in: carriers of all transmitters on one raster, and all distances in its steps.

A distance of ``d`` hertz is kept between two cells when they are ``ceil(d / pitch)`` apart, so nothing is lost where
the raster holds every carrier exactly. Where it cannot (steps of a hertz, origins that do not agree), carriers are
the nearest to a cell and every distance is widened by what that may cost: fewer plans are found, never a wrong one.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rollsound.radio.carriers.places import places
from rollsound.radio.carriers.relations import FORMS, Ints
from rollsound.radio.carriers.settling import Crowd
from rollsound.radio.carriers.task import Guard, Product, Task, Wanted

MOST_CELLS = 40_000
"""A finer raster is searched on a coarser one: a move takes as long as there are cells."""
MUST = 1_000_000
MAIN = 1_000
SPARE = 1


@dataclass(frozen=True)
class Item:
    """One carrier that is looked for: of a transmitter, or a spare of one."""

    wanted: Wanted
    spare: int = 0
    frozen_hz: int | None = None
    """The carrier that it keeps, wherever that lies."""
    places_hz: tuple[int, int] | None = None
    """The lowest and highest that its receiver's window leaves."""

    @property
    def worth(self) -> int:
        """More is placed first and dropped last."""
        if self.spare:
            return SPARE
        return (MUST if self.wanted.priority == 1 else MAIN) + 10 - self.wanted.priority


@dataclass(frozen=True)
class Raster:
    """Cell ``x`` lies at ``base_hz + x * pitch_hz``."""

    base_hz: int
    pitch_hz: int
    cells: int

    def off(self, freqs: Ints) -> int:
        """How far the furthest lies from its nearest cell."""
        rest = (freqs - self.base_hz) % self.pitch_hz
        return int(np.minimum(rest, self.pitch_hz - rest).max(initial=0))


@dataclass(frozen=True, eq=False)
class Field:
    """A raster with everybody's places on it, ready to be searched."""

    raster: Raster
    crowd: Crowd
    freqs_hz: tuple[Ints, ...]
    """Of every row of ``allowed``: the carrier of each cell."""
    frozen: Mapping[int, int]
    """By item: the carrier that it keeps."""
    stray_hz: int

    def freqs(self, cells: Ints) -> dict[int, int]:
        """The carriers by item."""
        place = self.crowd.place
        return {
            n: self.frozen[n] if n in self.frozen else int(self.freqs_hz[place[n]][x])
            for n, x in enumerate(cells.tolist())
            if x >= 0
        }

    def cells(self, freqs: Mapping[int, int]) -> Ints:
        """The cells of carriers by item; -1 for none, and for those that lie in no cell here."""
        found = np.full(self.crowd.cell.size, -1, dtype=np.int64)
        for n, freq in freqs.items():
            x = round((freq - self.raster.base_hz) / self.raster.pitch_hz)
            if n in self.frozen or (
                0 <= x < self.raster.cells
                and self.crowd.allowed[self.crowd.place[n], x]
                and int(self.freqs_hz[self.crowd.place[n]][x]) == freq
            ):
                found[n] = x
        return found


def places_of(task: Task, item: Item) -> Ints:
    """Where it may lie, in hertz."""
    found = places(item.wanted, task.occupied)
    if item.places_hz is not None:
        found = found[(found >= item.places_hz[0]) & (found <= item.places_hz[1])]
    return found


def fine(task: Task, items: Sequence[Item]) -> Raster:
    """The raster that holds every carrier, or the finest that is searched fast enough."""
    origin = items[0].wanted.origin_hz
    pitch = 0
    low, high = 1 << 62, -(1 << 62)
    for item in items:
        if item.frozen_hz is not None:
            pitch = math.gcd(pitch, item.frozen_hz - origin)
            low, high = min(low, item.frozen_hz), max(high, item.frozen_hz)
            continue
        pitch = math.gcd(pitch, item.wanted.step_hz, item.wanted.origin_hz - origin)
        low, high = min(low, item.wanted.low_hz), max(high, item.wanted.high_hz)
    pitch = max(pitch, 1)
    if (high - low) // pitch > MOST_CELLS:
        asked = math.gcd(*(d for guard in task.guards.values() for d in distances(guard) if d))
        steps = math.gcd(*(item.wanted.step_hz for item in items))
        coarse = math.gcd(asked, 25_000) if asked else 25_000
        if coarse % steps and steps % coarse == 0:
            coarse = steps
        pitch = max(coarse, -(-(high - low) // MOST_CELLS))
    return _from(low, high, origin, pitch)


def lattice(task: Task, items: Sequence[Item], pitch_hz: int, full: Raster) -> Raster | None:
    """The raster of this pitch that keeps the most carriers; none where it would leave a kept one out."""
    if pitch_hz <= full.pitch_hz or pitch_hz % full.pitch_hz or full.cells * full.pitch_hz // pitch_hz > MOST_CELLS:
        return None
    kept = np.array([item.frozen_hz for item in items if item.frozen_hz is not None], dtype=np.int64)
    phases = np.zeros(pitch_hz // full.pitch_hz, dtype=np.int64)
    rows = {_row(item): item for item in items if item.frozen_hz is None}
    for item in rows.values():
        phase = (places_of(task, item) - full.base_hz) % pitch_hz
        phases += np.bincount(phase[phase % full.pitch_hz == 0] // full.pitch_hz, minlength=phases.size)
    base = full.base_hz + int(np.argmax(phases)) * full.pitch_hz
    if kept.size and ((kept - base) % pitch_hz).any():
        return None
    return _from(full.base_hz, full.base_hz + (full.cells - 1) * full.pitch_hz, base, pitch_hz)


def _from(low: int, high: int, origin: int, pitch: int) -> Raster:
    base = origin + (low - origin) // pitch * pitch
    return Raster(base, pitch, (high - base) // pitch + 2)


def distances(guard: Guard) -> list[int]:
    """All that a kind asks for."""
    return [guard.spacing_hz, *(guard.protection_hz.get(product, 0) for product in Product)]


def _row(item: Item) -> tuple[object, ...]:
    wanted = item.wanted
    return *wanted.own_range, wanted.step_hz, wanted.origin_hz, item.places_hz


def field(task: Task, items: Sequence[Item], raster: Raster, seed: int, *, extra_hz: int = 0) -> Field:
    """Everybody's places on a raster, with ``extra_hz`` more asked of every distance than the task does."""
    rows: dict[tuple[object, ...], int] = {}
    allowed: list[NDArray[np.uint8]] = []
    freqs_hz: list[Ints] = []
    stray = raster.off(np.array([item.frozen_hz for item in items if item.frozen_hz is not None], dtype=np.int64))
    at = raster.base_hz + raster.pitch_hz * np.arange(raster.cells, dtype=np.int64)
    exact = raster.pitch_hz % math.gcd(*(item.wanted.step_hz for item in items)) == 0
    for item in items:
        if _row(item) in rows:
            continue
        rows[_row(item)] = len(rows)
        may = np.zeros(raster.cells, dtype=np.uint8)
        freqs = at.copy()
        found = places_of(task, item)
        if found.size:
            nearest = found[np.clip(np.searchsorted(found, at), 0, found.size - 1)]
            before = found[np.clip(np.searchsorted(found, at) - 1, 0, found.size - 1)]
            freqs = np.where(np.abs(before - at) < np.abs(nearest - at), before, nearest)
            off = np.abs(freqs - at)
            may[off == 0] = 1
            # where its own raster never meets the cells, the nearest carriers stand for them
            if (
                not exact
                or 2 * int(may.sum()) * max(raster.pitch_hz, item.wanted.step_hz) < found.size * item.wanted.step_hz
            ):
                may[2 * off <= min(raster.pitch_hz, item.wanted.step_hz)] = 1
                stray = max(stray, int(off[may == 1].max(initial=0)))
        allowed.append(may)
        freqs_hz.append(freqs)
    crowd = _crowd(task, items, raster, seed, extra_hz, stray, np.array(allowed), [rows[_row(item)] for item in items])
    frozen = {n: item.frozen_hz for n, item in enumerate(items) if item.frozen_hz is not None}
    return Field(raster, crowd, tuple(freqs_hz), frozen, stray)


WEIGHTS = {
    Product.TWO_THIRD: 4,
    Product.THREE_THIRD: 4,
    Product.TWO_FIFTH: 6,
    Product.THREE_FIFTH: 6,
    Product.THREE_FIFTH_MIXED: 6,
}
"""How far a relation may be off in all when each carrier is off by one."""


def _crowd(
    task: Task,
    items: Sequence[Item],
    raster: Raster,
    seed: int,
    extra: int,
    stray: int,
    allowed: NDArray[np.uint8],
    place: list[int],
) -> Crowd:
    kinds = sorted({item.wanted.guard for item in items})
    zones = sorted({item.wanted.zone for item in items})

    def steps(hertz: int, weight: int) -> int:
        return -(-(hertz + extra + weight * stray) // raster.pitch_hz) if hertz > 0 else 0

    guard = np.array(
        [
            [steps(task.guards[kind].protection_hz.get(form.product, 0), WEIGHTS[form.product]) for kind in kinds]
            for form in FORMS
        ],
        dtype=np.int64,
    )
    spacing = np.array(
        [max(-(-(task.guards[kind].spacing_hz + extra + 2 * stray) // raster.pitch_hz), 1) for kind in kinds]
    )
    # within the protection of a product a carrier would be counted as a product of itself: it is kept apart
    spacing = np.maximum(spacing, guard.max(initial=0))
    levels, level = np.unique(guard[1], return_inverse=True)
    cells, z = raster.cells, len(zones)
    three = bool(guard[3:].any())
    return Crowd(
        near=np.zeros((z, len(kinds), cells), dtype=np.int16),
        thirds=np.zeros((z, levels.size, cells), dtype=np.int16),
        differences=np.zeros((z, levels.size, 2 * cells), dtype=np.int16),
        sums=np.zeros((z, levels.size, 2 * cells), dtype=np.int16),
        cell=np.full(len(items), -1, dtype=np.int64),
        kind=np.array([kinds.index(item.wanted.guard) for item in items], dtype=np.int64),
        zone=np.array([zones.index(item.wanted.zone) for item in items], dtype=np.int64),
        place=np.array(place, dtype=np.int64),
        allowed=np.ascontiguousarray(allowed),
        movable=np.array([item.frozen_hz is None for item in items], dtype=np.int64),
        worth=np.array([item.worth for item in items], dtype=np.int64),
        spacing=np.maximum.outer(spacing, spacing).astype(np.int64),
        guard=guard,
        level=level.astype(np.int64),
        levels=levels.astype(np.int64),
        cost=np.zeros(cells, dtype=np.int16),
        full=np.zeros((z, len(kinds), allowed.shape[0]), dtype=np.uint8),
        dice=np.array([(seed * 0x9E3779B97F4A7C15 + 0x1234567) % (1 << 64) | 1], dtype=np.uint64),
        tabu=np.zeros(len(items), dtype=np.int64),
        told=np.array([0, int(three), 0, 0], dtype=np.int64),
    )
