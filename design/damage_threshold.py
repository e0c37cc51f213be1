"""Why 9 dB over the predicted level marks a noise burst: recall and false alarms over links and thresholds.

Run: python design/damage_threshold.py
"""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path

import numpy as np

from rollsound.conform import damage
from rollsound.conform.model import ClockMap
from rollsound.conform.resample import resample

sys.path.insert(0, str(Path(__file__).parent.parent / "tests" / "conform"))
import signals

SECONDS = 120.0


def main() -> None:
    """Print the table: share of damaged samples marked, and of sound samples marked."""
    print("link            burst level | threshold dB: recall / false")
    for name, kind in (
        ("companded 20 dB", {}),
        ("linear 20 dB", {"companded": False}),
        ("companded 40 dB", {"snr_db": 40.0}),
    ):
        for loud in (1.0, 0.5, 0.25):
            path = signals.RadioPath(muted=0.0, bursts=0.05, **kind)  # type: ignore[arg-type]
            pair = signals.make_pair(SECONDS, 5, path=path)
            sound = signals.make_pair(SECONDS, 5, path=replace(path, bursts=0.0)).radio.astype(np.float64)
            bad = pair.radio != sound
            radio = np.where(bad, loud * pair.radio, sound)
            card = resample(pair.card.astype(np.float64), ClockMap.straight(1234.37, 37.4, radio.size), radio.size)
            cells = []
            for threshold in (6.0, 9.0, 12.0, 15.0):
                damage.BURST_DB = threshold
                marked = np.zeros(radio.size, bool)
                for span in damage.damaged_spans(radio, card, signals.RATE):
                    marked[span.start_sample : span.stop_sample] = True
                alone = damage.damaged_spans(sound, card, signals.RATE)
                false = sum(span.length_samples for span in alone) / radio.size
                cells.append(f"{threshold:.0f}: {np.mean(marked[bad]):.3f} / {false:.4f}")
            print(f"{name:16s} {20 * np.log10(loud) + 6:+5.1f} dB    | " + "   ".join(cells))


if __name__ == "__main__":
    main()
