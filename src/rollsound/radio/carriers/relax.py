"""Why a transmitter has no carrier, and the cheapest changes of the request that were tried and would give it one.

Nothing is offered that was not carried out on the carriers as they are and found clean by the full check.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TypeAlias

import numpy as np

from rollsound.radio.carriers.answer import Hold, Relaxation, Unplaced
from rollsound.radio.carriers.audit import audit
from rollsound.radio.carriers.free import free
from rollsound.radio.carriers.places import places
from rollsound.radio.carriers.relations import Ints
from rollsound.radio.carriers.task import Guard, Product, Task, Wanted

TRIES = 60
"""How many maps of free carriers are made for all together: some 10 ms each with a hundred transmitters."""
MOVED = 12
"""How many transmitters are tried to be moved, those first that stand in the way of most."""
OFFERED = 8

COST_MOVE, COST_MOVE_ON_AIR, COST_ZONE, COST_WINDOW, COST_RANGE, COST_FEWER = 40.0, 80.0, 120.0, 150.0, 200.0, 1_000.0
"""For order only, where a kilohertz of protection given up costs 1."""
COST_OFF = {
    Product.THREE_FIFTH: 60.0,
    Product.THREE_FIFTH_MIXED: 60.0,
    Product.TWO_FIFTH: 90.0,
    Product.THREE_THIRD: 300.0,
    Product.TWO_THIRD: 600.0,
}

PRODUCTS = {product.value for product in Product}
WORDS = {
    Product.TWO_THIRD: "products of two carriers, 2A-B",
    Product.THREE_THIRD: "products of three carriers, A+B-C",
    Product.TWO_FIFTH: "products of two carriers, 3A-2B",
    Product.THREE_FIFTH: "products of three carriers, 3A-B-C",
    Product.THREE_FIFTH_MIXED: "products of three carriers, 2A+B-2C",
}


def reasons(
    task: Task, carriers_hz: Mapping[str, int], unplaced_ids: Sequence[str], *, tries: int = TRIES
) -> tuple[Unplaced, ...]:
    """Of each transmitter without a carrier: why, and what would let it in, cheapest first.

    Parameters
    ----------
    task, carriers_hz
        what is asked, and what the others have
    unplaced_ids
        those that have no carrier; of several that ask for the same, what is found for one is told of all
    tries
        how many maps of free carriers may be made for all together; so the time is bounded, and the answer is the same
        every time
    """
    by_id = {each.id: each for each in task.wanted}
    before = frozenset(_key(hold) for hold in audit(task, carriers_hz).broken)
    kinds = {_alike(by_id[name]) for name in unplaced_ids if name in by_id}
    known: dict[Wanted, Unplaced] = {}
    found = []
    for name in (name for name in unplaced_ids if name in by_id):
        each = by_id[name]
        alike = _alike(each)
        if alike not in known:
            half = -(-each.width_hz // 2)
            if each.fixed and each.now_hz is not None:
                each = replace(each, low_hz=each.now_hz - half, high_hz=each.now_hz + half, origin_hz=each.now_hz)
            known[alike] = _Asking(task, dict(carriers_hz), each, _Tries(tries // len(kinds)), before).answer()
        found.append(replace(known[alike], id=name))
    return tuple(found)


_Key: TypeAlias = tuple[str, str, tuple[str, ...]]


@dataclass
class _Tries:
    left: int


@dataclass(frozen=True)
class _Asking:
    """One transmitter that looks for a way in."""

    task: Task
    carriers: dict[str, int]
    wanted: Wanted
    tries: _Tries
    before: frozenset[_Key]
    """What is broken already, so that nobody is blamed for it."""

    def answer(self) -> Unplaced:
        """Why, and what would help."""
        return Unplaced(self.wanted.id, self.why(), tuple(self.offers())[:OFFERED])

    def offers(self) -> list[Relaxation]:
        """All that was tried and lets it in, cheapest first."""
        # what touches nothing else goes first, moving others (two maps each) last, as far as the tries reach
        ways: tuple[Callable[[], Iterator[Relaxation]], ...] = (
            self.less_protection,
            self.rules_off,
            self.other_zones,
            self.less_guard,
            self.wider_window,
            self.other_ranges,
            self.one_moved,
        )
        found = [offer for way in ways for offer in way()]
        return sorted(found, key=lambda each: each.cost)

    # --- why ---------------------------------------------------------------------------------------------------------

    def why(self) -> str:
        """One sentence: what stands in the way, at the place where the least does."""
        each = self.wanted
        between = f"from {each.low_hz / 1e6:g} to {each.high_hz / 1e6:g} MHz"
        if each.fixed and each.now_hz is not None:
            return f"it is fixed at {mhz(each.now_hz)}, where it cannot be beside the others."
        if not places(replace(each, occupied=()), ()).size:
            return f"no step of {each.step_hz / 1e3:g} kHz with its width lies {between}; check its range and step."
        if not places(each, self.task.occupied).size:
            return f"all {between} is occupied by others; give it another range, or look at what is excluded."
        best = self.nearest(self.task, each)
        if best is None:
            return f"its receiver {each.within} hears others so far away that its window leaves no place {between}."
        freq, _ = best
        holds = self.broken(self.task, each, {each.id: freq})
        if not holds:
            return f"the search put others first; {mhz(freq)} is free for it now."
        worst = holds[0]
        more = f", and {len(holds) - 1} more stand in the way" if len(holds) > 1 else ""
        return f"no place {between} is clear: at the nearest, {mhz(freq)}, {_told(worst, each.id)}{more}."

    # --- ways in -----------------------------------------------------------------------------------------------------

    def less_protection(self) -> Iterator[Relaxation]:
        """Protections made smaller for all, just as far as the place needs where the least is missing."""
        best = self.nearest(self.task, self.wanted, spacing_kept=True)
        if best is None:
            return
        freq, margin = best
        if margin >= 0:
            return
        holds = self.broken(self.task, self.wanted, {self.wanted.id: freq})
        given: dict[Product, tuple[int, int]] = {}
        for hold in holds:
            if hold.limit.value in PRODUCTS:
                product = Product(hold.limit.value)
                asked, kept = given.get(product, (0, hold.distance_hz))
                given[product] = max(asked, hold.required_hz), min(kept, hold.distance_hz)
        if not given or any(kept == 0 for _, kept in given.values()):
            return
        relaxed = _with_guards(
            self.task,
            lambda guard: {p: min(v, given[p][1]) if p in given else v for p, v in guard.protection_hz.items()},
        )
        parts = [
            f"{kept / 1e3:g} kHz in place of {asked / 1e3:g} kHz against {WORDS[product]}"
            for product, (asked, kept) in given.items()
        ]
        cost = sum(asked - kept for asked, kept in given.values()) / 1e3
        yield from self.tried(
            "protection", f"protect all with {', and '.join(parts)}", relaxed, self.wanted, freq, cost
        )

    def rules_off(self) -> Iterator[Relaxation]:
        """One sort of product left unprotected."""
        for product, cost in COST_OFF.items():
            if any(guard.protection_hz.get(product, 0) for guard in self.task.guards.values()):
                relaxed = _with_guards(self.task, lambda g, off=product: {**g.protection_hz, off: 0})  # type: ignore[misc]
                yield from self.there("rule off", f"take no account of {WORDS[product]}", relaxed, self.wanted, cost)

    def other_zones(self) -> Iterator[Relaxation]:
        """Somewhere else, where it makes no products with these; last, a zone of its own."""
        zones = sorted({each.zone for each in self.task.wanted} - {self.wanted.zone})
        for zone in zones:
            name = f"zone {zone}" if zone else "the zone without a name"
            moved = replace(self.wanted, zone=zone)
            yield from self.there("zone", f"use it in {name}, far enough away", self.task, moved, COST_ZONE)
        own = next(name for n in range(len(zones) + 2) if (name := f"zone-{n + 1}") not in {self.wanted.zone, *zones})
        moved = replace(self.wanted, zone=own)
        cost = COST_ZONE + 10.0
        yield from self.there("zone", "use it in a zone of its own, far from the others", self.task, moved, cost)

    def less_guard(self) -> Iterator[Relaxation]:
        """Nearer to what is occupied (television, mostly), just as far as needed."""
        each = self.wanted
        if not any(taken.guard_hz for taken in self.task.occupied):
            return
        bare = replace(self.task, occupied=tuple(replace(taken, guard_hz=0) for taken in self.task.occupied))
        found = self.map(bare, each)
        if found is None:
            return
        freqs = found[0][found[1] >= 0]
        half = -(-each.width_hz // 2)
        given = np.zeros(freqs.size, dtype=np.int64)
        for taken in self.task.occupied:
            away = np.maximum(taken.low_hz - freqs, freqs - taken.high_hz) - half
            given = np.maximum(given, taken.guard_hz - away)
        if not freqs.size:
            return
        n = int(np.argmin(given))
        less = int(given[n])
        if less <= 0:
            return
        task = replace(
            self.task,
            occupied=tuple(replace(taken, guard_hz=max(taken.guard_hz - less, 0)) for taken in self.task.occupied),
        )
        guards = {taken.guard_hz for taken in self.task.occupied if taken.guard_hz}
        if len(guards) == 1:
            [most] = guards
            what = f"keep {(most - less) / 1e3:g} kHz in place of {most / 1e3:g} kHz from what is occupied"
        else:
            what = f"keep {less / 1e3:g} kHz less than asked from what is occupied"
        yield from self.tried("guard", what, task, each, int(freqs[n]), less / 1e3 * 2)

    def wider_window(self) -> Iterator[Relaxation]:
        """Another receiver."""
        if self.wanted.within and self.wanted.within in self.task.windows_hz:
            other = replace(self.wanted, within="")
            what = f"hear it with another receiver than {self.wanted.within}, whose window is too narrow"
            yield from self.there("receiver", what, self.task, other, COST_WINDOW)

    def other_ranges(self) -> Iterator[Relaxation]:
        """The ranges that others of the plan tune in, and the next stretch above and below its own."""
        each = self.wanted
        if each.fixed:
            return
        others = sorted({(w.low_hz, w.high_hz) for w in self.task.wanted} - {(each.low_hz, each.high_hz)})
        others = [(low, high) for low, high in others if low < each.low_hz or high > each.high_hz]
        wide = each.high_hz - each.low_hz
        beside = [(each.high_hz, each.high_hz + wide), (each.low_hz - wide, each.low_hz)]
        for n, (low, high) in enumerate([*others[:3], *(span for span in beside if span[0] > 0)]):
            known = n < len(others[:3])
            moved = replace(each, low_hz=low, high_hz=high, origin_hz=each.origin_hz)
            scan = "" if known else "; scan it, and check that it is allowed there"
            what = f"take a transmitter that tunes from {low / 1e6:g} to {high / 1e6:g} MHz{scan}"
            cost = COST_RANGE if known else COST_RANGE + 50.0
            offers = list(self.there("range", what, self.task, moved, cost))
            yield from offers
            if offers and not known:
                return

    def one_moved(self) -> Iterator[Relaxation]:
        """One of the others on another carrier; or left out, when it matters no more than this one."""
        by_id = {each.id: each for each in self.task.wanted}
        moved = left_out = False
        for name in self.in_the_way()[:MOVED]:
            other = by_id[name]
            rest = {key: freq for key, freq in self.carriers.items() if key != name}
            asking = replace(self, carriers=rest)
            # of the places that are free without the other, those where the other finds one again are wanted
            found = self.map(self.task, self.wanted, rest)
            if found is None:
                return
            order = np.lexsort((found[0], -found[1]))[:2]
            for n in [int(n) for n in order if found[1][n] >= 0]:
                freq = int(found[0][n])
                if not left_out and other.priority >= self.wanted.priority:
                    what = f"leave out {name}"
                    for offer in asking.tried("fewer", what, self.task, self.wanted, freq, COST_FEWER):
                        left_out = True
                        yield offer
                again = self.map(self.task, other, {**rest, self.wanted.id: freq})
                if again is None:
                    return
                best = int(np.argmax(again[1])) if again[1].size else -1
                if best >= 0 and again[1][best] >= 0:
                    to = int(again[0][best])
                    what = f"move {name} from {mhz(self.carriers[name])} to {mhz(to)}"
                    cost = COST_MOVE_ON_AIR if other.on_air else COST_MOVE
                    beside = replace(self, carriers={**rest, name: to})
                    for offer in beside.tried("move", what, self.task, self.wanted, freq, cost):
                        moved = True
                        yield offer
                    if moved:
                        return

    # --- trying ------------------------------------------------------------------------------------------------------

    def there(self, kind: str, what: str, task: Task, wanted: Wanted, cost: float) -> Iterator[Relaxation]:
        """Look for the best place under a changed request, and offer it when there is one."""
        best = self.nearest(task, wanted)
        if best is not None and best[1] >= 0:
            yield from self.tried(kind, what, task, wanted, best[0], cost)

    def tried(self, kind: str, what: str, task: Task, wanted: Wanted, freq: int, cost: float) -> Iterator[Relaxation]:
        """Carry it out and check everything; offered only when nothing that it takes part in is broken."""
        if not self.broken(task, wanted, {wanted.id: freq}):
            yield Relaxation(kind, f"{what}: then {mhz(freq)} is clear", freq, cost)

    def broken(self, task: Task, wanted: Wanted, more: Mapping[str, int]) -> list[Hold]:
        """What is broken with these carriers added that was not before, worst first."""
        changed = _with_wanted(task, wanted)
        return [hold for hold in audit(changed, {**self.carriers, **more}).broken if _key(hold) not in self.before]

    def nearest(self, task: Task, wanted: Wanted, *, spacing_kept: bool = False) -> tuple[int, int] | None:
        """The place with the largest margin, which may be below 0; none when there is no place, or no try is left."""
        found = self.map(task, wanted)
        if found is None or not found[0].size:
            return None
        freqs, margins = found
        if spacing_kept:
            apart = self.map(_with_guards(task, lambda guard: {}), wanted)
            if apart is None:
                return None
            freqs, margins = freqs[apart[1] >= 0], margins[apart[1] >= 0]
            if not freqs.size:
                return None
        n = int(np.argmax(margins))
        return int(freqs[n]), int(margins[n])

    def map(
        self,
        task: Task,
        wanted: Wanted,
        carriers: Mapping[str, int] | None = None,
    ) -> tuple[Ints, Ints] | None:
        """Frequencies and margins of one more transmitter; none when no try is left."""
        if self.tries.left <= 0:
            return None
        self.tries.left -= 1
        found = free(_with_wanted(task, wanted), self.carriers if carriers is None else carriers, wanted)
        return found.freqs_hz, found.margin_hz

    def in_the_way(self) -> list[str]:
        """Those that may be moved, first who is named most where this one is put at the place nearest to clear."""
        best = self.nearest(self.task, self.wanted)
        if best is None:
            return []
        times: dict[str, int] = {}
        for hold in self.broken(self.task, self.wanted, {self.wanted.id: best[0]}):
            for name in {hold.hit, *hold.sources} - {self.wanted.id}:
                times[name] = times.get(name, 0) + 1
        may = {each.id: each for each in self.task.wanted if not each.fixed and each.id in self.carriers}
        order = [each for each in self.carriers if each in may]
        return sorted(order, key=lambda name: (may[name].on_air, -times.get(name, 0), order.index(name)))


def mhz(freq_hz: int) -> str:
    """A frequency for people: three decimals, more where it needs them."""
    text = f"{freq_hz / 1e6:.6f}".rstrip("0")
    whole, _, part = text.partition(".")
    return f"{whole}.{part.ljust(3, '0')} MHz"


def _told(hold: Hold, id: str) -> str:
    asked = f"where {hold.required_hz / 1e3:g} kHz are asked"
    away = f"{hold.distance_hz / 1e3:g} kHz from"
    others = [name for name in hold.sources if name != id]
    names = " and ".join(filter(None, [", ".join(others[:-1]), *others[-1:]]))
    if hold.limit.value not in PRODUCTS:
        return f"it lies {away} {names or hold.hit}, {asked}"
    if hold.hit == id:
        return f"it lies {away} the product {hold.limit.value} of {names}, {asked}"
    return f"it makes {hold.limit.value} with {names} {away} {hold.hit}, {asked}"


def _alike(each: Wanted) -> Wanted:
    """What it asks for, without who asks: what is found for one is found for all that are alike."""
    return replace(each, id="", now_hz=each.now_hz if each.fixed else None, on_air=False, spares=0)


def _key(hold: Hold) -> _Key:
    return hold.limit.value, hold.hit, hold.sources


def _with_wanted(task: Task, wanted: Wanted) -> Task:
    return replace(task, wanted=tuple(wanted if each.id == wanted.id else each for each in task.wanted))


def _with_guards(task: Task, protection: Callable[[Guard], dict[Product, int]]) -> Task:
    return replace(task, guards={name: replace(g, protection_hz=protection(g)) for name, g in task.guards.items()})
