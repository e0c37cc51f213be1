"""Distances between products and carriers, without going through every product: a kernel over sorted sums.

Every product is an equation between a *left* sum of one or two carriers and a *right* sum of two, the last of which is
the carrier hit: ``2a = b + h``, ``a + b = c + h``, ``3a = 2b + h``, ``b + c = 3a - h``, ``2a + b = 2c + h``. With the
left sums sorted, the nearest to each right sum is found by halving, so 100 carriers take 10,000 searches instead of 50
million products.

A relation has a *code*, so that relations can be ordered and stored as one number: 15 bits each for the carrier hit,
the first and second source (1 more than its number, so that 0 is nobody) and the other, below the form's number plus
1, where 0 is spacing. Of broken relations among fixed transmitters only, the bits are inverted: the code is below 0.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from rollsound.kernel import kernel
from rollsound.radio.carriers.task import Product

Ints = NDArray[np.int64]

FAR = 1_000_000_000
"""The margin in hertz of a carrier that nothing comes near: a billion."""
NONE = -1
"""The code of no relation."""
COUNTED = 2_000_000
"""Broken products are counted up to here; where there are more, nothing fits and their number says no more."""


class Form(NamedTuple):
    """How a product is written as a left and a right sum."""

    product: Product
    left: tuple[int, int]
    """How often the first and the second carrier of the left are counted; 0 for none."""
    right: tuple[int, int]
    """How often the other carrier of the right and the carrier hit are counted."""

    @property
    def ordered(self) -> bool:
        """Whether the two on the left may not be swapped."""
        return self.left[1] != 0 and self.left[0] != self.left[1]

    def sources(self, first: int, second: int, other: int) -> tuple[int, ...]:
        """The sources in the order of the product's name."""
        if self.product in (Product.TWO_THIRD, Product.TWO_FIFTH):
            return first, other
        if self.product is Product.THREE_FIFTH:
            return other, first, second
        return first, second, other


FORMS = (
    Form(Product.TWO_THIRD, (2, 0), (1, 1)),
    Form(Product.THREE_THIRD, (1, 1), (1, 1)),
    Form(Product.TWO_FIFTH, (3, 0), (2, 1)),
    Form(Product.THREE_FIFTH, (1, 1), (3, -1)),
    Form(Product.THREE_FIFTH_MIXED, (2, 1), (2, 1)),
)


def code_of(number: int, hit: int, first: int, second: int, other: int) -> int:
    """The code of a relation; ``number`` is that of its form in `FORMS`, -1 for spacing."""
    return (number + 1) << 60 | hit << 45 | first << 30 | (second + 1) << 15 | (other + 1)


def parts_of(code: Ints) -> tuple[Ints, Ints, Ints, Ints, Ints]:
    """Number of the form (-1 for spacing), hit, first, second, other; of codes that are not inverted."""
    low = (1 << 15) - 1
    return (code >> 60) - 1, code >> 45 & low, code >> 30 & low, (code >> 15 & low) - 1, (code & low) - 1


class Lefts(NamedTuple):
    """Left sums of one zone, sorted within classes of the same protection and of being of fixed ones only."""

    sums: Ints
    first: Ints
    second: Ints
    """Who takes part; -1 for nobody."""
    begin: Ints
    """Of every class, and the end of the last."""
    protection: Ints
    fixed: Ints


def lefts(form: Form, freqs: Ints, protection: Ints, fixed: Ints, members: Ints) -> Lefts:
    """All left sums of the carriers ``members``."""
    k, j = form.left
    if j == 0:
        first, second = members, np.full(members.size, -1)
        sums = k * freqs[members]
        strength, all_fixed = protection[members], fixed[members]
    else:
        if form.ordered:
            one, two = np.nonzero(~np.eye(members.size, dtype=bool))
        else:
            one, two = np.triu_indices(members.size, 1)
        first, second = members[one], members[two]
        sums = k * freqs[first] + j * freqs[second]
        strength = np.maximum(protection[first], protection[second])
        all_fixed = fixed[first] & fixed[second]
    kind = strength * 2 + all_fixed
    order = np.lexsort((sums, kind)) if kind.size and kind.min() != kind.max() else np.argsort(sums)
    kinds, begin = np.unique(kind, return_index=True)
    begin = np.sort(begin) if kinds.size <= 1 else np.searchsorted(kind[order], kinds)
    return Lefts(
        sums[order],
        first[order],
        second[order],
        np.append(begin, kind.size).astype(np.int64),
        kinds // 2,
        kinds % 2,
    )


@kernel()
def near_products(
    freqs: Ints,
    protection: Ints,
    fixed: Ints,
    members: Ints,
    sums: Ints,
    first: Ints,
    second: Ints,
    begin: Ints,
    left_protection: Ints,
    left_fixed: Ints,
    other_times: int,
    hit_times: int,
    number: int,
    margin: Ints,
    best: Ints,
    margins: Ints,
    codes: Ints,
    found: Ints,
) -> None:
    """The smallest margin of every carrier of ``members`` against one form of product, and all that are broken.

    ``margin`` and ``best`` (the relation's code) are made smaller where a product comes nearer. Broken products are
    written to ``margins`` and ``codes`` as far as they go, and counted in ``found`` (4: written, counted, seen with
    those of fixed ones only, written of those). Those of fixed ones take half of the room at most: however many there
    are, what counts is written.
    """
    # halving begins between the marks of a table, so that it takes two steps in place of thirteen
    classes = left_protection.size
    marks = np.zeros((classes, 2 * sums.size + 3), dtype=np.int32)
    shifts = np.zeros(classes, dtype=np.int64)
    for c in range(classes):
        start, end = begin[c], begin[c + 1]
        if end == start:
            continue
        while (sums[end - 1] - sums[start]) >> shifts[c] > 2 * (end - start):
            shifts[c] += 1
        mark = 0
        for at in range(start, end):
            while mark <= (sums[at] - sums[start]) >> shifts[c]:
                marks[c, mark] = at
                mark += 1
        while mark < marks.shape[1]:
            marks[c, mark] = end
            mark += 1
    for n in range(members.size):
        hit = members[n]
        for m in range(members.size):
            other = members[m]
            if other == hit:
                continue
            value = other_times * freqs[other] + hit_times * freqs[hit]
            own = max(protection[other], protection[hit])
            own_fixed = fixed[other] == 1 and fixed[hit] == 1
            for c in range(left_protection.size):
                required = max(own, left_protection[c])
                if required == 0:
                    continue
                unavoidable = own_fixed and left_fixed[c] == 1
                low, high = begin[c], begin[c + 1]
                end, start = high, low
                if low == high:
                    continue
                if value > sums[end - 1]:
                    low = high
                elif value > sums[start]:
                    mark = (value - sums[start]) >> shifts[c]
                    low, high = marks[c, mark], marks[c, mark + 1]
                else:
                    high = low
                while low < high:
                    middle = (low + high) // 2
                    if sums[middle] < value:
                        low = middle + 1
                    else:
                        high = middle
                for way in range(2):
                    at = low - 1 if way == 0 else low
                    while start <= at < end:
                        a, b = first[at], second[at]
                        above = abs(value - sums[at]) - required
                        if above >= 0 and (unavoidable or above > margin[hit]):
                            break
                        if a != hit and a != other and b != hit and b != other:
                            code = (((((number + 1) << 15 | hit) << 15 | a) << 15 | (b + 1)) << 15) | (other + 1)
                            if not unavoidable and (above < margin[hit] or (above == margin[hit] and code < best[hit])):
                                margin[hit] = above
                                best[hit] = code
                            if above < 0:
                                found[2] += 1
                                if not unavoidable:
                                    found[1] += 1
                                if found[0] < margins.size and (not unavoidable or found[3] < margins.size // 2):
                                    margins[found[0]] = above
                                    codes[found[0]] = ~code if unavoidable else code
                                    found[0] += 1
                                    found[3] += unavoidable
                                if found[2] >= 2_000_000:  # COUNTED: a kernel that reads it would be compiled anew
                                    break
                        at += -1 if way == 0 else 1
