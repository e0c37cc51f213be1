"""An independent check of carriers: every rule written anew, relation by relation, and nothing of the search's code.

It takes a task and carriers, and lists every broken relation as ``(limit, hit, sources)``. Whole hertz throughout:
carriers and products stay far below the 9.2e18 that an int64 holds.
"""

from __future__ import annotations

import itertools
from collections import Counter
from collections.abc import Mapping

import numpy as np

from rollsound.radio.carriers.task import Product, Task

Broken = tuple[str, str, tuple[str, ...]]
EVERY = 10**15

TWO = {Product.TWO_THIRD: (2, 1), Product.TWO_FIFTH: (3, 2)}
"""Of products of two sources: how often A is added and B taken away."""
THREE = {
    # how often A, B and C are counted, and which two of the three may be swapped without another product coming of it
    Product.THREE_THIRD: ((1, 1, -1), (0, 1)),
    Product.THREE_FIFTH: ((3, -1, -1), (1, 2)),
    Product.THREE_FIFTH_MIXED: ((2, 1, -2), None),
}


def broken(task: Task, carriers_hz: Mapping[str, int]) -> list[Broken]:
    """Every broken relation that counts: not those among fixed transmitters alone."""
    fixed = {each.id for each in task.wanted if each.fixed}
    found = [*_places(task, carriers_hz), *_windows(task, carriers_hz)]
    found += [each for each, _ in _spacings(task, carriers_hz, 0)]
    for zone in sorted({each.zone for each in task.wanted}):
        found += [each for each, _ in _products(task, carriers_hz, zone, 0)]
    return [each for each in found if not {each[1], *each[2]} <= fixed]


def counts(task: Task, carriers_hz: Mapping[str, int]) -> dict[str, int]:
    """How many relations are broken, by what sets them."""
    return dict(Counter(limit for limit, _, _ in broken(task, carriers_hz)))


def margin_hz(task: Task, carriers_hz: Mapping[str, int]) -> int | None:
    """The smallest distance over what is asked, of all spacings and products that count; None where there is none.

    It lists every relation there is, so it is for a dozen carriers.
    """
    fixed = {each.id for each in task.wanted if each.fixed}
    found = _spacings(task, carriers_hz, EVERY)
    for zone in sorted({each.zone for each in task.wanted}):
        found += _products(task, carriers_hz, zone, EVERY)
    return min((over for (_, hit, sources), over in found if not {hit, *sources} <= fixed), default=None)


def _places(task: Task, carriers_hz: Mapping[str, int]) -> list[Broken]:
    found: list[Broken] = []
    for each in task.wanted:
        if each.id not in carriers_hz:
            continue
        carrier = carriers_hz[each.id]
        # twice everything, so that half of an odd width stays whole
        if 2 * carrier - each.width_hz < 2 * each.low_hz or 2 * carrier + each.width_hz > 2 * each.high_hz:
            found.append(("range", each.id, ()))
        if (carrier - each.origin_hz) % each.step_hz:
            found.append(("step", each.id, ()))
        for taken in task.occupied:
            above = 2 * carrier - each.width_hz >= 2 * (taken.high_hz + taken.guard_hz)
            below = 2 * carrier + each.width_hz <= 2 * (taken.low_hz - taken.guard_hz)
            if not above and not below:
                found.append(("occupied", each.id, ()))
    return found


def _spacings(task: Task, carriers_hz: Mapping[str, int], below: int) -> list[tuple[Broken, int]]:
    """Pairs whose distance is less than ``below`` over what is asked, and how much it is over."""
    found = []
    for a, b in itertools.combinations([each for each in task.wanted if each.id in carriers_hz], 2):
        asked = max(task.guards[a.guard].spacing_hz, task.guards[b.guard].spacing_hz)
        over = abs(carriers_hz[a.id] - carriers_hz[b.id]) - asked
        if over < below:
            found.append((("spacing", a.id, (b.id,)), over))
    return found


def _windows(task: Task, carriers_hz: Mapping[str, int]) -> list[Broken]:
    found: list[Broken] = []
    for receiver, window in task.windows_hz.items():
        heard = [each for each in task.wanted if each.within == receiver and each.id in carriers_hz]
        if not heard:
            continue
        top = max(2 * carriers_hz[each.id] + each.width_hz for each in heard)
        bottom = min(2 * carriers_hz[each.id] - each.width_hz for each in heard)
        if top - bottom > 2 * window:
            found.append(("window", heard[0].id, tuple(each.id for each in heard[1:])))
    return found


def _products(task: Task, carriers_hz: Mapping[str, int], zone: str, below: int) -> list[tuple[Broken, int]]:
    """Products and the carriers they hit, less than ``below`` over what is asked, and how much over."""
    present = [each for each in task.wanted if each.id in carriers_hz and each.zone == zone]
    names = [each.id for each in present]
    at = np.array([carriers_hz[each.id] for each in present], dtype=np.int64)
    index = np.arange(len(present))
    found = []
    for product in Product:
        protection = np.array([task.guards[e.guard].protection_hz.get(product, 0) for e in present], dtype=np.int64)
        if not len(present) or not protection.any():
            continue
        for a in index:
            if product in TWO:
                plus, minus = TWO[product]
                # rows: B, columns: the carrier hit
                away = np.abs(plus * at[a] - minus * at[:, None] - at[None, :])
                asked = np.maximum(np.maximum(protection[a], protection[:, None]), protection[None, :])
                other = (index[:, None] != a) & (index[None, :] != a) & (index[:, None] != index[None, :])
                for b, hit in np.argwhere((asked > 0) & (away - asked < below) & other):
                    named = (product.value, names[hit], (names[a], names[b]))
                    found.append((named, int(away[b, hit] - asked[b, hit])))
                continue
            (ka, kb, kc), swap = THREE[product]
            for b in index:
                if b == a or (swap == (0, 1) and b < a):
                    continue
                # rows: C, columns: the carrier hit
                away = np.abs(ka * at[a] + kb * at[b] + kc * at[:, None] - at[None, :])
                asked = np.maximum(np.maximum(max(protection[a], protection[b]), protection[:, None]), protection)
                other = (index[:, None] != index[None, :]) & ~np.isin(index, (a, b))[:, None]
                other &= ~np.isin(index, (a, b))[None, :]
                if swap == (1, 2):
                    other &= index[:, None] > b
                for c, hit in np.argwhere((asked > 0) & (away - asked < below) & other):
                    named = (product.value, names[hit], (names[a], names[b], names[c]))
                    found.append((named, int(away[c, hit] - asked[c, hit])))
    return found
