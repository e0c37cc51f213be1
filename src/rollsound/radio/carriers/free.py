"""Where one more transmitter could go beside those that have a carrier, and the margin that it would keep there."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rollsound.kernel import kernel
from rollsound.radio.carriers.places import places, window
from rollsound.radio.carriers.relations import FAR, Ints
from rollsound.radio.carriers.task import Product, Task, Wanted

MOST_CELLS = 1_000_000
"""Above it products are sorted instead of marked: slower, and of any fineness."""
FEW = 40
"""Of up to so many others they are sorted too: no compiled loop need be loaded for them."""
MOST_AT_ONCE = 200_000
"""Sums in an array: it should stay near the processor."""


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
        level = level.astype(np.int64)
        for times, others_times in roles:
            # whatever lies further than a carrier's own margin allows cannot make it smaller
            reach = int(margin.max()) + int(levels[-1]) + 1
            cells = (times * int(freqs[-1] - freqs[0]) + 2 * reach) // pitch + 3
            if at.size > max(FEW, 2) and cells <= MOST_CELLS:
                here, others_here = (freqs - freqs[0]) // pitch, (at - freqs[0]) // pitch
                marks = np.zeros((levels.size, cells), dtype=np.int32)
                roles_here = np.array([times, *others_times], dtype=np.int64)
                nearer(others_here, level, levels, roles_here, here, reach // pitch + 1, pitch, marks, margin)
                continue
            low, high = times * int(freqs[0]) - reach, times * int(freqs[-1]) + reach
            for n, sums in enumerate(_sums(at, level, levels.size, others_times, low, high)):
                if levels[n]:
                    np.minimum(margin, _distance(sums, times * freqs) - levels[n], out=margin)
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


def _sums(at: Ints, level: Ints, levels: int, times: tuple[int, int, int], low: int, high: int) -> list[Ints]:
    """Minus the sums of others that make a product with the new one, from low to high: of every protection level."""
    ka, kb, kc = times
    found: list[list[Ints]] = [[np.empty(0, dtype=np.int64)] for _ in range(levels)]
    n = at.size
    count = np.arange(n)
    last = np.zeros(1, dtype=np.int64) if kc == 0 else at
    last_level = np.zeros(1, dtype=np.int64) if kc == 0 else level
    last_count = np.full(1, -1) if kc == 0 else count
    rows = max(MOST_AT_ONCE // (n * last.size), 1)
    for begin in range(0, n, rows):
        some = slice(begin, begin + rows)
        i, j, k = count[some, None, None], count[None, :, None], last_count[None, None, :]
        sums = -(ka * at[some, None, None] + kb * at[None, :, None] + kc * last[None, None, :])
        strongest = np.maximum(np.maximum(level[some, None, None], level[None, :, None]), last_level)
        right = (i < j) if ka == kb else (i != j)
        right = right & (k != i) & ((k > j) if kc == kb else (k != j)) & (sums >= low) & (sums <= high)
        sums, strongest = sums[right], strongest[right]
        for each in range(levels):
            found[each].append(sums[strongest == each])
    return [np.unique(np.concatenate(parts)) for parts in found]


@kernel()
def nearer(
    at: Ints,
    level: Ints,
    levels: Ints,
    roles: Ints,
    freqs: Ints,
    reach: int,
    pitch: int,
    marks: NDArray[np.int32],
    margin: Ints,
) -> None:
    """Make margins smaller where products of one role come nearer.

    ``at``, ``freqs`` and ``reach`` are in cells of ``pitch`` hertz from the first of ``freqs``, which are in order;
    ``roles`` is how often the new one and each of the others is counted; ``marks`` (levels, cells) is room, all 0.

    How often each sum of two occurs is counted once, and shifted by every third: the processor adds many cells at once.
    """
    times, ka, kb, kc = roles[0], roles[1], roles[2], roles[3]
    cells = marks.shape[1]
    lowest = highest = reach - (ka * at[0] + kb * at[1])
    for i in range(at.size):
        for j in range(at.size):
            if j != i:
                lowest = min(lowest, reach - (ka * at[i] + kb * at[j]))
                highest = max(highest, reach - (ka * at[i] + kb * at[j]))
    pairs = np.zeros((levels.size, highest - lowest + 1), dtype=np.int32)
    for i in range(at.size):
        for j in range(i + 1 if ka == kb else 0, at.size):
            if j == i:
                continue
            pair = reach - (ka * at[i] + kb * at[j])
            strongest = max(level[i], level[j])
            pairs[strongest, pair - lowest] += 1
            # beside every third below would be the two themselves: those are taken off
            for k in (i, j):
                x = pair - kc * at[k]
                if kc != 0 and 0 <= x < cells:
                    marks[strongest, x] -= 1
    for n in range(levels.size):
        for k in range(at.size if kc != 0 else 1):
            into, beside = marks[max(n, level[k]) if kc != 0 else n], pairs[n]
            move = lowest - (kc * at[k] if kc != 0 else 0)
            begin, end = max(move, 0), min(move + beside.size, cells)
            if begin < end:
                into, beside = into[begin:end], beside[begin - move : end - move]
                for x in range(into.size):
                    into[x] += beside[x]
    for n in range(levels.size):
        required = levels[n]
        if required == 0:
            continue
        row = marks[n]
        x, last = 0, -1
        for m in range(freqs.size):
            here = times * freqs[m] + reach
            while x <= here:
                if row[x]:
                    last = x
                x += 1
            if last >= 0:
                margin[m] = min(margin[m], (here - last) * pitch - required)
        x, last = cells - 1, -1
        for m in range(freqs.size - 1, -1, -1):
            here = times * freqs[m] + reach
            while x >= here:
                if row[x]:
                    last = x
                x -= 1
            if last >= 0:
                margin[m] = min(margin[m], (last - here) * pitch - required)
