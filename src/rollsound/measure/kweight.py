"""The K weighting of ITU-R BS.1770: a shelf for the head, a high-pass for the ear, then squares over 10 ms.

Source: Recommendation ITU-R BS.1770-5, annex 1, tables 1 and 2 give the coefficients at 48 kHz. At other rates the same
analogue prototypes are mapped by the bilinear transform; the prototype constants are those that give back the table
at 48 kHz (the tests compare).
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from rollsound.errors import InputError
from rollsound.kernel import kernel

SHELF_HZ = 1681.974450955533
SHELF_GAIN_DB = 3.999843853973347
SHELF_Q = 0.7071752369554196
SHELF_MID_EXPONENT = 0.4996667741545416
HIGH_PASS_HZ = 38.13547087602444
HIGH_PASS_Q = 0.5003270373238773

LOWEST_RATE_HZ = 8_000
HOPS_PER_SECOND = 100
"""Energies are kept every 10 ms: on a coarser grid the maxima of short events read up to 0.45 LU low."""

_TINY = 1e-30  # filter memory below this is silence; flushed so that it never decays into slow subnormal numbers


def k_coefficients(sample_rate_hz: int) -> NDArray[np.float64]:
    """Shelf b0 b1 b2 a1 a2, then high-pass b0 b1 b2 a1 a2, as ten float64.

    Raises InputError below 8 kHz, where the shelf no longer fits under half the sample rate.
    """
    if sample_rate_hz < LOWEST_RATE_HZ:
        raise InputError(f"Loudness needs a sample rate of {LOWEST_RATE_HZ} Hz or more; this one is {sample_rate_hz}.")
    k = math.tan(math.pi * SHELF_HZ / sample_rate_hz)
    high = 10.0 ** (SHELF_GAIN_DB / 20.0)
    mid = high**SHELF_MID_EXPONENT
    norm = 1.0 + k / SHELF_Q + k * k
    shelf = [
        (high + mid * k / SHELF_Q + k * k) / norm,
        2.0 * (k * k - high) / norm,
        (high - mid * k / SHELF_Q + k * k) / norm,
        2.0 * (k * k - 1.0) / norm,
        (1.0 - k / SHELF_Q + k * k) / norm,
    ]
    k = math.tan(math.pi * HIGH_PASS_HZ / sample_rate_hz)
    norm = 1.0 + k / HIGH_PASS_Q + k * k
    high_pass = [1.0, -2.0, 1.0, 2.0 * (k * k - 1.0) / norm, (1.0 - k / HIGH_PASS_Q + k * k) / norm]
    return np.array(shelf + high_pass, dtype=np.float64)


@kernel(fast=True)
def _weigh(
    block: NDArray[np.float32],
    coefficients: NDArray[np.float64],
    memory: NDArray[np.float64],
    position: int,
    sample_rate_hz: int,
    hops: NDArray[np.float64],
) -> int:
    """Filter a block, and write the energy of every 10 ms that ends inside it; returns how many.

    ``memory`` (5, channels) carries the four filter states and the energy of the unfinished hop. The inner loop runs
    over channels, which lie side by side, so the processor takes several at once.
    """
    b0, b1, b2, a1, a2 = coefficients[0], coefficients[1], coefficients[2], coefficients[3], coefficients[4]
    c1, c2 = coefficients[8], coefficients[9]
    s1, s2, s3, s4, energy = memory[0], memory[1], memory[2], memory[3], memory[4]
    frames, channels = block.shape
    done = 0
    start = 0
    while start < frames:
        hop = (position + start) * HOPS_PER_SECOND // sample_rate_hz
        # the first frame of the next hop: smallest n with n * HOPS_PER_SECOND // rate == hop + 1
        edge = ((hop + 1) * sample_rate_hz + HOPS_PER_SECOND - 1) // HOPS_PER_SECOND - position
        stop = min(edge, frames)
        for frame in range(start, stop):
            row = block[frame]
            for c in range(channels):
                x = np.float64(row[c])
                y = b0 * x + s1[c]
                s1[c] = b1 * x - a1 * y + s2[c]
                s2[c] = b2 * x - a2 * y
                z = y + s3[c]
                s3[c] = s4[c] - 2.0 * y - c1 * z
                s4[c] = y - c2 * z
                energy[c] += z * z
        if stop == edge:
            for c in range(channels):
                hops[done, c] = energy[c]
                energy[c] = 0.0
                s1[c] = s1[c] if abs(s1[c]) > _TINY else 0.0
                s2[c] = s2[c] if abs(s2[c]) > _TINY else 0.0
                s3[c] = s3[c] if abs(s3[c]) > _TINY else 0.0
                s4[c] = s4[c] if abs(s4[c]) > _TINY else 0.0
            done += 1
        start = stop
    return done


class KWeighting:
    """Streams blocks through the K filters and gives the energy of each 10 ms of each channel."""

    def __init__(self, sample_rate_hz: int, channels: int) -> None:
        self._rate = sample_rate_hz
        self._coefficients = k_coefficients(sample_rate_hz)
        self._memory = np.zeros((5, channels))
        self._position = 0

    def feed(self, block: NDArray[np.float32]) -> NDArray[np.float64]:
        """Sums of squares of the hops that end inside this block, shape (hops, channels)."""
        room = block.shape[0] * HOPS_PER_SECOND // self._rate + 2
        hops = np.empty((room, block.shape[1]))
        done = _weigh(block, self._coefficients, self._memory, self._position, self._rate, hops)
        self._position += block.shape[0]
        return hops[:done]


def hop_edge(hop: int, sample_rate_hz: int) -> int:
    """First frame of a hop (exact for rates that 100 does not divide)."""
    return (hop * sample_rate_hz + HOPS_PER_SECOND - 1) // HOPS_PER_SECOND
