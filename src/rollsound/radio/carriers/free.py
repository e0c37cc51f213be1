"""Where one more transmitter could go beside those that have a carrier, and the margin that it would keep there."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from rollsound.kernel import kernel
from rollsound.radio.carriers.places import places, window
from rollsound.radio.carriers.relations import FAR, Ints
from rollsound.radio.carriers.task import Product, Task, Wanted

MOST_CELLS = 1_000_000
"""Above it products are sorted instead of marked: slower, and of any fineness."""


@dataclass(frozen=True, eq=False)
class Free:
    """Every carrier that the transmitter may have by its range, step, occupied spectrum and receiver's window."""

    freqs_hz: Ints
    margin_hz: Ints
    """The smallest over all relations that it would take part in, hit or source; below 0 it may not go there."""

    def best(self, n: int = 1) -> list[tuple[int, int]]:
        """The ``n`` with the largest margin that is not below 0, as frequency and margin; of equals the lowest."""
        order = np.lexsort((self.freqs_hz, -self.margin_hz))[:n]
        return [(int(self.freqs_hz[i]), int(self.margin_hz[i])) for i in order if self.margin_hz[i] >= 0]


ROLES: dict[Product, tuple[tuple[int, tuple[int, int, int]], ...]] = {
    # how often the new one is counted in each role that differs, and how often the others are: together they make 0
    Product.TWO_THIRD: ((2, (-1, -1, 0)), (1, (-2, 1, 0))),
    Product.THREE_THIRD: ((1, (-1, -1, 1)),),
    Product.TWO_FIFTH: ((3, (-2, -1, 0)), (2, (-3, 1, 0)), (1, (-3, 2, 0))),
    Product.THREE_FIFTH: ((3, (-1, -1, -1)), (1, (-3, 1, 1))),
    Product.THREE_FIFTH_MIXED: ((2, (-2, -1, 1)), (1, (-2, -1, 2))),
}


def free(task: Task, carriers_hz: Mapping[str, int], wanted: Wanted) -> Free:
    """The map of free carriers for one more transmitter.

    Parameters
    ----------
    task
        what is asked; ``wanted`` need not be of it
    carriers_hz
        what the others have; its own, when it has one, is left out
    wanted
        the one that is looked for
    """
    others = [(each, carriers_hz[each.id]) for each in task.wanted if each.id in carriers_hz and each.id != wanted.id]
    freqs = places(wanted, task.occupied)
    room = window(task, wanted, others)
    if room is not None:
        freqs = freqs[(freqs >= room[0]) & (freqs <= room[1])]
    margin = np.full(freqs.size, FAR, dtype=np.int64)
    if not freqs.size or not others:
        return Free(freqs, margin)
    own = task.guards[wanted.guard]
    _clear_of_carriers(task, others, own.spacing_hz, freqs, margin)
    beside = [(each, freq) for each, freq in others if each.zone == wanted.zone]
    at = np.array([freq for _, freq in beside], dtype=np.int64)
    pitch = math.gcd(wanted.step_hz, *(np.unique(at - freqs[0])).tolist())
    for product, roles in ROLES.items():
        protection = np.array([task.guards[e.guard].protection_hz.get(product, 0) for e, _ in beside], dtype=np.int64)
        mine = own.protection_hz.get(product, 0)
        if not at.size or not (mine or protection.any()):
            continue
        levels, level = np.unique(np.maximum(protection, mine), return_inverse=True)
        for times, others_times in roles:
            for n, required in enumerate(levels.tolist()):
                if required:
                    # whatever lies further than a carrier's own margin allows cannot make it smaller
                    reach = int(margin.max()) + required + 1
                    low, high = times * int(freqs[0]) - reach, times * int(freqs[-1]) + reach
                    sums = _sorted(_sums(at, level, n, others_times, low, high), low, high, pitch)
                    np.minimum(margin, _distance(sums, times * freqs) - required, out=margin)
    return Free(freqs, margin)


def _clear_of_carriers(task: Task, others: list[tuple[Wanted, int]], own_hz: int, freqs: Ints, margin: Ints) -> None:
    spacings = np.array([max(own_hz, task.guards[each.guard].spacing_hz) for each, _ in others], dtype=np.int64)
    at = np.array([freq for _, freq in others], dtype=np.int64)
    for required in np.unique(spacings):
        np.minimum(margin, _distance(np.sort(at[spacings == required]), freqs) - required, out=margin)


def _distance(points: Ints, values: Ints) -> Ints:
    """Of each value to the nearest of the sorted points."""
    if not points.size:
        return np.full(values.size, 4 * FAR, dtype=np.int64)
    after = np.searchsorted(points, values)
    below = np.abs(values - points[np.maximum(after - 1, 0)])
    above = np.abs(points[np.minimum(after, points.size - 1)] - values)
    nearest: Ints = np.minimum(below, above)
    return nearest


def _sorted(sums: Ints, low: int, high: int, pitch: int) -> Ints:
    """From low to high, each once: marked on a raster where that has few enough cells."""
    if not sums.size or (high - low) // pitch > MOST_CELLS:
        return np.sort(sums)
    first = int(sums.min())
    marks = np.zeros((int(sums.max()) - first) // pitch + 1, dtype=np.bool_)
    marks[(sums - first) // pitch] = True
    return first + pitch * np.flatnonzero(marks)


def _sums(at: Ints, level: Ints, n: int, times: tuple[int, int, int], low: int, high: int) -> Ints:
    """Minus the sum of others that make a product with the new one: between low and high, of protection level ``n``."""
    size = at.size * max(at.size - 1, 1) * (max(at.size - 2, 1) if times[2] else 1)
    found = np.empty(size, dtype=np.int64)
    return found[: sums_of(at, level.astype(np.int64), n, times[0], times[1], times[2], low, high, found)]


@kernel()
def sums_of(at: Ints, level: Ints, n: int, ka: int, kb: int, kc: int, low: int, high: int, found: Ints) -> int:
    """Write ``-(ka a + kb b + kc c)`` of different carriers whose strongest level is ``n``; how many there are."""
    count = 0
    for i in range(at.size):
        for j in range(i + 1 if ka == kb else 0, at.size):
            if j == i:
                continue
            pair = -(ka * at[i] + kb * at[j])
            pair_level = max(level[i], level[j])
            if kc == 0:
                if pair_level == n and low <= pair <= high:
                    found[count] = pair
                    count += 1
                continue
            for k in range(j + 1 if kb == kc else 0, at.size):
                if k in (i, j) or max(pair_level, level[k]) != n:
                    continue
                value = pair - kc * at[k]
                if low <= value <= high:
                    found[count] = value
                    count += 1
    return count
