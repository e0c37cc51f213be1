"""The table behind the thresholds of radio hits, dropouts, clicks and flat tops: alarms in clean speech, and recall.

Eight synthetic voices of the demonstration, a minute each, in room and preamp noise. Run it with
``python design/measure_alarms.py``; give WAV files of clean speech (48 kHz) to count alarms in them as well.
"""

from __future__ import annotations

import sys
from collections import Counter

import numpy as np
from numpy.typing import NDArray
from scipy import signal

from rollsound.demo.scenario import PEOPLE
from rollsound.demo.voice import speak
from rollsound.measure.model import Fault
from rollsound.measure.scan import FaultScan
from rollsound.wave import open_wave

RATE = 48_000
SECONDS = 60
SURE = 0.5
Audio = NDArray[np.float64]


def voices(seconds: int = SECONDS) -> Audio:
    """One voice a column, peak 1."""
    columns = []
    for seed, person in enumerate(PEOPLE[:8]):
        rng = np.random.default_rng(seed)
        parts: list[NDArray[np.float32]] = []
        while sum(part.size for part in parts) < seconds * RATE:
            parts += [speak(person, float(rng.uniform(1, 4)), rng), np.zeros(int(rng.uniform(0.2, 1.5) * RATE), "f")]
        line = np.concatenate(parts)[: seconds * RATE].astype(np.float64)
        columns.append(line / np.max(np.abs(line)))
    return np.stack(columns, axis=1)


def in_a_room(clean: Audio, peak_dbfs: float, floor_dbfs: float, bits: int, seed: int = 0) -> NDArray[np.float32]:
    """The voices at a level, in noise, rounded to so many bits."""
    rng = np.random.default_rng(seed)
    dull = signal.lfilter([0.05], [1, -0.97], rng.standard_normal(clean.shape), axis=0)
    level = 10 ** (floor_dbfs / 20)
    noise = dull / np.std(dull) * level + rng.standard_normal(clean.shape) * level / 2
    scale = 2.0 ** (bits - 1)
    return (np.round(np.clip(clean * 10 ** (peak_dbfs / 20) + noise, -1, 1 - 1 / scale) * scale) / scale).astype("f")


def faults(audio: NDArray[np.float32], bits: int) -> list[list[Fault]]:
    """What would be told, for each column."""
    scan = FaultScan(RATE, audio.shape[1], bits)
    scan.feed(audio)
    return [[f for f in track.faults if f.confidence >= SURE] for track in scan.finish().tracks]


def loud(line: NDArray[np.float32]) -> float:
    """The amplitude that a hundredth of the stretches of 10 ms lies above."""
    tens = line[: line.size // 480 * 480].reshape(-1, 480).astype(np.float64)
    return float(np.quantile(np.sqrt(np.mean(tens**2, axis=1)), 0.99))


def hit_recall(room: NDArray[np.float32], level_db: float, milliseconds: float) -> tuple[float, int]:
    """Share of added bursts that are found, and findings that fit none."""
    rng = np.random.default_rng(1)
    band = signal.firwin(255, 15_000, fs=RATE)
    length, audio = round(48 * milliseconds), room.copy()
    places = []
    for c in range(audio.shape[1]):
        amplitude = loud(room[:, c]) * 10 ** (level_db / 20)
        at = [int((1 + 1.7 * k + rng.uniform(0, 0.8)) * RATE) for k in range(int(SECONDS / 1.7) - 2)]
        for start in at:
            burst = signal.lfilter(band, 1, rng.standard_normal(length + 300))[300:]
            audio[start : start + length, c] += (amplitude * burst / np.std(burst)).astype("f")
        places.append(at)
    hits = total = false = 0
    for found, at in zip(faults(audio, 24), places, strict=True):
        starts = [f.start_sample for f in found if f.kind == "radio-hit"]
        total += len(at)
        hits += sum(any(abs(s - start) < 480 for s in starts) for start in at)
        false += sum(all(abs(s - start) > 4800 for start in at) for s in starts)
    return hits / total, false


def main() -> None:
    """Print the tables."""
    clean = voices()
    minutes = clean.shape[1] * SECONDS / 60
    print(f"alarms in {minutes:.0f} minutes of clean speech, by word length, peak and floor")
    for bits in (24, 16):
        for peak, floor in ((-6, -65), (-12, -85), (-20, -75), (-6, -100), (-14, -55)):
            found = faults(in_a_room(clean, peak, floor, bits), bits)
            print(f"  {bits} bit {peak:4} {floor:5} dBFS: {dict(Counter(f.kind for t in found for f in t))}")
    room = in_a_room(clean, -8, -70, 24)
    print("radio hits found, by level over the loudest hundredth of speech and by length")
    for level in (12, 6, 0, -3, -6, -10):
        row = [(ms, *hit_recall(room, level, ms)) for ms in (6, 8, 20, 80, 300)]
        print(f"  {level:4} dB: " + ", ".join(f"{ms} ms {share:.2f} ({false} false)" for ms, share, false in row))
    for path in sys.argv[1:]:
        with open_wave(path) as reader:
            audio = reader.read(0, reader.info.frames)
            bits = reader.info.format.sample_format.bits
        print(f"{path}: {dict(Counter(f.kind for t in faults(audio, bits) for f in t))}")


if __name__ == "__main__":
    main()
