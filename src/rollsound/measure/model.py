"""The answers of the measuring pass: per track, per pair of tracks, and for the whole file.

Levels that have no value (silence, too short a track) are ``-inf``; figures that do not exist are ``nan``.
Positions and lengths are samples from the start of what was fed. Track indices count from 0.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

RADIO_FAULTS = frozenset({"mute", "dropout", "radio-hit", "click", "repeat", "dead"})
"""Kinds of fault that a radio link makes, and that the transmitter's own recording does not have."""


@dataclass(frozen=True)
class Fault:
    """One thing wrong with one track, and where.

    ``kind`` is one of: clip, flat-top, mute, dropout, radio-hit, click, hum, silent, dead, dc, rumble,
    over-full-scale, repeat, not-a-number. ``confidence`` runs from 0 to 1. ``numbers`` carry their unit in the key.
    """

    kind: str
    start_sample: int
    length_samples: int
    level_dbfs: float
    confidence: float = 1.0
    numbers: dict[str, float] = field(default_factory=dict)


@dataclass(frozen=True)
class TrackPair:
    """Two tracks of one file that are suspiciously alike.

    ``kind`` is "duplicate" (same samples, perhaps at another gain), "inverted" (same signal, opposite polarity) or
    "correlated". ``correlation`` runs from -1 to 1 at ``lag_samples`` (second behind first).
    """

    first: int
    second: int
    kind: str
    correlation: float
    lag_samples: float = 0.0
    numbers: dict[str, float] = field(default_factory=dict)


@dataclass(frozen=True)
class TrackFaults:
    """What the fault scan says of one track."""

    faults: tuple[Fault, ...] = ()
    noise_floor_dbfs: float = float("nan")
    bandwidth_hz: float = float("nan")
    kind_guess: str = "unknown"


@dataclass(frozen=True)
class FaultScanResult:
    """What the fault scan says of a file: one entry per track, and the pairs that look alike."""

    tracks: tuple[TrackFaults, ...]
    pairs: tuple[TrackPair, ...] = ()


@dataclass(frozen=True)
class Overview:
    """A waveform at several zooms.

    Level k holds, per bin of ``frames_per_bin[k]`` frames, the lowest and highest sample and the rms,
    each of shape (bins, channels), float32. The finest level comes first; the last bin may be short.
    """

    sample_rate_hz: int
    frames: int
    frames_per_bin: tuple[int, ...]
    lowest: tuple[NDArray[np.float32], ...]
    highest: tuple[NDArray[np.float32], ...]
    rms: tuple[NDArray[np.float32], ...]


@dataclass(frozen=True)
class LevelMeasures:
    """Plain sample statistics of one track.

    ``rms_by_time_dbfs`` has one value per second (the last may be shorter). A full-scale sine has an rms of
    -3.01 dBFS here. ``over_full_scale`` counts samples whose magnitude is above 1.0 (only float files can hold them).
    """

    sample_peak_dbfs: float
    sample_peak_at: int
    rms_dbfs: float
    rms_by_time_dbfs: NDArray[np.float32]
    dc: float
    over_full_scale: int


@dataclass(frozen=True)
class Loudness:
    """Loudness of one track, or of a programme of several channels.

    A single track is weighed as one channel with weight 1, so it reads 3.01 LU below the same signal on left and
    right together. ``nan`` never appears: too short or too quiet is ``-inf``, a range without material is 0.
    """

    integrated_lufs: float
    loudness_range_lu: float
    max_momentary_lufs: float
    max_short_term_lufs: float


@dataclass(frozen=True)
class TrackMeasures:
    """Everything measured on one track in one pass.

    ``not_numbers`` counts samples that are NaN, infinite or above +240 dBFS; they are taken as zero everywhere else.
    ``true_peak_at`` is the sample the true peak lies at or just after.
    """

    sample_peak_dbfs: float
    sample_peak_at: int
    true_peak_dbtp: float
    true_peak_at: int
    integrated_lufs: float
    loudness_range_lu: float
    max_momentary_lufs: float
    max_short_term_lufs: float
    rms_dbfs: float
    rms_by_time: NDArray[np.float32]
    dc: float
    not_numbers: int = 0
    over_full_scale: int = 0
    noise_floor_dbfs: float = float("nan")
    bandwidth_hz: float = float("nan")
    kind_guess: str = "unknown"
    faults: tuple[Fault, ...] = ()


@dataclass(frozen=True)
class SurveyResult:
    """Everything one pass over a file found.

    ``rms_by_time`` of each track (dBFS) has one value per ``rms_step_seconds``: 1 up to four hours, then 2, 4 …
    """

    sample_rate_hz: int
    frames: int
    tracks: tuple[TrackMeasures, ...]
    pairs: tuple[TrackPair, ...] = ()
    overview: Overview | None = None
    rms_step_seconds: int = 1
