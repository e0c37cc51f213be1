"""How many transmitters can have a carrier at all, and how large a margin can be: proofs, found before any search."""

from __future__ import annotations

import functools
import math
from bisect import bisect_left
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from rollsound.radio.carriers.answer import Bound
from rollsound.radio.carriers.crowding import Asked, Crowd, Room, most_together
from rollsound.radio.carriers.exact import least_spans
from rollsound.radio.carriers.task import Guard, Product, Task, Wanted

STEPS = 60_000
"""How many carriers the exact search of least widths may put down: some 20 ms."""
NARROW = 1_000
"""In wider stretches, in cells, the least widths of a few carriers matter little, and the search of them is cut."""
MOST_SPANS, MOST_RANGES = 400, 12
"""How many stretches from the beginning to the end of a range are thought of in a zone, and taken: the most crowded."""
LOOKED, CLOSELY, MOST_LEVELS = 10, 4, 2
"""How many groups of transmitters are looked at, how many closely, and how many guards stronger than the weakest."""
ROUGH_ENOUGH = 1.15
"""A rough look is this close, and carriers that stay r times as far apart are sqrt(r) times fewer at the least."""

FAR_HZ = 10**18
Stretches = list[tuple[int, int]]


def bound(task: Task, steps: int = STEPS) -> Bound | None:
    """A proof that no more than ``most`` of the task's transmitters can be placed; none when it finds none.

    Counted are all transmitters, the fixed ones too. In each zone those guards are taken that all of its transmitters
    ask for at least, and products of the fifth order are left out: whatever is left out could only make it fewer.
    ``steps`` limits the exact search of least widths; more of them can only bring the bound closer.
    """
    proofs = _by_zone(task, steps)
    by_zone = sum(proof.fewer for proof in proofs)
    total = len(task.wanted)
    heard = _heard(task, steps)
    beside = _beside(task)
    candidates = [
        (total - by_zone, " ".join(proof.why for proof in proofs)),
        (total - sum(proof.fewer for proof in heard), " ".join(proof.why for proof in heard)),
        (beside.most, beside.why),
    ]
    most, why = min(candidates, key=lambda each: each[0])
    musts = total - sum(proof.fewer_with_musts for proof in proofs)
    return Bound(most, why, musts if musts < most else None) if most < total else None


def largest_margin_hz(task: Task, most_hz: int = 2_000_000) -> int | None:
    """The largest margin that no proof forbids to all of the task's transmitters together.

    A margin is added to every spacing and to every protection that counts. None when no margin up to ``most_hz`` is
    forbidden; below 0 when they cannot all be placed at all.
    """
    if len(task.wanted) < 2 or bound(with_margin(task, most_hz)) is None:
        return None
    if bound(task) is not None:
        return -1
    low, forbidden = 0, most_hz
    while forbidden - low > 1_000:
        middle = (low + forbidden) // 2
        low, forbidden = (low, middle) if bound(with_margin(task, middle)) is not None else (middle, forbidden)
    # distances are whole multiples of the raster, so only some margins can be had at all
    grid = _grid(task.wanted)
    asked = {guard.spacing_hz for guard in task.guards.values()}
    asked |= {value for guard in task.guards.values() for value in guard.protection_hz.values() if value}
    return max((forbidden - 1 + each) // grid * grid - each for each in asked)


def with_margin(task: Task, margin_hz: int) -> Task:
    """The same question with so much more asked of every spacing and of every protection that counts."""
    guards = {
        name: Guard(
            guard.id,
            guard.spacing_hz + margin_hz,
            {product: value + margin_hz if value else 0 for product, value in guard.protection_hz.items()},
        )
        for name, guard in task.guards.items()
    }
    return replace(task, guards=guards)


def free_stretches(task: Task, wanted: Iterable[Wanted]) -> Stretches:
    """Where the carrier of at least one of them may lie, first and last hertz, from low to high."""
    found: Stretches = []
    ranges = {w.own_range for w in wanted}
    for half, own in {(-(-width // 2), own) for _, _, width, own in ranges}:
        # from the end of one to the beginning of the next, edges included: at just the guard a carrier is clear
        taken = [(t.low_hz - t.guard_hz - half, t.high_hz + t.guard_hz + half) for t in (*task.occupied, *own)]
        edges = [-FAR_HZ, *(edge for span in _merged(taken) for edge in span), FAR_HZ]
        ends, begins = edges[::2], edges[1::2]
        for low, high, width, closed in ranges:
            if (-(-width // 2), closed) == (half, own):
                first, last = low + half, high - half
                at = bisect_left(begins, first)
                while at < len(ends) and ends[at] <= last:
                    found.append((max(ends[at], first), min(begins[at], last)))
                    at += 1
    return _merged((each for each in found if each[0] <= each[1]), apart=1)


def _merged(stretches: Iterable[tuple[int, int]], apart: int = 0) -> Stretches:
    """Those that overlap made one; with ``apart`` of 1 also those that only touch."""
    merged: Stretches = []
    for low, high in sorted(stretches):
        if merged and (low < merged[-1][1] + apart or low == merged[-1][0]):
            merged[-1] = (merged[-1][0], max(high, merged[-1][1]))
        else:
            merged.append((low, high))
    return merged


@dataclass(frozen=True)
class _Proof:
    """So many of those looked at have no place, because no more than ``most`` have."""

    most: int
    fewer: int
    why: str
    fewer_with_musts: int = 0


def _by_zone(task: Task, steps: int) -> list[_Proof]:
    """Proofs that may be added up: each is about other transmitters.

    The time is the same for a plan of one zone and of many: only so many groups are looked at, and fewer closely.
    """
    groups = [group for zone in sorted({each.zone for each in task.wanted}) for group in _groups(task, zone)]
    groups.sort(key=lambda group: group.room.most_by_stretch() / len(group.wanted))
    close = sorted((group.near(), n) for n, group in enumerate(groups[:LOOKED]) if group.near() <= 1)[:CLOSELY]
    for _, n in close:
        groups[n].look_closely(steps // len(close))
    found: list[_Proof] = []
    for zone in {group.zone for group in groups}:
        # ranges that do not overlap hold different transmitters: take such ranges as leave most without
        best: list[tuple[int, int, list[_Proof]]] = [(-1, 0, [])]
        for group in sorted((each for each in groups if each.zone == zone), key=lambda each: each.span[1]):
            proof = group.proof()
            if proof.fewer > 0:
                low, high = group.span
                _, fewer, before = max((each for each in best if each[0] <= low), key=lambda each: each[1])
                best.append((high, fewer + proof.fewer, [*before, proof]))
        found += max(best, key=lambda each: each[1])[2]
    return sorted(found, key=lambda proof: proof.why)


def _groups(task: Task, zone: str) -> list[_Group]:
    """The transmitters of a zone, and those whose range lies within a stretch that the ranges of some begin and end."""
    wanted = [each for each in task.wanted if each.zone == zone]
    loose = _apart_from_products(task, wanted)
    wanted = [each for each in wanted if each.id not in loose]
    if len(wanted) < 2:
        return []
    ranges = {(each.low_hz, each.high_hz) for each in wanted}
    lows, highs = sorted({low for low, _ in ranges}), sorted({high for _, high in ranges})
    whole = (lows[0], highs[-1])
    spans = [(low, high) for low in lows for high in highs if low <= high]
    if len(spans) > MOST_SPANS:
        spans = [*ranges, whole]
    held = {
        span: tuple(each for each in wanted if span[0] <= each.low_hz and each.high_hz <= span[1]) for span in spans
    }
    crowded = sorted(
        (span for span in held if len(held[span]) > 1), key=lambda span: (span[1] - span[0]) / len(held[span]) ** 2
    )
    chosen = [whole, *(span for span in crowded if span != whole)][:MOST_RANGES]
    return [_Group(task, zone, span, held[span], len(loose), span == whole) for span in chosen]


class _Group:
    """Some transmitters of one zone, those whose range lies in ``span``."""

    def __init__(
        self, task: Task, zone: str, span: tuple[int, int], wanted: tuple[Wanted, ...], loose: int, whole: bool
    ) -> None:
        self.task, self.zone, self.span, self.wanted, self.loose, self.whole = task, zone, span, wanted, loose, whole
        self._grid = _grid(wanted)
        self._stretches = free_stretches(task, wanted)
        origin = wanted[0].origin_hz
        cells = [(-((origin - low) // self._grid), (high - origin) // self._grid) for low, high in self._stretches]
        self._cells = [each for each in cells if each[0] <= each[1]]
        rules = {each.guard for each in wanted}
        self._asked = {rule: _asked([task.guards[rule]], self._grid) for rule in rules}
        self._weak = _asked([task.guards[rule] for rule in rules], self._grid)
        two = min(task.guards[rule].protection_hz.get(Product.TWO_THIRD, 0) for rule in rules)
        self._two = -(-two // self._grid)
        self.room = self._room(0)
        self._most = self._with_musts = min(len(wanted), self.room.most_by_stretch())

    def _room(self, steps: int) -> Room:
        widest = max((high - low for low, high in self._cells), default=0)
        steps = steps if widest <= NARROW else steps // 6
        spans = least_spans(self._weak.spacing, self._two, self._weak.apart, len(self.wanted) + 1, steps, widest)
        low, high = (
            np.array(edge, dtype=np.int64) for edge in (zip(*self._cells, strict=True) if self._cells else ((), ()))
        )
        return Room(low, high, np.array(spans, dtype=np.int64))

    @functools.cache  # noqa: B019 - a group lives as long as one question
    def near(self) -> float:
        """Whether a close look may prove anything: at 1 or less it may."""
        if not self._cells:
            return 2.0
        strongest = max(asked.apart for asked in self._asked.values())
        if not self._weak.apart:
            return 0.5 if strongest else 2.0
        roughly = Crowd(self.room, self._weak).roughly()
        self._most = min(self._most, int(roughly))
        return roughly / (ROUGH_ENOUGH * len(self.wanted) * math.sqrt(strongest / self._weak.apart))

    def look_closely(self, steps: int) -> None:
        """Find the closest bound there is."""
        count = len(self.wanted)
        self.room = self._room(steps)
        crowd = Crowd(self.room, self._weak)
        lines = crowd.lines()
        self._most = min(self._most, most_together(lines, count, 0))
        levels = sorted({asked.apart for asked in self._asked.values() if asked.apart > self._weak.apart})
        for level in levels[-MOST_LEVELS:]:
            rules = [rule for rule, asked in self._asked.items() if asked.apart >= level]
            some = [each for each in self.wanted if each.guard in rules]
            both = lines + crowd.lines_with(_asked([self.task.guards[rule] for rule in rules], self._grid))
            musts = sum(each.priority == 1 for each in some)
            self._most = min(self._most, most_together(both, count - len(some), len(some)))
            self._with_musts = min(self._with_musts, most_together(both, count - len(some), len(some), musts))

    def proof(self) -> _Proof:
        """What was found, in words."""
        count, most, musts = len(self.wanted), self._most, min(self._most, self._with_musts)
        where = f"in zone {self.zone}" if self.zone and len({w.zone for w in self.task.wanted}) > 1 else "in one zone"
        where += "" if self.whole else f" from {self.span[0] / 1e6:g} to {self.span[1] / 1e6:g} MHz"
        if not self._cells:
            return _Proof(0, count, f"{count} {where} cannot be: no spectrum is free there.", count)
        free = sum(high - low for low, high in self._stretches) / 1e6
        beside = f", beside {self.loose} that are fixed and disturb each other" if self.loose else ""
        products = " with their products clear of each other" if self._weak.apart or self._two else ""
        fewer = f", and {musts} with all that must be placed" if musts < most else ""
        why = f"{count} {where} cannot be: at most {most} find room{products} in {free:.4g} MHz{fewer}{beside}."
        return _Proof(most, count - most, why, count - musts)


def _grid(wanted: Sequence[Wanted]) -> int:
    """All carriers lie whole multiples of this apart, in hertz."""
    first = wanted[0]
    parts = [each.step_hz for each in wanted] + [each.origin_hz - first.origin_hz for each in wanted]
    parts += [each.now_hz - first.origin_hz for each in wanted if each.fixed and each.now_hz is not None]
    return math.gcd(*parts)


def _asked(guards: Sequence[Guard], grid: int) -> Asked:
    """What all of these ask for at least, in whole cells.

    Differences of two carriers differ by a product of three where the pairs have no carrier in common, by one of two
    where they meet in the middle, and by the distance of two carriers where they begin or end together.
    """
    spacing = -(-min(guard.spacing_hz for guard in guards) // grid)
    protections = [
        -(-min(guard.protection_hz.get(product, 0) for guard in guards) // grid)
        for product in (Product.TWO_THIRD, Product.THREE_THIRD)
    ]
    return Asked(spacing, min(spacing, *protections))


def _apart_from_products(task: Task, wanted: Sequence[Wanted]) -> set[str]:
    """Fixed ones that must be left out of a proof: all, when they break among themselves what the proof rests on.

    What fixed transmitters do to each other cannot be helped, so they may stand as no plan would place them.
    """
    fixed = [each for each in wanted if each.fixed]
    if not fixed:
        return set()
    ids = {each.id for each in fixed}
    if any(each.now_hz is None for each in fixed):
        return ids
    at = {each.id: each.now_hz for each in fixed if each.now_hz is not None}
    for each in fixed:
        free = free_stretches(task, [each])
        if not any(low <= at[each.id] <= high for low, high in free):
            return ids
    order = sorted(fixed, key=lambda each: at[each.id])
    guards = [task.guards[each.guard] for each in order]
    pairs: list[tuple[int, int]] = []
    for n, low in enumerate(order):
        for m in range(n + 1, len(order)):
            difference = at[order[m].id] - at[low.id]
            if difference < max(guards[n].spacing_hz, guards[m].spacing_hz):
                return ids
            pairs.append((difference, max(_asked([guard], 1).apart for guard in (guards[n], guards[m]))))
    pairs.sort()
    close = any(b[0] - a[0] < max(a[1], b[1]) for a, b in pairwise(pairs))
    return ids if close else set()


def _heard(task: Task, steps: int) -> list[_Proof]:
    """What the windows of receivers hold."""
    found = []
    for receiver, window in sorted(task.windows_hz.items()):
        heard = [each for each in task.wanted if each.within == receiver]
        if len(heard) < 2 or any(each.fixed for each in heard):
            continue
        room = window - min(each.width_hz for each in heard)
        most = 0
        if room >= 0:
            grid = _grid(heard)
            guards = [task.guards[each.guard] for each in heard]
            asked = _asked(guards, grid)
            if len({each.zone for each in heard}) > 1:
                asked = Asked(asked.spacing, 0)
            spans = least_spans(asked.spacing, asked.apart, asked.apart, len(heard) + 1, steps, room // grid)
            most = sum(span <= room // grid for span in spans[1:])
        if most < len(heard):
            why = f"{len(heard)} heard by {receiver} cannot be: at most {most} find room in its {window / 1e6:g} MHz."
            found.append(_Proof(most, len(heard) - most, why))
    return found


def _beside(task: Task) -> _Proof:
    """What finds room by spacing alone, over all zones."""
    loose = [each for each in task.wanted if each.fixed]
    wanted = [each for each in task.wanted if not each.fixed]
    if not wanted:
        return _Proof(len(loose), 0, "")
    spacing = min(task.guards[each.guard].spacing_hz for each in wanted)
    stretches = free_stretches(task, wanted)
    if spacing <= 0 and stretches:
        return _Proof(len(task.wanted), 0, "")
    most, at = 0, -(10**18)
    for low, high in stretches:
        at = max(at, low)
        if at <= high:
            more = (high - at) // spacing + 1
            most += more
            at += more * spacing
    fewer = max(len(wanted) - most, 0)
    free = sum(high - low for low, high in stretches) / 1e6
    why = (
        f"{len(wanted)} cannot be: at most {most} fit beside each other in {free:.4g} MHz, {spacing / 1e3:g} kHz apart."
    )
    return _Proof(len(task.wanted) - fewer, fewer, why)
