"""Invented speech for the fault families: voiced syllables, fricatives, stops with bursts, pauses, two noises."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import signal

RATE = 48_000
F64 = NDArray[np.float64]
Audio = NDArray[np.float32]
Speech = Callable[..., Audio]

_VOWELS = ((730, 1090, 2440), (270, 2290, 3010), (530, 1840, 2480), (300, 870, 2240), (570, 840, 2410))
# published average formants of men: Peterson and Barney 1952; widths from memory
_WIDTHS = (60.0, 90.0, 120.0)


def _resonate(x: F64, hz: float, width: float) -> F64:
    r = np.exp(-np.pi * width / RATE)
    a = [1.0, -2 * r * np.cos(2 * np.pi * hz / RATE), r * r]
    return np.asarray(signal.lfilter([sum(a)], a, x))


def _swell(n: int, rise_s: float, fall_s: float) -> F64:
    t = np.arange(n) / RATE
    left = np.clip(t / rise_s, 0, 1)
    right = np.clip((n / RATE - t) / fall_s, 0, 1)
    return np.asarray(np.sin(np.pi / 2 * np.minimum(left, right)) ** 2)


def _voiced(rng: np.random.Generator, pitch_hz: float) -> F64:
    n = int(rng.uniform(0.09, 0.24) * RATE)
    glide = pitch_hz * (1.1 - 0.25 * np.arange(n) / n) * (1 + 0.01 * rng.standard_normal())
    phase = np.cumsum(glide / RATE)
    pulses = np.diff(np.floor(phase), prepend=0.0)
    source = signal.lfilter([1.0], [1.0, -0.97], pulses) + 0.01 * rng.standard_normal(n)
    out = source
    for hz, width in zip(_VOWELS[rng.integers(len(_VOWELS))], _WIDTHS, strict=True):
        out = _resonate(out, hz * rng.uniform(0.95, 1.15), width)
    return np.asarray(out / np.max(np.abs(out)) * rng.uniform(0.4, 1.0) * _swell(n, 0.02, 0.04))


def _fricative(rng: np.random.Generator) -> F64:
    n = int(rng.uniform(0.06, 0.16) * RATE)
    low, high, level = ((4500, 11000, 0.12), (2200, 6500, 0.12), (1500, 16000, 0.03))[rng.integers(3)]
    hiss = signal.sosfilt(signal.butter(2, (low, high), "bandpass", fs=RATE, output="sos"), rng.standard_normal(n))
    return np.asarray(hiss / np.std(hiss) * level * _swell(n, rng.uniform(0.02, 0.04), rng.uniform(0.02, 0.05)))


def _stop(rng: np.random.Generator) -> F64:
    closure = np.zeros(int(rng.uniform(0.03, 0.08) * RATE))
    n = int(0.05 * RATE)
    burst = signal.sosfilt(
        signal.butter(1, (1200, 9000), "bandpass", fs=RATE, output="sos"), rng.standard_normal(n)
    ) * np.exp(-np.arange(n) / (rng.uniform(0.004, 0.012) * RATE))
    return np.concatenate([closure, burst / np.max(np.abs(burst)) * rng.uniform(0.1, 0.5)])


def _room(rng: np.random.Generator, n: int, level_dbfs: float) -> F64:
    dull = signal.lfilter([1.0], [1.0, -0.95], rng.standard_normal(n))
    level = 10 ** (level_dbfs / 20)
    return np.asarray(dull / np.std(dull) * level * 0.9 + rng.standard_normal(n) * level * 0.44)


def rounded(audio: F64, bits: int) -> Audio:
    """What a converter of so many bits gives."""
    scale = 2.0 ** (bits - 1)
    return (np.clip(np.round(audio * scale), -scale, scale - 1) / scale).astype(np.float32)


def make_speech(
    seconds: float, seed: int, *, peak_dbfs: float = -10.0, floor_dbfs: float = -70.0, bits: int = 24
) -> Audio:
    """One voice, shape (frames,)."""
    rng = np.random.default_rng(seed)
    wanted = int(seconds * RATE)
    parts: list[F64] = [np.zeros(int(0.3 * RATE))]
    length = parts[0].size
    pitch = rng.uniform(85, 230)
    while length < wanted:
        roll = rng.random()
        if roll < 0.5:
            part = _voiced(rng, pitch * rng.uniform(0.85, 1.2))
        elif roll < 0.7:
            part = _fricative(rng)
        elif roll < 0.87:
            part = _stop(rng)
        else:
            part = np.zeros(int(rng.uniform(0.1, 0.7) * RATE))
        parts.append(part)
        length += part.size
    voice = np.concatenate(parts)[:wanted]
    voice = np.asarray(signal.sosfilt(signal.butter(2, 70, "highpass", fs=RATE, output="sos"), voice))
    voice *= 10 ** (peak_dbfs / 20) / np.max(np.abs(voice))
    return rounded(voice + _room(rng, wanted, floor_dbfs), bits)


@pytest.fixture(scope="session")
def speech() -> Speech:
    """``speech(seconds, seed, peak_dbfs=, floor_dbfs=, bits=)`` gives one clean voice; asked twice, it is made once."""
    made: dict[tuple[object, ...], Audio] = {}

    def give(seconds: float, seed: int, **how: float) -> Audio:
        key = (seconds, seed, *sorted(how.items()))
        if key not in made:
            made[key] = make_speech(seconds, seed, **how)  # type: ignore[arg-type]
        return made[key].copy()

    return give


@pytest.fixture(scope="session")
def rounding() -> Callable[[F64, int], Audio]:
    """The rounding of a converter."""
    return rounded
