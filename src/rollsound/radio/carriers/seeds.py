"""Beginnings from algebra: modular Golomb sets, whose differences are all different, laid over the spectrum.

Of three kinds, all of nearly the square root of their modulus in size: Singer's (1938; q + 1 elements modulo
q² + q + 1), Bose and Chowla's (1962; q modulo q² - 1) and Ruzsa's (1993; p - 1 modulo p² - p). On a lattice as wide as
the protection from ``A+B-C`` such a set has no product of three on any carrier. Multiplied by a number that shares no
factor with the modulus, and begun anywhere, it stays one; of the many that come of it those are taken that leave few
carriers too close to each other, to products of two, and in occupied spectrum.
"""

from __future__ import annotations

import functools
import math
import random
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rollsound.kernel import kernel
from rollsound.radio.carriers.raster import Field
from rollsound.radio.carriers.relations import Ints
from rollsound.radio.carriers.settling import Whole, roll, step, total_worth

LEAST_ITEMS = 20
"""Below it the sets are no better than chance."""
MULTIPLIERS = 40
MOST_PRIME = 200


@dataclass(frozen=True, eq=False)
class Ruler:
    """A modular Golomb set: every difference of two elements occurs once, modulo ``modulus``."""

    name: str
    modulus: int
    elements: Ints


@functools.cache
def rulers(prime: int) -> tuple[Ruler, ...]:
    """The three sets of a prime; found once, in some milliseconds."""
    found = [Ruler("Ruzsa", prime * (prime - 1), _ruzsa(prime))]
    for name, modulus, order in (("Bose-Chowla", prime**2 - 1, 2), ("Singer", prime**2 + prime + 1, 3)):
        dice = random.Random(prime)
        for _ in range(2_000):
            rule = np.array([dice.randrange(prime) for _ in range(order)], dtype=np.int64)
            elements = np.empty(modulus, dtype=np.int64)
            count = recur(prime, rule, modulus, order == 2, elements)
            elements = elements[: max(count, 0)].copy()
            if count == prime + order - 2 and is_golomb(elements, modulus):
                found.append(Ruler(name, modulus, elements))
                break
    return tuple(found)


def is_golomb(elements: Ints, modulus: int) -> bool:
    """Whether every difference occurs once."""
    apart = (elements[:, None] - elements[None, :]) % modulus
    apart = apart[~np.eye(elements.size, dtype=bool)]
    return bool(np.unique(apart).size == apart.size)


def primes(most: int = MOST_PRIME) -> list[int]:
    """All from 5 on."""
    return [n for n in range(5, most + 1) if all(n % d for d in range(2, math.isqrt(n) + 1))]


def _ruzsa(prime: int) -> Ints:
    root = next(g for g in range(2, prime) if len({pow(g, k, prime) for k in range(prime - 1)}) == prime - 1)
    # i modulo p - 1 and root^i modulo p at once, by the Chinese remainder theorem
    return np.array(
        sorted((prime * i + (1 - prime) * pow(root, i, prime)) % (prime * (prime - 1)) for i in range(1, prime)),
        dtype=np.int64,
    )


@kernel()
def recur(prime: int, rule: Ints, terms: int, ones: bool, found: Ints) -> int:
    """Where powers of a root of the polynomial ``rule`` lie on a line: their last coefficient 0, or 1 with ``ones``."""
    order = rule.size
    power = np.zeros(order, dtype=np.int64)
    power[0] = 1
    count = 0
    for n in range(terms):
        if power[order - 1] == (1 if ones else 0):
            if count == found.size:
                return -1
            found[count] = n
            count += 1
        carry = power[order - 1]
        for k in range(order - 1, 0, -1):
            power[k] = (power[k - 1] + carry * rule[k]) % prime
        power[0] = (carry * rule[0]) % prime
    return count


@kernel()
def lay_out(
    elements: Ints,
    modulus: int,
    allowed: NDArray[np.uint8],
    spacing: int,
    guard: int,
    multipliers: int,
    dice: NDArray[np.uint64],
    found: Ints,
) -> int:
    """Lay a set over the cells in many ways; the best, thinned until it is clean, into ``found``; how many it has.

    What is too near, and which products of two fall too near, is the same wherever the set begins, but for what is cut
    off: it is looked up once for every multiplier.
    """
    n, cells = elements.size, allowed.size
    turned = np.empty(n, dtype=np.int64)
    at = np.empty(n, dtype=np.int64)
    # of every place of the modulus who is there, from 1; 0 for nobody
    who = np.zeros(modulus, dtype=np.int32)
    # the middle and two others; of two that are too near, the second stands twice
    near = np.empty((n * n, 3), dtype=np.int64)
    holds = np.empty(n * n, dtype=np.int64)
    here = np.empty(n, dtype=np.int64)
    counts = np.empty(n, dtype=np.int64)
    best = 0
    for _ in range(multipliers):
        times: Whole = np.int64(0)
        while times == 0:
            times = 1 + roll(dice, np.int64(modulus - 1))
            a: Whole = times
            b: Whole = modulus
            while b:
                a, b = b, a % b
            if a != 1:
                times = np.int64(0)
        for i in range(n):
            turned[i] = (elements[i] * times) % modulus
            who[turned[i]] = i + 1
        total = 0
        for j in range(n):
            for k in range(n):
                if k == j:
                    continue
                # sums and differences instead of a remainder, which takes the processor ten times as long
                apart = turned[k] - turned[j]
                apart += modulus if apart < 0 else 0
                if apart < spacing and total < n * n:
                    near[total, 0], near[total, 1], near[total, 2] = j, k, k
                    total += 1
                middle = 2 * turned[j] - turned[k]
                middle += modulus if middle < 0 else -modulus if middle >= modulus else 0
                for w in range(middle - guard + 1, middle + guard):
                    m = who[w + modulus if w < 0 else w - modulus if w >= modulus else w] - 1
                    if m > k and m != j and total < n * n:
                        near[total, 0], near[total, 1], near[total, 2] = j, k, m
                        total += 1
        for i in range(n):
            begin = turned[i] - roll(dice, np.int64(max(2 * modulus // n, 1)))
            begin += modulus if begin < 0 else 0
            count = 0
            for j in range(n):
                x = turned[j] - begin
                x += modulus if x < 0 else 0
                at[j] = x
                here[j] = 1 if x < cells and allowed[x] else 0
                count += here[j]
            if count <= best:
                continue
            clashes = 0
            for r in range(total):
                j, k, m = near[r, 0], near[r, 1], near[r, 2]
                if not (here[j] and here[k] and here[m]):
                    continue
                # not those that meet only across the end
                if abs(at[j] - at[k]) < spacing if k == m else abs(2 * at[j] - at[k] - at[m]) < guard:
                    holds[clashes] = r
                    clashes += 1
            # take out whoever is in most, any of those alike, until none is left
            while clashes > 0 and count > best:
                for j in range(n):
                    counts[j] = 0
                for c in range(clashes):
                    r = holds[c]
                    counts[near[r, 0]] += 1
                    counts[near[r, 1]] += 1
                    if near[r, 2] != near[r, 1]:
                        counts[near[r, 2]] += 1
                worst, most = np.int64(0), np.int64(-1)
                for j in range(n):
                    if counts[j] > 0:
                        weight = counts[j] * 16 + roll(dice, np.int64(16))
                        if weight > most:
                            worst, most = np.int64(j), weight
                here[worst] = 0
                count -= 1
                kept = 0
                for c in range(clashes):
                    r = holds[c]
                    if near[r, 0] != worst and near[r, 1] != worst and near[r, 2] != worst:
                        holds[kept] = r
                        kept += 1
                clashes = kept
            if count > best:
                best = count
                at_found = 0
                for j in range(n):
                    if here[j]:
                        found[at_found] = at[j]
                        at_found += 1
        for i in range(n):
            who[turned[i]] = 0
    return best


class Seeds:
    """Lays sets over one lattice, more often those that gave more."""

    def __init__(self, each: Field, seed: int) -> None:
        crowd = each.crowd
        self.field = each
        self.dice = random.Random(seed)
        self.state = np.array([self.dice.getrandbits(63) | 1], dtype=np.uint64)
        self.best: dict[tuple[int, int], int] = {}
        movable = [n for n in range(crowd.cell.size) if crowd.movable[n]]
        zones = [int(crowd.zone[n]) for n in movable]
        self.zone = max(set(zones), key=zones.count) if zones else 0
        mine = [n for n in movable if crowd.zone[n] == self.zone]
        kinds = [(int(crowd.kind[n]), int(crowd.place[n])) for n in mine]
        self.items = mine
        self.arms: list[tuple[int, int]] = []
        if len(mine) <= LEAST_ITEMS or crowd.levels[-1] == 0:
            return
        kind, place = max(set(kinds), key=kinds.count)
        cells = np.flatnonzero(crowd.allowed[place])
        if cells.size < LEAST_ITEMS:
            return
        self.first = int(cells[0])
        self.allowed = crowd.allowed[place][self.first : int(cells[-1]) + 1].copy()
        self.spacing, self.guard = int(crowd.spacing[kind, kind]), int(crowd.guard[0, kind])
        span = self.allowed.size
        # denser sets than span cannot be, wider ones waste; twice as many elements as items are of no use
        self.arms = [(p, n) for p in primes() if 0.8 * span < p * p < 1.5 * span for n in range(3)]

    def __bool__(self) -> bool:
        return bool(self.arms)

    def grow(self, best: Ints, order: Ints) -> int:
        """A clean arrangement from a set, filled up, into ``best``; what it is worth."""
        crowd = self.field.crowd
        top = max(self.best.values(), default=0)
        good = [arm for arm in self.arms if self.best.get(arm, top + 1) >= top - 1]
        arm = self.dice.choice(good if self.dice.random() < 0.75 else self.arms)
        sets = rulers(arm[0])
        ruler = sets[arm[1] % len(sets)]
        found = np.empty(ruler.elements.size, dtype=np.int64)
        count = lay_out(
            ruler.elements, ruler.modulus, self.allowed, self.spacing, self.guard, MULTIPLIERS, self.state, found
        )
        self.best[arm] = max(self.best.get(arm, 0), count)
        arranged = np.where(crowd.movable, -1, best)
        cells = [int(x) + self.first for x in found[:count]]
        self.dice.shuffle(cells)
        items = sorted(self.items, key=lambda n: (-int(crowd.worth[n]), self.dice.random()))
        for n, x in zip(items, cells, strict=False):
            if crowd.allowed[crowd.place[n], x]:
                arranged[n] = x
        step(crowd, arranged, -1, 0, order)
        best[:] = crowd.cell
        return total_worth(crowd)
