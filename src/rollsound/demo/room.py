"""Three rooms: a steel deck that rings, a quay with a far echo, a timber chapel. First images, then a tail of noise."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import scipy.fft
from numpy.typing import NDArray

from rollsound.demo.chance import generator
from rollsound.demo.scenario import SAMPLE_RATE_HZ, Site
from rollsound.demo.voice import F32

_FFT = 1 << 17


@dataclass(frozen=True)
class Room:
    """A box in metres, its decay in the middle band, how much slower or faster treble decays, and its warmth.

    ``reach_m`` is the distance at which the room is as loud as the voice. ``celsius`` is the air.
    """

    size_m: tuple[float, float, float]
    decay_s: float
    treble: float
    reflects: float
    reach_m: float
    celsius: float
    echoes_s: tuple[float, ...] = ()

    @property
    def speed_m_per_s(self) -> float:
        """Speed of sound. Source: 331.3 sqrt(1 + T / 273.15), common acoustics."""
        return 331.3 * math.sqrt(1.0 + self.celsius / 273.15)


ROOMS: dict[Site, Room] = {
    Site.DECK: Room((38.0, 14.0, 5.0), 1.9, 0.75, 0.9, 3.2, -1.0),
    Site.QUAY: Room((400.0, 300.0, 60.0), 0.25, 0.5, 0.15, 40.0, -3.0, (0.184, 0.271, 0.402)),
    Site.CHAPEL: Room((18.0, 9.0, 7.5), 1.3, 0.6, 0.7, 3.0, 9.0),
    Site.BREAK: Room((9.0, 6.0, 2.6), 0.4, 0.6, 0.5, 2.0, 17.0),
}
Point = tuple[float, float]


def impulse(site: Site, mic: Point, seed: int, name: str) -> F32:
    """What the room gives back to a microphone from the middle of the company; energy 1."""
    room, rng = ROOMS[site], generator(seed, "room", site, name)
    length = min(round(1.05 * room.decay_s * SAMPLE_RATE_HZ), 60_000) if not room.echoes_s else 24_000
    t = np.arange(length) / SAMPLE_RATE_HZ
    slow = np.cumsum(rng.standard_normal(length))
    slow -= np.convolve(slow, np.ones(64) / 64, mode="same")
    slow /= slow.std()
    bright = rng.standard_normal(length)
    tail = slow * np.exp(-6.9 * t / room.decay_s) + 0.5 * bright * np.exp(-6.9 * t / (room.decay_s * room.treble))
    tail *= np.minimum(t / 0.02, 1.0)
    tail /= math.sqrt(float(np.sum(tail**2)))
    for delay_s, gain in (*_images(room, mic), *((e, 0.5 * 0.7**k) for k, e in enumerate(room.echoes_s))):
        at = round(delay_s * SAMPLE_RATE_HZ)
        if at < length - 2:
            tail[at : at + 2] += gain * np.array([0.7, 0.3])
    return np.asarray(tail / math.sqrt(float(np.sum(tail**2))), dtype=np.float32)


def _images(room: Room, mic: Point) -> list[tuple[float, float]]:
    """First reflections in the six sides, from the middle of the box at standing height: (delay, gain)."""
    half = [side / 2 for side in room.size_m]
    out = []
    for axis in range(3):
        for sign in (-1.0, 1.0):
            image = [0.0, 0.0, 0.0]
            image[axis] = sign * 2 * half[axis]
            away = math.dist((mic[0], mic[1], 0.0), tuple(image))
            out.append((away / room.speed_m_per_s, room.reflects * 1.5 / max(away, 1.0)))
    return out


def reverberate(send: F32, responses: list[F32], first: int) -> list[F32]:
    """One stretch of ``send`` through every response: samples ``first`` onwards, as many as one transform gives.

    The spectrum of the send is shared by all microphones (overlap-save).
    """
    longest = max(response.size for response in responses)
    hop = _FFT - longest
    piece = np.zeros(_FFT, np.float32)
    begin = first - longest
    source = send[max(begin, 0) : first + hop]
    piece[max(-begin, 0) : max(-begin, 0) + source.size] = source
    spectrum = scipy.fft.rfft(piece)
    wanted = min(hop, send.size - first)
    out = []
    for response in responses:
        product: NDArray[np.complex64] = spectrum * scipy.fft.rfft(response, _FFT)
        out.append(scipy.fft.irfft(product, _FFT)[longest : longest + wanted].astype(np.float32, copy=False))
    return out


def hops(send: F32, responses: list[F32]) -> range:
    """Where the stretches of ``reverberate`` start."""
    return range(0, send.size, _FFT - max(response.size for response in responses))
