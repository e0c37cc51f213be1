"""Voices from nothing: glottal pulses and breath through moving formants, speech sounds strung into phrases.

A phrase is first written as a score (one row of parameters every 5 ms), then turned into sound by one compiled loop.

Source: the glottal pulse of the KLGLOTT88 source (Klatt & Klatt 1990); vowel formants are the averages of men of
Peterson & Barney 1952, scaled by the length of the vocal tract; the rest is common practice of formant synthesis.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rollsound.demo.scenario import Person
from rollsound.kernel import kernel

F32 = NDArray[np.float32]
FRAME = 240
"""Samples of one row of the score: 5 ms."""
FORMANTS = 5
VOWELS: dict[str, tuple[float, float, float]] = {
    "i": (270.0, 2290.0, 3010.0),
    "I": (390.0, 1990.0, 2550.0),
    "e": (530.0, 1840.0, 2480.0),
    "a": (660.0, 1720.0, 2410.0),
    "A": (730.0, 1090.0, 2440.0),
    "o": (570.0, 840.0, 2410.0),
    "U": (440.0, 1020.0, 2240.0),
    "u": (300.0, 870.0, 2240.0),
    "V": (640.0, 1190.0, 2390.0),
    "3": (490.0, 1350.0, 1690.0),
}
_BANDWIDTHS = (70.0, 90.0, 130.0, 220.0, 300.0)
# rows of the score
F0, VOICE, BREATH, F1, A1, NOISE, NOISE_HZ, HIGH = 0, 1, 2, 3, 8, 13, 14, 15
ROWS = 16


@dataclass(frozen=True)
class Sound:
    """A consonant: seconds, voicing, breath through the formants, noise level, its centre and its high share."""

    seconds: float
    voice: float
    breath: float
    noise: float
    noise_hz: float
    high: float
    colour: str = ""


CONSONANTS: dict[str, Sound] = {
    "s": Sound(0.105, 0.0, 0.0, 0.22, 6800.0, 0.20),
    "S": Sound(0.100, 0.0, 0.0, 0.22, 3300.0, 0.07),
    "f": Sound(0.085, 0.0, 0.0, 0.06, 5200.0, 0.09),
    "h": Sound(0.060, 0.0, 0.16, 0.0, 3000.0, 0.01),
    "z": Sound(0.075, 0.35, 0.0, 0.11, 6500.0, 0.12),
    "v": Sound(0.060, 0.45, 0.0, 0.04, 4800.0, 0.07),
    "m": Sound(0.070, 0.50, 0.0, 0.0, 3000.0, 0.0, "u"),
    "n": Sound(0.065, 0.50, 0.0, 0.0, 3000.0, 0.0, "I"),
    "l": Sound(0.060, 0.65, 0.0, 0.0, 3000.0, 0.0, "U"),
    "r": Sound(0.060, 0.60, 0.0, 0.0, 3000.0, 0.0, "3"),
    "w": Sound(0.060, 0.60, 0.0, 0.0, 3000.0, 0.0, "u"),
    "p": Sound(0.075, 0.0, 0.0, 0.0, 1200.0, 0.0),
    "t": Sound(0.070, 0.0, 0.0, 0.0, 4400.0, 0.0),
    "k": Sound(0.075, 0.0, 0.0, 0.0, 2000.0, 0.0),
    "b": Sound(0.055, 0.20, 0.0, 0.0, 900.0, 0.0),
    "d": Sound(0.050, 0.20, 0.0, 0.0, 3800.0, 0.0),
    "g": Sound(0.055, 0.20, 0.0, 0.0, 1900.0, 0.0),
}
_BURSTS = {"p": 0.25, "t": 0.55, "k": 0.45, "b": 0.12, "d": 0.25, "g": 0.20}
_ONSETS = ("s", "S", "f", "h", "v", "m", "n", "l", "r", "w", "p", "t", "k", "b", "d", "g", "t", "n", "s", "")
_CODAS = ("", "", "", "s", "n", "t", "l", "r", "z", "m", "k")


@kernel()
def _sing(score: NDArray[np.float32], frame: int, jitter: float, open_quotient: float, seed: int, out: F32) -> None:
    """Score (rows of parameters, one column per ``frame`` samples) to sound."""
    fs = 48000.0
    state = np.uint64(seed) * np.uint64(0x9E3779B97F4A7C15) + np.uint64(0xD1B54A32D192ED03)
    c1 = np.zeros(7)
    c2 = np.zeros(7)
    gain = np.zeros(7)
    y1 = np.zeros(7)
    y2 = np.zeros(7)
    phase = 0.0
    wobble = 0.0
    tilt = 0.0
    last_white = 0.0
    columns = score.shape[1]
    for n in range(out.shape[0]):
        place = n / frame
        i = int(place)
        if i > columns - 2:
            i = columns - 2
        w = place - i
        if n % 48 == 0:
            for k in range(5):
                hz = score[3 + k, i] * (1.0 - w) + score[3 + k, i + 1] * w
                width = 60.0 + 0.055 * hz
                r = math.exp(-math.pi * width / fs)
                c1[k] = 2.0 * r * math.cos(2.0 * math.pi * hz / fs)
                c2[k] = -r * r
                gain[k] = (1.0 - r) * (score[8 + k, i] * (1.0 - w) + score[8 + k, i + 1] * w)
            hz = score[14, i] * (1.0 - w) + score[14, i + 1] * w
            r = math.exp(-math.pi * (0.35 * hz) / fs)
            c1[5] = 2.0 * r * math.cos(2.0 * math.pi * hz / fs)
            c2[5] = -r * r
            gain[5] = 1.0 - r
        state ^= state << np.uint64(13)
        state ^= state >> np.uint64(7)
        state ^= state << np.uint64(17)
        white = (np.int64(state >> np.uint64(11)) / 4503599627370496.0 - 1.0) * 1.7
        f0 = (score[0, i] * (1.0 - w) + score[0, i + 1] * w) * (1.0 + wobble)
        phase += f0 / fs
        if phase >= 1.0:
            phase -= 1.0
            wobble = 0.6 * wobble + jitter * white
        pulse = 0.0
        if phase < open_quotient:
            t = phase / open_quotient
            pulse = 2.0 * t - 3.0 * t * t
        tilt += 0.42 * (pulse - tilt)
        voiced = tilt * (score[1, i] * (1.0 - w) + score[1, i + 1] * w)
        gate = 0.4 + 0.6 * (1.0 if phase < open_quotient else 0.0)
        breath = white * gate * (score[2, i] * (1.0 - w) + score[2, i + 1] * w)
        source = voiced + breath
        total = 0.0
        sign = 1.0
        for k in range(5):
            y = gain[k] * source + c1[k] * y1[k] + c2[k] * y2[k]
            total += sign * (y - y2[k])
            y2[k] = y1[k]
            y1[k] = y
            sign = -sign
        noise = white * (score[13, i] * (1.0 - w) + score[13, i + 1] * w)
        y = gain[5] * noise + c1[5] * y1[5] + c2[5] * y2[5]
        total += 0.24 * (y - y2[5])
        y2[5] = y1[5]
        y1[5] = y
        high = white - last_white
        last_white = white
        total += 0.12 * high * (score[15, i] * (1.0 - w) + score[15, i + 1] * w)
        out[n] = total


def render(score: NDArray[np.float32], speaker: Person, seed: int) -> F32:
    """The sound of a score: float32, ``FRAME`` samples a column."""
    out = np.zeros(max(score.shape[1] - 1, 0) * FRAME, np.float32)
    if out.size:
        _sing(score, FRAME, 0.006 + 0.02 * speaker.breath, 0.62, seed & 0x7FFFFFFF, out)
    return out


def _formants(vowel: str, tract: float) -> NDArray[np.float64]:
    """Five formants in Hz of a vowel for a tract (relative to the average man's)."""
    low = VOWELS[vowel]
    return np.array([*low, 3500.0, 4600.0]) * tract


def _amplitudes(formants: NDArray[np.float64]) -> NDArray[np.float64]:
    """What a tube gives each resonance: the peaks of the cascade of all of them."""
    f = formants[:, None]
    others = formants[None, :]
    ratio = np.abs(1.0 - (f / others) ** 2)
    np.fill_diagonal(ratio, 1.0)
    damped = np.sqrt(ratio**2 + (0.12 * f / others) ** 2)
    out: NDArray[np.float64] = np.clip(1.0 / damped.prod(axis=1), 0.02, 6.0)
    # the resonances that are not modelled lift the upper ones; the last factor was fitted to a published spectrum
    out *= (1.0 + (formants / 4200.0) ** 2) * np.array([0.85, 1.9, 2.6, 2.4, 2.0])
    return out


class _Score:
    """A score being written from left to right."""

    def __init__(self, speaker: Person) -> None:
        self.speaker = speaker
        self.columns: list[NDArray[np.float64]] = []

    def _row(self, vowel: str, f0: float) -> NDArray[np.float64]:
        row = np.zeros(ROWS)
        formants = _formants(vowel, self.speaker.tract)
        row[F0] = f0
        row[F1 : F1 + FORMANTS] = formants
        row[A1 : A1 + FORMANTS] = _amplitudes(formants)
        row[NOISE_HZ] = 4000.0
        return row

    def add(self, row: NDArray[np.float64], frames: int) -> None:
        self.columns += [row] * frames

    def vowel(self, vowel: str, seconds: float, f0: float, stress: float) -> None:
        row = self._row(vowel, f0)
        row[VOICE] = stress
        row[BREATH] = self.speaker.breath * stress
        row[HIGH] = 0.014 * stress
        self.add(row, max(round(seconds * 200), 3))

    def consonant(self, name: str, vowel: str, f0: float, stress: float) -> None:
        sound = CONSONANTS[name]
        row = self._row(sound.colour or vowel, f0)
        row[VOICE], row[BREATH] = sound.voice * stress, sound.breath * stress
        row[NOISE], row[NOISE_HZ], row[HIGH] = sound.noise, sound.noise_hz, sound.high
        if sound.colour:
            row[A1 + 1 : A1 + FORMANTS] *= 0.35
        self.add(row, round(sound.seconds * 200))
        if name in _BURSTS:
            burst = row.copy()
            burst[NOISE], burst[HIGH], burst[VOICE] = _BURSTS[name] * 0.42, _BURSTS[name] * 0.20, 0.0
            self.add(burst, 2)
            if name in "ptk":
                air = row.copy()
                air[BREATH], air[NOISE], air[VOICE] = 0.06, 0.03, 0.0
                self.add(air, 7)

    def silence(self, seconds: float, f0: float) -> None:
        self.add(self._row("3", f0), max(round(seconds * 200), 2))

    def finish(self) -> NDArray[np.float32]:
        """Rows over columns, with the movements of a mouth: formants and pitch glide, levels follow within 10 ms."""
        if not self.columns:
            return np.zeros((ROWS, 1), np.float32)
        score = np.array(self.columns).T
        for rows, reach in (
            (slice(F1, NOISE), 9),
            (slice(F0, F0 + 1), 13),
            (slice(VOICE, F1), 4),
            (slice(NOISE, NOISE + 1), 3),
            (slice(HIGH, ROWS), 3),
        ):
            window = np.hanning(reach + 2)[1:-1]
            window /= window.sum()
            edge = reach // 2
            padded = np.pad(score[rows], ((0, 0), (edge, reach - 1 - edge)), mode="edge")
            score[rows] = np.array([np.convolve(row, window, mode="valid") for row in padded])
        return np.ascontiguousarray(score, dtype=np.float32)


def speak(speaker: Person, seconds: float, rng: np.random.Generator, effort: float = 1.0) -> F32:
    """One phrase of invented syllables, about so long; ``effort`` above 1 raises level and pitch (2.5 is a shout)."""
    score = _Score(speaker)
    lift = 12.0 * math.log2(max(effort, 0.3)) * 0.55
    length = 0.0
    score.silence(0.03, speaker.pitch_hz)
    while length < seconds:
        for _ in range(int(rng.integers(1, 4))):
            share = min(length / seconds, 1.0)
            accent = float(rng.normal(0.0, speaker.liveliness))
            f0 = speaker.pitch_hz * 2.0 ** ((lift + 1.8 - 3.4 * share + accent) / 12.0)
            stress = float(rng.uniform(0.55, 1.0))
            before = len(score.columns)
            vowel = str(rng.choice(list(VOWELS)))
            onset, coda = str(rng.choice(_ONSETS)), str(rng.choice(_CODAS))
            if onset:
                score.consonant(onset, vowel, f0, stress)
            score.vowel(vowel, float(rng.uniform(0.07, 0.17)), f0, stress)
            if coda:
                score.consonant(coda, vowel, f0 * 0.97, stress)
            length += (len(score.columns) - before) / 200.0
            if length >= seconds:
                break
        score.silence(float(rng.choice([0.015, 0.03, 0.12])), speaker.pitch_hz)
    score.silence(0.04, speaker.pitch_hz)
    return render(score.finish(), speaker, int(rng.integers(1, 2**31))) * np.float32(effort**1.3)


def sing(speaker: Person, notes: list[tuple[float, float, float]], rng: np.random.Generator, seconds: float) -> F32:
    """A sung line: notes of (start in seconds, length in seconds, Hz), one syllable each, with vibrato."""
    score = _Score(speaker)
    for start, length, hz in notes:
        late = start + float(rng.normal(0.0, 0.012))
        gap = round(late * 200) - len(score.columns)
        if gap > 0:
            score.silence(gap / 200.0, hz)
        vowel = str(rng.choice(["A", "o", "e", "i", "u", "V"]))
        onset = str(rng.choice(["l", "m", "n", "r", "d", "t", "s", "h"]))
        first = len(score.columns)
        score.consonant(onset, vowel, hz, 0.8)
        left = length - (len(score.columns) - first) / 200.0 - 0.04
        score.vowel(vowel, max(left, 0.08), hz, 0.85)
    score.silence(max(seconds - len(score.columns) / 200.0, 0.05), speaker.pitch_hz)
    table = score.finish()
    at = np.arange(table.shape[1]) / 200.0
    rate, depth = float(rng.uniform(5.1, 6.0)), float(rng.uniform(0.2, 0.45))
    table[F0] *= (2.0 ** (depth * np.sin(2 * np.pi * rate * at + float(rng.uniform(0, 6))) / 12.0)).astype(np.float32)
    table[A1 + 2 : A1 + FORMANTS] *= 1.6
    return render(table, speaker, int(rng.integers(1, 2**31)))
