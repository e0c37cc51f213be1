"""The one pass over a file: every meter and the fault scan read each piece while it is in the processor's cache."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from rollsound.errors import InputError
from rollsound.measure.analyser import as_block, pieces
from rollsound.measure.levels import Levels, set_aside_not_numbers, without_not_numbers
from rollsound.measure.loudness import TrackLoudness
from rollsound.measure.model import (
    Fault,
    LevelMeasures,
    Loudness,
    SurveyResult,
    TrackFaults,
    TrackMeasures,
)
from rollsound.measure.overview import OverviewStore
from rollsound.measure.scan import FaultScan
from rollsound.measure.truepeak import TruePeak

MOST_CHANNELS = 128


class Survey:
    """Feed a file's blocks in order, then ask for everything at once.

    Parameters
    ----------
    sample_rate_hz, channels:
        Of the file; 8 kHz or more, 1 to 128 channels.
    sample_bits:
        Bits per sample of the file (16, 24, 32), which the fault scan's thresholds rest on.
    float_samples:
        True for files of floating-point samples, which may exceed full scale without harm.
    overview:
        False leaves the waveform out.

    Samples that are NaN, infinite or above +240 dBFS are counted, reported as a "not-a-number" fault, and taken as zero
    by everything else.
    Memory does not grow with the length of the file.
    """

    def __init__(
        self,
        sample_rate_hz: int,
        channels: int,
        sample_bits: int,
        *,
        float_samples: bool = False,
        overview: bool = True,
    ) -> None:
        if not 1 <= channels <= MOST_CHANNELS:
            raise InputError(f"A file of {channels} channels cannot be measured; 1 to {MOST_CHANNELS} can.")
        self._rate = sample_rate_hz
        self._channels = channels
        self._frames = 0
        self._loudness = TrackLoudness(sample_rate_hz, channels)
        self._true_peak = TruePeak(channels)
        self._overview = OverviewStore(sample_rate_hz, channels) if overview else None
        self._levels = Levels(sample_rate_hz, channels, self._overview)
        self._scan = FaultScan(sample_rate_hz, channels, sample_bits, float_samples=float_samples)
        self._not_numbers = np.zeros(channels, dtype=np.int64)
        self._first_not_number = np.zeros(channels, dtype=np.int64)

    def feed(self, block: NDArray[Any]) -> None:
        """Take the next block, shape (frames, channels), full scale 1.0."""
        for piece in pieces(as_block(block, self._channels)):
            if set_aside_not_numbers(piece, self._not_numbers, self._first_not_number, self._frames):
                piece = without_not_numbers(piece)
            self._loudness.feed(piece)
            self._true_peak.feed(piece)
            self._levels.feed(piece)
            self._scan.feed(piece)
            self._frames += piece.shape[0]

    def finish(self) -> SurveyResult:
        """Everything found; nothing may be fed afterwards."""
        scan = self._scan.finish()
        loudness = self._loudness.finish()
        peaks = self._true_peak.finish()
        levels = self._levels.finish()
        return SurveyResult(
            sample_rate_hz=self._rate,
            frames=self._frames,
            tracks=tuple(
                self._track(c, levels[c], peaks[c], loudness[c], scan.tracks[c]) for c in range(self._channels)
            ),
            pairs=scan.pairs,
            overview=self._overview.finish() if self._overview is not None else None,
            rms_step_seconds=self._levels.step_seconds,
        )

    def _track(
        self, track: int, levels: LevelMeasures, peak: tuple[float, int], loudness: Loudness, scan: TrackFaults
    ) -> TrackMeasures:
        faults = scan.faults
        count = int(self._not_numbers[track])
        if count:
            first = int(self._first_not_number[track])
            faults = (Fault("not-a-number", first, count, float("inf"), 1.0, {"samples": count}), *faults)
        return TrackMeasures(
            sample_peak_dbfs=levels.sample_peak_dbfs,
            sample_peak_at=levels.sample_peak_at,
            true_peak_dbtp=peak[0],
            true_peak_at=peak[1],
            integrated_lufs=loudness.integrated_lufs,
            loudness_range_lu=loudness.loudness_range_lu,
            max_momentary_lufs=loudness.max_momentary_lufs,
            max_short_term_lufs=loudness.max_short_term_lufs,
            rms_dbfs=levels.rms_dbfs,
            rms_by_time=levels.rms_by_time_dbfs,
            dc=levels.dc,
            not_numbers=count,
            over_full_scale=levels.over_full_scale,
            noise_floor_dbfs=scan.noise_floor_dbfs,
            bandwidth_hz=scan.bandwidth_hz,
            kind_guess=scan.kind_guess,
            faults=faults,
        )
