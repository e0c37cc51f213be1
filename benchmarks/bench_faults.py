"""How fast the fault scan runs over a 32-track file at 48 kHz, as a whole and family by family.

Run alone with ``python -m benchmarks.bench_faults``. The sound is invented speech in noise with a few faults; a rate
of 90 means that a second of all 32 tracks takes 11 ms of one core. Processor time is taken, not the clock on the wall,
so that other work on the machine disturbs less.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from benchmarks.row import Row
from rollsound.measure.scan import FaultScan

RATE_HZ = 48_000
TRACKS = 32
SECONDS = 24
TURNS = 4  # the same sound again and again, as long as a take of a minute and a half
GOAL = "90 times real time, everything together"


def sound(seconds: int = SECONDS, tracks: int = TRACKS) -> NDArray[np.float32]:
    """Syllables of pulses and hiss over noise, different on every track, 24-bit values."""
    rng = np.random.default_rng(5)
    n = seconds * RATE_HZ
    t = np.arange(n) / RATE_HZ
    out = np.empty((n, tracks), np.float32)
    for c in range(tracks):
        pitch = 2 * np.pi * np.cumsum(90 + 6 * c + 12 * np.sin(2 * np.pi * 0.7 * t + c)) / RATE_HZ
        voice = sum(np.sin(k * pitch) / k for k in range(1, 16))
        syllables = np.clip(np.sin(2 * np.pi * 3.1 * t + 2 * c) + 0.3, 0, 1) * (np.sin(2 * np.pi * 0.2 * t + c) > -0.6)
        hiss = np.diff(rng.standard_normal(n + 1)) * np.clip(np.sin(2 * np.pi * 1.3 * t + c) - 0.8, 0, 1)
        track = 0.08 * voice * syllables + 0.1 * hiss + 3e-4 * rng.standard_normal(n)
        out[:, c] = np.round(np.clip(track, -1, 1) * 2**23) / 2**23
    return out


def _time_families(scan: FaultScan, spent: dict[str, float]) -> None:
    families = ("front", "flat", "mutes", "repeats", "radio", "clicks", "code", "levels", "rumble", "bandwidth")
    for family in (*families, "hum", "pairs"):
        part: Any = getattr(scan, f"_{family}")
        part.run = _timed(part.run, family, spent)


def _timed(inner: Callable[..., Any], family: str, spent: dict[str, float]) -> Callable[..., Any]:
    def run(*given: Any) -> Any:
        begun = time.process_time()
        answer = inner(*given)
        spent[family] = spent.get(family, 0.0) + time.process_time() - begun
        return answer

    return run


def _scan(audio: NDArray[np.float32], spent: dict[str, float] | None = None) -> float:
    scan = FaultScan(RATE_HZ, audio.shape[1], 24)
    if spent is not None:
        _time_families(scan, spent)
    begun = time.process_time()
    for _ in range(TURNS):
        for start in range(0, len(audio), 65_536):
            scan.feed(audio[start : start + 65_536])
    scan.finish()
    return time.process_time() - begun


def run() -> list[Row]:
    """The rates in times real time of a 32-track file, one core."""
    audio = sound()
    _scan(audio[: RATE_HZ * 6])
    whole = min(_scan(audio) for _ in range(3))
    spent: dict[str, float] = {}
    _scan(audio, spent)
    rows = [Row("all faults, 32 tracks", SECONDS * TURNS / whole, "x real time", goal=GOAL)]
    for family, seconds in sorted(spent.items(), key=lambda item: -item[1]):
        rows.append(Row(f"faults: {family}", 1000 * seconds / SECONDS / TURNS, "ms per second of 32 tracks"))
    mono = np.ascontiguousarray(audio[:, :1])
    rows.append(Row("all faults, one track", SECONDS * TURNS / min(_scan(mono) for _ in range(2)), "x real time"))
    return rows


if __name__ == "__main__":
    for row in run():
        print(f"{row.what:32} {row.ours:9.2f} {row.unit}  {row.goal}")
