"""Live against guide: phrases early or late, the drift over the take, and how surely each is known."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import uniform_filter1d

from rollsound.song.course import LEAST_CONFIDENCE, SEARCH_S, STEP_S, WINDOW_S, Course, course_of
from rollsound.song.features import HOP_S, Features

F64 = NDArray[np.float64]
Verdict = Literal["in time", "early", "late", "unsure"]

LIMIT_S = 0.040
"""Phrases further off than this are told. Source: common practice, no source; lip sync is seen from about here on."""
CLICK_SEARCH_S, CLICK_WINDOW_S = 0.25, 0.8
"""A click has no words to tell one beat from the next, so less is searched and more is heard before it is believed."""
CLICK_DOUBT_S = 0.070
"""How far off a phrase may seem against a click for its words alone: a beat may fall on a consonant or on its vowel.

design/guide_course.py measures it; a phrase is early or late against a click only beyond this and the limit."""
REST_S, SHORTEST_S, LONGEST_S = 0.22, 0.40, 9.0
"""A rest that parts phrases; what is too short to be one; what is parted where it is softest."""
LEAST_KNOWN = 0.3
"""Share of a phrase in which its course must be sure."""
_UNDER_LOUD_DB, _OVER_NOISE_DB = 26.0, 8.0
_FACE_VALUE = 2.5
"""Windows' sigmas that two moments must lie apart to be two measurements."""


@dataclass(frozen=True)
class Phrase:
    """A sung phrase, in seconds of the live sound. ``sigma_s`` is of ``late_s``, which is positive after the guide."""

    start_s: float
    end_s: float
    late_s: float
    sigma_s: float
    confidence: float
    verdict: Verdict


@dataclass(frozen=True)
class Against:
    """A live voice against its guide over a whole take.

    ``late_s`` is the middle of all moments that are sure, with its sigma; ``drift`` is the slope of a line through
    them, seconds a second. Both are nan when nothing is sure.
    """

    course: Course
    phrases: tuple[Phrase, ...]
    late_s: float
    sigma_s: float
    drift: float
    drift_sigma: float
    scatter_s: float
    """Root mean square of the moments about that line: of a steady drift small beside what it amounts to."""
    sure_share: float
    """Share of the sung time in which the course may be believed."""

    @property
    def found(self) -> bool:
        """Whether the voice follows the guide at all."""
        return bool(np.isfinite(self.late_s))


def against(
    live: Features, guide: Features, *, limit_s: float = LIMIT_S, click: bool = False, around_s: float = 0.0
) -> Against:
    """Hold a live voice against guide, playback or click.

    Parameters
    ----------
    limit_s
        phrases further early or late than this are told as such
    click
        the guide is a click: told by its beats alone
    around_s
        how much later than the guide's beginning the live sound begins its own count, as ``beginning`` finds
    """
    search, window = (CLICK_SEARCH_S, CLICK_WINDOW_S) if click else (SEARCH_S, WINDOW_S)
    live_changes = _as_click(live) if click else live
    course = course_of(
        live_changes, _as_click(guide) if click else guide, search_s=search, window_s=window, around_s=around_s
    )
    course = _moved(course, around_s)
    # the course counts in the guide's time; phrases are heard in the live one
    heard = course.at_s + around_s
    spans = phrases_of(live.level_db)
    sung = np.zeros(heard.size, bool)
    for start, end in spans:
        sung |= (heard >= start) & (heard <= end)
    sure = sung & course.sure
    doubt = CLICK_DOUBT_S if click else 0.0
    phrases = tuple(_phrase(course, heard, sure, span, (limit_s, doubt), window) for span in spans)
    late, sigma, drift, drift_sigma, scatter = _line(heard[sure], course.late_s[sure], course.confidence[sure], window)
    share = float(sure.sum() / max(int(sung.sum()), 1))
    return Against(course, phrases, late, sigma, drift, drift_sigma, scatter, share)


def _moved(course: Course, around_s: float) -> Course:
    """Lateness beyond the two beginnings' distance."""
    return Course(course.at_s, course.late_s - around_s, course.confidence)


def _as_click(features: Features) -> Features:
    """One row of rises for all bands together: a tick and a voice share no band, only the moment."""
    rises = np.maximum(features.changes, 0.0).sum(axis=1, keepdims=True)
    return Features((rises - rises.mean()).astype(np.float32), features.level_db)


def beginning(live: Features, guide: Features) -> tuple[float, float]:
    """How much later than the guide's file the same music begins in the live file, and how surely (1 is chance).

    For two files that were not recorded together; the sureness is the best likeness over the best one elsewhere.
    """
    if min(live.frames, guide.frames) < 2:
        return 0.0, 0.0
    size = 1 << int(live.frames + guide.frames - 1).bit_length()
    total = np.zeros(size)
    for band in range(live.changes.shape[1]):
        one, two = np.fft.rfft(live.changes[:, band], size), np.fft.rfft(guide.changes[:, band], size)
        total += np.fft.irfft(one * np.conj(two), size)
    best = int(total.argmax())
    lag = best if best < live.frames else best - size
    apart = round(2.0 * SEARCH_S / HOP_S)
    rest = total.copy()
    rest[np.arange(best - apart, best + apart + 1) % size] = -np.inf
    other = float(rest.max())
    return lag * HOP_S, float(total[best]) / other if other > 0 else 0.0


def phrases_of(level_db: NDArray[np.float32]) -> list[tuple[float, float]]:
    """Start and end in seconds of what is sung between rests, by level."""
    if level_db.size < 3:
        return []
    power = uniform_filter1d(10.0 ** (level_db.astype(np.float64) / 10.0), 9)
    smooth = 10.0 * np.log10(np.maximum(power, 1e-14))
    loud, soft = np.quantile(smooth, 0.95), np.quantile(smooth, 0.05)
    limit = max(loud - _UNDER_LOUD_DB, min(soft + _OVER_NOISE_DB, loud - 6.0))
    if loud < -110.0:
        return []
    on = np.flatnonzero(np.diff(np.concatenate([[False], smooth > limit, [False]]).astype(np.int8)))
    spans: list[tuple[int, int]] = []
    for start, end in on.reshape(-1, 2).tolist():
        if spans and start - spans[-1][1] < REST_S / HOP_S:
            spans[-1] = (spans[-1][0], end)
        else:
            spans.append((start, end))
    parted = [part for span in spans for part in _parted(smooth, *span)]
    return [(start * HOP_S, end * HOP_S) for start, end in parted if end - start >= SHORTEST_S / HOP_S]


def _parted(level: F64, start: int, end: int) -> list[tuple[int, int]]:
    """A stretch that nobody breathes in, parted where it is softest until no part is too long."""
    if end - start <= LONGEST_S / HOP_S:
        return [(start, end)]
    edge = round(0.25 * (end - start))
    at = start + edge + int(level[start + edge : end - edge].argmin())
    return [*_parted(level, start, at), *_parted(level, at, end)]


def _phrase(
    course: Course,
    heard: F64,
    sure: NDArray[np.bool_],
    span: tuple[float, float],
    limits: tuple[float, float],
    window_s: float,
) -> Phrase:
    (start, end), (limit_s, doubt_s) = span, limits
    inside = (heard >= start - STEP_S / 2) & (heard <= end + STEP_S / 2)
    confidence = float(np.median(course.confidence[inside])) if inside.any() else 0.0
    known = inside & sure
    if not known.any() or known.sum() < LEAST_KNOWN * inside.sum():
        return Phrase(start, end, float("nan"), float("nan"), min(confidence, LEAST_CONFIDENCE), "unsure")
    late, sigma = _middle(course.late_s[known], course.confidence[known], window_s)
    verdict: Verdict = "late" if late > 0 else "early"
    if abs(late) <= limit_s:
        verdict = "in time"
    elif abs(late) <= limit_s + doubt_s:
        verdict = "unsure"
    return Phrase(start, end, late, float(np.hypot(sigma, doubt_s / 2.0)), confidence, verdict)


def _middle(late: F64, weight: F64, window_s: float) -> tuple[float, float]:
    """Weighted median, and one sigma of it: the scatter over the root of how many measurements there are."""
    order = np.argsort(late)
    share = np.cumsum(weight[order]) - 0.5 * weight[order]
    middle = float(np.interp(0.5 * weight.sum(), share, late[order]))
    scatter = 1.4826 * float(np.median(np.abs(late - middle)))
    independent = max(1.0, late.size * STEP_S / (_FACE_VALUE * window_s))
    return middle, max(1.25 * scatter / independent**0.5, 0.0005)


def _line(at: F64, late: F64, weight: F64, window_s: float) -> tuple[float, float, float, float, float]:
    """Middle and slope of all sure moments, each with its sigma, and their rms about the line.

    The slope is by least squares; outliers are dropped twice for it, not for the rms.
    """
    if at.size < 2:
        return (float("nan"),) * 5
    middle, sigma = _middle(late, weight, window_s)
    used = np.ones(at.size, bool)
    slope, slope_sigma, scatter = 0.0, float("inf"), 0.0
    for _ in range(3):
        x, y, w = at[used], late[used], weight[used]
        x_middle, y_middle = float(np.average(x, weights=w)), float(np.average(y, weights=w))
        spread = float(np.sum(w * (x - x_middle) ** 2))
        if spread <= 0.0:
            break
        slope = float(np.sum(w * (x - x_middle) * (y - y_middle))) / spread
        rest = late - y_middle - slope * (at - x_middle)
        rms = float(np.sqrt(np.average(rest[used] ** 2, weights=w)))
        independent = max(1.0, x.size * STEP_S / (_FACE_VALUE * window_s))
        slope_sigma = rms / (spread / w.sum()) ** 0.5 / max(independent - 2.0, 1.0) ** 0.5
        used = np.abs(rest) <= max(3.0 * rms, 0.002)
        scatter = float(np.sqrt(np.average(rest**2, weights=weight)))
    return middle, sigma, slope, slope_sigma, scatter
