"""A radio path: 14 kHz of band, a compander that does not quite come back, noise, a delay, and what goes wrong."""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np
import scipy.signal

from rollsound.demo.chance import generator, whole
from rollsound.demo.scenario import SAMPLE_RATE_HZ, Damage
from rollsound.demo.voice import F32
from rollsound.kernel import kernel

LEAD = 24_000
"""Samples before the take that the path hears, so that its compander has settled."""
_HALF = 256
_HIGH_HZ = 14_000.0
_LOW_CUT = 0.8
_EDGE_SAMPLES = 96


@lru_cache(maxsize=64)
def path_filter(delay_samples: float) -> F32:
    """The linear part of a path: flat to 14 kHz, a gentle low cut, ``delay_samples`` late at every frequency.

    The taps are symmetrical about the delay, which may lie between samples: the path has no other group delay.
    """
    half = min(_HALF, math.floor(delay_samples))
    n = np.arange(math.ceil(delay_samples) + half + 1) - delay_samples
    window = np.where(np.abs(n) < half, 0.5 + 0.5 * np.cos(np.pi * n / half), 0.0)
    band = 2 * _HIGH_HZ / SAMPLE_RATE_HZ
    low = window * (_LOW_CUT / window.sum())
    return np.asarray(band * np.sinc(band * n) * window - low, dtype=np.float32)


@kernel()
def _compand(x: F32, noise: float, seed: int, out: F32) -> None:
    """Compress 2:1, add the channel's noise, expand 1:2 with time constants that differ a little."""
    state = np.uint64(seed) * np.uint64(0x9E3779B97F4A7C15) + np.uint64(0xD1B54A32D192ED03)
    sent = 0.03
    heard = 0.03
    floor = 0.004
    for n in range(x.shape[0]):
        state ^= state << np.uint64(13)
        state ^= state >> np.uint64(7)
        state ^= state << np.uint64(17)
        white = (np.int64(state >> np.uint64(11)) / 4503599627370496.0 - 1.0) * 1.73
        y = x[n] / max(sent, floor)
        size = abs(y) * 0.35
        rate = 0.004 if size > sent else 0.00022
        sent += rate * (size - sent)
        y = y + noise * white
        back = y * max(heard, floor)
        size = abs(y) * 0.35
        rate = 0.00412 if size > heard else 0.000215
        heard += rate * (size - heard)
        out[n] = back


def transmit(sound: F32, delay_samples: float, seed: int, name: str) -> F32:
    """A stretch of microphone sound as the receiver gives it; ``LEAD`` samples of run-up are taken off the front.

    Parameters
    ----------
    sound : float32 (samples + LEAD,)
    """
    taps = path_filter(delay_samples)
    limited = scipy.signal.oaconvolve(sound, taps)[: sound.size].astype(np.float32, copy=False)
    out = np.empty_like(limited)
    _compand(limited, 0.0035, whole(seed, "channel", name), out)
    return out[LEAD:]


def _gate(samples: int, first: int, length: int, depth: float) -> F32:
    """A gain of 1 with a dip to ``depth``, its edges falling outside the span."""
    gain = np.ones(samples, np.float32)
    ramp = np.linspace(1.0, depth, _EDGE_SAMPLES, dtype=np.float32)
    gain[first : first + length] = depth
    gain[first - _EDGE_SAMPLES : first] = ramp
    gain[first + length : first + length + _EDGE_SAMPLES] = ramp[::-1]
    return gain


def harm(track: F32, damage: Damage, seed: int) -> tuple[F32, int, int]:
    """A track with one more thing wrong, and the span of it: (track, first sample, samples)."""
    first = round(damage.start_s * SAMPLE_RATE_HZ)
    length = round(damage.length_s * SAMPLE_RATE_HZ)
    level = 10.0 ** (damage.level_dbfs / 20.0)
    rng = generator(seed, damage.file, damage.track, damage.kind, damage.start_s)
    if damage.kind == "mute":
        track[first : first + length] = 0.0
    elif damage.kind == "dropout":
        track *= _gate(track.size, first, length, level)
        track[first : first + length] += (0.0006 * rng.standard_normal(length)).astype(np.float32)
        first, length = first - _EDGE_SAMPLES, length + 2 * _EDGE_SAMPLES
    elif damage.kind == "radio-hit":
        burst = rng.standard_normal(length)
        track[first : first + length] += (level * burst * np.minimum(1.0, 8.0 * np.hanning(length))).astype(np.float32)
    elif damage.kind == "click":
        track[first : first + 3] += np.array([1.0, -0.7, 0.25], np.float32) * np.float32(level)
        length = 3
    elif damage.kind == "dead":
        track = (0.00001 * rng.standard_normal(track.size)).astype(np.float32)
        first, length = 0, track.size
    elif damage.kind == "polarity":
        track, first, length = -track, 0, track.size
    return track, first, length
