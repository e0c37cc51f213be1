"""The ferry choir's song, of our own making: a tune in G mixolydian in three, its parts, piano, fiddle and click."""

from __future__ import annotations

import numpy as np

from rollsound.demo.scenario import SAMPLE_RATE_HZ, person
from rollsound.demo.voice import A1, BREATH, F0, F1, F32, FORMANTS, FRAME, NOISE_HZ, ROWS, VOICE, render, sing

BEAT_S = 0.625
COUNT_IN_BEATS = 3
_SCALE = (67, 69, 71, 72, 74, 76, 77)  # G A B C D E F
# (step of the scale from G4, beats)
_TUNE = (
    *((0, 2), (1, 1), (2, 2), (4, 1), (3, 1), (2, 1), (1, 1), (0, 3)),
    *((-2, 2), (0, 1), (1, 2), (2, 1), (1, 1), (0, 1), (-1, 1), (0, 3)),
    *((4, 2), (3, 1), (2, 2), (1, 1), (0, 1), (1, 1), (2, 1), (-2, 3)),
    *((-1, 2), (1, 1), (3, 2), (2, 1), (1, 1), (-1, 1), (1, 1), (0, 3)),
)
_ROOTS = (0, 0, 3, 0, -2, 1, -1, 0, 4, 0, 0, -2, -1, 3, -1, 0)  # one a bar
Note = tuple[float, float, float]
SONG_BEATS = sum(beats for _, beats in _TUNE)


def hertz(step: int, octave: int = 0) -> float:
    """The frequency of a step of the scale, counted from G4."""
    turns, place = divmod(step, 7)
    return float(440.0 * 2.0 ** ((_SCALE[place] + 12 * (turns + octave) - 69) / 12.0))


def part(name: str) -> list[Note]:
    """A singer's notes as (start, length, Hz); 0 is the first beat after the count-in."""
    if name == "bass":
        return [(3 * n * BEAT_S, 3 * BEAT_S, hertz(root, -2)) for n, root in enumerate(_ROOTS)]
    shift, octave = {"tune": (0, 0), "alto": (-2, 0), "tenor": (0, -1), "fiddle": (2, 0)}[name]
    notes: list[Note] = []
    at = 0.0
    for step, beats in _TUNE:
        notes.append((at, beats * BEAT_S, hertz(step + shift, octave)))
        at += beats * BEAT_S
    return notes


def song_seconds() -> float:
    """Length from the first beat to the last sound."""
    return SONG_BEATS * BEAT_S + 1.5


def voice_line(name: str, rng: np.random.Generator) -> F32:
    """One singer through the whole song."""
    singer = person(name)
    return sing(singer, part(singer.part), rng, song_seconds())


def _pluck(hz: float, seconds: float, level: float) -> F32:
    n = round(seconds * SAMPLE_RATE_HZ)
    t = np.arange(n, dtype=np.float32) / SAMPLE_RATE_HZ
    out = np.zeros(n, np.float32)
    for k in range(1, 13):
        f = hz * k * (1.0 + 0.0004 * k * k) ** 0.5
        if f < 16_000:
            decay = np.exp(-t * (1.1 + 0.35 * k))
            out += (np.sin(2 * np.pi * f * t).astype(np.float32)) * decay * np.float32(level / k**1.25)
    out[:48] *= np.linspace(0, 1, 48, dtype=np.float32)
    out[-960:] *= np.linspace(1, 0, 960, dtype=np.float32)
    return out


def piano() -> F32:
    """The piano's part: the root on one, the chord on two and three."""
    out = np.zeros(round(song_seconds() * SAMPLE_RATE_HZ), np.float32)
    for bar, root in enumerate(_ROOTS):
        for beat, steps, octave in ((0, (root,), -2), (1, (root + 2, root + 4), -1), (2, (root + 2, root + 4), -1)):
            for step in steps:
                tone = _pluck(hertz(step, octave), 1.4 if beat else 1.9, 0.11)
                first = round((bar * 3 + beat) * BEAT_S * SAMPLE_RATE_HZ)
                tone = tone[: out.size - first]
                out[first : first + tone.size] += tone
    return out


def fiddle(rng: np.random.Generator) -> F32:
    """The fiddle's part, a third above the tune: the voice's source through the resonances of a small wooden box."""
    columns = round(song_seconds() * 200)
    score = np.zeros((ROWS, columns), np.float32)
    score[F1 : F1 + FORMANTS] = np.array([[285.0], [470.0], [1150.0], [2600.0], [4300.0]])
    score[A1 : A1 + FORMANTS] = np.array([[0.8], [1.0], [1.6], [3.2], [2.8]])
    score[F0], score[NOISE_HZ] = 392.0, 4000.0
    for start, length, hz in part("fiddle"):
        a, b = round(start * 200), round((start + length) * 200)
        score[F0, a:b] = hz
        swell = np.minimum(np.arange(b - a) / 12.0, 1.0) * np.minimum((b - a - np.arange(b - a)) / 8.0, 1.0)
        score[VOICE, a:b] = 0.5 * swell
        score[BREATH, a:b] = 0.05 * swell
    at = np.arange(columns) / 200.0
    score[F0] *= (2.0 ** (0.22 * np.sin(2 * np.pi * 5.6 * at) / 12.0)).astype(np.float32)
    return render(score, person("Leila"), int(rng.integers(1, 2**31)))[: columns * FRAME]


def click(beats: int) -> F32:
    """A short tick on every beat, higher on the first of three; starts with the count-in."""
    out = np.zeros(round(beats * BEAT_S * SAMPLE_RATE_HZ), np.float32)
    t = np.arange(480) / SAMPLE_RATE_HZ
    for beat in range(beats):
        first = round(beat * BEAT_S * SAMPLE_RATE_HZ)
        tick = 0.25 * np.sin(2 * np.pi * (1500.0 if beat % 3 == 0 else 1000.0) * t) * np.hanning(480)
        out[first : first + 480] += tick.astype(np.float32)
    return out
