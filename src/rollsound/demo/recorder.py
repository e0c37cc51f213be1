"""One take as the recorder has it: booms by cable, radio mics through their paths, mix, and music tracks."""

from __future__ import annotations

import math
from collections.abc import Callable
from concurrent.futures import Executor
from dataclasses import dataclass

import numpy as np

from rollsound.demo import ship, song
from rollsound.demo.chance import generator
from rollsound.demo.radio import LEAD, harm, transmit
from rollsound.demo.scenario import MUSIC, SAMPLE_RATE_HZ, Damage, Day, Take
from rollsound.demo.script import SONG_STARTS_S
from rollsound.demo.stage import Stage
from rollsound.demo.truth import TrueSpan
from rollsound.demo.voice import F32
from rollsound.timecode import Rate, Timecode, encode_ltc

PLAYBACK_TIMECODE = "01:00:00:00"
FRAME_RATE = Rate.parse("25")
LTC_STARTS_S = 2.0
_LAST_CODE = 1.0 - 2.0**-23


@dataclass(frozen=True)
class Recorded:
    """A take's audio, float32 (frames, tracks), and what is wrong with each track."""

    audio: F32
    spans: dict[str, list[TrueSpan]]
    first_day_sample: int


def record(day: Day, take: Take, stage: Stage, seed: int, pool: Executor) -> Recorded:
    """Everything the recorder hears from the take's first sample to its last."""
    frames = round(take.seconds * SAMPLE_RATE_HZ)
    first = round(take.start_s * SAMPLE_RATE_HZ)
    names = day.tracks_of(take)
    spans: dict[str, list[TrueSpan]] = {name: [] for name in names}
    damages = [damage for damage in day.damages if damage.file == take.file]
    audio = np.zeros((frames, len(names)), np.float32)

    def track(name: str) -> F32:
        begin = first - stage.first
        mic = stage.sound[name]
        if name in stage.block.booms:
            sound = mic[begin : begin + frames].copy()
        else:
            sound = transmit(mic[begin - LEAD : begin + frames], day.delay_samples[name], seed, f"{take.file} {name}")
        for damage in damages:
            if damage.track == name:
                sound, span = _harmed(sound, damage, first, seed)
                spans[name].append(span)
        return sound

    mics = [*stage.block.booms, *stage.block.radios]
    for name, sound in zip(mics, pool.map(track, mics), strict=True):
        audio[:, names.index(name)] = sound
    _mix(audio, names, mics)
    if take.sung:
        for name, part in _music(day, take, frames, seed).items():
            audio[:, names.index(name)] = part
    return Recorded(audio, spans, first)


def _harmed(sound: F32, damage: Damage, first: int, seed: int) -> tuple[F32, TrueSpan]:
    """One damage done, by cable or by radio."""
    if damage.kind == "hum":
        sound += ship.hum(sound.size, 10.0 ** (damage.level_dbfs / 20.0), first)
        return sound, TrueSpan(kind="hum", start_sample=0, length_samples=sound.size, level_dbfs=damage.level_dbfs)
    if damage.kind == "clip":
        return _clipped(sound, damage)
    sound, start, length = harm(sound, damage, seed)
    return sound, TrueSpan(kind=damage.kind, start_sample=start, length_samples=length, level_dbfs=damage.level_dbfs)


def _clipped(sound: F32, damage: Damage) -> tuple[F32, TrueSpan]:
    """The gain was set for whispers: the shout runs 4 dB over full scale."""
    begin = round(damage.start_s * SAMPLE_RATE_HZ)
    end = begin + round(damage.length_s * SAMPLE_RATE_HZ)
    sound *= np.float32(1.58 / max(float(np.abs(sound[begin:end]).max()), 1e-6))
    over = np.flatnonzero(np.abs(sound) >= _LAST_CODE)
    np.clip(sound, -_LAST_CODE, _LAST_CODE, out=sound)
    return sound, TrueSpan(kind="clip", start_sample=int(over[0]), length_samples=int(over[-1] - over[0]) + 1)


def _mix(audio: F32, names: tuple[str, ...], mics: list[str]) -> None:
    """The mixer's two tracks: everybody at a place of their own, held below full scale by a soft knee."""
    for n, name in enumerate(mics):
        pan = math.pi / 4 * (1.0 + (n / max(len(mics) - 1, 1) - 0.5))
        sound = audio[:, names.index(name)] * np.float32(0.4 if name.startswith("Boom") else 0.5)
        audio[:, 0] += np.float32(math.cos(pan)) * sound
        audio[:, 1] += np.float32(math.sin(pan)) * sound
    np.tanh(audio[:, :2], out=audio[:, :2])


def _music(day: Day, take: Take, frames: int, seed: int) -> dict[str, F32]:
    """Playback (a guide of two voices and piano), its click, and its time code."""
    start = round(SONG_STARTS_S * SAMPLE_RATE_HZ)
    count_in = round(song.COUNT_IN_BEATS * song.BEAT_S * SAMPLE_RATE_HZ)
    guide = 0.5 * song.piano() + _guide(seed)
    code = encode_ltc(
        Timecode.parse(PLAYBACK_TIMECODE, FRAME_RATE), int((take.seconds - LTC_STARTS_S - 0.5) * 25), SAMPLE_RATE_HZ
    )
    parts: tuple[tuple[str, int, Callable[[], F32]], ...] = (
        (MUSIC[0], start, lambda: guide),
        (MUSIC[1], start - count_in, lambda: song.click(song.COUNT_IN_BEATS + song.SONG_BEATS)),
        (MUSIC[2], round(LTC_STARTS_S * SAMPLE_RATE_HZ), lambda: code),
    )
    out: dict[str, F32] = {}
    for name, at, make in parts:
        track = np.zeros(frames, np.float32)
        sound = make()[: frames - at]
        track[at : at + sound.size] = sound
        out[name] = track
    return out


def _guide(seed: int) -> F32:
    voices = [song.voice_line(name, generator(seed, "guide", name)) for name in ("Runa", "Idris")]
    size = min(voice.size for voice in voices)
    whole = round(song.song_seconds() * SAMPLE_RATE_HZ)
    out = np.zeros(whole, np.float32)
    out[: min(size, whole)] = sum(np.float32(0.3) * voice[: min(size, whole)] for voice in voices)
    return out
