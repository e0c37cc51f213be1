"""What the four-fold filter of BS.1770 itself gets wrong: lowest and highest reading of steady 0 dB tones by frequency.

This is the ground for saying "from 0.3 dB low to 0.2 dB high" beside a true-peak figure.
"""

from __future__ import annotations

import numpy as np

from rollsound.measure import measure_true_peak

RATE = 48_000

if __name__ == "__main__":
    print("Hz       lowest dB   highest dB")
    for hz in (100, 997, 4000, 8000, 12_000, 16_000, 20_000, 22_000):
        found = []
        for phase in np.linspace(0, np.pi, 16, endpoint=False):
            tone = np.sin(2 * np.pi * hz * np.arange(4800) / RATE + phase)
            ramp = np.minimum(1, np.minimum(np.arange(4800), np.arange(4800)[::-1]) / 960)
            found.append(measure_true_peak(tone * ramp)[0])
        print(f"{hz:6d}   {min(found):9.3f}   {max(found):10.3f}")
