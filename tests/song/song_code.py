"""Playback code as takes record it, and songs to lay it over."""

from __future__ import annotations

from fractions import Fraction

import numpy as np

from rollsound.song.clock import SongClock
from rollsound.song.coverage import SongTake
from rollsound.song.passes import Pass, PassFinder
from rollsound.song.tempo_csv import read_tempo_csv
from rollsound.timecode import LtcDecoder, Rate, Timecode, encode_ltc

HZ = 48_000


def code(
    label: str, seconds: float, rate: str = "25", *, speed: Fraction | float = 1, reverse: bool = False
) -> np.ndarray:
    """Code from a label on, as it sounds when played at a speed; ``seconds`` are of the recording."""
    exact = Rate.parse(rate)
    speed = Fraction(speed).limit_denominator(1_000_000_000)
    words = int(seconds * exact.pair.fps * speed)
    frames = words * (exact.nominal // exact.pair.nominal)
    return encode_ltc(Timecode.parse(label, exact), frames, HZ / speed, reverse=reverse)


def noisy(sound: np.ndarray, snr_db: float, seed: int = 2) -> np.ndarray:
    rms = float(np.sqrt((sound.astype(np.float64) ** 2).mean()))
    return (sound + np.random.default_rng(seed).normal(0, rms * 10 ** (-snr_db / 20), sound.size)).astype(np.float32)


def passes(*sounds: np.ndarray) -> tuple[Pass, ...]:
    decoder, finder = LtcDecoder(HZ), PassFinder(HZ)
    for sound in sounds:
        finder.take(decoder.feed(sound.astype(np.float32)))
    finder.take(decoder.finish())
    return finder.finish()


def silence(seconds: float) -> np.ndarray:
    return np.zeros(round(seconds * HZ), np.float32)


def take(name: str, *sounds: np.ndarray, scene: str = "36") -> SongTake:
    frames = sum(sound.size for sound in sounds)
    return SongTake(name, f"{name}.wav", scene, HZ, frames, 3, passes(*sounds))


def song(
    start: str = "01:00:00:00", rate: str = "25", length: int | None = 40, id: str = "ferry", bars: str = ""
) -> SongClock:
    exact = Rate.parse(rate)
    tempo = read_tempo_csv(bars or "bar,tempo,meter\n1,96,3/4\n", "map.csv")
    return SongClock(
        id,
        id.title(),
        Timecode.parse(start, exact),
        tempo,
        None if length is None else Fraction(length),
        scenes=("36",),
    )
