"""How many transmitters can have a carrier at all, and how large a margin can be: proofs, found before any search."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from rollsound.radio.carriers.answer import Bound
from rollsound.radio.carriers.crowding import Asked, Room, lines, most_together
from rollsound.radio.carriers.exact import least_spans
from rollsound.radio.carriers.task import Guard, Product, Task, Wanted

STEPS = 60_000
"""How many carriers the exact search of least widths may put down: some 20 ms."""
NARROW = 1_000
"""In wider stretches, in cells, the least widths of a few carriers matter little, and the search of them is cut."""
MOST_RANGES = 12
"""How many tuning ranges are looked at by themselves, those first where most want in."""

Stretches = list[tuple[int, int]]


def bound(task: Task, steps: int = STEPS) -> Bound | None:
    """A proof that no more than ``most`` of the task's transmitters can be placed; none when it finds none.

    Counted are all transmitters, the fixed ones too. In each zone those guards are taken that all of its transmitters
    ask for at least, and products of the fifth order are left out: whatever is left out could only make it fewer.
    ``steps`` limits the exact search of least widths; more of them can only bring the bound closer.
    """
    proofs = [proof for zone in sorted({each.zone for each in task.wanted}) for proof in _zone(task, zone, steps)]
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
    taken = sorted((each.low_hz - each.guard_hz, each.high_hz + each.guard_hz) for each in task.occupied)
    for low, high, width in {(w.low_hz, w.high_hz, w.width_hz) for w in wanted}:
        half = -(-width // 2)
        at = low + half
        for begin, end in taken:
            if begin - half >= at:
                found.append((at, min(begin - half, high - half)))
            at = max(at, end + half)
        found.append((at, high - half))
    merged: Stretches = []
    for low, high in sorted(each for each in found if each[0] <= each[1]):
        if merged and low <= merged[-1][1]:
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


def _zone(task: Task, zone: str, steps: int) -> list[_Proof]:
    """Proofs about one zone that may be added up: each is about other transmitters."""
    wanted = [each for each in task.wanted if each.zone == zone]
    loose = _apart_from_products(task, wanted)
    wanted = [each for each in wanted if each.id not in loose]
    if len(wanted) < 2:
        return []
    ranges = sorted({(each.low_hz, each.high_hz) for each in wanted})
    spans = {(low, high) for low, _ in ranges for _, high in ranges if low <= high}
    held = {
        span: group
        for span in spans
        if len(group := [each for each in wanted if span[0] <= each.low_hz and each.high_hz <= span[1]]) > 1
    }
    crowded = sorted(held, key=lambda span: (span[1] - span[0]) / len(held[span]) ** 2)[:MOST_RANGES]
    whole = (ranges[0][0], max(high for _, high in ranges))
    proofs = [
        (span, proof)
        for span in {*crowded, whole}
        if (proof := _group(task, held[span], zone, span if span != whole else None, len(loose), steps)).fewer > 0
    ]
    # ranges that do not overlap hold different transmitters: take the set of such ranges that leaves most without
    proofs.sort(key=lambda each: each[0][1])
    best: list[tuple[int, int, list[_Proof]]] = [(-1, 0, [])]
    for (low, high), proof in proofs:
        _, fewer, before = max((each for each in best if each[0] <= low), key=lambda each: each[1])
        best.append((high, fewer + proof.fewer, [*before, proof]))
    return max(best, key=lambda each: each[1])[2]


def _group(
    task: Task, wanted: Sequence[Wanted], zone: str, span: tuple[int, int] | None, loose: int, steps: int
) -> _Proof:
    """How many of some transmitters of one zone can be placed."""
    grid = _grid(wanted)
    origin = wanted[0].origin_hz
    stretches = free_stretches(task, wanted)
    cells = [(-((origin - low) // grid), (high - origin) // grid) for low, high in stretches]
    cells = [each for each in cells if each[0] <= each[1]]
    count = len(wanted)
    where = f"in zone {zone}" if zone and len({each.zone for each in task.wanted}) > 1 else "in one zone"
    where += f" from {span[0] / 1e6:g} to {span[1] / 1e6:g} MHz" if span else ""
    if not cells:
        return _Proof(0, count, f"{count} {where} cannot be: no spectrum is free there.")
    guards = [task.guards[each.guard] for each in wanted]
    weak = _asked(guards, grid)
    two = -(-min(guard.protection_hz.get(Product.TWO_THIRD, 0) for guard in guards) // grid)
    widest = max(high - low for low, high in cells)
    spans = least_spans(weak.spacing, two, weak.apart, count + 1, steps if widest <= NARROW else steps // 6, widest)
    room = Room(
        np.array([low for low, _ in cells], dtype=np.int64),
        np.array([high for _, high in cells], dtype=np.int64),
        np.array(spans, dtype=np.int64),
    )
    most = with_musts = count
    for level in sorted({_asked([guard], grid).apart for guard in guards}):
        some = [guard for guard in guards if _asked([guard], grid).apart >= level]
        strong = _asked(some, grid) if level > weak.apart else None
        others = len(some) if strong is not None else 0
        found = lines(room, weak, strong, count)
        most = min(most, most_together(found, count - others, others))
        if strong is not None:
            musts = sum(w.priority == 1 and _asked([task.guards[w.guard]], grid).apart >= level for w in wanted)
            with_musts = min(with_musts, most_together(found, count - others, others, musts))
    with_musts = min(most, with_musts)
    free = sum(high - low for low, high in stretches) / 1e6
    beside = f", beside {loose} that are fixed and disturb each other" if loose else ""
    products = " with their products clear of each other" if weak.apart or two else ""
    fewer = f", and {with_musts} with all that must be placed" if with_musts < most else ""
    why = f"{count} {where} cannot be: at most {most} find room{products} in {free:.4g} MHz{fewer}{beside}."
    return _Proof(most, count - most, why, count - with_musts)


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
