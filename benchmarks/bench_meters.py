"""Speed of the meters over 32 tracks against a reference library in the same run, one thread.

``python -m benchmarks.bench_meters [minutes]``: one minute by default; the audio is half a minute that repeats.
Speeds are times real time per track: 32 tracks of a minute in one second are 1920.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable

import numpy as np
import pyebur128
from numpy.typing import NDArray

from benchmarks.row import Row
from rollsound.measure.analyser import pieces
from rollsound.measure.levels import Levels
from rollsound.measure.loudness import TrackLoudness
from rollsound.measure.overview import OverviewStore
from rollsound.measure.survey import Survey
from rollsound.measure.truepeak import TruePeak

RATE = 48_000
TRACKS = 32
LOOP_SECONDS = 30
PEER_TRACKS = 4  # the peer measures one track at a time, so its speed per track does not depend on how many

Audio = NDArray[np.float32]


def gusts(seed: int = 1) -> Audio:
    """Half a minute of noise that swells and pauses like speech over a quiet room, rounded to 24 bits."""
    rng = np.random.default_rng(seed)
    frames = LOOP_SECONDS * RATE
    audio = rng.standard_normal((frames, TRACKS), dtype=np.float32)
    for track in range(TRACKS):
        gain = np.full(frames, 10 ** (-75 / 20), dtype=np.float32)
        at = 0
        while at < frames:
            length = int(rng.uniform(0.08, 0.5) * RATE)
            part = gain[at : at + length]
            part += np.sin(np.pi * np.arange(part.size) / length) * 10 ** (rng.uniform(-50, -20) / 20)
            at += length + int(rng.choice([0.02, 0.15, 1.2], p=[0.7, 0.25, 0.05]) * RATE)
        audio[:, track] *= gain
    rounded: Audio = np.rint(audio * np.float32(2.0**23)) / np.float32(2.0**23)
    return rounded


def steady(seed: int = 2) -> Audio:
    """Half a minute of even noise: nowhere can the search for peaks skip anything for long."""
    return np.random.default_rng(seed).standard_normal((LOOP_SECONDS * RATE, TRACKS), dtype=np.float32) * np.float32(
        0.1
    )


def ours_loudness_and_peak(audio: Audio, loops: int) -> float:
    """Seconds for loudness, range, maxima and true peak of all tracks."""
    loudness, peak = TrackLoudness(RATE, TRACKS), TruePeak(TRACKS)
    start = time.perf_counter()
    for _ in range(loops):
        for piece in pieces(audio):
            loudness.feed(piece)
            peak.feed(piece)
    loudness.finish()
    peak.finish()
    return time.perf_counter() - start


def ours_all_meters(audio: Audio, loops: int) -> float:
    """Seconds for every meter, the overview included, without the fault scan."""
    loudness, peak = TrackLoudness(RATE, TRACKS), TruePeak(TRACKS)
    overview = OverviewStore(RATE, TRACKS)
    levels = Levels(RATE, TRACKS, overview)
    start = time.perf_counter()
    for _ in range(loops):
        for piece in pieces(audio):
            loudness.feed(piece)
            peak.feed(piece)
            levels.feed(piece)
    for meter in (loudness, peak, levels, overview):
        meter.finish()
    return time.perf_counter() - start


def ours_survey(audio: Audio, loops: int) -> float:
    """Seconds for the whole survey, fault scan included, fed in blocks of a reader's size."""
    survey = Survey(RATE, TRACKS, 24)
    start = time.perf_counter()
    for _ in range(loops):
        for at in range(0, audio.shape[0], 65_536):
            survey.feed(audio[at : at + 65_536])
    survey.finish()
    return time.perf_counter() - start


def peer_loudness_and_peak(audio: Audio, loops: int) -> float:
    """Seconds the library needs for loudness, range, maxima and true peak of some tracks."""
    mode = pyebur128.MeasurementMode
    lines = [np.ascontiguousarray(audio[:, track]) for track in range(PEER_TRACKS)]
    start = time.perf_counter()
    for line in lines:
        state = pyebur128.R128State(1, RATE, mode.MODE_I | mode.MODE_LRA | mode.MODE_TRUE_PEAK)
        for _ in range(loops):
            state.add_frames(line, line.size)
        pyebur128.get_loudness_global(state)
        pyebur128.get_loudness_range(state)
        pyebur128.get_true_peak(state, 0)
    return time.perf_counter() - start


def speed(job: Callable[[Audio, int], float], audio: Audio, loops: int, tracks: int) -> float:
    """Times real time per track, best of two, compiled beforehand."""
    job(audio[:RATE], 1)
    return tracks * loops * LOOP_SECONDS / min(job(audio, loops) for _ in range(2))


def run(minutes: float = 1.0) -> list[Row]:
    """Measure ours and the peer's."""
    loops = max(1, round(minutes * 60 / LOOP_SECONDS))
    rows = []
    for name, audio in (("speech-like", gusts()), ("even noise", steady())):
        peer = speed(peer_loudness_and_peak, audio, max(1, loops // 2), PEER_TRACKS)
        ours = speed(ours_loudness_and_peak, audio, loops, TRACKS)
        rows.append(
            Row(
                f"loudness, range and true peak of {TRACKS} tracks, {name}",
                ours,
                "times real time per track",
                "libebur128",
                peer,
                "at least 10 times the library",
            )
        )
        meters = speed(ours_all_meters, audio, loops, TRACKS) / TRACKS
        rows.append(Row(f"all meters on a {TRACKS}-track file, {name}", meters, "times real time", goal="at least 80"))
        survey = speed(ours_survey, audio, loops, TRACKS) / TRACKS
        rows.append(
            Row(f"whole survey of a {TRACKS}-track file, {name}", survey, "times real time", goal="at least 45")
        )
    return rows


if __name__ == "__main__":
    for row in run(float(sys.argv[1]) if len(sys.argv) > 1 else 1.0):
        peer = f"  {row.peer} {row.peer_value:.0f}, ratio {row.ratio:.1f}" if row.peer_value and row.ratio else ""
        print(f"{row.what}: {row.ours:.0f} {row.unit}{peer}  (goal: {row.goal})")
