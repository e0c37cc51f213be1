"""The jobs of a day: features of a source, likeness of two, one take's track against one recording. All picklable."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from rollsound.conform.align import Alignment, Near, align_readers
from rollsound.conform.anchor import Excerpt
from rollsound.conform.coarse import STAMP_RATIOS, search, warped
from rollsound.conform.envelope import Envelope, envelope_of
from rollsound.conform.readers import ArrayReader, Mono, Reader
from rollsound.conform.sources import Recording, TakeSource

NEAR_SECONDS = 2.0
_HELD_FRAMES = 1 << 24
"""A track this long (5.8 minutes at 48 k) is read once as a whole: windows out of a wide file read all its tracks."""


@dataclass(frozen=True, eq=False)
class FeatureJob:
    """Features of some channels of a take or a recording."""

    source: TakeSource | Recording
    channels: tuple[int, ...]


def make_features(job: FeatureJob) -> tuple[Envelope, ...]:
    """Stream through the source once a channel."""
    with job.source.open() as reader:
        return tuple(envelope_of(reader, channel) for channel in job.channels)


@dataclass(frozen=True, eq=False)
class PairJob:
    """One track of a take against one recording: ``part`` holds the recording's features around the take."""

    take: TakeSource
    track: int
    recording: Recording
    part: Envelope
    envelope: Envelope
    position: float
    stamp: Fraction


def align_pair(job: PairJob) -> Alignment:
    """Align; the nominal speed found for the recording is tried first."""
    stamps = (job.stamp, *(s for s in STAMP_RATIOS if s != job.stamp))
    with job.take.open() as take, job.recording.open() as card:
        radio: Reader = take
        channel = job.track
        if take.frames <= _HELD_FRAMES:
            held: Mono = take.read_channel(job.track, 0, take.frames)
            radio, channel = ArrayReader(np.ascontiguousarray(held), take.sample_rate_hz), 0
        return align_readers(
            card,
            radio,
            card_channel=job.recording.channel,
            radio_channel=channel,
            card_envelope=job.part,
            radio_envelope=job.envelope,
            near=Near(job.position, NEAR_SECONDS),
            stamps=stamps,
        )


def likeness(card: Envelope, excerpt: Excerpt, low: int, high: int, stretch: float) -> tuple[float, float, float]:
    """Correlation coefficient of an excerpt with hops ``low`` to ``high`` of a card, its confidence, and the hop."""
    part = card.part(low, high)
    rows = warped(excerpt.part, stretch)
    found = search(part, rows)
    if found.peak <= 0.0:
        return 0.0, 0.0, 0.0
    first = max(round(found.hops), 0)
    own = part.changes[:, first : first + rows.shape[1]].astype(np.float32)
    energy = float(np.sqrt(np.sum(own**2) * np.sum(rows**2)))
    return found.peak / max(energy, 1.0), found.confidence, max(low, 0) + found.hops
