"""Where in a long recording a take lies, to a few milliseconds, without knowing anything."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from rollsound.conform.envelope import Envelope

CONFIDENT = 2.0
"""Peak over the best peak elsewhere: the same sound gives 6 to 45, unrelated sound 1.02 to 1.11 (measured)."""

STAMP_RATIOS = (Fraction(1), Fraction(1001, 1000), Fraction(1000, 1001), Fraction(25, 24), Fraction(24, 25))
"""Nominal speeds worth trying: a file as stamped, and the mis-stamped ones of the trade."""

_TRIANGLE = np.array([1, 2, 3, 4, 5, 4, 3, 2, 1], np.float32) / 25.0
_APART_HOPS = 40
_LONGEST_BLOCK = 1 << 18


@dataclass(frozen=True)
class Coarse:
    """``hops``: card hop (fractional) at which the take's first hop lies; ``confidence``: peak over best elsewhere."""

    hops: float
    confidence: float
    peak: float


def warped(take: Envelope, stretch: float) -> NDArray[np.float32]:
    """The take's changes (2, n) with ``stretch`` card hops per take hop."""
    rows = take.changes.astype(np.float32)
    if abs(stretch - 1.0) < 1e-9 or take.hops < 2:
        return rows
    at = np.arange(int(take.hops * stretch)) / stretch
    whole = np.arange(take.hops)
    return np.stack([np.interp(at, whole, row) for row in rows]).astype(np.float32)


def search(card: Envelope, rows: NDArray[np.float32]) -> Coarse:
    """Correlate take rows (2, m) with a card's changes at every place, also half off its ends.

    Overlap-save, so memory beyond the result (4 bytes a card hop) does not grow with the card.
    """
    m, n = rows.shape[1], card.hops
    if m < 4 or n < 4:
        return Coarse(0.0, 0.0, 0.0)
    score = np.convolve(_correlate(card.changes, rows), _TRIANGLE, "same")
    best = int(np.argmax(score))
    peak = float(score[best])
    apart = min(_APART_HOPS, max(m // 4, 2))
    rest = np.concatenate([score[: max(best - apart, 0)], score[best + apart :]])
    elsewhere = float(rest.max()) if rest.size else 0.0
    confidence = peak / elsewhere if elsewhere > 0 else (99.0 if peak > 0 else 0.0)
    return Coarse(best + _vertex(score, best) - (m - 1), min(confidence, 99.0), peak)


def _correlate(changes: NDArray[np.int8], rows: NDArray[np.float32]) -> NDArray[np.float32]:
    m, n = rows.shape[1], changes.shape[1]
    size = fft.next_fast_len(min(n + m - 1, max(_LONGEST_BLOCK, 4 * m)), real=True)
    gain = size - m + 1
    other = np.conj(fft.rfft(rows, size, axis=1))
    out = np.empty(n + m - 1, np.float32)
    # out[k] is the match with the take starting at card hop k - (m - 1).
    for first in range(0, out.size, gain):
        low = first - (m - 1)
        span = np.zeros((2, size), np.float32)
        a, b = max(low, 0), min(low + size, n)
        if b > a:
            span[:, a - low : b - low] = changes[:, a:b]
        product = fft.rfft(span, axis=1) * other
        block = fft.irfft(product.sum(axis=0), size)[:gain]
        take = min(gain, out.size - first)
        out[first : first + take] = block[:take]
    return out


def _vertex(y: NDArray[np.float32], i: int) -> float:
    """Where the parabola through three neighbours peaks, from ``i``; 0 at the ends."""
    if not 0 < i < y.size - 1:
        return 0.0
    a, b, c = float(y[i - 1]), float(y[i]), float(y[i + 1])
    bend = a - 2 * b + c
    return 0.0 if bend >= 0 else float(np.clip(0.5 * (a - c) / bend, -0.5, 0.5))
