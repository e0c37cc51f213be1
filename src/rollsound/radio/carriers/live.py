"""A check that stays up to date while one carrier after the other is moved.

What is known of every relation that the moved carrier takes no part in stays known: the worst of every carrier, and all
that are broken. Only relations with the moved one are measured anew, and all of those carriers whose worst relation it
was part of. The answer is that of the full check, to the last relation.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from rollsound.errors import InputError
from rollsound.radio.carriers import dense
from rollsound.radio.carriers.answer import Audit, Hold
from rollsound.radio.carriers.audit import (
    Measured,
    Present,
    answer,
    closer,
    placed,
    present,
    products,
    spacings,
    within,
)
from rollsound.radio.carriers.moved import touch, without
from rollsound.radio.carriers.relations import FAR, NONE, Ints
from rollsound.radio.carriers.task import Task

LISTED = 100
MOST_BROKEN = 200_000
"""With more broken relations everything is measured anew."""


class Live:
    """Carriers, and what a full check says of them."""

    def __init__(self, task: Task, carriers_hz: Mapping[str, int]) -> None:
        self._task = task
        self._number = {each.id: n for n, each in enumerate(task.wanted)}
        self._carriers = dict(carriers_hz)
        self._known: dict[int, Hold] = {}
        self._room: tuple[Ints, Ints] = np.empty(0, dtype=np.int64), np.empty(0, dtype=np.int64)
        self._here = present(task, self._carriers)
        self._made = products(self._here)
        self._alone = {n: self._placed(n) for n in self._here.members.tolist()}
        self.audit: Audit = self._answer()

    @property
    def carriers_hz(self) -> dict[str, int]:
        """Where everything is now."""
        return dict(self._carriers)

    def move(self, id: str, freq_hz: int) -> Audit:
        """Put a transmitter on a carrier, whether it had one or not."""
        if id not in self._number:
            raise InputError(f"{id} is not among the transmitters of this plan; take one of them")
        self._carriers[id] = freq_hz
        return self._changed(self._number[id])

    def remove(self, id: str) -> Audit:
        """Take a transmitter off its carrier."""
        if self._carriers.pop(id, None) is None or id not in self._number:
            return self.audit
        return self._changed(self._number[id])

    def _changed(self, me: int) -> Audit:
        before = self._here
        self._here = here = self._moved(me)
        zone = _zone_of(here, me)
        if not self._made.whole or self._made.codes.size > MOST_BROKEN:
            self._made = products(here)
        elif dense.few(max(zone.size, _zone_of(before, me).size)):
            self._few(me)
        else:
            self._many(me)
        self._alone.pop(me, None)
        if here.wanted[me].id in self._carriers:
            self._alone[me] = self._placed(me)
        known = np.fromiter(self._known, dtype=np.int64, count=len(self._known))
        for code in known[_with(known, me)].tolist():
            del self._known[code]
        self.audit = self._answer()
        return self.audit

    def _moved(self, me: int) -> Present:
        """Everybody as they are now, when only ``me`` has changed."""
        here = self._here
        freq = self._carriers.get(here.wanted[me].id)
        freqs = here.freqs.copy()
        freqs[me] = freq or 0
        if (freq is not None) == bool((here.members == me).any()):
            return replace(here, freqs=freqs)
        return present(self._task, self._carriers)

    def _placed(self, n: int) -> list[Hold]:
        return placed(self._task, self._here.wanted[n], int(self._here.freqs[n]))

    def _answer(self) -> Audit:
        here = self._here
        alone = [hold for n in here.members.tolist() for hold in self._alone[n]]
        if self._task.windows_hz:
            alone += within(self._task, here)
        found = answer(here, spacings(here), self._made, alone, LISTED, self._known)
        if len(self._known) > 10 * LISTED:
            self._known.clear()
        return found

    def _forget(self, me: int) -> Ints:
        """Whose worst relation has ``me`` in it: nothing is known of them any more. Without ``me`` itself."""
        code, margin = self._made.code, self._made.margin
        hit = np.flatnonzero((code >= 0) & _with(code, me))
        others: Ints = hit[hit != me]
        code[hit], margin[hit] = NONE, FAR
        code[me], margin[me] = NONE, FAR
        return others

    def _many(self, me: int) -> None:
        """With the kernels."""
        here, made = self._here, self._made
        hits = self._forget(me)
        counts = np.array([made.counts.get(n, 0) for n in range(-1, 5)], dtype=np.int64)
        marked = np.zeros(len(here.wanted), dtype=np.bool_)
        marked[hits] = True
        margins, codes = self._rows()
        size = made.codes.size
        total = without(me, marked, margins[:size], codes[:size], made.margin, made.code, counts)
        zone = _zone_of(here, me)
        order = zone[np.argsort(here.freqs[zone])]
        again = hits[made.margin[hits] >= 0]
        nothing = np.empty(0, dtype=np.int64)
        for number, form, members in here.forms_of(zone):
            rest = (here.freqs, here.protection[number], here.fixed, order)
            times = np.array([*form.left, *form.right, number], dtype=np.int64)
            found = np.zeros(1, dtype=np.int64)
            if again.size:
                touch(*rest, -1, again, times, made.margin, made.code, nothing, nothing, found)
            if here.wanted[me].id not in self._carriers:
                continue
            found[0] = 0
            touch(*rest, me, members, times, made.margin, made.code, margins[total:], codes[total:], found)
            added = codes[total : total + int(found[0])]
            if found[0] > added.size:
                self._made = products(here)
                return
            counts[number + 1] += int((added >= 0).sum())
            total += added.size
        made.margins, made.codes = margins[:total], codes[:total]
        made.counts = dict(enumerate(counts[1:].tolist()))

    def _rows(self) -> tuple[Ints, Ints]:
        """What is broken, with room behind it."""
        made = self._made
        if made.margins.base is not self._room[0]:
            more = np.empty(MOST_BROKEN, dtype=np.int64)
            self._room = np.append(made.margins, more), np.append(made.codes, more)
        return self._room

    def _few(self, me: int) -> None:
        """Without them."""
        here, made = self._here, self._made
        hits = self._forget(me)
        zone = _zone_of(here, me)
        stays = ~_with(np.where(made.codes >= 0, made.codes, ~made.codes), me)
        margins, codes = [made.margins[stays]], [made.codes[stays]]
        mine, others = zone[zone == me], zone[zone != me]
        for number, form, _ in here.forms_of(zone):
            protection = here.protection[number]
            left = dense.lefts_of(form, zone)
            with_me = (left.first == me) | (left.second == me)
            asked = [(mine, left, zone), (others, left.of(with_me), others), (others, left.of(~with_me), mine)]
            for some, lefts, beside in asked if mine.size else ():
                near = dense.near(number, form, here.freqs, protection, here.fixed, some, lefts, beside)
                closer(made.margin, made.code, near)
                margins.append(near.margins)
                codes.append(near.codes)
            if hits.size:
                near = dense.near(number, form, here.freqs, protection, here.fixed, hits, left, zone)
                closer(made.margin, made.code, near)
        codes_now = np.concatenate(codes)
        count = np.bincount(codes_now[codes_now >= 0] >> 60, minlength=6)
        counts = dict(enumerate(count[1:].tolist()))
        self._made = Measured(made.margin, made.code, np.concatenate(margins), codes_now, counts)


def _zone_of(here: Present, me: int) -> Ints:
    """Who is in the zone of ``me``, whether it has a carrier itself or not."""
    name = here.wanted[me].zone
    return next((zone for zone in here.zones if here.wanted[zone[0]].zone == name), np.empty(0, dtype=np.int64))


def _with(codes: Ints, me: int) -> Ints:
    """Of codes that are not inverted: which have ``me`` in them."""
    low = (1 << 15) - 1
    found: Ints = (
        ((codes >> 45 & low) == me)
        | ((codes >> 30 & low) == me)
        | ((codes >> 15 & low) == me + 1)
        | ((codes & low) == me + 1)
    )
    return found
