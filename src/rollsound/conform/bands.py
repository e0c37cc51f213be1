"""Levels in six bands every 10 ms, and how a radio track's follow from the card's: gain, squeeze by level, floor.

Source: the method and its figures are those measured in ``design/damage_threshold.py``; the bands are our own choice
between the low cut and the upper limit that radio links usually have (80 Hz to 14 kHz, common practice, no source).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import scipy.fft
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray
from scipy.special import chdtri

Levels = NDArray[np.float64]

BAND_EDGES_HZ = (80.0, 300.0, 800.0, 2000.0, 4500.0, 9000.0, 14000.0)
BANDS = len(BAND_EDGES_HZ) - 1
HOPS_PER_SECOND = 100
SILENT_DBFS = -120.0
"""Below what any converter leaves: exact zeros, or next to it."""
_LOWEST_POWER = 1e-20
_BATCH_HOPS = 500
_STEP_DB = 6.0
_ENOUGH_HOPS = 30
_ACTIVE_DB = 15.0
_FALL_DB = 0.6
# A Hann window makes about two of three lines independent, each of two degrees of freedom; there is one every 50 Hz.
_FREEDOM = np.diff(BAND_EDGES_HZ) / (HOPS_PER_SECOND / 2) * 4 / 3
_LOWEST_TENTH_DB = -10 * np.log10(chdtri(_FREEDOM, 0.9) / _FREEDOM)


def hop_frames(sample_rate_hz: int) -> int:
    """Frames of one hop, an even number."""
    return 2 * max(1, round(sample_rate_hz / HOPS_PER_SECOND / 2))


def band_levels(samples: NDArray[Any], sample_rate_hz: int) -> Levels:
    """Levels in dBFS, shape (hops, 6), of samples with half a hop to spare at both ends.

    Hop k is seen through a window of two hops around its middle; a full-scale sine in one band reads -3 dB.
    """
    hop = hop_frames(sample_rate_hz)
    hops = samples.size // hop - 1
    window = np.hanning(2 * hop + 1)[:-1].astype(np.float32)
    edges = np.round(np.array(BAND_EDGES_HZ) * 2 * hop / sample_rate_hz).astype(int)
    edges = np.minimum(edges, hop)
    scale = 2.0 / (2 * hop * float(np.sum(window**2)))
    power = np.empty((max(hops, 0), BANDS), np.float64)
    views = sliding_window_view(samples.astype(np.float32, copy=False), 2 * hop)[::hop] if hops > 0 else None
    for at in range(0, hops, _BATCH_HOPS):
        assert views is not None
        spectrum = scipy.fft.rfft(views[at : min(at + _BATCH_HOPS, hops)] * window, axis=1)
        squares = spectrum.real**2 + spectrum.imag**2
        for band in range(BANDS):
            part = squares[:, edges[band] : edges[band + 1]]
            power[at : at + part.shape[0], band] = part.sum(axis=1, dtype=np.float64) * scale
    out: Levels = 10 * np.log10(np.maximum(power, _LOWEST_POWER))
    return out


def total(levels: Levels) -> Levels:
    """Level of all bands together, shape (hops,)."""
    out: Levels = 10 * np.log10(np.sum(10 ** (levels / 10), axis=1))
    return out


@dataclass(frozen=True, eq=False)
class RadioModel:
    """What a radio path does to levels: ``gain_db`` by band, a change of gain with the card's level, and its noise.

    ``bins_dbfs`` and ``squeeze_db`` are the points of that change. ``noise_dbfs``, shape (points, 6), is the noise at
    ``noise_bins_dbfs`` of the card's recent level: links that compress and expand lift it with the sound.
    """

    gain_db: Levels
    bins_dbfs: Levels
    squeeze_db: Levels
    floor_dbfs: Levels
    noise_bins_dbfs: Levels
    noise_dbfs: Levels

    @classmethod
    def fit(cls, radio: Levels, card: Levels) -> RadioModel | None:
        """Fit by medians, which up to half the time being damaged does not move; None with too little to go by."""
        alive = total(radio) > SILENT_DBFS
        active = (card > np.percentile(card, 10, axis=0) + _ACTIVE_DB) & (card > -90.0) & alive[:, None]
        if np.count_nonzero(active.any(axis=1)) < HOPS_PER_SECOND:
            return None
        difference = np.where(active, radio - card, np.nan)
        seen = np.count_nonzero(active, axis=0) >= _ENOUGH_HOPS
        gain = np.array([np.nanmedian(difference[:, b]) if seen[b] else np.nan for b in range(BANDS)])
        gain = np.where(np.isnan(gain), np.nanmedian(gain), gain)
        bins, squeeze = _squeeze(total(card), difference - gain, np.asarray(active.any(axis=1), np.bool_))
        without = cls(gain, bins, squeeze, floor_of(radio), np.zeros(1), floor_of(radio)[None, :])
        return replace(without, **_noise(radio, card, without.signal(card), without.floor_dbfs, alive))

    def signal(self, card: Levels) -> Levels:
        """What of the card should arrive, without the floor; shape (hops, 6)."""
        out: Levels = card + self.gain_db + np.interp(total(card), self.bins_dbfs, self.squeeze_db)[:, None]
        return out

    def expect(self, card: Levels) -> Levels:
        """What the radio track should read: the signal and the noise at that level; shape (hops, 6)."""
        recent = held(total(card))
        noise = np.stack([np.interp(recent, self.noise_bins_dbfs, column) for column in self.noise_dbfs.T], axis=1)
        out: Levels = 10 * np.log10(10 ** (self.signal(card) / 10) + 10 ** ((noise + 1.0) / 10))
        return out


def held(level: Levels) -> Levels:
    """A level that rises at once and falls by 0.6 dB every 10 ms, as slowly as a link's expander lets its noise go.

    Source: release times of 100 to 200 ms are common practice, no source.
    """
    fall = _FALL_DB * np.arange(level.size)
    out: Levels = np.maximum.accumulate(level + fall) - fall
    return out


def _noise(radio: Levels, card: Levels, signal: Levels, floor: Levels, alive: NDArray[np.bool_]) -> dict[str, Levels]:
    """What is left of the radio over the signal, by the card's recent level: medians in steps of 6 dB."""
    rest = np.maximum(10 ** (radio / 10) - 10 ** (signal / 10), _LOWEST_POWER)
    step = np.where(alive, np.floor(held(total(card)) / _STEP_DB), np.nan)
    steps = [s for s in np.unique(step[alive]) if np.count_nonzero(step == s) >= HOPS_PER_SECOND]
    if not steps:
        return {}
    noise = np.array([10 * np.log10(np.median(rest[step == s], axis=0)) for s in steps])
    return {"noise_bins_dbfs": (np.array(steps) + 0.5) * _STEP_DB, "noise_dbfs": np.maximum(noise, floor)}


def floor_of(radio: Levels) -> Levels:
    """The mean level of the noise in each band of a radio track, holes left out: its lowest tenth, brought up.

    A narrow band of noise wavers from hop to hop; its lowest tenth lies as far below its mean as that of a chi-square
    of as many degrees of freedom as the band has independent lines (4 dB for the lowest band).
    """
    alive = radio[total(radio) > SILENT_DBFS]
    if alive.shape[0] == 0:
        return np.full(BANDS, SILENT_DBFS)
    out: Levels = np.percentile(alive, 10, axis=0) + _LOWEST_TENTH_DB
    return out


def _squeeze(level: Levels, rest: Levels, active: NDArray[np.bool_]) -> tuple[Levels, Levels]:
    """How what is left after the band gains changes with the card's level: medians in steps of 6 dB."""
    hop_rest = np.nanmedian(rest[active], axis=1)
    step = np.floor(level[active] / _STEP_DB)
    points = [(s, np.median(hop_rest[step == s])) for s in np.unique(step) if np.count_nonzero(step == s) >= 30]
    if not points:
        return np.zeros(1), np.zeros(1)
    return (np.array([s for s, _ in points]) + 0.5) * _STEP_DB, np.array([value for _, value in points])
