"""Invented places: decays of known length, tones in noise, claps in a room."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray

RATE = 48_000
F64 = NDArray[np.float64]
Decaying = Callable[..., F64]


def decaying(
    time_s: float,
    seed: int,
    *,
    noise_db: float = -90.0,
    length_s: float = 0.0,
    late_s: float = 0.0,
    knee_db: float = 0.0,
    rate: int = RATE,
) -> F64:
    """White noise that falls by 60 dB in ``time_s``, perhaps over a second, slower decay ``knee_db`` down."""
    rng = np.random.default_rng(seed)
    t = np.arange(round((length_s or 2.5 * time_s) * rate)) / rate
    fall = 10.0 ** (-3.0 * t / time_s)
    if late_s:
        fall = fall + 10.0 ** (knee_db / 20.0) * 10.0 ** (-3.0 * t / late_s)
    return np.asarray(fall * rng.standard_normal(t.size) + 10.0 ** (noise_db / 20.0) * rng.standard_normal(t.size))


@pytest.fixture(name="decaying")
def _decaying() -> Decaying:
    return decaying
