"""Why a filter of 1023 taps matches a card to a radio track: what is left over in a hole, by length of the filter.

Run: python design/tone_match.py
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np

from rollsound.conform import tone
from rollsound.conform.model import ClockMap
from rollsound.conform.resample import Resampler

sys.path.insert(0, str(Path(__file__).parent.parent / "tests" / "conform"))
import signals

RATE = signals.RATE
HOLE = 9_600


def left_over(path: signals.RadioPath) -> tuple[float, float]:
    """Median error in dB below the true radio over many holes: the matched card, and the card as it is."""
    pair = signals.make_pair(60.0, 5, path=path)
    radio = pair.radio.astype(np.float64)
    card = Resampler.of_array(pair.card.astype(np.float64), ClockMap.straight(1234.37, 37.4, radio.size))
    matched, plain = [], []
    for start in range(4 * RATE, 56 * RATE, 120_000):
        hole = radio.copy()
        hole[start : start + HOLE] = 0.0
        power = float(np.sum(radio[start : start + HOLE] ** 2))
        if power / HOLE < 1e-6:
            continue
        fitted = tone.fit_tone(
            lambda at, n, hole=hole: hole[at : at + n],  # type: ignore[misc]
            card.read,
            start,
            start + HOLE,
            inside=(0, radio.size),
            damaged=[],
            sample_rate_hz=RATE,
        )
        for errors, got in ((matched, fitted.render(card.read, start, HOLE)), (plain, card.read(start, HOLE))):
            errors.append(10 * np.log10(np.sum((got - radio[start : start + HOLE]) ** 2) / power))
    return float(np.median(matched)), float(np.median(plain))


def main() -> None:
    """Print the table."""
    print("path                          taps | matched  card as it is (dB)")
    for name, kind in (
        ("linear phase", {"companded": False}),
        ("minimum phase", {"companded": False, "minimum_phase": True}),
        ("companded", {}),
    ):
        for taps in (255, 511, 1023, 1535):
            tone.TAPS = taps
            matched, plain = left_over(signals.RadioPath(muted=0.0, snr_db=60.0, **kind))  # type: ignore[arg-type]
            print(f"{name:28s} {taps:5d} | {matched:7.1f} {plain:7.1f}")


if __name__ == "__main__":
    main()
