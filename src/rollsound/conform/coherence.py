"""Is it the same microphone? A line that looks perfect proves nothing: another mic in the room drifts alike.

Two people a metre and a half apart give each other's mics a copy 210 samples late: the rate found is right and the
offset wrong. And an actor who walks away from a boom looks like a slow clock. What gives them away is coherence (the
paths differ by the room) and level: one mic's two recordings keep one law between their levels, two mics do not.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray
from scipy import fft

SAME_MIC = 0.55
"""Least coherence of one mic's two recordings over the whole take; bursts on the radio take it from 1 to 0.6."""
SAME_SCENE = 0.05
CLEAR_COHERENCE = 0.93
"""From here no room lies between the two; a radio at the edge of its range may then change its level more."""
MOST_GAIN_SCATTER_DB = 2.0
MOST_GAIN_TREND_DB = 2.0
LEAST_LIKENESS = 0.97
"""Least likeness of single windows after one filter for the whole take. Measured (``design/align_likeness.py``): the
same mic 0.98 and more through noise, mutes, bursts and steep filters; a boom in a room 0.94 at 1 m, 0.85 at 2 m;
another person's mic 0.4 to 0.6, or, where one of the two hardly speaks, a law of levels broken by 3 dB."""
_LIKE_QUANTILE = 0.3
_PATH_BINS = 15
_BAND_HZ = (200.0, 6_000.0)
_LEAST_EXPECTED = 0.4
_LEAST_BINS = 40
_TRIMMED = 0.15
_CLEAR_DB = 3.0

COHERENCE_SECONDS = 0.17


class Mic(StrEnum):
    """Verdict on a pair."""

    SAME = "same mic"
    OTHER = "same scene, other mic"
    UNRELATED = "unrelated"
    UNKNOWN = "too little to judge"


@dataclass(frozen=True)
class MicProof:
    """``coherence``: mean magnitude-squared coherence, bias removed, over bins not buried in the radio's noise.

    ``explained``: the same over what the noise leaves possible (1 = all of it). ``gain_scatter_db`` is the scatter of
    the level difference about its law, ``gain_trend_db`` its change from the first to the last third of the take.
    ``likeness`` is how like single windows are, each within itself, after one smooth filter for the whole take: 30 % of
    them are less so.
    """

    verdict: Mic
    coherence: float
    explained: float
    gain_scatter_db: float
    gain_trend_db: float
    windows: int
    likeness: float = float("nan")


def mean_square_coherence(
    x: NDArray[np.floating], y: NDArray[np.floating]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Magnitude-squared coherence (bins,) of windows ``x`` and ``y`` (K, n), weighed alike, and the power of ``y``.

    Hann windows; every window is first scaled to unit power, so that neither a shout nor a compander decides. For K
    unrelated windows the expected value is 1/K.

    Source: Carter, Knapp & Nuttall 1973.
    """
    hann = np.hanning(x.shape[1] + 2)[1:-1].astype(np.float32)
    fx = fft.rfft(_levelled(x) * hann, axis=1)
    fy = fft.rfft(_levelled(y) * hann, axis=1)
    cross = np.abs(np.sum(fx * np.conj(fy), axis=0)) ** 2
    power_x = np.sum(np.abs(fx) ** 2, axis=0)
    power_y = np.sum(np.abs(fy) ** 2, axis=0)
    value = cross / np.maximum(power_x * power_y, 1e-30)
    return value.astype(np.float64), (power_y / x.shape[0]).astype(np.float64)


def _levelled(x: NDArray[np.floating]) -> NDArray[np.float32]:
    power = np.sqrt(np.mean(x.astype(np.float32) ** 2, axis=1, keepdims=True))
    out: NDArray[np.float32] = (x / np.maximum(power, 1e-9)).astype(np.float32)
    return out


def without_bias(value: float, windows: int) -> float:
    """Coherence with the bias of so few windows removed: what 1/K alone would give becomes 0."""
    bias = 1.0 / windows
    return max((value - bias) / (1.0 - bias), 0.0)


def prove_mic(
    card: NDArray[np.float32],
    radio: NDArray[np.float32],
    times: NDArray[np.float64],
    quiet_radio: NDArray[np.float32],
    sample_rate_hz: int,
) -> MicProof:
    """Judge aligned windows of card and radio (K, n) at ``times`` (K,); ``quiet_radio`` (Q, n) are its pauses."""
    loud = (np.mean(radio.astype(np.float64) ** 2, axis=1) > 1e-11) & (
        np.mean(card.astype(np.float64) ** 2, axis=1) > 1e-12
    )
    card, radio, times = card[loud], radio[loud], times[loud]
    if card.shape[0] < 6:
        return MicProof(Mic.UNKNOWN, float("nan"), float("nan"), float("nan"), float("nan"), int(card.shape[0]))
    kept = _without_ruined(card, radio, sample_rate_hz)
    value, power = mean_square_coherence(card[kept], radio[kept])
    expected = 1.0 - np.minimum(_noise_share(radio[kept], quiet_radio, power), 1.0)
    hz = np.arange(value.size) * (sample_rate_hz / card.shape[1])
    band = (hz >= _BAND_HZ[0]) & (hz <= _BAND_HZ[1])
    use = band & (expected >= _LEAST_EXPECTED)
    buried = int(use.sum()) < _LEAST_BINS
    if buried:
        use = band
        expected = np.ones_like(expected)
    windows = int(kept.size)
    coherence = without_bias(float(np.mean(value[use])), windows)
    explained = without_bias(float(np.sum(value[use] * expected[use]) / np.sum(expected[use] ** 2)), windows)
    scatter, trend = _gain_law(card[kept], radio[kept], times[kept], quiet_radio)
    likeness = _likeness(card[kept], radio[kept], quiet_radio, sample_rate_hz)
    return MicProof(
        _verdict(explained, likeness, scatter, trend), coherence, min(explained, 1.0), scatter, trend, windows, likeness
    )


def _verdict(explained: float, likeness: float, scatter: float, trend: float) -> Mic:
    if explained < SAME_SCENE:
        return Mic.UNRELATED
    if explained >= SAME_MIC and not np.isfinite(likeness):
        return Mic.UNKNOWN
    if explained < SAME_MIC or likeness < LEAST_LIKENESS:
        return Mic.OTHER
    clear = explained >= CLEAR_COHERENCE
    if scatter > MOST_GAIN_SCATTER_DB * (2 if clear else 1) or abs(trend) > MOST_GAIN_TREND_DB * (3 if clear else 1):
        return Mic.OTHER
    return Mic.SAME


def _likeness(
    card: NDArray[np.float32], radio: NDArray[np.float32], quiet: NDArray[np.float32], sample_rate_hz: int
) -> float:
    """Normalised correlation of single windows, noise power taken off: a room's tail lowers it in every window.

    The path's filter is estimated over all windows and smoothed over 15 bins, so that it may be any radio's but holds
    no room. Windows not 3 dB above the radio's noise do not count; NaN when fewer than six are left.
    """
    hann = np.hanning(card.shape[1] + 2)[1:-1].astype(np.float32)
    hz = sample_rate_hz / card.shape[1]
    band = slice(int(_BAND_HZ[0] / hz), int(_BAND_HZ[1] / hz))
    fx, fy = (fft.rfft(_levelled(x) * hann, axis=1)[:, band] for x in (card, radio))
    flat = np.ones(_PATH_BINS) / _PATH_BINS
    path = np.convolve(np.sum(fy * np.conj(fx), axis=0), flat, "same")
    fx = fx * (path / np.maximum(np.convolve(np.sum(np.abs(fx) ** 2, axis=0), flat, "same"), 1e-30))
    power = np.sum(np.abs(fft.rfft(radio * hann, axis=1)[:, band]) ** 2, axis=1)
    noise = float(np.mean(np.sum(np.abs(fft.rfft(quiet * hann, axis=1)[:, band]) ** 2, axis=1))) if quiet.size else 0.0
    clear = power > noise * 10 ** (_CLEAR_DB / 10)
    if int(clear.sum()) < 6:
        return float("nan")
    squared = np.abs(np.sum(fx * np.conj(fy), axis=1)) ** 2 / np.maximum(
        np.sum(np.abs(fx) ** 2, axis=1) * np.sum(np.abs(fy) ** 2, axis=1), 1e-30
    )
    left = squared[clear] * power[clear] / (power[clear] - noise)
    return float(min(np.quantile(np.sqrt(left), _LIKE_QUANTILE), 1.0))


def _without_ruined(card: NDArray[np.float32], radio: NDArray[np.float32], sample_rate_hz: int) -> NDArray[np.intp]:
    """Windows kept when the 15 % least alike (a burst, a rustle) are left out; another mic has many more of them."""
    hann = np.hanning(card.shape[1] + 2)[1:-1].astype(np.float32)
    hz = sample_rate_hz / card.shape[1]
    band = slice(int(_BAND_HZ[0] / hz), int(_BAND_HZ[1] / hz))
    fx = fft.rfft(_levelled(card) * hann, axis=1)[:, band]
    fy = fft.rfft(_levelled(radio) * hann, axis=1)[:, band]
    alike = np.abs(np.sum(fx * np.conj(fy), axis=1)) / np.sqrt(
        np.sum(np.abs(fx) ** 2, axis=1) * np.sum(np.abs(fy) ** 2, axis=1) + 1e-30
    )
    return np.sort(np.argsort(alike)[int(_TRIMMED * alike.size) :])


def _noise_share(
    radio: NDArray[np.float32], quiet: NDArray[np.float32], power: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Share of the radio's noise in its levelled windows' mean power, per bin, smoothed over 15 bins."""
    if quiet.shape[0] < 3:
        return np.zeros_like(power)
    hann = np.hanning(radio.shape[1] + 2)[1:-1].astype(np.float32)
    noise = np.mean(np.abs(fft.rfft(quiet * hann, axis=1)) ** 2, axis=0)
    scale = float(np.mean(1.0 / np.maximum(np.mean(radio.astype(np.float64) ** 2, axis=1), 1e-12)))
    flat = np.ones(15) / 15.0
    share: NDArray[np.float64] = np.convolve(noise * scale, flat, "same") / np.maximum(
        np.convolve(power, flat, "same"), 1e-30
    )
    return share


def _gain_law(
    card: NDArray[np.float32], radio: NDArray[np.float32], times: NDArray[np.float64], quiet: NDArray[np.float32]
) -> tuple[float, float]:
    """Scatter (robust) and trend over time of radio level minus card level in dB, after a law in the card's level.

    A compander makes the difference fall with level, smoothly: a parabola in the card's level. The radio's noise power
    is subtracted, and windows within 3 dB of it are left out, for noise has no law.
    """
    card_db = 10 * np.log10(np.mean(card.astype(np.float64) ** 2, axis=1) + 1e-15)
    power = np.mean(radio.astype(np.float64) ** 2, axis=1)
    floor = float(np.mean(quiet.astype(np.float64) ** 2)) if quiet.size else 0.0
    clear = power > floor * 10 ** (_CLEAR_DB / 10)
    radio_db = 10 * np.log10(np.maximum(power - floor, 0.0) + 1e-15)
    if int(clear.sum()) < 12:
        return 0.0, 0.0
    x, gain, t = card_db[clear], (radio_db - card_db)[clear], times[clear]
    x = (x - x.mean()) / max(float(np.ptp(x)), 6.0)
    rows = np.stack([np.ones_like(x), x, x**2], axis=1)
    w = np.ones_like(x)
    left = gain
    for _ in range(6):
        law = np.linalg.lstsq(rows * w[:, None], gain * w, rcond=None)[0]
        left = gain - rows @ law
        sigma = 1.4826 * float(np.median(np.abs(left))) + 0.1
        w = np.sqrt(1.0 / (1.0 + (left / (2.0 * sigma)) ** 2))
    order = np.argsort(t)
    third = max(t.size // 3, 1)
    trend = float(np.median(left[order[-third:]]) - np.median(left[order[:third]]))
    return 1.4826 * float(np.median(np.abs(left - np.median(left)))), trend
