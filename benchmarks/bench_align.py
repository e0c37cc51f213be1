"""How fast and how closely a card is aligned: the ten-minute pair, a card ten hours long, and a plain peer.

Run alone: ``python -m benchmarks.bench_align``. The peer is what one would do first: one cross-correlation over the
whole pair by FFT (scipy.signal.correlate), which finds one offset and no rate.
"""

from __future__ import annotations

import sys
import time
import tracemalloc
from pathlib import Path

import numpy as np
from scipy import signal

from benchmarks.row import Row
from rollsound.conform.align import align, align_readers
from rollsound.conform.readers import ArrayReader, Mono

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "conform"))
import signals as s

SECONDS = 600.0
HOURS = 10


class TenHours:
    """A card ten hours long made on demand out of noise and talk, with a take's sound far inside."""

    sample_rate_hz = s.RATE
    frames = HOURS * 3600 * s.RATE

    def __init__(self, sound: s.Audio, at: int) -> None:
        self.sound, self.at = sound, at
        loop = s.speech(60.0, 77)[: 1 << 21] + s.self_noise(1 << 21, -60.0, 3)
        self.loop = np.concatenate([loop, loop])

    def read_channel(self, channel: int, start: int, frames: int) -> Mono:
        frames = max(min(frames, self.frames - start), 0)
        turn = start // (1 << 20) * 7919 % (1 << 20)  # no two turns of the loop begin alike
        out = self.loop[turn : turn + frames].copy()
        a, b = max(start, self.at), min(start + frames, self.at + self.sound.size)
        if b > a:
            out[a - start : b - start] = self.sound[a - self.at : b - self.at]
        return out


def run() -> list[Row]:
    """Timings on one core, accuracy beside them."""
    pair = s.make_pair(SECONDS, 1)
    align(pair.card[: 30 * s.RATE], pair.radio[: 20 * s.RATE], s.RATE)  # compile
    started = time.perf_counter()
    found = align(pair.card, pair.radio, s.RATE)
    ours = time.perf_counter() - started
    started = time.perf_counter()
    lag = int(np.argmax(signal.correlate(pair.card, pair.radio, "full", "fft"))) - (pair.radio.size - 1)
    peer = time.perf_counter() - started
    assert found.map is not None
    n = np.arange(pair.truth.size, dtype=np.float64)
    worst = pair.worst_error(found.map.at(n))
    return [
        Row("align a 10-minute pair", SECONDS / ours, "x real time", "one FFT correlation", SECONDS / peer, ">= 1000"),
        Row(
            "worst error over it, 20 dB", worst, "samples", "one FFT correlation", pair.worst_error(n + lag), "<= 0.05"
        ),
        Row("rate error over it", abs(found.rate_ppm - 37.4), "ppm", goal="<= 0.002"),
        *_ten_hours(),
    ]


def _ten_hours() -> list[Row]:
    pair = s.make_pair(60.0, 14)
    card = TenHours(pair.card, 1_300_000_123)
    started = time.perf_counter()
    found = align_readers(card, ArrayReader(pair.radio))
    took = time.perf_counter() - started
    tracemalloc.start()
    align_readers(card, ArrayReader(pair.radio))
    peak = tracemalloc.get_traced_memory()[1] / 1e6
    tracemalloc.stop()
    assert found.map is not None
    n = np.arange(pair.truth.size, dtype=np.float64)
    worst = float(np.max(np.abs(found.map.at(n) - pair.truth - card.at)))
    return [
        Row("find a minute on a card of 10 hours, nothing known", took, "s", goal="<= 60"),
        Row("memory for that, beside the card itself", peak, "MB", goal="<= 400"),
        Row("worst error of it", worst, "samples", goal="<= 0.1"),
    ]


if __name__ == "__main__":
    for row in run():
        print(f"{row.what:55s} {row.ours:12.4f} {row.unit:12s} {row.peer} {row.peer_value or ''} goal {row.goal}")
