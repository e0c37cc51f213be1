"""Distances between products and carriers of few transmitters, all at once: what the kernels find, without a compiler.

Every relation of a form is an element of an array (hits, lefts, others). Below some two dozen carriers that is as fast
as the kernels, and a command that checks a plan need not load them.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass
from itertools import count

import numpy as np
from numpy.typing import NDArray

from rollsound.radio.carriers.relations import FAR, Form, Ints, code_of

FEW = 24
"""Up to so many carriers in a zone."""
FEW_AT_FIRST, FIRST = 50, 10
"""Up to so many in the first measurements of a process that has not loaded the compiler yet, which takes a second."""
MOST_ELEMENTS = 500_000
"""Of an array: it should stay near the processor."""

Bools = NDArray[np.bool_]


_taken = count()


def few(carriers: int) -> bool:
    """Whether so many carriers of one zone are measured here. Either way gives the same."""
    if carriers <= FEW or "numba" in sys.modules:
        return carriers <= FEW
    return carriers <= FEW_AT_FIRST and next(_taken) < FIRST


@dataclass(frozen=True, eq=False)
class Near:
    """What was found: of every hit the worst relation that counts, and all that are broken."""

    hits: Ints
    margin: Ints
    """A billion and more where there is none."""
    code: Ints
    margins: Ints
    """Of the broken."""
    codes: Ints


@dataclass(frozen=True, eq=False)
class Lefts:
    """The left sums of one form over one zone, in the order of their codes."""

    first: Ints
    second: Ints

    def of(self, which: Bools) -> Lefts:
        """Some of them."""
        return Lefts(self.first[which], self.second[which])


def lefts_of(form: Form, members: Ints) -> Lefts:
    """All pairs, or all alone, that a form has on its left."""
    if form.left[1] == 0:
        return Lefts(members, np.full(members.size, -1, dtype=np.int64))
    if form.ordered:
        one, two = np.nonzero(~np.eye(members.size, dtype=bool))
    else:
        one, two = np.triu_indices(members.size, 1)
    return Lefts(members[one], members[two])


def near(
    number: int, form: Form, freqs: Ints, protection: Ints, fixed: Ints, hits: Ints, left: Lefts, others: Ints
) -> Near:
    """All relations of one form between some hits, some lefts and some others."""
    most = max(MOST_ELEMENTS // max(left.first.size * others.size, 1), 1)
    parts = [
        _near(number, form, freqs, protection, fixed, hits[n : n + most], left, others)
        for n in range(0, max(hits.size, 1), most)
    ]
    if len(parts) == 1:
        return parts[0]
    return Near(
        hits,
        np.concatenate([part.margin for part in parts]),
        np.concatenate([part.code for part in parts]),
        np.concatenate([part.margins for part in parts]),
        np.concatenate([part.codes for part in parts]),
    )


def _near(
    number: int, form: Form, freqs: Ints, protection: Ints, fixed: Ints, hits: Ints, left: Lefts, others: Ints
) -> Near:
    first, second = left.first, left.second
    alone = form.left[1] == 0
    nothing = np.empty(0, dtype=np.int64)
    if not (hits.size and first.size and others.size):
        return Near(hits, np.full(hits.size, 4 * FAR), np.full(hits.size, -1), nothing, nothing)
    sums = form.left[0] * freqs[first] + (0 if alone else form.left[1] * freqs[second])
    strength = protection[first] if alone else np.maximum(protection[first], protection[second])
    rights = form.right[0] * freqs[others][None, :] + form.right[1] * freqs[hits][:, None]
    own = np.maximum(protection[others][None, :], protection[hits][:, None])
    # hits, lefts, others
    margin = sums[None, :, None] - rights[:, None, :]
    np.abs(margin, out=margin)
    required = np.maximum(strength[None, :, None], own[:, None, :])
    margin -= required
    out = (first[:, None] == others) | (second[:, None] == others)
    wrong = (((hits[:, None] == first) | (hits[:, None] == second))[:, :, None] | out[None]) | (
        hits[:, None] == others
    )[:, None, :]
    if not protection.all():
        wrong |= required == 0
    margin[wrong] = 4 * FAR
    broken = np.flatnonzero(margin < 0)
    margins = margin.reshape(-1)[broken]
    of_fixed = _of_fixed(fixed, hits, left, others) if broken.size or fixed.any() else None
    if of_fixed is not None:
        margin[of_fixed] = 4 * FAR
    # relations lie in the order of their codes, and the first of equals is taken
    flat = margin.reshape(hits.size, -1)
    worst = flat.argmin(1)
    l, o = np.unravel_index(worst, (first.size, others.size))
    found = flat[np.arange(hits.size), worst]
    code = _codes(number, hits, first[l], second[l], others[o])
    h, l, o = np.unravel_index(broken, margin.shape)
    codes = _codes(number, hits[h], first[l], second[l], others[o])
    if of_fixed is not None:
        codes = np.where(of_fixed.reshape(-1)[broken], ~codes, codes)
    return Near(hits, found, code, margins, codes)


def _of_fixed(fixed: Ints, hits: Ints, left: Lefts, others: Ints) -> Bools | None:
    here = fixed == 1
    if not here[hits].any():
        return None
    sources = here[left.first] & ((left.second < 0) | here[left.second])
    found: Bools = here[hits][:, None, None] & sources[None, :, None] & here[others][None, None, :]
    return found


def _codes(number: int, hit: Ints, first: Ints, second: Ints, other: Ints) -> Ints:
    found: Ints = (hit << 45) | (first << 30) | ((second + 1) << 15) | (other + 1)
    return found | (code_of(number, 0, 0, -1, -1))


def near_carriers(freqs: Ints, spacing: Ints, fixed: Ints, members: Ints) -> Near:
    """Every carrier's neighbours: the worst of each, and each broken pair once."""
    margin = np.empty(members.size, dtype=np.int64)
    code = np.empty(members.size, dtype=np.int64)
    margins, codes = [], []
    at, asked, kept = freqs[members], spacing[members], fixed[members] == 1
    rows = max(MOST_ELEMENTS // max(members.size, 1), 1)
    for begin in range(0, members.size, rows):
        here = slice(begin, begin + rows)
        away = np.abs(at[here, None] - at) - np.maximum(asked[here, None], asked)
        each = np.arange(away.shape[0])
        away[each, each + begin] = 4 * FAR
        one, two = np.nonzero(away < 0)
        one, two = one[one + begin < two], two[one + begin < two]
        if one.size:
            margins.append(away[one, two])
            found = _codes(-1, members[one + begin], members[two], np.int64(-1), np.int64(-1))  # type: ignore[arg-type]
            codes.append(np.where(kept[one + begin] & kept[two], ~found, found))
        if kept.any():
            away[kept[here, None] & kept] = 4 * FAR
        worst = away.argmin(1)
        margin[here] = away[each, worst]
        code[here] = _codes(-1, members[here], members[worst], np.int64(-1), np.int64(-1))  # type: ignore[arg-type]
    nothing = [np.empty(0, dtype=np.int64)]
    return Near(members, margin, code, np.concatenate(margins or nothing), np.concatenate(codes or nothing))
