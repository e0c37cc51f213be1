"""The full check of carriers against a task: every rule, every relation, in whole hertz."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from rollsound.radio.carriers.answer import Audit, Hold, Limit
from rollsound.radio.carriers.relations import COUNTED, FAR, FORMS, Form, Ints, lefts, near_carriers, near_products
from rollsound.radio.carriers.task import Task, Wanted

LISTED = 500
"""Broken relations that are listed one by one: the worst. All are counted."""
SEEN = 50_000
"""Broken relations of one form among which the worst are looked for."""


@dataclass(frozen=True, eq=False)
class Present:
    """The transmitters that have a carrier, as arrays in the order of the task."""

    wanted: tuple[Wanted, ...]
    freqs: Ints
    spacing: Ints
    fixed: Ints
    zones: tuple[Ints, ...]
    """Of every zone, who is in it."""
    protection: tuple[Ints, ...]
    """Of every form in `FORMS`, what each asks for."""

    def forms(self) -> list[tuple[int, Form, Ints]]:
        """Which forms count in which zone: the form's number, itself, and who is in the zone."""
        return [
            (n, form, zone)
            for zone in self.zones
            for n, form in enumerate(FORMS)
            if zone.size >= 3 and self.protection[n][zone].any()
        ]


def present(task: Task, carriers_hz: Mapping[str, int]) -> Present:
    """Those of the task that have a carrier."""
    wanted = tuple(each for each in task.wanted if each.id in carriers_hz)
    zones: dict[str, list[int]] = {}
    for n, each in enumerate(wanted):
        zones.setdefault(each.zone, []).append(n)
    guards = [task.guards[each.guard] for each in wanted]
    return Present(
        wanted,
        np.array([carriers_hz[each.id] for each in wanted], dtype=np.int64),
        np.array([guard.spacing_hz for guard in guards], dtype=np.int64),
        np.array([each.fixed for each in wanted], dtype=np.int64),
        tuple(np.array(members, dtype=np.int64) for members in zones.values()),
        tuple(
            np.array([guard.protection_hz.get(form.product, 0) for guard in guards], dtype=np.int64) for form in FORMS
        ),
    )


def audit(task: Task, carriers_hz: Mapping[str, int], *, listed: int = LISTED) -> Audit:
    """Check carriers.

    Parameters
    ----------
    task
        what is asked
    carriers_hz
        by id; of transmitters that the task does not know nothing is said
    listed
        how many broken relations are listed, the worst; of each form all are counted, up to two million

    Returns
    -------
    Audit
        ``margins_hz`` are over spacing and the products that hit a carrier; what is broken is listed worst first
    """
    here = present(task, carriers_hz)
    n = here.freqs.size
    margin = np.full(n, FAR, dtype=np.int64)
    nearest = np.full((n, 5), -1, dtype=np.int64)
    limit = np.full(n, -1)
    heap: list[tuple[Form | None, Ints]] = []
    counts: dict[Limit, int] = {}
    rows, found = np.empty((min(SEEN, 20 * listed + 100), 7), dtype=np.int64), np.zeros(3, dtype=np.int64)

    def take(form: Form | None, kind: Limit) -> None:
        if found[1]:
            counts[kind] = counts.get(kind, 0) + min(int(found[1]), COUNTED)
        if found[0]:
            heap.append((form, rows[: found[0]].copy()))
        found[:] = 0

    near_carriers(here.freqs, here.spacing, here.fixed, margin, nearest, rows, found)
    take(None, Limit.SPACING)
    for number, form, zone in here.forms():
        before = margin.copy()
        left = lefts(form, here.freqs, here.protection[number], here.fixed, zone)
        near_products(
            here.freqs,
            here.protection[number],
            here.fixed,
            zone,
            zone,
            *left,
            *form.right,
            margin,
            nearest,
            rows,
            found,
        )
        limit[margin < before] = number
        take(form, Limit(form.product.value))
    broken = [*worst(here, heap, listed), *placed(task, here), *within(task, here)]
    for hold in broken:
        if not hold.unavoidable and hold.limit in PLACES:
            counts[hold.limit] = counts.get(hold.limit, 0) + 1
    return answer(here, margin, nearest, limit, broken, counts)


PLACES = (Limit.RANGE, Limit.STEP, Limit.OCCUPIED, Limit.WINDOW)
"""What a carrier can break alone, and a receiver."""


def worst(here: Present, heap: Sequence[tuple[Form | None, Ints]], listed: int) -> list[Hold]:
    """Of all broken relations the worst that count, and the worst of those that cannot be helped."""
    found: list[Hold] = []
    for unavoidable in (0, 1):
        part = [(form, rows[rows[:, 6] == unavoidable]) for form, rows in heap]
        margins = np.concatenate([rows[:, 4] - rows[:, 5] for _, rows in part] or [np.empty(0, np.int64)])
        last = np.partition(margins, listed - 1)[listed - 1] if margins.size > listed else FAR
        for form, rows in part:
            some = rows[rows[:, 4] - rows[:, 5] <= last][:listed]
            found += [hold_of(here, form, row) for row in some.tolist()]
    return found


def answer(
    here: Present, margin: Ints, nearest: Ints, limit: Ints, broken: list[Hold], counts: dict[Limit, int]
) -> Audit:
    """The arrays of a check in words."""
    set_by = {
        each.id: hold_of(here, FORMS[number] if number >= 0 else None, [n, *row, 0])
        for n, (each, row, number) in enumerate(zip(here.wanted, nearest.tolist(), limit.tolist(), strict=True))
        if row[3] >= 0
    }
    broken.sort(key=lambda hold: hold.margin_hz)
    return Audit(
        dict(zip([each.id for each in here.wanted], margin.tolist(), strict=True)),
        set_by,
        tuple(hold for hold in broken if not hold.unavoidable),
        tuple(hold for hold in broken if hold.unavoidable),
        counts,
    )


_LIMITS = {form.product: Limit(form.product.value) for form in FORMS}


def hold_of(here: Present, form: Form | None, row: Sequence[int]) -> Hold:
    """A row of hit, first, second, other, distance, required, unavoidable as a relation; of no form: spacing."""
    hit, first, second, other, distance, required, unavoidable = row
    name = here.wanted[hit].id
    if form is None:
        at = int(here.freqs[first])
        return Hold(Limit.SPACING, name, (here.wanted[first].id,), at, distance, required, bool(unavoidable))
    sources = tuple(here.wanted[n].id for n in form.sources(first, second, other))
    left = form.left[0] * int(here.freqs[first]) + (form.left[1] * int(here.freqs[second]) if second >= 0 else 0)
    at = (left - form.right[0] * int(here.freqs[other])) * form.right[1]
    return Hold(_LIMITS[form.product], name, sources, at, distance, required, bool(unavoidable))


def placed(task: Task, here: Present) -> list[Hold]:
    """Carriers outside their range, off their step, or in spectrum that others use."""
    found: list[Hold] = []
    for each, freq in zip(here.wanted, here.freqs.tolist(), strict=True):
        half = -(-each.width_hz // 2)
        edge = each.low_hz if freq - each.low_hz <= each.high_hz - freq else each.high_hz
        room = min(freq - each.low_hz, each.high_hz - freq)
        if room < half:
            found.append(Hold(Limit.RANGE, each.id, (), edge, room, half, each.fixed))
        off = (freq - each.origin_hz) % each.step_hz
        if off:
            nearest = freq - off if 2 * off <= each.step_hz else freq - off + each.step_hz
            found.append(Hold(Limit.STEP, each.id, (), nearest, 0, abs(freq - nearest), each.fixed))
        for taken in task.occupied:
            under, over = taken.low_hz - freq, freq - taken.high_hz
            required = half + taken.guard_hz
            if max(under, over) < required:
                at = taken.low_hz if under >= over else taken.high_hz
                found.append(Hold(Limit.OCCUPIED, each.id, (), at, max(under, over), required, each.fixed, taken.why))
    return found


def within(task: Task, here: Present) -> list[Hold]:
    """Receivers whose transmitters lie further apart than their window."""
    found: list[Hold] = []
    for receiver, window in task.windows_hz.items():
        heard = [
            (each, int(freq)) for each, freq in zip(here.wanted, here.freqs, strict=True) if each.within == receiver
        ]
        if not heard:
            continue
        top = max(2 * freq + each.width_hz for each, freq in heard)
        bottom = min(2 * freq - each.width_hz for each, freq in heard)
        span = -((bottom - top) // 2)
        if span > window:
            names = tuple(each.id for each, _ in heard)
            fixed = all(each.fixed for each, _ in heard)
            found.append(Hold(Limit.WINDOW, names[0], names[1:], heard[0][1], window, span, fixed, receiver))
    return found
