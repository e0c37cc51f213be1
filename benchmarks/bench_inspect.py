"""The whole inspect pass on a 32-track 24-bit poly: decode, every meter, every detector, overview."""

from __future__ import annotations

import sys
import tempfile
import time
from pathlib import Path

import numpy as np

from benchmarks.row import Row
from rollsound.actions.inspect import inspect
from rollsound.wave import AudioFormat, Bext, SampleFormat, WaveWriter

RATE_HZ, TRACKS = 48_000, 32


def write_poly(path: Path, minutes: float) -> None:
    """Speech-like noise on every track, each its own."""
    rng = np.random.default_rng(3)
    block = RATE_HZ * 10
    hills = np.repeat(rng.uniform(0, 1, (100, TRACKS)).astype(np.float32) ** 3, block // 100, axis=0)
    noise = rng.standard_normal((block + RATE_HZ, TRACKS)).astype(np.float32)
    form = AudioFormat(RATE_HZ, TRACKS, SampleFormat.PCM24)
    with WaveWriter(path, form, bext=Bext(time_reference=36_000 * RATE_HZ)) as writer:
        for n in range(round(minutes * 6)):
            at = (n * 7919) % RATE_HZ
            writer.write(noise[at : at + block] * hills * 0.05 + noise[at : at + block] * 1e-4)


def run(minutes: float = 3.0) -> list[Row]:
    """One file on one core; the peer is the audio's own time."""
    with tempfile.TemporaryDirectory(dir=Path.cwd()) as name:
        short, path = Path(name) / "short.wav", Path(name) / "poly.wav"
        write_poly(short, 0.5)
        write_poly(path, minutes)
        inspect([short], workers=1)  # compiles
        began = time.perf_counter()
        inspect([path], workers=1)
        seconds = time.perf_counter() - began
        speed = minutes * 60 / seconds
    return [Row("inspect, 32 tracks together, one core", speed, "x real time", "real time", 1.0, "at least 40")]


if __name__ == "__main__":
    for row in run(float(sys.argv[1]) if len(sys.argv) > 1 else 3.0):
        print(row)
