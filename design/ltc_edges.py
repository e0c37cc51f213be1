"""Why edges of time code count at a quarter of the half-height, on sound smoothed over three samples.

Prints, for each choice, the worst frame start without noise and the spread at 20 dB of signal to noise (in samples at
48 kHz), and the words read of 1000 in white noise.

    python design/ltc_edges.py
"""

from __future__ import annotations

from fractions import Fraction

import numpy as np

from rollsound.timecode import Rate, Timecode, encode_ltc
from rollsound.timecode.edges import EdgeFinder
from rollsound.timecode.frames import WordFinder

RATE = Rate.parse("25")
FRAMES = 1000


def starts(sound: np.ndarray, hysteresis: float, smoothing: float) -> np.ndarray:
    """Frame starts read with one choice of settings."""
    edges = EdgeFinder(48_000, hysteresis=hysteresis, smoothing=smoothing)
    words = WordFinder(edges.lag_samples)
    times, heights = edges.feed(sound.astype(np.float32))
    return np.asarray(words.feed(times, heights, sound.size, final=True).start)


def away(found: np.ndarray, offset: float) -> np.ndarray:
    """Distance of frame starts from the exact grid, in samples."""
    return found - offset - np.round((found - offset) / 1920) * 1920


def main() -> None:
    """Print the table."""
    offset = Fraction(1, 4)
    clean = encode_ltc(Timecode(10, 0, 0, 0, RATE), FRAMES, 48_000, offset_samples=offset)
    rms = float(np.sqrt(np.mean(clean.astype(np.float64) ** 2)))
    noise = np.random.default_rng(1).normal(0, rms, clean.size)
    print("hysteresis smoothing   worst clean   spread 20 dB   read at 15 dB   10 dB    8 dB    6 dB")
    for smoothing in (0.0, 0.25, 1 / 3):
        for hysteresis in (0.1, 0.25, 0.4):
            worst = float(np.abs(away(starts(clean, hysteresis, smoothing), float(offset))).max())
            spread = float(away(starts(clean + noise * 0.1, hysteresis, smoothing), float(offset)).std())
            read = [len(starts(clean + noise * 10 ** (-snr / 20), hysteresis, smoothing)) for snr in (15, 10, 8, 6)]
            counts = "".join(f"{count:8d}" for count in read[1:])
            print(f"{hysteresis:10.2f} {smoothing:9.2f} {worst:13.4f} {spread:14.4f} {read[0]:15d}{counts}")


if __name__ == "__main__":
    main()
