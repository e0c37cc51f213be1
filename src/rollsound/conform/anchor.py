"""When did a card's recording begin, by the recorder's clock? From its time stamp if that holds, else from its sound.

Any lively track will do, also a boom or another person's mic: all that is wanted is tens of milliseconds.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from rollsound.conform.chunks import liveliest
from rollsound.conform.coarse import CONFIDENT, STAMP_RATIOS, search, warped
from rollsound.conform.envelope import Envelope

EXCERPT_SECONDS = 60.0
NEAR_SECONDS = 20.0
_LONGEST_SEARCHES = 12


@dataclass(frozen=True, eq=False)
class Excerpt:
    """The liveliest minute of a track: ``at_seconds`` on the recorder's clock (NaN without time code)."""

    take: str
    track: int
    at_seconds: float
    part: Envelope
    liveliness: float


@dataclass(frozen=True)
class Base:
    """``start_seconds``: recorder time of the recording's sample 0. ``found`` false: only its time stamp says so."""

    start_seconds: float
    stamp: Fraction
    found: bool
    confidence: float


@dataclass(frozen=True, eq=False)
class AnchorJob:
    """A recording's features, its stamped start (None without), and excerpts in the order they are worth trying."""

    envelope: Envelope
    stamped_seconds: float | None
    excerpts: tuple[Excerpt, ...]


def excerpt_of(take: str, track: int, start_seconds: float, envelope: Envelope) -> Excerpt:
    """Cut the liveliest minute out of a track's features."""
    part = liveliest(envelope, int(EXCERPT_SECONDS / envelope.hop_seconds))
    at = start_seconds + part.start / envelope.sample_rate_hz
    changes = abs(part.changes[0].astype(int))
    return Excerpt(take, track, at, part, float(changes.sum()))


def find_base(job: AnchorJob) -> Base | None:
    """Look near where the time stamp says, then everywhere, then at the speeds of the known mis-stamps."""
    if job.stamped_seconds is not None:
        for excerpt in job.excerpts:
            if (base := _near(job, excerpt, job.stamped_seconds)) is not None:
                return base
    for stamp in STAMP_RATIOS:
        for excerpt in job.excerpts[:_LONGEST_SEARCHES]:
            found = search(job.envelope, warped(excerpt.part, _stretch(job, excerpt, stamp)))
            if found.confidence >= CONFIDENT:
                return _base(job, excerpt, found.hops, stamp, found.confidence)
    if job.stamped_seconds is None:
        return None
    return Base(job.stamped_seconds, Fraction(1), False, 0.0)


def _near(job: AnchorJob, excerpt: Excerpt, stamped: float) -> Base | None:
    margin = int(NEAR_SECONDS / job.envelope.hop_seconds)
    low = int((excerpt.at_seconds - stamped) / job.envelope.hop_seconds) - margin
    part = job.envelope.part(low, low + excerpt.part.hops + 2 * margin)
    if part.hops < 200:
        return None
    found = search(part, warped(excerpt.part, _stretch(job, excerpt, Fraction(1))))
    if found.confidence < CONFIDENT:
        return None
    return _base(job, excerpt, max(low, 0) + found.hops, Fraction(1), found.confidence)


def _stretch(job: AnchorJob, excerpt: Excerpt, stamp: Fraction) -> float:
    return excerpt.part.hop_seconds / job.envelope.hop_seconds * float(stamp)


def _base(job: AnchorJob, excerpt: Excerpt, hops: float, stamp: Fraction, confidence: float) -> Base:
    position = hops * job.envelope.hop_seconds / float(stamp)
    return Base(excerpt.at_seconds - position, stamp, True, confidence)


def worth_trying(
    excerpts: Sequence[Excerpt], hinted: frozenset[int], span: tuple[float, float] | None
) -> list[Excerpt]:
    """Excerpts in the order to try them: inside the stamped span, hinted tracks first, lively ones first."""
    inside = [e for e in excerpts if span is None or span[0] - NEAR_SECONDS < e.at_seconds < span[1] + NEAR_SECONDS]
    chosen = inside or list(excerpts)
    return sorted(chosen, key=lambda e: (e.track not in hinted, -e.liveliness))
