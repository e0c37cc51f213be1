"""Relations that one carrier takes part in, or that hit one, without the sorted sums of all others: to check a move.

Two of a relation's carriers beside the one hit are gone through, and the third is looked for where it would have to be:
in a table of coarse cells that says of most places that nothing lies near.
"""

from __future__ import annotations

from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from rollsound.kernel import kernel
from rollsound.radio.carriers.relations import Ints

Row: TypeAlias = tuple[int, int, int, int, int, int]
"""Number of the form, hit, first, second, other, distance."""


@kernel()
def _take(
    row: Row,
    protection: Ints,
    fixed: Ints,
    margin: Ints,
    best: Ints,
    margins: Ints,
    codes: Ints,
    found: Ints,
) -> None:
    """One relation that is near enough to matter."""
    number, hit, first, second, other, distance = row
    if first in (hit, other, second) or second in (hit, other):
        return
    required = max(protection[hit], max(protection[first], protection[other]))
    unavoidable = fixed[hit] == 1 and fixed[first] == 1 and fixed[other] == 1
    if second >= 0:
        required = max(required, protection[second])
        unavoidable = unavoidable and fixed[second] == 1
    if required == 0:
        return
    above = distance - required
    code = (((((number + 1) << 15 | hit) << 15 | first) << 15 | (second + 1)) << 15) | (other + 1)
    if not unavoidable and (above < margin[hit] or (above == margin[hit] and code < best[hit])):
        margin[hit] = above
        best[hit] = code
    if above < 0:
        if found[0] < margins.size:
            margins[found[0]] = above
            codes[found[0]] = ~code if unavoidable else code
        found[0] += 1


@kernel()
def _marked(at_hz: Ints, shift: int) -> NDArray[np.uint8]:
    """Cells of ``2 ** shift`` hertz, the first two before the lowest: 1 where one of ``at_hz`` lies in it or beside."""
    low = at_hz[0] - (2 << shift)
    cells = np.zeros(((at_hz[-1] - low) >> shift) + 3, dtype=np.uint8)
    for i in range(at_hz.size):
        x = (at_hz[i] - low) >> shift
        cells[x - 1] = 1
        cells[x] = 1
        cells[x + 1] = 1
    return cells


@kernel()
def touch(
    freqs: Ints,
    protection: Ints,
    fixed: Ints,
    order: Ints,
    me: int,
    hits: Ints,
    times: Ints,
    margin: Ints,
    best: Ints,
    margins: Ints,
    codes: Ints,
    found: Ints,
) -> None:
    """Every relation of one form with ``me`` in it that hits one of ``hits``; with ``me`` -1, every one.

    ``order`` is the zone, from low to high; ``times`` is how often first, second, other and hit are counted, and the
    form's number. The rest is as `near_products` has it; ``found`` (1) counts the broken, whether there was room to
    write them or not.
    """
    n = order.size
    first_times, second_times, other_times, hit_times, number = times[0], times[1], times[2], times[3], times[4]
    alone = second_times == 0
    swapped = not alone and first_times == second_times
    top = 0
    for i in range(n):
        top = max(top, protection[order[i]])
    # what is looked for: a second carrier that makes the sum, or the first where it is alone; and another on the right
    sought = np.empty((2, n), dtype=np.int64)
    for i in range(n):
        sought[0, i] = freqs[order[i]] * (first_times if alone else second_times)
        sought[1, i] = freqs[order[i]] * other_times
    # wide enough for most, but so narrow that most cells are empty
    wide, shift = top, 0
    for h in range(hits.size):
        reach = max(margin[hits[h]], -1) + top
        if reach <= (sought[0, n - 1] - sought[0, 0]) // (8 * n):
            wide = max(wide, reach)
    while (1 << shift) < wide:
        shift += 1
    seconds, others = _marked(sought[0], shift), _marked(sought[1], shift)
    for h in range(hits.size):
        hit = hits[h]
        whole = me < 0 or hit == me
        # of the three sources, this one or these two are gone through, and the last is looked for:
        # 0: other and first, or other where first is alone; 1, 2: me and another on the left
        for turn in range(3 if not whole else 1):
            if turn == 2 and (alone or swapped):
                continue
            cells = seconds if turn == 0 else others
            row = sought[0] if turn == 0 else sought[1]
            base = row[0] - (2 << shift)
            for m in range(n if turn == 0 else 1):
                other = order[m]
                if turn == 0 and (other == hit or not (whole or other == me)):
                    continue
                right = hit_times * freqs[hit] + (other_times * freqs[other] if turn == 0 else 0)
                for i in range(1 if alone else n):
                    first, second = order[i], -1
                    if turn == 0:
                        wanted = right - (0 if alone else first_times * freqs[first])
                    else:
                        if turn == 1:
                            first, second = me, -1 if alone else order[i]
                        else:
                            second = me
                        wanted = first_times * freqs[first] - right
                        if not alone:
                            wanted += second_times * freqs[second]
                    if max(margin[hit], -1) + top <= 1 << shift:
                        x = (wanted - base) >> shift
                        if x < 0 or x >= cells.size or cells[x] == 0:
                            continue
                    p, high = 0, n
                    while p < high:
                        middle = (p + high) // 2
                        if row[middle] < wanted:
                            p = middle + 1
                        else:
                            high = middle
                    for way in range(2):
                        at = p if way == 0 else p - 1
                        while 0 <= at < n:
                            distance = abs(row[at] - wanted)
                            if distance > max(margin[hit], -1) + top:
                                break
                            last = order[at]
                            at += 1 if way == 0 else -1
                            a, b, c = first, second, last
                            if turn == 0:
                                a, b, c = first, last, other
                                if alone:
                                    a, b = last, -1
                                elif swapped and b < a:
                                    continue
                            elif c in (me, hit):
                                continue
                            elif swapped and b < a:
                                a, b = b, a
                            relation = number, hit, a, b, c, distance
                            _take(relation, protection, fixed, margin, best, margins, codes, found)


@kernel()
def without(me: int, hits: NDArray[np.bool_], margins: Ints, codes: Ints, least: Ints, best: Ints, counts: Ints) -> int:
    """Take out the broken relations with ``me`` in them; how many stay, at the front of ``margins`` and ``codes``.

    ``counts`` of every form's broken ones that count goes down by those taken out; of the carriers marked in ``hits``,
    the worst that stays is put in ``least`` and ``best``.
    """
    low = (1 << 15) - 1
    kept = 0
    for n in range(codes.size):
        counted = codes[n] >= 0
        code = codes[n] if counted else ~codes[n]
        hit = code >> 45 & low
        if hit == me or (code >> 30 & low) == me or (code >> 15 & low) == me + 1 or (code & low) == me + 1:
            if counted:
                counts[code >> 60] -= 1
            continue
        if counted and hits[hit] and (margins[n] < least[hit] or (margins[n] == least[hit] and code < best[hit])):
            least[hit], best[hit] = margins[n], code
        margins[kept], codes[kept] = margins[n], codes[n]
        kept += 1
    return kept
