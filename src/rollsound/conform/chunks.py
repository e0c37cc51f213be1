"""Following a take along the card in chunks of half a minute, so that drift, steps and long takes lose nobody."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rollsound.conform.coarse import CONFIDENT, search, warped
from rollsound.conform.envelope import Envelope

_CHUNK_SECONDS = 30.0
_PRIMARY_SECONDS = 600.0
_REACH_SECONDS = 4.0
_LEAST_CHUNK_CONFIDENCE = 1.3
_LEAST_CONFIDENCE = 1.15
_MOST_BEND = 2e-3


@dataclass(frozen=True, eq=False)
class Guess:
    """Rough drift in samples at the take's rate, known at take positions ``n``; straight between, level beyond.

    Where neighbours differ by more than a clock could, the nearer one holds."""

    n: NDArray[np.float64]
    values: NDArray[np.float64]
    confidence: float

    def drift(self, n: float) -> float:
        """Drift (card position at the take's rate, minus take position)."""
        i = int(np.searchsorted(self.n, n))
        if 0 < i < self.n.size and abs(self.values[i] - self.values[i - 1]) > _MOST_BEND * (self.n[i] - self.n[i - 1]):
            i -= int(n - self.n[i - 1] < self.n[i] - n)
            return float(self.values[i])
        return float(np.interp(n, self.n, self.values))


def guess_along(card: Envelope, take: Envelope, ratio: float, sample_rate_hz: int) -> Guess | None:
    """Find the take as a whole (its liveliest ten minutes), then each half minute near where it should be.

    ``ratio`` is card samples per take sample. A chunk that is not where it should be is sought on the whole card, so a
    jump of any size is followed. None when nothing on the card stands out.
    """
    stretch = ratio * take.hop / card.hop
    whole = liveliest(take, int(_PRIMARY_SECONDS / take.hop_seconds))
    found = search(card, warped(whole, stretch))
    if found.confidence < _LEAST_CONFIDENCE and found.peak <= 0:
        return None
    begin = (whole.start - take.start) / take.hop
    offset = found.hops - begin * stretch
    points = _chunks(card, take, stretch, offset)
    if not points:
        if found.confidence < _LEAST_CONFIDENCE:
            return None
        points = [(begin + whole.hops / 2, found.hops + whole.hops / 2 * stretch)]
    hops, places = np.array(points, np.float64).T
    n = take.start + hops * take.hop
    values = (card.start + places * card.hop) / ratio - n
    return Guess(n, values, found.confidence)


def liveliest(take: Envelope, most: int) -> Envelope:
    """The stretch of at most ``most`` hops in which most happens."""
    if take.hops <= most:
        return take
    activity = np.abs(take.changes.astype(np.int32)).sum(axis=0).astype(np.float64)
    total = np.concatenate([[0.0], np.cumsum(activity)])
    first = int(np.argmax(total[most:] - total[:-most]))
    return take.part(first, first + most)


def _chunks(card: Envelope, take: Envelope, stretch: float, offset: float) -> list[tuple[float, float]]:
    length = max(min(int(_CHUNK_SECONDS / take.hop_seconds), take.hops // 2), min(take.hops, 200))
    reach = int(_REACH_SECONDS / card.hop_seconds)
    points = []
    expected = offset
    misses = 0
    for first in range(0, max(take.hops - length, 0) + 1, length):
        rows = warped(take.part(first, first + length), stretch)
        low = int(first * stretch + expected) - reach
        near = card.part(low, low + int(length * stretch) + 2 * reach)
        found = search(near, rows)
        place = max(low, 0) + found.hops
        if found.confidence < _LEAST_CHUNK_CONFIDENCE:
            misses += 1
            if misses < 2:
                continue
            found = search(card, rows)
            place = found.hops
            if found.confidence < CONFIDENT:
                continue
        misses = 0
        expected = place - first * stretch
        points.append((first + length / 2, place + length / 2 * stretch))
    return points
