"""The least width that so many carriers of one kind need, by going through all that could be: a depth-first search.

Positions are whole cells of the raster. A set of carriers is good when neighbours lie ``spacing`` apart or more, all
differences of two lie ``three`` apart or more, and two differences that meet in the middle carrier lie ``two`` apart or
more: that is all that products of the third order ask of carriers of one kind. With 1, 1, 1 these are Golomb rulers.
"""

from __future__ import annotations

import functools

import numpy as np
import numpy.typing as npt

from rollsound.kernel import kernel

MOST_CARRIERS = 28
MOST_CELLS = 2_048
"""Wider than that the search comes to no end anyway."""
MOST_SHORT = 1_000
"""Carriers that a short search puts down: some milliseconds, where loading compiled loops takes a second."""

Words = npt.NDArray[np.uint64]


@functools.lru_cache(maxsize=256)
def least_spans(spacing: int, two: int, three: int, most: int, steps: int, widest: int = MOST_CELLS) -> tuple[int, ...]:
    """Of 0, 1, 2 … ``most`` carriers: a width, in cells, below which so many cannot lie.

    Exact where the search came to its end; where ``steps`` were too few, what was proved by then.

    Parameters
    ----------
    spacing, two, three
        in cells; ``two`` and ``three`` may be 0 where the rule is off
    most
        up to how many carriers
    steps
        how many carriers the search may put down altogether
    widest
        in cells; above it nobody asks, and it is not searched

    Notes
    -----
    Where ``three`` is above ``spacing`` or ``two``, the smallest of them counts: that asks for less than the products
    do, so that every width stays a proof.
    """
    three = min(three, spacing, two)
    spans = [0, 0]
    longer = False
    for count in range(2, most + 1):
        gaps = gap_span(count, spacing, two, three)
        # parts that only keep their gaps never need more than the gaps of the whole
        least = max(gaps, joined_span(spans, count)) if longer else gaps
        if count <= MOST_CARRIERS:
            while steps > 0 and least <= min(widest, MOST_CELLS):
                work = np.array([steps], dtype=np.int64)
                fits = _search(count, spacing, two, three, least, spans, work)
                steps = int(work[0])
                if fits or steps <= 0:
                    break
                least += 1
        spans.append(least)
        longer |= least > gaps
    return tuple(spans)


def gap_span(count: int, spacing: int, two: int, three: int) -> int:
    """The neighbours' gaps alone: all ``spacing`` or more, ``three`` apart each, ``two`` apart from the next one."""
    gaps = count - 1
    if gaps < 2:
        return max(gaps, 0) * spacing
    apart = gaps * spacing + three * gaps * (gaps - 1) // 2
    beside = gaps * spacing + two * (gaps // 2)
    return max(apart, beside)


def joined_span(spans: list[int], count: int) -> int:
    """Two parts that share one carrier need at least their widths together. ``spans`` goes up to ``count - 1``."""
    return max((spans[part] + spans[count + 1 - part] for part in range(2, (count + 1) // 2 + 1)), default=0)


def fits(count: int, spacing: int, two: int, three: int, span: int, steps: int = 50_000_000) -> bool | None:
    """Whether ``count`` carriers can lie within ``span`` cells; none when ``steps`` were too few to know.

    For ``three`` no larger than ``spacing`` and ``two``, as everywhere in practice.
    """
    if three > min(spacing, two) or two > 2 * spacing:
        raise ValueError("the search knows no such rules")
    work = np.array([steps], dtype=np.int64)
    spans = [gap_span(n, spacing, two, three) for n in range(count)]
    found = _search(count, spacing, two, three, span, spans, work)
    return None if work[0] <= 0 and not found else bool(found)


def _search(
    count: int, spacing: int, two: int, three: int, span: int, spans: list[int], work: npt.NDArray[np.int64]
) -> bool:
    """A short search as it is; a long one with the compiled loop, from its beginning."""
    if work[0] > MOST_SHORT:
        short = [MOST_SHORT]
        found = _fits_soon(count, spacing, two, three, span, spans, short)
        if short[0] > 0:
            work[0] -= MOST_SHORT - short[0]
            return found
    return _fits(count, spacing, two, three, span, np.array(spans, dtype=np.int64), work)


def _spread(bits: int, by: int) -> int:
    """Every bit, and those up to ``by`` below and above it."""
    found = bits
    for away in range(1, by + 1):
        found |= bits << away | bits >> away
    return found


def _fits_soon(count: int, spacing: int, two: int, three: int, span: int, spans: list[int], work: list[int]) -> bool:
    """What `_fits` says, step by step alike, with whole numbers of any length for its bits."""
    if count <= 1:
        return span >= 0
    blocked, known, near, back = ([0] * (count + 1) for _ in range(4))
    at, tried = [0] * (count + 1), [0] * (count + 1)
    depth = 1
    tried[1] = spacing - 1
    while depth >= 1:
        last = span - at[depth] - spans[count - depth]
        gap, gaps = spacing, 0
        for _ in range(count - depth - 1):
            while gap <= span and near[depth] >> gap & 1:
                gap += 1
            gaps += gap
            gap += three
        last = min(last, span - at[depth] - gaps)
        if depth == 1 and count > 3:
            last = min(last, (span - spans[count - 2]) // 2)
        step = tried[depth] + 1
        while step <= last and blocked[depth] >> step & 1:
            step += 1
        if step > last:
            depth -= 1
            continue
        tried[depth] = step
        work[0] -= 1
        if work[0] <= 0:
            return False
        if depth + 1 == count:
            return True
        new = depth + 1
        back[new] = back[depth] << step | 1 << step
        known[new] = known[depth] | back[new]
        blocked[new] = blocked[depth] >> step
        if three > 0:
            near[new] = _spread(known[new], three - 1)
            blocked[new] |= near[new]
        if two > 0:
            blocked[new] |= _spread(back[new], two - 1)
        at[new] = at[depth] + step
        tried[new] = spacing - 1
        depth = new
    return False


@kernel()
def _shift_up(source: Words, by: int, out: Words) -> None:
    words, bits = by >> 6, np.uint64(by & 63)
    for n in range(source.size - 1, -1, -1):
        value = np.uint64(0)
        if n - words >= 0:
            value = source[n - words] << bits
            if bits and n - words - 1 >= 0:
                value |= source[n - words - 1] >> (np.uint64(64) - bits)
        out[n] = value


@kernel()
def _or_wide(source: Words, by: int, out: Words) -> None:
    """Add to ``out`` every bit of ``source``, and those up to ``by`` below and above it."""
    size = source.size
    for shift in range(-by, by + 1):
        away = abs(shift)
        words, bits = away >> 6, np.uint64(away & 63)
        for n in range(size):
            value = np.uint64(0)
            if shift >= 0:
                if n - words >= 0:
                    value = source[n - words] << bits
                    if bits and n - words - 1 >= 0:
                        value |= source[n - words - 1] >> (np.uint64(64) - bits)
            elif n + words < size:
                value = source[n + words] >> bits
                if bits and n + words + 1 < size:
                    value |= source[n + words + 1] << (np.uint64(64) - bits)
            out[n] |= value


@kernel()
def _fits(
    count: int, spacing: int, two: int, three: int, span: int, spans: npt.NDArray[np.int64], work: npt.NDArray[np.int64]
) -> bool:
    """Whether ``count`` carriers lie within ``span``; ``work[0]`` counts down, and at 0 the answer is not known.

    Bit k of ``blocked`` is the place k cells above the newest carrier; of ``back``, an older carrier k cells below it;
    of ``known``, a difference of two carriers; of ``near``, what lies too near to such a difference.
    """
    size = (span >> 6) + 1
    blocked = np.zeros((count + 1, size), np.uint64)
    known = np.zeros((count + 1, size), np.uint64)
    near = np.zeros((count + 1, size), np.uint64)
    back = np.zeros((count + 1, size), np.uint64)
    at = np.zeros(count + 1, np.int64)
    tried = np.zeros(count + 1, np.int64)
    depth = 1
    if count <= 1:
        return span >= 0
    tried[1] = spacing - 1
    while depth >= 1:
        # the carriers still to come need at least this: their own least width, and gaps that are not yet taken
        last = span - at[depth] - spans[count - depth]
        gap, gaps = spacing, 0
        for _ in range(count - depth - 1):
            while gap <= span and (near[depth, gap >> 6] >> np.uint64(gap & 63)) & np.uint64(1):
                gap += 1
            gaps += gap
            gap += three
        last = min(last, span - at[depth] - gaps)
        if depth == 1:
            # a set and its mirror image are one: the first gap is no longer than half of what all leave
            last = min(last, (span - spans[count - 2]) // 2) if count > 3 else last
        step = tried[depth] + 1
        while step <= last and (blocked[depth, step >> 6] >> np.uint64(step & 63)) & np.uint64(1):
            step += 1
        if step > last:
            depth -= 1
            continue
        tried[depth] = step
        work[0] -= 1
        if work[0] <= 0:
            return False
        if depth + 1 == count:
            return True
        new = depth + 1
        _shift_up(back[depth], step, back[new])
        back[new, step >> 6] |= np.uint64(1) << np.uint64(step & 63)
        words, bits = step >> 6, np.uint64(step & 63)
        for n in range(size):
            known[new, n] = known[depth, n] | back[new, n]
            value = np.uint64(0)
            if n + words < size:
                value = blocked[depth, n + words] >> bits
                if bits and n + words + 1 < size:
                    value |= blocked[depth, n + words + 1] << (np.uint64(64) - bits)
            blocked[new, n] = value
        if three > 0:
            for n in range(size):
                near[new, n] = 0
            _or_wide(known[new], three - 1, near[new])
            for n in range(size):
                blocked[new, n] |= near[new, n]
        if two > 0:
            _or_wide(back[new], two - 1, blocked[new])
        at[new] = at[depth] + step
        tried[new] = spacing - 1
        depth = new
    return False
