"""How long the demonstration day takes to synthesise and write."""

from __future__ import annotations

import tempfile
import time
from pathlib import Path

from benchmarks.row import Row
from rollsound.demo import build_day


def run() -> list[Row]:
    """Build day 4 once into a temporary folder."""
    with tempfile.TemporaryDirectory() as folder:
        began, cpu = time.perf_counter(), time.process_time()
        truth = build_day(Path(folder) / "day")
        wall, cpu = time.perf_counter() - began, time.process_time() - cpu
        written = sum(path.stat().st_size for path in Path(folder).rglob("*.wav"))
    tracks_s = sum(take.frames * len(take.tracks) for take in truth.takes) / truth.sample_rate_hz
    return [
        Row("demo day, wall clock", wall, "s", goal="under 25 s on two idle cores"),
        Row("demo day, processor time", cpu, "s"),
        Row("demo day, audio written", written / 1e6, "MB", goal="under 1000 MB"),
        Row("demo day, recorder tracks", tracks_s, "track seconds"),
    ]


if __name__ == "__main__":
    for row in run():
        print(f"{row.what}: {row.ours:.1f} {row.unit} ({row.goal})")
