"""The full check of carriers against a task: every rule, every relation, in whole hertz."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from rollsound.radio.carriers import dense
from rollsound.radio.carriers.answer import Audit, Hold, Limit
from rollsound.radio.carriers.relations import (
    COUNTED,
    FAR,
    FORMS,
    NONE,
    Form,
    Ints,
    lefts,
    near_products,
    parts_of,
)
from rollsound.radio.carriers.task import Task, Wanted

LISTED = 500
"""Broken relations that are listed one by one: the worst. All are counted."""
SEEN = 50_000
"""Broken relations of one form among which the worst are looked for."""


@dataclass(frozen=True, eq=False)
class Present:
    """The transmitters of a task as arrays in its order, and who of them has a carrier."""

    wanted: tuple[Wanted, ...]
    freqs: Ints
    """0 for those without a carrier."""
    members: Ints
    """Who has a carrier."""
    spacing: Ints
    fixed: Ints
    zones: tuple[Ints, ...]
    """Of every zone, who is in it and has a carrier."""
    protection: tuple[Ints, ...]
    """Of every form in `FORMS`, what each asks for."""

    def forms(self) -> list[tuple[int, Form, Ints]]:
        """Which forms count in which zone: the form's number, itself, and who is in the zone."""
        return [each for zone in self.zones for each in self.forms_of(zone)]

    def forms_of(self, zone: Ints) -> list[tuple[int, Form, Ints]]:
        """Which forms count in one zone."""
        return [(n, form, zone) for n, form in enumerate(FORMS) if zone.size >= 3 and self.protection[n][zone].any()]


def present(task: Task, carriers_hz: Mapping[str, int]) -> Present:
    """The task's transmitters, and those that have a carrier."""
    wanted = task.wanted
    zones: dict[str, list[int]] = {}
    members = [n for n, each in enumerate(wanted) if each.id in carriers_hz]
    for n in members:
        zones.setdefault(wanted[n].zone, []).append(n)
    guards = [task.guards[each.guard] for each in wanted]
    return Present(
        wanted,
        np.array([carriers_hz.get(each.id, 0) for each in wanted], dtype=np.int64),
        np.array(members, dtype=np.int64),
        np.array([guard.spacing_hz for guard in guards], dtype=np.int64),
        np.array([each.fixed for each in wanted], dtype=np.int64),
        tuple(np.array(each, dtype=np.int64) for each in zones.values()),
        tuple(
            np.array([guard.protection_hz.get(form.product, 0) for guard in guards], dtype=np.int64) for form in FORMS
        ),
    )


@dataclass(eq=False)
class Measured:
    """What is found of spacing or of products: the worst of every carrier, and what is broken, by code."""

    margin: Ints
    code: Ints
    margins: Ints
    """Of the broken; below 0."""
    codes: Ints
    counts: dict[int, int] = field(default_factory=dict)
    """Of the broken ones that count, by the form's number."""
    whole: bool = True
    """Whether every broken one was written down."""


def spacings(here: Present) -> Measured:
    """All distances between carriers."""
    found = dense.near_carriers(here.freqs, here.spacing, here.fixed, here.members)
    margin, code = _nothing(here)
    margin[found.hits] = np.minimum(found.margin, FAR)
    code[found.hits] = np.where(found.margin < FAR, found.code, NONE)
    return Measured(margin, code, found.margins, found.codes, {-1: int((found.codes >= 0).sum())})


def products(here: Present) -> Measured:
    """All products that fall among the carriers."""
    margin, code = _nothing(here)
    margins, codes = [np.empty(0, dtype=np.int64)], [np.empty(0, dtype=np.int64)]
    counts: dict[int, int] = {}
    whole = True
    room = None
    few = {zone.size: dense.few(zone.size) for zone in here.zones}
    for number, form, zone in here.forms():
        protection = here.protection[number]
        if few[zone.size]:
            near = dense.near(number, form, here.freqs, protection, here.fixed, zone, dense.lefts_of(form, zone), zone)
            closer(margin, code, near)
            margins.append(near.margins)
            codes.append(near.codes)
            counts[number] = counts.get(number, 0) + int((near.codes >= 0).sum())
            continue
        if room is None:
            room = np.empty(SEEN, dtype=np.int64), np.empty(SEEN, dtype=np.int64)
        found = np.zeros(4, dtype=np.int64)
        left = lefts(form, here.freqs, protection, here.fixed, zone)
        near_products(here.freqs, protection, here.fixed, zone, *left, *form.right, number, margin, code, *room, found)
        margins.append(room[0][: found[0]].copy())
        codes.append(room[1][: found[0]].copy())
        counts[number] = counts.get(number, 0) + int(found[1])
        whole = whole and found[2] == found[0]
    return Measured(margin, code, np.concatenate(margins), np.concatenate(codes), counts, bool(whole))


def _nothing(here: Present) -> tuple[Ints, Ints]:
    n = len(here.wanted)
    return np.full(n, FAR, dtype=np.int64), np.full(n, NONE, dtype=np.int64)


def closer(margin: Ints, code: Ints, near: dense.Near) -> None:
    """Take over what is worse for a carrier than what is known of it; of equals, that with the lower code."""
    now, known = margin[near.hits], code[near.hits]
    better = (near.margin < now) | ((near.margin == now) & (near.code < known))
    margin[near.hits] = np.where(better, near.margin, now)
    code[near.hits] = np.where(better, near.code, known)


def audit(task: Task, carriers_hz: Mapping[str, int], *, listed: int = LISTED) -> Audit:
    """Check carriers.

    Parameters
    ----------
    task
        what is asked
    carriers_hz
        by id; of transmitters that the task does not know nothing is said
    listed
        how many broken relations are listed, the worst, and of those alike the first of the task; of each form all are
        counted, up to two million

    Returns
    -------
    Audit
        ``margins_hz`` are over spacing and the products that hit a carrier; what is broken is listed worst first
    """
    here = present(task, carriers_hz)
    alone = [hold for n in here.members.tolist() for hold in placed(task, here.wanted[n], int(here.freqs[n]))]
    return answer(here, spacings(here), products(here), [*alone, *within(task, here)], listed, {})


PLACES = (Limit.RANGE, Limit.STEP, Limit.OCCUPIED, Limit.WINDOW)
"""What a carrier can break alone, and a receiver."""


def answer(
    here: Present, beside: Measured, made: Measured, alone: list[Hold], listed: int, known: dict[int, Hold]
) -> Audit:
    """What was measured in words.

    Parameters
    ----------
    beside, made
        of spacing and of products
    alone
        what carriers and receivers break alone
    listed
        how many broken relations are listed
    known
        relations in words by code, as far as they are known; those that are told here are added
    """
    spaced = (beside.margin < made.margin) | ((beside.margin == made.margin) & (beside.code >= 0))
    margin = np.where(spaced, beside.margin, made.margin)[here.members].tolist()
    code = np.where(spaced, beside.code, made.code)[here.members].tolist()

    ids = [here.wanted[n].id for n in here.members.tolist()]
    listed_codes = [_worst_of(beside, made, listed, False), _worst_of(beside, made, listed, True)]
    told = [each for each in [*code, *listed_codes[0], *listed_codes[1]] if each >= 0 and each not in known]
    known.update(zip(told, holds_of(here, np.array(told, dtype=np.int64)), strict=True))
    set_by = {id: known[each] for id, each in zip(ids, code, strict=True) if each >= 0}
    broken, unavoidable = ([known[each] for each in some] for some in listed_codes)
    counts = {_limit(n): min(count, COUNTED) for n, count in sorted({**beside.counts, **made.counts}.items()) if count}
    for each in alone:
        (unavoidable if each.unavoidable else broken).append(each)
        if not each.unavoidable:
            counts[each.limit] = counts.get(each.limit, 0) + 1
    return Audit(
        dict(zip(ids, margin, strict=True)),
        set_by,
        tuple(sorted(broken, key=_margin) if alone else broken),
        tuple(sorted(unavoidable, key=_margin) if alone else unavoidable),
        counts,
    )


def _margin(hold: Hold) -> int:
    return hold.margin_hz


def _worst_of(beside: Measured, made: Measured, listed: int, unavoidable: bool) -> list[int]:
    """The codes of the worst relations, not inverted, in order."""
    both = [
        worst(each.margins, ~each.codes if unavoidable else each.codes, listed)
        for each in (beside, made)
        if each.codes.size
    ]
    if not both:
        return []
    margins, codes = both[0]
    if len(both) == 2:
        margins, codes = worst(np.append(margins, both[1][0]), np.append(codes, both[1][1]), listed)
    found: list[int] = codes[np.lexsort((codes, margins))].tolist()
    return found


def worst(margins: Ints, codes: Ints, listed: int) -> tuple[Ints, Ints]:
    """Of all relations whose code is not below 0 the worst, unordered; of those alike, the lowest codes."""
    counted = codes >= 0
    if not counted.all():
        margins, codes = margins[counted], codes[counted]
    if margins.size <= listed:
        return margins, codes
    last = np.partition(margins, listed - 1)[listed - 1]
    below, even = np.flatnonzero(margins < last), codes[margins == last]
    more = listed - below.size
    if even.size > more:
        even = np.partition(even, more - 1)[:more]
    return np.append(margins[below], np.full(more, last)), np.append(codes[below], even)


_LIMITS = (Limit.SPACING, *(Limit(form.product.value) for form in FORMS))
_TIMES = np.array([(1, 0, 0, 1), *((*form.left, *form.right) for form in FORMS)], dtype=np.int64)
"""How often first, second, other and hit are counted; of spacing first."""


def _limit(number: int) -> Limit:
    return _LIMITS[number + 1]


def holds_of(here: Present, codes: Ints) -> list[Hold]:
    """Relations in words; none of the codes is inverted."""
    number, hit, first, second, other = parts_of(codes)
    # nobody is the last, with nothing that it asks for
    freqs = np.append(here.freqs, 0)
    fixed = np.append(here.fixed, 1)
    asked = np.append(np.vstack((here.spacing, *here.protection)), np.zeros((1 + len(FORMS), 1), dtype=np.int64), 1)
    everybody = np.array((hit, first, second, other))
    times = _TIMES[number + 1]
    at = (times[:, 0] * freqs[first] + times[:, 1] * freqs[second] - times[:, 2] * freqs[other]) * times[:, 3]
    columns: Any = (
        number.tolist(),
        hit.tolist(),
        first.tolist(),
        second.tolist(),
        other.tolist(),
        at.tolist(),
        np.abs(at - freqs[hit]).tolist(),
        asked[number + 1, everybody].max(0).tolist(),
        fixed[everybody].all(0).tolist(),
    )
    ids = [each.id for each in here.wanted]
    found: list[Hold] = []
    for n, h, a, b, c, hertz, distance, required, kept in zip(*columns, strict=True):
        sources = (ids[a],) if n < 0 else tuple(ids[each] for each in FORMS[n].sources(a, b, c))
        found.append(Hold(_LIMITS[n + 1], ids[h], sources, hertz, distance, required, kept))
    return found


def placed(task: Task, each: Wanted, freq: int) -> list[Hold]:
    """How a carrier is outside its range, off its step, or in spectrum that others use."""
    found: list[Hold] = []
    half = -(-each.width_hz // 2)
    edge = each.low_hz if freq - each.low_hz <= each.high_hz - freq else each.high_hz
    room = min(freq - each.low_hz, each.high_hz - freq)
    if room < half:
        found.append(Hold(Limit.RANGE, each.id, (), edge, room, half, each.fixed))
    off = (freq - each.origin_hz) % each.step_hz
    if off:
        nearest = freq - off if 2 * off <= each.step_hz else freq - off + each.step_hz
        found.append(Hold(Limit.STEP, each.id, (), nearest, 0, abs(freq - nearest), each.fixed))
    for taken in (*task.occupied, *each.occupied):
        under, over = taken.low_hz - freq, freq - taken.high_hz
        required = half + taken.guard_hz
        if under < required and over < required:
            at = taken.low_hz if under >= over else taken.high_hz
            found.append(Hold(Limit.OCCUPIED, each.id, (), at, max(under, over), required, each.fixed, taken.why))
    return found


def within(task: Task, here: Present) -> list[Hold]:
    """Receivers whose transmitters lie further apart than their window."""
    found: list[Hold] = []
    for receiver, window in task.windows_hz.items():
        heard = [
            (here.wanted[n], int(here.freqs[n])) for n in here.members.tolist() if here.wanted[n].within == receiver
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
