"""Sung phrases with known warps: a guide and a live voice of the same tune, and where every note really begins.

Two invented voices sing the ferry's tune with rests between its lines. The live one is early or late by a known course
in time, by another jitter a note if asked, through a room, noise or other singers, and with other syllables if asked.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.signal import fftconvolve

from rollsound.demo.scenario import Person, person
from rollsound.demo.song import _TUNE, BEAT_S, click, hertz, piano
from rollsound.demo.voice import A1, F0, FORMANTS, _Score, render

HZ = 48_000
REST_S = 0.45
F32 = np.ndarray
Warp = Callable[[float], float]


def tune(lines: int = 4) -> list[tuple[float, float, float]]:
    """The song's notes as (start, length, Hz); the last of each line stops short, to breathe."""
    notes, at = [], 0.0
    for step, beats in _TUNE[: lines * len(_TUNE) // 4]:
        length = beats * BEAT_S - (REST_S if beats == 3 else 0.0)
        notes.append((at, length, hertz(step)))
        at += beats * BEAT_S
    return notes


def line(
    singer: Person, notes: list[tuple[float, float, float]], words: int, breath: int, jitter_s: float, seconds: float
) -> tuple[F32, np.ndarray]:
    """A sung line and where each note begins in seconds. ``words`` and ``breath`` seed syllables and timing."""
    syllables, timing = np.random.default_rng(words), np.random.default_rng(breath)
    score, begins = _Score(singer), []
    for start, length, hz in notes:
        late = max(start + float(timing.normal(0.0, jitter_s)), 0.0)
        gap = round(late * 200) - len(score.columns)
        if gap > 0:
            score.silence(gap / 200.0, hz)
        vowel = str(syllables.choice(["A", "o", "e", "i", "u", "V"]))
        onset = str(syllables.choice(["l", "m", "n", "r", "d", "t", "s", "h"]))
        first = len(score.columns)
        begins.append(first / 200.0)
        score.consonant(onset, vowel, hz, 0.8)
        left = late + length - len(score.columns) / 200.0 - 0.04
        score.vowel(vowel, max(left, 0.06), hz, 0.85)
    score.silence(max(seconds - len(score.columns) / 200.0, 0.05), singer.pitch_hz)
    table = score.finish()
    at = np.arange(table.shape[1]) / 200.0
    rate, depth = float(timing.uniform(5.1, 6.0)), float(timing.uniform(0.2, 0.45))
    table[F0] *= (2.0 ** (depth * np.sin(2 * np.pi * rate * at + float(timing.uniform(0, 6))) / 12.0)).astype(
        np.float32
    )
    table[A1 + 2 : A1 + FORMANTS] *= 1.6
    return render(table, singer, int(timing.integers(1, 2**31)))[: round(seconds * HZ)], np.array(begins)


@dataclass(frozen=True)
class Sung:
    """A pair: both sounds of one length, and the true course (seconds of the guide, live later by seconds)."""

    guide: F32
    live: F32
    at_s: np.ndarray
    late_s: np.ndarray


def sung(
    warp: Warp,
    *,
    singer: str = "Leila",
    guide_singer: str = "Runa",
    jitter_s: float = 0.0,
    same_words: bool = True,
    snr_db: float | None = None,
    room_s: float = 0.0,
    others_db: float | None = None,
    band: bool = False,
    seed: int = 1,
    semitones: float = 0.0,
    lines: int = 4,
) -> Sung:
    """A live voice that is late by ``warp`` (seconds of the guide in, seconds out) against its guide.

    ``others_db`` is how far below the voice a second singer is heard, ``band`` puts the piano under the guide.
    """
    lead, notes = 1.0, tune(lines)
    placed = [(start + lead, length, hz) for start, length, hz in notes]
    seconds = placed[-1][0] + placed[-1][1] + 2.0
    guide, begins = line(person(guide_singer), placed, seed, seed + 50, 0.008, seconds)
    # the same slips of timing as the guide's, then the warp, then slips of its own
    slips = begins - np.array([start for start, _, _ in placed])
    moved = [
        (start + slip + warp(start), length + warp(start + length) - warp(start), hz * 2 ** (semitones / 12))
        for (start, length, hz), slip in zip(placed, slips, strict=True)
    ]
    live, heard = line(person(singer), moved, seed if same_words else seed + 7, seed + 90, jitter_s, seconds)
    rng = np.random.default_rng(seed + 3)
    size = round(seconds * HZ)
    guide, live = (np.pad(each, (0, max(0, size - each.size))).astype(np.float64)[:size] for each in (guide, live))
    level = float(np.sqrt(np.mean(live[np.abs(live) > 1e-4] ** 2)))
    if others_db is not None:
        other, _ = line(person("Signy"), [(s, n, hz * 0.8) for s, n, hz in placed], seed + 11, seed + 12, 0.02, seconds)
        live[: other.size] += other[: live.size] * 10 ** (-others_db / 20)
    if room_s:
        tail = rng.standard_normal(round(room_s * HZ)) * np.exp(-6.9 * np.arange(round(room_s * HZ)) / (room_s * HZ))
        tail *= 0.5 / np.sqrt(np.sum(tail**2))
        tail[0] += 1.0
        live = fftconvolve(live, tail)[:size]
    if snr_db is not None:
        live = live + rng.standard_normal(size) * level * 10 ** (-snr_db / 20)
    if band:
        under = 0.7 * piano()
        first = round(lead * HZ)
        guide[first : first + under.size] += under[: size - first]
    return Sung(guide.astype(np.float32), live.astype(np.float32), begins, heard - begins)


def clicks(seconds: float, lead_s: float = 1.0) -> F32:
    """The click on every beat from the tune's first on."""
    out = np.zeros(round(seconds * HZ), np.float32)
    ticks = click(int((seconds - lead_s) / BEAT_S))
    first = round(lead_s * HZ)
    out[first : first + ticks.size] = ticks[: out.size - first]
    return out


WARPS: dict[str, Warp] = {
    "in time": lambda _t: 0.0,
    "30 ms late": lambda _t: 0.030,
    "80 ms early": lambda _t: -0.080,
    "drags 3 ms a second": lambda t: 0.003 * t,
    "comes and goes": lambda t: 0.06 * float(np.sin(2 * np.pi * t / 9.0)),
    "line by line": lambda t: (0.0, 0.09, -0.05, 0.04, 0.0)[min(max(int((t - 0.8) / 7.5), 0), 4)],
}
