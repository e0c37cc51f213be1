"""Why 64 taps, 8192 phases and a Kaiser window of beta 16: error against the analytic sine, and speed.

Run: python design/resample_filter.py
"""

from __future__ import annotations

import time

import numpy as np

from rollsound.conform import resample as filters
from rollsound.conform.model import ClockMap

RATE = 48_000
FRAMES = 300_000


def error_db(frequency_hz: float) -> float:
    """Error of a sine along a line of 377 ppm (every phase is visited), in dB below the sine."""
    clock = ClockMap.straight(100.25, 377.0, FRAMES)
    step = 2 * np.pi * frequency_hz / RATE
    got = filters.resample(np.sin(step * np.arange(FRAMES + 400.0)), clock, FRAMES)
    true = np.sin(step * clock.at(np.arange(FRAMES)))
    keep = slice(200, -200)
    return float(10 * np.log10(np.sum(true[keep] ** 2) / np.sum((got - true)[keep] ** 2)))


def speed() -> float:
    """Times real time of one track on one core."""
    card = np.random.default_rng(1).standard_normal(60 * RATE)
    resampler = filters.Resampler.of_array(card, ClockMap.straight(0.25, 37.0, card.size))
    spent = []
    for _ in range(3):
        start = time.perf_counter()
        resampler.read(0, card.size - 200)
        spent.append(time.perf_counter() - start)
    return 60.0 / min(spent)


def main() -> None:
    """Print the table."""
    print("taps phases beta |  997 Hz  10 kHz  20 kHz | x real time")
    for taps, phases, beta in ((32, 4096, 9), (64, 1024, 16), (64, 4096, 14), (64, 4096, 16), (64, 8192, 16),
                               (96, 8192, 18), (128, 8192, 16)):  # fmt: skip
        filters.TAPS, filters.PHASES, filters.BETA = taps, phases, float(beta)
        filters.filter_bank.cache_clear()
        errors = "".join(f"{error_db(frequency):8.1f}" for frequency in (997.0, 10_000.7, 20_000.3))
        print(f"{taps:4d} {phases:6d} {beta:4d} |{errors} | {speed():8.0f}")


if __name__ == "__main__":
    main()
