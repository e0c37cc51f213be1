"""How alike a copy at another rate or depth is to its original, and how alike another mic is: the table behind the
limit in ``rollsound.conform.doubles``.

Prints the correlation of one second of sound.
"near" is a second mic a foot away that hears somebody else as well. Run: ``python design/doubles_likeness.py``
"""

from __future__ import annotations

import sys
from fractions import Fraction
from pathlib import Path

import numpy as np
import soxr

from rollsound.conform.doubles import likeness_of_copies
from rollsound.conform.readers import ArrayReader, ResampledReader

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "conform"))
import signals as s

SECONDS = 20.0
MARGIN = s.RATE // 10


def second(x: s.Audio, start: int, rate: int = s.RATE) -> s.Audio:
    """One second at the usual rate, read as ``doubles`` reads it."""
    reader = ArrayReader(x, rate)
    if rate != s.RATE:
        return ResampledReader(reader, Fraction(rate, s.RATE), s.RATE).read_channel(0, start, s.RATE)
    return reader.read_channel(0, start, s.RATE)


def loudest(x: s.Audio) -> int:
    """Where the loudest whole second starts, not the first nor the last."""
    seconds = x[: x.size // s.RATE * s.RATE].reshape(-1, s.RATE)[1:-1]
    return int(np.argmax((seconds.astype(np.float64) ** 2).mean(axis=1)) + 1) * s.RATE


def shallow(x: s.Audio, seed: int, bits: int = 16) -> s.Audio:
    """With triangular dither."""
    rng = np.random.default_rng(seed)
    step = 2.0 ** (1 - bits)
    noise = rng.random(x.size) - rng.random(x.size)
    return (np.round(x / step + noise) * step).astype(np.float32)


def converted(x: s.Audio, rate: int) -> s.Audio:
    """The whole at another rate."""
    return np.asarray(soxr.resample(x, s.RATE, rate, quality="VHQ"), np.float32)


def main() -> None:
    """Print the table."""
    print(f"{'seed':>4} {'level':>6} {'44.1k':>6} {'44.1/16':>8} {'16 bit':>6} {'96k':>6} {'22.05':>6}"
          f" {'room':>6} {'near':>6} {'radio':>6} {'other':>6}")  # fmt: skip
    for seed in range(4):
        for level in (0.0, -30.0, -50.0):
            clean = s.speech(SECONDS, 900 + seed, pitch=100.0 + 40 * seed) * np.float32(10 ** (level / 20))
            x = clean + s.self_noise(clean.size, -85.0, seed)
            other = s.speech(SECONDS, 950 + seed, pitch=150.0)
            room = s.in_room(clean, s.room_tail(seed)) + s.self_noise(clean.size, -80.0, seed + 50)
            late = np.concatenate([np.zeros(48, np.float32), clean[:-48]]) * np.float32(0.3)
            near = late + np.float32(0.1) * other + s.self_noise(clean.size, -80.0, seed + 70)
            radio = s.through_radio(clean, s.RadioPath(), seed)
            at = loudest(clean)
            own = x[at - MARGIN : at + s.RATE + MARGIN]
            pairs = [
                (second(converted(x, 44_100), at, 44_100), 44_100),
                (second(shallow(converted(x, 44_100), seed), at, 44_100), 44_100),
                (second(shallow(x, seed), at), s.RATE),
                (second(converted(x, 96_000), at, 96_000), 96_000),
                (second(converted(x, 22_050), at, 22_050), 22_050),
                (second(room.astype(np.float32), at), s.RATE),
                (second(near.astype(np.float32), at), s.RATE),
                (second(radio.astype(np.float32), at), s.RATE),
                (second(other, at), s.RATE),
            ]
            row = [likeness_of_copies(own, pair, s.RATE, min(rate, s.RATE)) for pair, rate in pairs]
            print(f"{seed:>4} {level:>6.0f} " + " ".join(f"{value:6.3f}" for value in row))


if __name__ == "__main__":
    main()
