"""The course of a live voice against its guide: how late it is, moment by moment, and how surely.

Features of both are correlated over windows for every lag that is looked for; the course is the path through the
likeness that pays least for moving (Viterbi), refined between lags by a parabola. How far the likeness there stands out
from that of other lags is its confidence: nothing that is sung together with something else stands out anywhere.
design/guide_course.py prints what other windows and costs do.

Source: correlation of onset features over windows, and the path by dynamic programming, are common practice of audio
alignment; Viterbi 1967 for the path.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from rollsound.song.features import HOP_S, Features

F64 = NDArray[np.float64]

STEP_S = 0.1
WINDOW_S = 0.3
"""One sigma of the weight around a moment."""
SEARCH_S = 0.35
STIFFNESS = 0.6
"""What a change of lag by 10 ms from one moment to the next costs: a tenth of it, in likeness."""
APART_S = 0.060
CHANCE, CERTAIN = 3.0, 9.0
"""Deviations at which confidence begins and is whole: noise and other people's talk stay below 4 in 19 of 20."""
LEAST_CONFIDENCE = 0.25
LEAST_SPREAD = 0.01
LEAST_POWER = 1e-6
_CHUNK_S = 60.0


@dataclass(frozen=True)
class Course:
    """Where and how late: ``at_s`` is time of the guide; ``late_s`` positive when live comes after it; both (moments,).

    ``confidence`` from 0 to 1; where nobody sings it is 0.
    """

    at_s: F64
    late_s: F64
    confidence: F64

    @property
    def sure(self) -> NDArray[np.bool_]:
        """Where it may be believed."""
        return self.confidence >= LEAST_CONFIDENCE


def course_of(
    live: Features, guide: Features, *, search_s: float = SEARCH_S, window_s: float = WINDOW_S, around_s: float = 0.0
) -> Course:
    """Follow a live voice along its guide.

    Parameters
    ----------
    search_s
        how far early or late is looked for
    around_s
        lateness that is looked around, as of two files that do not begin together
    """
    lags = np.arange(-round(search_s / HOP_S), round(search_s / HOP_S) + 1) + round(around_s / HOP_S)
    likeness, at = _likeness(live, guide, lags, window_s)
    if not at.size:
        return Course(np.zeros(0), np.zeros(0), np.zeros(0))
    path = _path(likeness)
    late = _refined(likeness, path, lags)
    return Course(at * HOP_S, late, _confidence(likeness, path))


def _likeness(live: Features, guide: Features, lags: NDArray[np.int64], window_s: float) -> tuple[F64, F64]:
    """Normalised correlation, (moments, lags), and the guide's frame in the middle of each moment."""
    step = round(STEP_S / HOP_S)
    moments = guide.frames // step
    margin = int(4.0 * window_s / STEP_S) + 1
    length = round(_CHUNK_S / STEP_S)
    rows = []
    for first in range(0, moments, length):
        low, high = max(0, first - margin), min(moments, first + length + margin)
        part = _chunk(live, guide, lags, low * step, high * step, step, window_s / STEP_S)
        rows.append(part[first - low : min(moments, first + length) - low])
    middles: F64 = (np.arange(moments, dtype=np.float64) + 0.5) * step
    return np.concatenate(rows) if rows else np.zeros((0, lags.size)), middles


def _chunk(
    live: Features, guide: Features, lags: NDArray[np.int64], low: int, high: int, step: int, sigma: float
) -> F64:
    """The same over guide frames ``low`` to ``high``, whole moments of ``step`` frames; ``sigma`` is in moments."""
    mine = guide.changes[low:high]
    reach = int(np.abs(lags).max())
    padded = np.zeros((high - low + 2 * reach, mine.shape[1]), np.float32)
    first, last = max(0, low - reach), min(live.frames, high + reach)
    if last > first:
        padded[first - (low - reach) : last - (low - reach)] = live.changes[first:last]
    power = (padded.astype(np.float64) ** 2).sum(axis=1)
    products, powers = np.empty(((high - low) // step, lags.size)), np.empty(((high - low) // step, lags.size))
    for n, lag in enumerate(lags):
        part = slice(reach + lag, reach + lag + high - low)
        products[:, n] = np.einsum("ij,ij->i", mine, padded[part]).reshape(-1, step).sum(axis=1)
        powers[:, n] = power[part].reshape(-1, step).sum(axis=1)
    mine_power = (mine.astype(np.float64) ** 2).sum(axis=1).reshape(-1, step).sum(axis=1)
    both, theirs = (gaussian_filter1d(each, sigma, axis=0, mode="constant") for each in (products, powers))
    own = gaussian_filter1d(mine_power, sigma, mode="constant")
    likeness: F64 = both / np.sqrt(np.maximum(own[:, None] * theirs, LEAST_POWER))
    return likeness


def _path(likeness: F64) -> NDArray[np.int64]:
    """The best way through (moments, lags) where a change of lag costs by its square, cheap at first."""
    moments, lags = likeness.shape
    reach = 8
    moves = np.arange(-reach, reach + 1)
    cost = STIFFNESS * (moves * HOP_S / 0.010) ** 2 / 10.0
    best = likeness[0].copy()
    came = np.zeros((moments, lags), np.int16)
    index = np.arange(lags)
    for t in range(1, moments):
        tried = np.full((moves.size, lags), -np.inf)
        for n, move in enumerate(moves):
            source = index - move
            inside = (source >= 0) & (source < lags)
            tried[n, inside] = best[source[inside]] - cost[n]
        choice = tried.argmax(axis=0)
        came[t] = moves[choice]
        best = tried[choice, index] + likeness[t]
    path = np.empty(moments, np.int64)
    path[-1] = int(best.argmax())
    for t in range(moments - 1, 0, -1):
        path[t - 1] = path[t] - came[t, path[t]]
    return path


def _refined(likeness: F64, path: NDArray[np.int64], lags: NDArray[np.int64]) -> F64:
    """Lateness between lags, by the parabola through three of them."""
    rows = np.arange(path.size)
    inner = np.clip(path, 1, lags.size - 2)
    left, middle, right = (likeness[rows, inner + n] for n in (-1, 0, 1))
    bend = left - 2.0 * middle + right
    shift = np.where(bend < 0, 0.5 * (left - right) / np.where(bend < 0, bend, -1.0), 0.0)
    late: F64 = (lags[inner] + np.clip(shift, -0.5, 0.5)) * HOP_S
    return late


def _confidence(likeness: F64, path: NDArray[np.int64]) -> F64:
    """How many deviations the path stands above the lags that are more than 60 ms from it, from 0 to 1."""
    moments, lags = likeness.shape
    far = np.abs(np.arange(lags)[None, :] - path[:, None]) * HOP_S > APART_S
    count = np.maximum(far.sum(axis=1), 1)
    mean = np.where(far, likeness, 0.0).sum(axis=1) / count
    spread = np.sqrt(np.where(far, (likeness - mean[:, None]) ** 2, 0.0).sum(axis=1) / count)
    stands = (likeness[np.arange(moments), path] - mean) / np.maximum(spread, LEAST_SPREAD)
    confidence: F64 = np.clip((stands - CHANCE) / (CERTAIN - CHANCE), 0.0, 1.0)
    return confidence
