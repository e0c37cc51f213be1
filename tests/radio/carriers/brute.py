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
    found = [*_places(task, carriers_hz), *_spacings(task, carriers_hz), *_windows(task, carriers_hz)]
    for zone in sorted({each.zone for each in task.wanted}):
        found += _products(task, carriers_hz, zone)
    return [each for each in found if not {each[1], *each[2]} <= fixed]


def counts(task: Task, carriers_hz: Mapping[str, int]) -> dict[str, int]:
    """How many relations are broken, by what sets them."""
    return dict(Counter(limit for limit, _, _ in broken(task, carriers_hz)))


def margin_hz(task: Task, carriers_hz: Mapping[str, int]) -> int | None:
    """The largest number that can be added to every spacing and every protection that counts; None without relations.

    Found by trying, not by measuring distances: no relation but those among fixed transmitters alone may break.
    """
    low, high = -(10**12), 10**12
    if not _hold(task, carriers_hz, low):
        raise ValueError("no margin is low enough")
    if _hold(task, carriers_hz, high):
        return None
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if _hold(task, carriers_hz, middle) else (low, middle)
    return low


def _hold(task: Task, carriers_hz: Mapping[str, int], margin: int) -> bool:
    fixed = {each.id for each in task.wanted if each.fixed}
    found = list(_spacings(task, carriers_hz, margin))
    for zone in sorted({each.zone for each in task.wanted}):
        found += _products(task, carriers_hz, zone, margin)
    return all({hit, *sources} <= fixed for _, hit, sources in found)


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


def _spacings(task: Task, carriers_hz: Mapping[str, int], margin: int = 0) -> list[Broken]:
    found: list[Broken] = []
    for a, b in itertools.combinations([each for each in task.wanted if each.id in carriers_hz], 2):
        asked = max(task.guards[a.guard].spacing_hz, task.guards[b.guard].spacing_hz)
        if abs(carriers_hz[a.id] - carriers_hz[b.id]) < asked + margin:
            found.append(("spacing", a.id, (b.id,)))
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


def _products(task: Task, carriers_hz: Mapping[str, int], zone: str, margin: int = 0) -> list[Broken]:
    present = [each for each in task.wanted if each.id in carriers_hz and each.zone == zone]
    names = [each.id for each in present]
    at = np.array([carriers_hz[each.id] for each in present], dtype=np.int64)
    index = np.arange(len(present))
    found: list[Broken] = []
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
                for b, hit in np.argwhere((asked > 0) & (away < asked + margin) & other):
                    found.append((product.value, names[hit], (names[a], names[b])))
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
                for c, hit in np.argwhere((asked > 0) & (away < asked + margin) & other):
                    found.append((product.value, names[hit], (names[a], names[b], names[c])))
    return found
