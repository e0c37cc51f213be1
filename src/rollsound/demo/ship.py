"""What the place sounds like when nobody speaks: engine, sea, wind, the horn, ropes, and the hum of a cable."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from rollsound.demo.chance import add_hiss, generator, whole
from rollsound.demo.scenario import SAMPLE_RATE_HZ, Site
from rollsound.demo.voice import F32


@dataclass(frozen=True)
class Air:
    """Levels (rms, full scale 1) at a boom: engine, what all microphones share, and what each has alone."""

    engine: float
    shared: float
    shared_cut: float
    alone: float
    alone_cut: float
    gust: float


_AIR: dict[Site, Air] = {
    Site.DECK: Air(0.0040, 0.0012, 0.05, 0.00045, 0.35, 0.1),
    Site.QUAY: Air(0.0, 0.0014, 0.20, 0.0035, 0.012, 0.8),
    Site.CHAPEL: Air(0.0, 0.00025, 0.03, 0.00018, 0.5, 0.0),
    Site.BREAK: Air(0.0, 0.0006, 0.06, 0.0005, 0.3, 0.2),
}
_TURN = 3840
"""Samples of one turn of the engine: 12.5 Hz."""


def shared_air(site: Site, samples: int, seed: int) -> F32:
    """The part that all microphones hear alike."""
    air = _AIR[site]
    out = np.zeros(samples, np.float32)
    add_hiss(out, air.shared, air.shared_cut, air.gust, whole(seed, "shared", site))
    if air.engine:
        rng = generator(seed, "engine", site)
        t = np.arange(_TURN) / _TURN
        turn = np.zeros(_TURN)
        for k in range(2, 26):
            turn += np.sin(2 * np.pi * (k * t + rng.uniform())) / k**0.9 * rng.uniform(0.3, 1.0)
        turn *= air.engine / turn.std()
        out += np.tile(turn.astype(np.float32), -(-samples // _TURN))[:samples]
    return out


def add_alone(out: F32, site: Site, share: float, seed: int, name: str) -> None:
    """Add what one microphone hears alone: wind on its own capsule, its cloth, its own noise."""
    air = _AIR[site]
    add_hiss(out, air.alone * share, air.alone_cut, air.gust, whole(seed, "alone", site, name))
    add_hiss(out, 0.000012, 1.0, 0.0, whole(seed, "self noise", site, name))


def horn(seconds: float) -> F32:
    """The ferry's horn: two low reeds a third apart, far across the quay."""
    n = round(seconds * SAMPLE_RATE_HZ)
    t = np.arange(n) / SAMPLE_RATE_HZ
    out = np.zeros(n)
    for base in (138.6, 174.6):
        for k in range(1, 24):
            out += np.sin(2 * np.pi * base * k * t + k * k) / k**1.2
    swell = np.minimum(t / 0.25, 1.0) * np.minimum((seconds - t) / 0.5, 1.0)
    return np.asarray(0.05 * out * swell, dtype=np.float32)


def rope(rng: np.random.Generator) -> F32:
    """A rope that creaks and lands: grains of wood noise, then a thump."""
    n = round(1.2 * SAMPLE_RATE_HZ)
    out = np.zeros(n, np.float32)
    for _ in range(40):
        at = int(rng.integers(0, n - 1000))
        ring = np.arange(800)
        grain = np.exp(-ring / 90.0) * np.sin(ring * float(rng.uniform(0.08, 0.6)))
        out[at : at + 800] += (0.05 * float(rng.uniform(0.2, 1.0)) * grain).astype(np.float32)
    return out


def clap() -> F32:
    """The slate's sticks."""
    ring = np.arange(2400)
    body = np.exp(-ring / 160.0) * (np.sin(ring * 0.21) + 0.6 * np.sin(ring * 0.47) + 0.4 * np.sin(ring * 0.83))
    return np.asarray(0.35 * body, dtype=np.float32)


def hum(samples: int, level: float, first: int) -> F32:
    """Mains hum of 50 Hz and its harmonics; rms ``level``. ``first`` is the day's sample, so that hum runs on."""
    t = (np.arange(samples) + first) / SAMPLE_RATE_HZ
    out = np.zeros(samples)
    for harmonic, share in ((1, 1.0), (2, 0.5), (3, 0.7), (5, 0.35), (7, 0.2)):
        out += share * np.sin(2 * np.pi * 50.0 * harmonic * t + harmonic)
    return np.asarray(out * (level / 0.97), dtype=np.float32)
