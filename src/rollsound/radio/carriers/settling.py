"""How many conflicts a transmitter would have in every cell: kept up to date while transmitters come and go.

Longer than most files: the loops are compiled as one, and each keeps the same counts true.

Cells are carriers on one raster; all distances are in cells. Of every zone there are counts of what a new transmitter
of each kind would collide with (``near``: spacing and products of two), how many products ``A+B-C`` of those present
fall in each cell by the strongest protection that takes part (``thirds``), and how often each difference and each sum
of two present occurs. A transmitter that comes shifts the differences and sums over all cells at once, which the
processor does sixteen at a time: the cost of a move hardly grows with the number of transmitters.

Numbers are passed on as ``np.int64``: a loop is compiled once for every number that is written out where it is called.

Because the largest protection of all members counts, a product is a set: of ``A+B-C`` four with ``|a+b-c-d| < G``. One
entry in a cell stands for all products of the set, so what is free of conflicts there is free in every role.
"""

from __future__ import annotations

from typing import NamedTuple, TypeAlias

import numpy as np
from numpy.typing import NDArray

from rollsound.kernel import kernel

Ints = NDArray[np.int64]
Counts = NDArray[np.int16]
Whole: TypeAlias = "int | np.int64"


class Crowd(NamedTuple):
    """What is present, and the counts that follow from it."""

    near: Counts
    """(zones, kinds, cells)"""
    thirds: Counts
    """(zones, levels, cells)"""
    differences: Counts
    """(zones, levels, 2 cells): both signs, zero in the middle."""
    sums: Counts
    """(zones, levels, 2 cells)"""
    cell: Ints
    """Of every transmitter; -1 for those not present."""
    kind: Ints
    zone: Ints
    place: Ints
    """Which row of ``allowed`` holds for a transmitter."""
    allowed: NDArray[np.uint8]
    """(places, cells): 1 where one may lie."""
    movable: Ints
    """0 for those that stay where they are."""
    worth: Ints
    """Of every transmitter: more is placed first and dropped last."""
    spacing: Ints
    """(kinds, kinds)"""
    guard: Ints
    """(5, kinds): of 2A-B, A+B-C, 3A-2B, 3A-B-C, 2A+B-2C."""
    level: Ints
    """Of every kind: which of the protections of A+B-C it has."""
    levels: Ints
    """Those protections, ascending."""
    cost: Counts
    """(cells): room to work in."""
    full: NDArray[np.uint8]
    """(zones, kinds, places): 1 where no cell is free, while carriers are put in."""
    dice: NDArray[np.uint64]
    """(1): state of the random numbers."""
    tabu: Ints
    """Of every transmitter: not moved before this move."""
    told: Ints
    """(4): moves made, room."""


@kernel()
def roll(dice: NDArray[np.uint64], sides: Whole) -> int:
    """A number from 0 to sides - 1."""
    x = dice[0]
    x ^= x << np.uint64(13)
    x ^= x >> np.uint64(7)
    x ^= x << np.uint64(17)
    dice[0] = x
    return int(np.int64(x >> np.uint64(11)) % sides)


def draw(dice: NDArray[np.uint64], sides: int) -> int:
    """What `roll` gives, where no loop is compiled."""
    every = (1 << 64) - 1
    x = int(dice[0])
    x ^= x << 13 & every
    x ^= x >> 7
    x ^= x << 17 & every
    dice[0] = x
    return (x >> 11) % sides


@kernel()
def mark(row: Counts, times: Whole, total: Whole, guard: Whole, sign: Whole) -> None:
    """Add ``sign`` in all cells x with ``|times x - total| < guard``."""
    low, high = total - guard + 1, total + guard - 1
    if times > 1:
        low = -(-low // times)
        high = high // times
    low = max(low, 0)
    high = min(high, row.size - 1)
    for x in range(low, high + 1):
        row[x] += sign


@kernel()
def mark_fifths_of_three(crowd: Crowd, me: Whole, f: Whole, sign: Whole) -> None:
    """Count the products 3A-B-C and 2A+B-2C of a transmitter with every two others."""
    zone, kind = crowd.zone[me], crowd.kind[me]
    near, cell, guard = crowd.near, crowd.cell, crowd.guard
    for i in range(cell.size):
        if cell[i] < 0 or i == me or crowd.zone[i] != zone:
            continue
        for j in range(cell.size):
            if cell[j] < 0 or j in (me, i) or crowd.zone[j] != zone:
                continue
            for k in range(near.shape[1]):
                # how often the cell, the own, the one and the other are counted; the first two alike for both others
                for n, (times, own, one, other) in enumerate(
                    (
                        (1, 3, -1, -1),
                        (3, 1, 1, 1),
                        (1, -1, 3, -1),
                        (1, -2, 2, 1),
                        (2, 2, 1, -1),
                        (1, 2, 1, -2),
                        (2, -1, 2, 1),
                        (2, 1, 2, -1),
                        (1, 1, 2, -2),
                    )
                ):
                    order = 3 if n < 3 else 4
                    if n < 2 and i > j:
                        continue
                    g = max(
                        max(guard[order, k], guard[order, kind]),
                        max(guard[order, crowd.kind[i]], guard[order, crowd.kind[j]]),
                    )
                    if g > 0:
                        mark(near[zone, k], times, own * f + one * cell[i] + other * cell[j], g, sign)


@kernel()
def mark_all(crowd: Crowd, me: Whole, f: Whole, sign: Whole) -> None:
    """Count everything that a transmitter in cell ``f`` makes with those present; it is not among them itself."""
    zone, kind = crowd.zone[me], crowd.kind[me]
    near, cell, guard = crowd.near, crowd.cell, crowd.guard
    kinds, cells = near.shape[1], near.shape[2]
    for z in range(near.shape[0]):
        for k in range(kinds):
            mark(near[z, k], np.int64(1), f, crowd.spacing[kind, k], sign)
    for i in range(cell.size):
        if cell[i] < 0 or i == me or crowd.zone[i] != zone:
            continue
        for k in range(kinds):
            # how often the cell, the own and the other are counted: of 2A-B, then of 3A-2B
            for n, (times, own, other) in enumerate(
                (
                    (1, 2, -1),
                    (1, -1, 2),
                    (2, 1, 1),
                    (1, 3, -2),
                    (1, -2, 3),
                    (2, 3, -1),
                    (2, -1, 3),
                    (3, 2, 1),
                    (3, 1, 2),
                )
            ):
                order = 0 if n < 3 else 2
                g = max(guard[order, k], max(guard[order, kind], guard[order, crowd.kind[i]]))
                if g > 0:
                    mark(near[zone, k], times, own * f + other * cell[i], g, sign)
    if crowd.levels[-1] > 0:
        own = crowd.level[kind]
        for n in range(crowd.levels.size):
            into = crowd.thirds[zone, max(n, own)]
            apart = crowd.differences[zone, n, cells - f : 2 * cells - f]
            joined = crowd.sums[zone, n, f : f + cells]
            for x in range(cells):
                into[x] += sign * (apart[x] + joined[x])
    if crowd.told[1] > 0:
        mark_fifths_of_three(crowd, me, f, sign)


@kernel()
def shift(crowd: Crowd, me: Whole, f: Whole, sign: Whole) -> None:
    """Put a transmitter in a cell, with ``sign`` 1, or take it out of it, with -1."""
    if sign < 0:
        crowd.cell[me] = -1
    else:
        mark_all(crowd, me, f, sign)
    if crowd.levels[-1] > 0:
        # its differences and sums with those present
        zone, own = crowd.zone[me], crowd.level[crowd.kind[me]]
        cells = crowd.near.shape[2]
        for i in range(crowd.cell.size):
            a = crowd.cell[i]
            if a < 0 or i == me or crowd.zone[i] != zone:
                continue
            n = max(own, crowd.level[crowd.kind[i]])
            crowd.differences[zone, n, cells + f - a] += sign
            crowd.differences[zone, n, cells + a - f] += sign
            crowd.sums[zone, n, a + f] += sign
    if sign < 0:
        mark_all(crowd, me, f, sign)
    else:
        crowd.cell[me] = f


@kernel()
def cost_of_cells(crowd: Crowd, kind: Whole, zone: Whole) -> None:
    """Into ``cost``: how many conflicts one more transmitter would have in each cell."""
    cost = crowd.cost
    cells = cost.size
    row = crowd.near[zone, kind]
    for x in range(cells):
        cost[x] = row[x]
    for n in range(crowd.levels.size):
        reach = max(crowd.levels[n], crowd.guard[1, kind]) - 1
        if reach < 0:
            continue
        thirds = crowd.thirds[zone, n]
        if reach <= 8:
            for x in range(cells):
                cost[x] += thirds[x]
            for shift in range(1, reach + 1):
                for x in range(cells - shift):
                    cost[x] += thirds[x + shift]
                for x in range(shift, cells):
                    cost[x] += thirds[x - shift]
        else:
            running = 0
            for x in range(min(reach, cells)):
                running += thirds[x]
            for x in range(cells):
                if x + reach < cells:
                    running += thirds[x + reach]
                cost[x] += running
                if x - reach >= 0:
                    running -= thirds[x - reach]


@kernel()
def conflicts(crowd: Crowd, me: Whole) -> int:
    """How many conflicts a present transmitter has."""
    x, kind, zone = crowd.cell[me], crowd.kind[me], crowd.zone[me]
    cells = crowd.cost.size
    total = int(crowd.near[zone, kind, x])
    if crowd.spacing[kind, kind] > 0:
        total -= 1
    for n in range(crowd.levels.size):
        reach = max(crowd.levels[n], crowd.guard[1, kind]) - 1
        for y in range(max(x - reach, 0), min(x + reach, cells - 1) + 1):
            total += crowd.thirds[zone, n, y]
    return total


@kernel()
def least(crowd: Crowd, me: Whole, old: Whole) -> Whole:
    """A cell with the fewest conflicts for a transmitter, any alike, but not ``old``; -1 where it has none."""
    cost_of_cells(crowd, crowd.kind[me], crowd.zone[me])
    cost, allowed = crowd.cost, crowd.allowed[crowd.place[me]]
    lowest = 32767
    for x in range(cost.size):
        value = cost[x] if allowed[x] else 32767
        lowest = min(lowest, value)
    if lowest == 32767:
        return -1
    count = np.int64(0)
    for x in range(cost.size):
        if cost[x] == lowest and allowed[x] and x != old:
            count += 1
    if count == 0:
        # only the old cell is that good: the next best
        second = 32767
        for x in range(cost.size):
            if allowed[x] and x != old and cost[x] < second:
                second = cost[x]
        if second == 32767:
            return old
        lowest = second
        for x in range(cost.size):
            if cost[x] == lowest and allowed[x] and x != old:
                count += 1
    pick = roll(crowd.dice, count)
    for x in range(cost.size):
        if cost[x] == lowest and allowed[x] and x != old:
            if pick == 0:
                return x
            pick -= 1
    return old


@kernel()
def settle(crowd: Crowd, moves: int) -> bool:
    """Move the most conflicting to cells with fewer conflicts until there are none, or the moves are used up."""
    cell, tabu, told = crowd.cell, crowd.tabu, crowd.told
    for i in range(tabu.size):
        tabu[i] = 0
    for move in range(moves):
        chosen: Whole = np.int64(-1)
        seen: Whole = np.int64(0)
        alike: Whole = np.int64(0)
        worst, any_conflict = 0, False
        random_one = roll(crowd.dice, np.int64(100)) < 15
        for i in range(cell.size):
            if cell[i] < 0 or not crowd.movable[i]:
                continue
            has = conflicts(crowd, i)
            if has <= 0:
                continue
            any_conflict = True
            if tabu[i] > move:
                continue
            if random_one:
                seen += 1
                if roll(crowd.dice, seen) == 0:
                    chosen = i
            elif has > worst:
                worst, chosen, alike = has, i, 1
            elif has == worst:
                alike += 1
                if roll(crowd.dice, alike) == 0:
                    chosen = i
        if not any_conflict:
            told[0] += move
            return True
        if chosen < 0:
            continue
        old = cell[chosen]
        shift(crowd, chosen, old, np.int64(-1))
        shift(crowd, chosen, np.int64(max(least(crowd, chosen, old), 0)), np.int64(1))
        tabu[chosen] = move + 1 + roll(crowd.dice, np.int64(10))
    told[0] += moves
    return False


@kernel()
def drop_worst(crowd: Crowd) -> None:
    """Take out the most conflicting until nothing collides: those worth least first where they are alike."""
    while True:
        chosen: Whole = np.int64(-1)
        most = 0
        for i in range(crowd.cell.size):
            if crowd.cell[i] < 0 or not crowd.movable[i]:
                continue
            has = conflicts(crowd, i)
            if has <= 0:
                continue
            # whoever must be placed goes last; the dice decide between equals
            weight = (has * 64 + roll(crowd.dice, np.int64(64))) * 2 + 1
            if crowd.worth[i] < 1_000_000:
                weight += 1 << 40
            if weight > most:
                most, chosen = weight, i
        if chosen < 0:
            return
        shift(crowd, chosen, crowd.cell[chosen], np.int64(-1))


@kernel()
def fill(crowd: Crowd, order: Ints) -> None:
    """Put in, in this order, whoever finds a cell without conflicts."""
    full = crowd.full
    for z in range(full.shape[0]):
        for k in range(full.shape[1]):
            for p in range(full.shape[2]):
                full[z, k, p] = 0
    for n in range(order.size):
        i = order[n]
        if crowd.cell[i] >= 0:
            continue
        if full[crowd.zone[i], crowd.kind[i], crowd.place[i]]:
            continue
        x = least(crowd, i, np.int64(-1))
        if x >= 0 and crowd.cost[x] == 0:
            shift(crowd, i, x, np.int64(1))
        else:
            full[crowd.zone[i], crowd.kind[i], crowd.place[i]] = 1


@kernel()
def shuffle(crowd: Crowd, order: Ints) -> None:
    """Those worth more first, the rest in random order."""
    for n in range(order.size - 1, 0, -1):
        m = roll(crowd.dice, n + 1)
        order[n], order[m] = order[m], order[n]
    for n in range(1, order.size):
        this = order[n]
        m = n - 1
        while m >= 0 and crowd.worth[order[m]] < crowd.worth[this]:
            order[m + 1] = order[m]
            m -= 1
        order[m + 1] = this


@kernel()
def step(crowd: Crowd, cells: Ints, newcomer: int, moves: int, order: Ints) -> bool:
    """Everything that is compiled, in one, as every compiled loop carries along all those that it calls.

    Put everyone where ``cells`` says, and one more where it has the fewest conflicts (-1: nobody). Settle, in so many
    moves at the most. Where that fails take out the most conflicting, and in any case put in again whoever finds room,
    in an order that is left in ``order``. Whether all settled.
    """
    for i in range(cells.size):
        if crowd.cell[i] >= 0 and crowd.cell[i] != cells[i]:
            shift(crowd, i, crowd.cell[i], np.int64(-1))
    for i in range(cells.size):
        if cells[i] >= 0 and crowd.cell[i] < 0:
            shift(crowd, i, cells[i], np.int64(1))
    if newcomer >= 0:
        shift(crowd, newcomer, np.int64(max(least(crowd, newcomer, np.int64(-1)), 0)), np.int64(1))
        crowd.told[0] += 1
    settled = settle(crowd, moves)
    if not settled:
        drop_worst(crowd)
    shuffle(crowd, order)
    fill(crowd, order)
    return settled


def total_worth(crowd: Crowd) -> int:
    """Of all that are present."""
    return int(crowd.worth[crowd.cell >= 0].sum())


def climb(crowd: Crowd, best: Ints, order: Ints, budget: int, slice_moves: int, enough: int) -> int:
    """Force in one more, settle; where that fails drop the worst and fill: again and again, never with fewer.

    From the clean arrangement in ``best``, which is overwritten by the last that is worth as much or more. Ends when
    the budget of moves is used or the worth is enough; returns the worth.
    """
    told = crowd.told
    end = int(told[0]) + budget
    step(crowd, best, -1, 0, order)
    best[:] = crowd.cell
    reached = total_worth(crowd)
    length = float(slice_moves)
    somewhere = np.any(crowd.allowed, axis=1)[crowd.place]
    rank = (crowd.worth >= 1_000).astype(np.int64) + (crowd.worth >= 1_000_000)
    while told[0] < end and reached < enough:
        absent = np.flatnonzero((best < 0) & somewhere)
        if not absent.size:
            break
        absent = absent[rank[absent] == rank[absent].max()]
        newcomer = int(absent[draw(crowd.dice, absent.size)])
        left = max(end - int(told[0]) - 1, 1)
        settled = step(crowd, best, newcomer, min(int(length), left), order)
        length = float(slice_moves) if settled else length * 1.12
        now = total_worth(crowd)
        if now >= reached:
            reached = now
            best[:] = crowd.cell
    return reached
