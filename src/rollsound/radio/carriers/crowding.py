"""How many carriers of one zone the free spectrum can hold at most, proved by sliding a window.

Slide a window of ``u`` cells over the spectrum, one cell at a time. Each carrier is inside ``u`` times, and two of them
``d`` cells apart are inside together ``u - d`` times. As all differences lie some way apart, few are small, so that the
carriers cannot be together often; but so many carriers in so few windows must be. That is the bound of Erdős and Turán
for Sidon sets (1941), with guards, with holes in the spectrum, and with what a piece of it holds by itself.

Source: P. Erdős and P. Turán, J. London Math. Soc. 16 (1941) 212-215, for the method; the forms here are derived below.
"""

from __future__ import annotations

import functools
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
import numpy.typing as npt

Cells: TypeAlias = npt.NDArray[np.int64]
Figures: TypeAlias = npt.NDArray[np.float64]

ROUGH_PLACES, FINE_PLACES = 1_000, 8_000
"""How many places of a window are told apart, while the best width is looked for and then."""
WIDTHS, NEAR = 24, 5
"""How many widths of the window are tried, over all and then on either side of the best."""
MIXED = 3
"""How many of these windows serve for limits on two kinds."""
MOST_STRETCHES = 100
"""Of more than that, any difference between the first and the last is taken to be possible."""
SLACK = 1e-6
"""Above what is computed, so that rounding never makes a proof of something untrue."""


@dataclass(frozen=True)
class Asked:
    """What all carriers of some kinds ask for at least, in cells of the raster."""

    spacing: int
    apart: int
    """How far their difference with any carrier lies from all others; 0 where products do not count."""


@dataclass(frozen=True)
class Room:
    """Free spectrum of a zone: the first and last cells of its stretches, and what a stretch by itself can hold.

    ``spans[n]``: in fewer cells than this, ``n`` carriers cannot lie.
    """

    low: Cells
    high: Cells
    spans: Cells

    def holds(self, cells: Cells) -> Cells:
        """How many carriers a stretch of so many cells (from first to last) can hold; none below 0."""
        found: Cells = np.searchsorted(self.spans[1:], cells, side="right").astype(np.int64)
        return found

    @property
    def extent(self) -> int:
        """Cells from the first to the last."""
        return int(self.high[-1] - self.low[0])

    def most_by_stretch(self) -> int:
        """What all stretches hold, each by itself."""
        return int(self.holds(self.high - self.low).sum())


@dataclass(frozen=True)
class Line:
    """``weak * (carriers of the weaker kind) + strong * (of the stronger) <= most``, proved."""

    weak: float
    strong: float
    most: float


@dataclass(frozen=True)
class _Window:
    """One width of the window: in how many of its places there may be 0, 1, 2 … carriers or more."""

    width: int
    places: Figures


class Crowd:
    """The windows over one room. All carriers in it ask for what ``weak`` asks or more."""

    def __init__(self, room: Room, weak: Asked) -> None:
        self.room, self.weak = room, weak
        self._differences = _differences(room)

    def roughly(self) -> float:
        """At most so many carriers, by a quick look."""
        look = self._look(self.weak)
        return min([float(self.room.most_by_stretch()), *look.values()]) + SLACK

    def lines(self) -> list[Line]:
        """What is proved of all carriers together, by a close look."""
        found = [Line(1.0, 1.0, float(self.room.most_by_stretch()))]
        if self.weak.apart and self.room.extent > 1:
            found.append(Line(1.0, 1.0, min(most for most, _ in self._near(self.weak)) + SLACK))
        return found

    def lines_with(self, strong: Asked) -> list[Line]:
        """What is proved besides, where some carriers ask for what ``strong`` asks or more."""
        if strong.apart <= self.weak.apart or self.room.extent < 2:
            return []
        near = self._near(self.weak if self.weak.apart else strong)
        alone = min(_most(window, self._differences, strong) for _, window in near)
        found = [Line(0.0, 1.0, alone + SLACK)]
        for _, window in sorted(near, key=lambda each: each[0])[:MIXED]:
            found += _mixed(window, self._differences, self.weak, strong)
        return found

    def _look(self, asked: Asked) -> dict[int, float]:
        """By the width of the window: at most so many."""
        if not asked.apart or self.room.extent < 2:
            return {}
        return {
            width: _most(_window(self.room, width, ROUGH_PLACES), self._differences, asked)
            for width in _widths(max(asked.spacing, 2), self.room.extent + 1, WIDTHS)
        }

    @functools.cache  # noqa: B019 - a crowd lives as long as one question
    def _near(self, asked: Asked) -> list[tuple[float, _Window]]:
        """Windows of the best width and near it, closely looked at, and at most how many."""
        rough = self._look(asked)
        best = min(rough, key=lambda width: rough[width])
        ratio = max((self.room.extent + 1) / max(asked.spacing, 2), 1.0) ** (1 / WIDTHS)
        widths = {best, *_widths(max(int(best / ratio), 2), int(best * ratio) + 1, 2 * NEAR + 1)}
        windows = [_window(self.room, width, FINE_PLACES) for width in sorted(widths)]
        return [(_most(window, self._differences, asked), window) for window in windows]


def most_together(found: list[Line], weak: int, strong: int, least_strong: int = 0) -> int:
    """The most carriers of both kinds together, with no more of each than are wanted, that no line forbids."""
    some = np.arange(min(least_strong, strong), strong + 1, dtype=np.float64)
    others = np.full(some.size, float(weak))
    for line in found:
        left = line.most + SLACK - line.strong * some
        others[left < 0] = -1.0
        if line.weak > 0:
            others = np.minimum(others, np.maximum(left, -line.weak) / line.weak)
    both = some + np.floor(others + SLACK)
    return int(both[others >= 0].max(initial=0.0))


def _widths(low: int, high: int, count: int) -> list[int]:
    return sorted({int(width) for width in np.geomspace(low, max(high, low), count)})


def _differences(room: Room) -> list[tuple[int, int]]:
    """Which differences two carriers of this spectrum may have, first and last, from small to large."""
    if room.low.size > MOST_STRETCHES:
        return [(0, room.extent)]
    low = np.maximum(room.low[None, :] - room.high[:, None], 0).ravel()
    high = (room.high[None, :] - room.low[:, None]).ravel()
    order = np.argsort(low[high >= 0], kind="stable")
    low, high = low[high >= 0][order], np.maximum.accumulate(high[high >= 0][order])
    begins = np.concatenate([[True], low[1:] > high[:-1] + 1])
    ends = np.concatenate([begins[1:], [True]])
    return list(zip(low[begins].tolist(), high[ends].tolist(), strict=True))


def _together(differences: list[tuple[int, int]], asked: Asked, width: int) -> int:
    """At most how often two carriers can be in the window together: the smallest differences that may be, all used."""
    total, at = 0, max(asked.spacing, 1)
    for begin, end in differences:
        at = max(at, begin)
        last = min(end, width - 1)
        if at > last:
            continue
        count = (last - at) // asked.apart + 1
        total += count * (width - at) - asked.apart * (count * (count - 1) // 2)
        at += count * asked.apart
    return total


def _window(room: Room, width: int, places: int) -> _Window:
    """Where the window may stand. Several places beside each other go by what all of them together may see."""
    step = max(1, -(-(room.extent + width) // places))
    begin = np.arange(room.low[0] - width + 1, room.high[-1] + 1, step, dtype=np.int64)
    end = begin + width + step - 2
    first = np.searchsorted(room.high, begin, side="left")
    last = np.searchsorted(room.low, end, side="right") - 1
    full = np.concatenate([[0], np.cumsum(room.holds(room.high - room.low))])
    seen = first <= last
    a, b = np.where(seen, first, 0), np.where(seen, last, 0)
    left, right = np.maximum(room.low[a], begin), np.minimum(room.high[b], end)
    one = room.holds(right - left)
    parts = room.holds(room.high[a] - left) + room.holds(right - room.low[b]) + full[b] - full[np.minimum(a + 1, b)]
    most = np.where(seen, np.where(a == b, one, np.minimum(parts, one)), 0)
    counts = np.bincount(most)
    return _Window(width, step * counts[::-1].cumsum()[::-1].astype(np.float64))


def _most(window: _Window, differences: list[tuple[int, int]], asked: Asked) -> float:
    """The most carriers of one kind: fill all places evenly, as that makes the fewest pairs, until the pairs run out.

    The (j+1)th carrier in a place makes j pairs there.
    """
    left = float(_together(differences, asked, window.width))
    total = 0.0
    for level in range(1, window.places.size):
        pairs = (level - 1) * window.places[level]
        if pairs > left:
            return (total + left / (level - 1)) / window.width
        left -= pairs
        total += window.places[level]
    return total / window.width


def _mixed(window: _Window, differences: list[tuple[int, int]], weak: Asked, strong: Asked) -> list[Line]:
    """Limits on both kinds at once.

    A difference d in which a stronger carrier takes part keeps ``r = strong.apart`` to the next, others ``weak.apart``:
    the intervals [d, d + r) are disjoint. Over one of them, u - t adds up to r (u - d) - r² / 2 or more (in what lies
    below u), so the sum of r (u - d) over all pairs is at most the integral of u - t over all differences that may be,
    and half of the sum of r². The left side is what the windows hold: r for each pair in each place. For any prices of
    a carrier of either kind, a place pays at most ``worth`` over the pairs it makes; that gives a line.
    """
    u, r1, r2 = float(window.width), float(weak.apart), float(strong.apart)
    area = length = 0.0
    at = float(weak.spacing)
    for begin, end in differences:
        low, high = max(at, float(begin)), min(end + r2, u)
        if high > low:
            area += ((u - low) ** 2 - (u - high) ** 2) / 2
            length += high - low
            at = high
    budget = area + r2 / 2 * (length + r2)
    size = window.places.size
    # how far the places fill up evenly: prices near that level say most
    level = 1
    spent = 0.0
    while level + 1 < size and spent <= budget / max(r1, r2 / 2):
        spent += level * window.places[level + 1]
        level += 1
    some, others = np.arange(size)[:, None], np.arange(size)[None, :]
    pairs = r1 * others * (others - 1) / 2 + r2 * (some * (some - 1) / 2 + some * others)
    exact = window.places - np.append(window.places[1:], 0.0)
    ratios = [min(ratio, r2 / r1) for ratio in (1.0, 1.2, 1.4, 1.6, 2.0)] if r1 else [1.0]
    prices = max(r1, r2 / 2) * np.array(
        [max(level + step, 1) for step in (-2, -1, 0, 1) for _ in ratios], dtype=np.float64
    )
    dear = prices * np.array(ratios * 4)
    cheap = prices if r1 else np.zeros_like(prices)
    worth = cheap[:, None, None] * others + dear[:, None, None] * some - pairs
    best = np.zeros((prices.size, size))
    for strong_ones in range(size):
        np.maximum(best[:, strong_ones:], worth[:, strong_ones, : size - strong_ones], out=best[:, strong_ones:])
    best = np.maximum.accumulate(best, axis=1)
    most = (budget + best @ exact) / u * (1 + 1e-9) + SLACK
    return [Line(*row) for row in zip(cheap.tolist(), dear.tolist(), most.tolist(), strict=True)]
