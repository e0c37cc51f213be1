"""One site for as long as the company stays: where everybody stands, and what every microphone hears of it."""

from __future__ import annotations

import math
from concurrent.futures import Executor
from dataclasses import dataclass

import numpy as np

from rollsound.demo import ship
from rollsound.demo.chance import generator
from rollsound.demo.room import ROOMS, Point, hops, impulse, reverberate
from rollsound.demo.scenario import SAMPLE_RATE_HZ, Block, Day
from rollsound.demo.script import Event, events_of
from rollsound.demo.voice import F32
from rollsound.progress import Progress

LAV_M = 0.2
"""From the mouth to the microphone on the chest."""
_BODY = 0.5
"""What a body takes from other people's voices."""


@dataclass(frozen=True)
class Mic:
    """A microphone: where it is, whose it is (nobody's for a boom), its gain at one metre, its share of the air."""

    name: str
    at: Point
    wearer: str
    gain: float
    air: float


def places(block: Block) -> dict[str, Point]:
    """Where everybody stands: two loose rows, two metres apart, the crew and the noises further off."""
    spots: dict[str, Point] = {}
    for n, name in enumerate(block.radios):
        spots[name] = (1.9 * (n // 2) - 3.4 + 0.3 * (n % 2), 1.1 * (n % 2) - 0.5)
    spots |= {"second assistant": (-4.0, 1.6), "slate": (-3.6, 1.2), "horn": (120.0, 40.0), "rope": (5.5, 2.5)}
    return spots


def mics_of(block: Block, spots: dict[str, Point], extra: tuple[str, ...]) -> list[Mic]:
    """Booms above the company, one microphone a radio, and the cards of people who wait elsewhere (``extra``)."""
    booms = [Mic(name, (-2.9 + 2.6 * n, -1.2), "", 0.8, 1.0) for n, name in enumerate(block.booms)]
    worn = [Mic(name, spots[name], name, LAV_M, 0.35) for name in block.radios]
    away = [Mic(name, (30.0 + 5 * n, 0.0), name, LAV_M, 0.5) for n, name in enumerate(extra)]
    return booms + worn + away


def _path(mic: Mic, who: str, at: Point, speed_m_per_s: float) -> tuple[int, float]:
    """Delay in samples and gain from a sound to a microphone."""
    if who == mic.wearer:
        return round(LAV_M / speed_m_per_s * SAMPLE_RATE_HZ), mic.gain / LAV_M
    height = 0.9 if not mic.wearer else 0.25
    away = max(math.hypot(mic.at[0] - at[0], mic.at[1] - at[1], height), 0.4)
    return round(away / speed_m_per_s * SAMPLE_RATE_HZ), mic.gain / away * (_BODY if mic.wearer else 1.0)


class Stage:
    """The sound of one block at every microphone; ``sound`` maps microphone names to float32 (samples,)."""

    def __init__(
        self, day: Day, block: Block, extra: tuple[str, ...], seed: int, pool: Executor, progress: Progress
    ) -> None:
        self.block = block
        self.first = round(block.start_s * SAMPLE_RATE_HZ)
        self.samples = round(block.end_s * SAMPLE_RATE_HZ) - self.first
        self.spots = places(block)
        self.mics = mics_of(block, self.spots, extra)
        self._seed = seed
        events = events_of(day, block, seed)
        waves = list(pool.map(lambda event: event.make(), events))
        progress.check()
        for n, name in enumerate(extra):
            self.spots.setdefault(name, (30.0 + 5 * n, 0.0))
        self._send = self._gather(events, waves)
        self._shared = ship.shared_air(block.site, self.samples, seed)
        self.sound: dict[str, F32] = dict(
            zip(
                [mic.name for mic in self.mics],
                pool.map(lambda mic: self._direct(mic, events, waves), self.mics),
                strict=True,
            )
        )
        progress.check()
        self._add_room(pool)

    def _cut(self, wave: F32, first: int) -> tuple[int, F32]:
        """A wave's place in the block, without what falls outside."""
        if first < 0:
            wave, first = wave[-first:], 0
        return first, wave[: max(self.samples - first, 0)]

    def _gather(self, events: list[Event], waves: list[F32]) -> F32:
        """What goes into the room: all voices as one metre away."""
        send = np.zeros(self.samples, np.float32)
        for event, wave in zip(events, waves, strict=True):
            if event.who != "horn":
                first, part = self._cut(wave, event.day_sample - self.first)
                send[first : first + part.size] += part
        return send

    def _direct(self, mic: Mic, events: list[Event], waves: list[F32]) -> F32:
        out = np.zeros(self.samples, np.float32)
        speed = ROOMS[self.block.site].speed_m_per_s
        away = mic.wearer and mic.at[0] >= 30.0
        for event, wave in zip(events, waves, strict=True):
            delay, gain = _path(mic, event.who, self.spots.get(event.who, (0.0, 0.0)), speed)
            if event.who == "horn":
                gain = mic.gain
            if away and event.who != mic.wearer:
                gain *= 0.2
            first, part = self._cut(wave, event.day_sample - self.first + delay)
            out[first : first + part.size] += np.float32(gain) * part
        lag = int(generator(self._seed, "lag", mic.name).integers(0, 400))
        out[lag:] += np.float32(mic.air) * self._shared[: self.samples - lag]
        ship.add_alone(out, self.block.site, mic.air if not mic.wearer else max(mic.air, 0.6), self._seed, mic.name)
        return out

    def _add_room(self, pool: Executor) -> None:
        responses = [impulse(self.block.site, mic.at, self._seed, mic.name) for mic in self.mics]
        reach = ROOMS[self.block.site].reach_m
        gains = [np.float32(mic.gain / reach) for mic in self.mics]

        def one(first: int) -> None:
            wet = reverberate(self._send, responses, first)
            for mic, gain, part in zip(self.mics, gains, wet, strict=True):
                self.sound[mic.name][first : first + part.size] += gain * part

        list(pool.map(one, hops(self._send, responses)))
