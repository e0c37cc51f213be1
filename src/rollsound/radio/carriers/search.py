"""Looking for carriers for as many as can have one, and for the largest worst margin, by two walkers side by side.

A walker works on rasters: lattices as wide as the protection from ``A+B-C``, on which a product blocks one cell
instead of three, and the finest. Both walk a fixed number of moves, then the better plan goes to both; so the same
seed gives the same plan on any machine, however fast either of them was.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace

import numpy as np

from rollsound.radio.carriers.raster import Item, field, fine, lattice, places_of
from rollsound.radio.carriers.relations import FAR, Ints
from rollsound.radio.carriers.seeds import Seeds
from rollsound.radio.carriers.settling import climb, step
from rollsound.radio.carriers.task import Product, Task

WALKERS = 2
FIRST_MOVES, MOST_MOVES = 400, 4_000
"""How many moves a walker makes between two looks at the other: few at first, for the small plans."""
SOWN, SOWN_LATER = 0.4, 0.3
"""Share of the rounds in which beginnings come from algebra, while it is useful."""
SOWING_MOVES = 300
"""As long as one beginning takes."""
PATIENT = 6
"""Tries for a larger margin in vain after which it is asked whether a larger one can be at all."""
STALE = 12
"""Rounds without a better plan after which receivers' windows are laid anew."""

Freqs = dict[int, int]
"""Carriers in hertz by item."""
Going = Callable[[Freqs, int], bool]
"""Told the best so far and the moves made; says whether to go on."""


@dataclass(frozen=True)
class Best:
    """A clean plan, and what it is worth."""

    freqs: Freqs
    worth: int


class Walker:
    """One of the two that search, with its own random numbers and its own rasters."""

    def __init__(self, task: Task, items: Sequence[Item], seed: int, *, extra_hz: int = 0) -> None:
        self.task = task
        self.items = items
        self.dice = random.Random(seed)
        self.extra_hz = extra_hz
        self.moves = 0
        self.rounds = 0
        self.order = np.arange(len(items), dtype=np.int64)
        self.lay()

    def lay(self, freqs: Freqs | None = None) -> None:
        """Lay receivers' windows, around the carriers that are given, and the rasters in them."""
        self.laid = windows(self.task, self.items, freqs or {}, self.dice)
        full = fine(self.task, self.laid)
        # on the raster, or none would have a place
        wide = {-(-pitch // full.pitch_hz) * full.pitch_hz for pitch in pitches(self.task, self.laid, self.extra_hz)}
        rasters = [lattice(self.task, self.laid, pitch, full) for pitch in sorted(wide)]
        self.fields = [
            field(self.task, self.laid, raster, self.dice.getrandbits(62), extra_hz=self.extra_hz)
            for raster in [*rasters, full]
            if raster is not None
        ]
        self.seeds = [Seeds(each, self.dice.getrandbits(62)) for each in self.fields[:-1]]
        self.best: list[Ints] = [each.cells(each.frozen) for each in self.fields]
        self.worth = [0 for _ in self.fields]
        self.length = [20 * len(self.items) for _ in self.fields]

    def begin(self, enough: int) -> Best:
        """The best of a few random beginnings on each raster."""
        found = Best({}, -1)
        for n, each in enumerate(self.fields):
            for _ in range(4):
                self.best[n][:] = each.cells(each.frozen)
                worth = self.climb(n, 0, enough)
                if worth > found.worth:
                    found = Best(each.freqs(self.best[n]), worth)
                if worth >= enough:
                    return found
        return found

    def walk(self, shared: Best, moves: int, enough: int) -> Best:
        """Climb on one of the rasters, from what was found on it or from what was found by both; or sow."""
        self.rounds += 1
        n = self.dice.randrange(len(self.fields))
        if self.dice.random() < 0.6:
            top = max(self.worth)
            n = self.dice.choice([m for m, worth in enumerate(self.worth) if worth == top])
        sown = [m for m, seeds in enumerate(self.seeds) if seeds]
        if sown and self.dice.random() < (SOWN if self.rounds < 60 else SOWN_LATER):
            return self.sow(self.dice.choice(sown), moves, enough)
        each = self.fields[n]
        if shared.worth > self.worth[n] or self.dice.random() < 0.25:
            cells = each.cells(shared.freqs)
            if (cells >= 0).sum() == len(shared.freqs):
                self.best[n][:] = cells
        worth = self.climb(n, moves, enough)
        return Best(each.freqs(self.best[n]), worth)

    def sow(self, n: int, moves: int, enough: int) -> Best:
        """Beginnings from algebra on raster ``n``, for the time of so many moves; the best stays if it is no worse."""
        each = self.fields[n]
        cells = self.best[n].copy()
        for _ in range(max(moves // SOWING_MOVES, 1)):
            worth = self.seeds[n].grow(cells, self.order)
            self.moves += SOWING_MOVES
            if worth >= self.worth[n]:
                self.best[n][:], self.worth[n] = cells, worth
            if worth >= enough:
                break
        return Best(each.freqs(self.best[n]), self.worth[n])

    def climb(self, n: int, moves: int, enough: int) -> int:
        """Climb on raster ``n``."""
        crowd = self.fields[n].crowd
        before = int(crowd.told[0])
        self.worth[n] = climb(crowd, self.best[n], self.order, moves, self.length[n], enough)
        self.moves += max(int(crowd.told[0]) - before, 1)
        return self.worth[n]

    def settle(self, freqs: Freqs, moves: int) -> Freqs | None:
        """Move those that collide, from a plan of everybody, until nothing does; none where that does not come off."""
        each = self.fields[-1]
        cells = each.cells(freqs)
        if int((cells >= 0).sum()) < len(freqs):
            return None
        before = int(each.crowd.told[0])
        clean = step(each.crowd, cells, -1, moves, self.order)
        self.moves += int(each.crowd.told[0]) - before
        return each.freqs(each.crowd.cell) if clean else None


def pitches(task: Task, items: Sequence[Item], extra_hz: int) -> list[int]:
    """The widths of lattices that are worth a try: each protection from A+B-C that is asked for, or from 2A-B."""
    for product in (Product.THREE_THIRD, Product.TWO_THIRD):
        asked = {task.guards[item.wanted.guard].protection_hz.get(product, 0) for item in items} - {0}
        if asked:
            return [pitch + extra_hz for pitch in sorted(asked)[:2]]
    return []


def windows(task: Task, items: Sequence[Item], freqs: Freqs, dice: random.Random) -> list[Item]:
    """Give every receiver with a window a place for it: around what it hears, else where there is most room."""
    laid = list(items)
    taken: list[tuple[int, int, int]] = []
    for receiver in sorted({item.wanted.within for item in items if item.wanted.within in task.windows_hz}):
        width = task.windows_hz[receiver]
        heard = [n for n, item in enumerate(items) if item.wanted.within == receiver]
        kept = [(n, items[n].frozen_hz or freqs.get(n)) for n in heard if items[n].frozen_hz or n in freqs]
        low = min(items[n].wanted.low_hz for n in heard)
        high = max(max(items[n].wanted.high_hz for n in heard) - width, low)
        if kept:
            top = max(freq + -(-items[n].wanted.width_hz // 2) for n, freq in kept if freq is not None)
            bottom = min(freq - -(-items[n].wanted.width_hz // 2) for n, freq in kept if freq is not None)
            low, high = min(top - width, bottom), max(bottom, top - width)
        begins = sorted({low, high, *(dice.randint(low, high) for _ in range(24))})
        places = places_of(task, items[heard[0]])

        def room(begin: int, places: Ints = places, width: int = width) -> float:
            free = np.searchsorted(places, begin + width) - np.searchsorted(places, begin)
            crowded = sum(n for a, b, n in taken if a < begin + width and begin < b)
            return float(free) / (1 + crowded) * (1 + 0.3 * dice.random())

        begin = max(begins, key=room)
        taken.append((begin, begin + width, len(heard)))
        for n in heard:
            half = -(-items[n].wanted.width_hz // 2)
            laid[n] = replace(items[n], places_hz=(begin + half, begin + width - half))
    return laid


def place(
    task: Task,
    items: Sequence[Item],
    *,
    seed: int,
    effort_moves: int,
    enough: int,
    going: Going,
    start: Freqs | None = None,
) -> tuple[Freqs, int]:
    """Place as many as can be; the plan, which is clean, and how many moves it took.

    Parameters
    ----------
    items
        all that want a carrier
    effort_moves
        of both walkers together
    enough
        the worth at which to end
    start
        a clean plan to begin with
    """
    walkers = [Walker(task, items, seed * 7919 + n) for n in range(WALKERS)]
    best = Best(start or {n: i.frozen_hz for n, i in enumerate(items) if i.frozen_hz is not None}, 0)
    best = replace(best, worth=sum(items[n].worth for n in best.freqs))
    if best.worth >= enough:
        return best.freqs, 0
    first = walkers[0].begin(enough)
    best = first if first.worth > best.worth else best
    moves, stale = FIRST_MOVES, 0
    with ThreadPoolExecutor(WALKERS) as pool:
        while best.worth < enough and _moves(walkers) < effort_moves and going(best.freqs, _moves(walkers)):
            if stale >= STALE and task.windows_hz:
                stale = 0
                for walker in walkers:
                    walker.lay()
            for found in pool.map(Walker.walk, walkers, [best] * WALKERS, [moves] * WALKERS, [enough] * WALKERS):
                if found.worth > best.worth:
                    best, stale = found, -1
            stale += 1
            moves = min(moves * 2, MOST_MOVES)
    return best.freqs, _moves(walkers)


def _moves(walkers: Sequence[Walker]) -> int:
    return sum(walker.moves for walker in walkers)


def widen(
    task: Task,
    items: Sequence[Item],
    freqs: Freqs,
    *,
    seed: int,
    effort_moves: int,
    going: Going,
    margin_of: Callable[[Freqs], int | None],
    most_hz: Callable[[], int | None] = lambda: None,
) -> tuple[Freqs, int]:
    """Make the worst margin of a plan of everybody larger, step by step: ask for more of every distance, and repair.

    Every third try begins from nothing, as the plan at hand may lead nowhere.
    """
    moves, tries, last_better, length = 0, 0, 0, 20 * len(items)
    most: int | None = None
    margin = margin_of(freqs)
    with ThreadPoolExecutor(WALKERS) as pool:
        while margin is not None and margin < FAR and moves < effort_moves and going(freqs, moves):
            if tries - last_better == PATIENT:
                most = most_hz()
            if most is not None and margin >= most:
                break
            wanted = margin + 1

            def attempt(
                n: int, tries: int = tries, wanted: int = wanted, freqs: Freqs = freqs, length: int = length
            ) -> tuple[Freqs | None, int]:
                walker = Walker(task, items, seed * 7919 + 31 * tries + n, extra_hz=wanted)
                if (tries + n) % 3 == 2:
                    whole = sum(item.worth for item in items)
                    found = walker.begin(whole)
                    for _ in range(4):
                        if found.worth < whole:
                            found = walker.walk(found, max(length // 4, 50), whole)
                    return (found.freqs if found.worth >= whole else None), walker.moves
                walker.lay(freqs)
                return walker.settle(freqs, length), walker.moves

            better = False
            for found, made in pool.map(attempt, range(WALKERS)):
                moves += made
                reached = margin_of(found) if found is not None else None
                if found is not None and reached is not None and reached > margin:
                    freqs, margin, better = found, reached, True
            tries += 1
            last_better = tries if better else last_better
            length = 20 * len(items) if better else min(int(length * 1.25), 20_000)
    return freqs, moves
