"""What the picture of the page *Radio* is drawn from: who uses what, what was measured, where products fall."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from rollsound.actions.radio_page import State
from rollsound.errors import InputError

if TYPE_CHECKING:
    from rollsound.radio.carriers.task import Product, Task

BIN_HZ = 25_000
MOST_SCAN_POINTS = 1500
MOST_SOURCES = 120
"""Products of more carriers than these are too many to draw, and nobody could tell them apart."""


@dataclass(frozen=True)
class Stretch:
    """A part of the spectrum: a television channel, or what others use."""

    low_hz: int
    high_hz: int
    name: str


@dataclass(frozen=True)
class ScanLine:
    """What a scan found, thinned without losing a peak."""

    id: str
    freqs_hz: tuple[int, ...]
    levels_dbm: tuple[float, ...]
    threshold_dbm: float


@dataclass(frozen=True)
class Picture:
    """Everything behind the carriers. Products are counted in bins of ``BIN_HZ``; ``bins`` are lower edges over it."""

    low_hz: int
    high_hz: int
    channels: tuple[Stretch, ...] = ()
    occupied: tuple[Stretch, ...] = ()
    scans: tuple[ScanLine, ...] = ()
    bins: tuple[int, ...] = ()
    of_two: tuple[int, ...] = ()
    of_three: tuple[int, ...] = ()


def picture_of(state: State) -> Picture:
    """The picture behind the carriers of a state."""
    question = state.question
    task = question.task
    if not task.wanted:
        return Picture(0, 0)
    low = min(each.low_hz for each in task.wanted)
    high = max(each.high_hz for each in task.wanted)
    two, three = _products(task, question.carriers_hz)
    bins = np.union1d(two[0], three[0])
    bins = bins[(bins * BIN_HZ >= low - BIN_HZ) & (bins * BIN_HZ <= high)]
    return Picture(
        low,
        high,
        channels=tuple(_channels(state, low, high)),
        occupied=tuple(Stretch(each.low_hz, each.high_hz, each.why) for each in task.occupied),
        scans=tuple(_scans(state)),
        bins=tuple(int(each) for each in bins),
        of_two=tuple(_counts(two, bins)),
        of_three=tuple(_counts(three, bins)),
    )


def _channels(state: State, low: int, high: int) -> Iterator[Stretch]:
    """The television channels of the region, where it has a raster."""
    from rollsound.radio.legal import region_of
    from rollsound.radio.television import raster

    region = region_of(state.question.radio)
    if region is None or not region.television:
        return
    try:
        channels = raster(region.television)
    except InputError:  # told with the mistakes of the plan
        return
    for channel in channels.channels_touched(low, high):
        begin, end = channels.channel_range(channel)
        yield Stretch(round(begin), round(end), channels.channel_name(channel))


def _scans(state: State) -> Iterator[ScanLine]:
    used = {each.id: each for each in state.question.radio.scans if each.used}
    for id, levels in state.question.scans.items():
        if id not in used:
            continue
        thin = levels.thinned(MOST_SCAN_POINTS)
        yield ScanLine(
            id,
            tuple(int(each) for each in thin.freq_hz),
            tuple(round(float(each), 1) for each in thin.level_dbm),
            float(used[id].threshold_dbm),
        )


Counted = tuple[NDArray[np.int64], NDArray[np.int64]]


def _products(task: Task, carriers_hz: dict[str, int]) -> tuple[Counted, Counted]:
    """Bins and counts of the products that some guard protects from: of two carriers, and of three."""
    from rollsound.radio.carriers.task import Product

    zones: dict[str, list[int]] = {}
    for each in task.wanted:
        if each.id in carriers_hz:
            zones.setdefault(each.zone, []).append(carriers_hz[each.id])
    asked = {form for guard in task.guards.values() for form, hz in guard.protection_hz.items() if hz > 0}
    two = [at for zone in zones.values() for at in _of_two(np.array(zone, np.int64)[:MOST_SOURCES], asked)]
    three: list[NDArray[np.int64]] = []
    if Product.THREE_THIRD in asked:
        three = [_of_three(np.array(zone, np.int64)[:MOST_SOURCES]) for zone in zones.values()]
    return _binned(two), _binned(three)


def _of_two(carriers: NDArray[np.int64], asked: set[Product]) -> Iterator[NDArray[np.int64]]:
    from rollsound.radio.carriers.task import Product

    one, other = np.meshgrid(carriers, carriers)
    apart = ~np.eye(len(carriers), dtype=bool)
    if Product.TWO_THIRD in asked:
        yield (2 * one - other)[apart]
    if Product.TWO_FIFTH in asked:
        yield (3 * one - 2 * other)[apart]


def _of_three(carriers: NDArray[np.int64]) -> NDArray[np.int64]:
    count = len(carriers)
    first, second = np.triu_indices(count, 1)
    sums = carriers[first] + carriers[second]
    every = sums[:, None] - carriers[None, :]
    third = np.arange(count)[None, :]
    apart: NDArray[np.int64] = every[(third != first[:, None]) & (third != second[:, None])]
    return apart


def _binned(parts: list[NDArray[np.int64]]) -> Counted:
    if not parts:
        return np.zeros(0, np.int64), np.zeros(0, np.int64)
    bins, counts = np.unique(np.concatenate(parts) // BIN_HZ, return_counts=True)
    return bins, counts


def _counts(counted: Counted, bins: NDArray[np.int64]) -> list[int]:
    found = np.zeros(len(bins), np.int64)
    at = np.searchsorted(bins, counted[0])
    there = (at < len(bins)) & np.isin(counted[0], bins)
    found[at[there]] = counted[1][there]
    return [int(each) for each in found]
