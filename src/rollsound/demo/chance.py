"""Every draw of chance has a name: the same seed and names give the same numbers, whatever order work is done in."""

from __future__ import annotations

import zlib

import numpy as np
from numpy.typing import NDArray

from rollsound.kernel import kernel


def generator(seed: int, *names: object) -> np.random.Generator:
    """The stream of random numbers of a name."""
    return np.random.Generator(np.random.PCG64(np.random.SeedSequence([seed, _number(names)])))


def whole(seed: int, *names: object) -> int:
    """One positive whole number of a name, for the compiled loops."""
    return int(generator(seed, *names).integers(1, 2**31))


def _number(names: tuple[object, ...]) -> int:
    return zlib.crc32("/".join(map(str, names)).encode())


@kernel()
def add_hiss(out: NDArray[np.float32], level: float, cut: float, gust: float, seed: int) -> None:
    """Add noise of rms ``level`` to float32 ``out``, low-passed with the coefficient ``cut`` (1 = white).

    ``gust`` is how far the level wanders (0 not at all), within seconds.
    """
    state = np.uint64(seed) * np.uint64(0x9E3779B97F4A7C15) + np.uint64(0xD1B54A32D192ED03)
    low = 0.0
    wind = 0.0
    aim = 0.0
    swell = 1.0
    scale = level * np.sqrt((2.0 - cut) / cut) * np.sqrt(3.0)
    for n in range(out.shape[0]):
        state ^= state << np.uint64(13)
        state ^= state >> np.uint64(7)
        state ^= state << np.uint64(17)
        a = np.int64(state >> np.uint64(40)) - 8388608
        b = np.int64((state >> np.uint64(16)) & np.uint64(0xFFFFFF)) - 8388608
        white = (a + b) / 11863283.2  # two uniforms, rms 1/sqrt(3)
        if gust > 0.0:
            if n % 24000 == 0:
                aim = white * 1.7
            wind += 0.00004 * (aim - wind)
            swell = max(1.0 + gust * wind, 0.1)
        low += cut * (white - low)
        out[n] += scale * swell * low
