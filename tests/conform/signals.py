"""Made-up material for tests of aligning: speech from our own formant synth, radio paths, rooms, clocks.

Everything comes from a seed. Nothing here is used by the package itself; the interpolator is separate from the
package's own, and is checked against a reference library in ``test_signals_source.py``.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy import signal

from rollsound.kernel import kernel

RATE = 48_000
Audio = NDArray[np.float32]


@kernel(fast=True)
def _voice(out: NDArray[np.float32], random: np.random.Generator, rate: float, pitch: float, talk: float) -> None:
    """Phrases of syllables: glottal pulses through four moving resonators, and fricatives of shaped noise."""
    n = out.size
    y1 = np.zeros(5)
    y2 = np.zeros(5)
    a1 = np.zeros(5)
    a2 = np.zeros(5)
    g = np.zeros(5)
    freq = np.zeros(5)
    goal = np.zeros(5)
    low = np.array([280.0, 850.0, 2100.0, 3200.0, 3500.0])
    high = np.array([850.0, 2300.0, 2950.0, 3900.0, 8500.0])
    width = np.array([70.0, 100.0, 140.0, 220.0, 2600.0])
    for k in range(5):
        freq[k] = 0.5 * (low[k] + high[k])
    i = 0
    phase = 0.0
    f0 = pitch
    level = 0.0
    hiss = 0.0
    while i < n:
        kind = random.random()
        if kind < 0.12 * (2.0 - talk):
            length = int(rate * (0.25 + 1.6 * random.random() / talk))
            want, want_hiss = 0.0, 0.0
        elif kind < 0.38:
            length = int(rate * (0.06 + 0.1 * random.random()))
            want, want_hiss = 0.0, 0.1 + 0.15 * random.random()
        else:
            length = int(rate * (0.1 + 0.2 * random.random()))
            want, want_hiss = 0.25 + 0.75 * random.random(), 0.01
        for k in range(5):
            goal[k] = low[k] + (high[k] - low[k]) * random.random()
        f0_goal = pitch * (0.8 + 0.5 * random.random())
        for _ in range(length):
            if i >= n:
                break
            if i % 32 == 0:
                f0 += 0.01 * (f0_goal - f0)
                for k in range(5):
                    freq[k] += 0.02 * (goal[k] - freq[k])
                    r = np.exp(-np.pi * width[k] / rate)
                    a1[k] = 2.0 * r * np.cos(2.0 * np.pi * freq[k] / rate)
                    a2[k] = -r * r
                    g[k] = (1.0 - r) * 2.0
            level += 0.002 * (want - level)
            hiss += 0.002 * (want_hiss - hiss)
            phase += f0 * (1.0 + 0.01 * random.standard_normal()) / rate
            pulse = 0.0
            if phase >= 1.0:
                phase -= 1.0
                pulse = 6.0
            noise = random.standard_normal()
            x = level * (pulse + 0.03 * noise)
            total = 0.0
            for k in range(4):
                y = g[k] * x + a1[k] * y1[k] + a2[k] * y2[k]
                y2[k] = y1[k]
                y1[k] = y
                total += y * (1.6 - 0.35 * k)
            y = g[4] * hiss * noise + a1[4] * y1[4] + a2[4] * y2[4]
            y2[4] = y1[4]
            y1[4] = y
            out[i] = total + 0.6 * y
            i += 1


@lru_cache(maxsize=8)
def speech(seconds: float, seed: int, *, pitch: float = 120.0, talk: float = 1.0, rate: int = RATE) -> Audio:
    """Speech-like sound (n,) with peaks near -10 dBFS; ``talk`` below 1 leaves longer pauses. Not to be written to."""
    out = np.zeros(round(seconds * rate), dtype=np.float32)
    _voice(out, np.random.default_rng(seed), float(rate), pitch, talk)
    out *= np.float32(0.3 / max(float(np.max(np.abs(out))), 1e-9))
    out.flags.writeable = False
    return out


HALF, PHASES = 24, 1024
"""The interpolator's taps on each side, and its places between two samples; between those it goes straight."""


@kernel(fast=True)
def _sample_at(
    x: NDArray[np.float32],
    positions: NDArray[np.float64],
    taps: NDArray[np.float64],
    steps: NDArray[np.float64],
) -> NDArray[np.float32]:
    out = np.zeros(positions.size, dtype=np.float32)
    count = taps.shape[1]
    for i in range(positions.size):
        base = int(np.floor(positions[i]))
        first = base - count // 2 + 1
        u = (positions[i] - base) * (taps.shape[0] - 1)
        j = int(u)
        between = u - j
        total = 0.0
        if first >= 0 and first + count <= x.size:
            for k in range(count):
                total += x[first + k] * (taps[j, k] + between * steps[j, k])
        else:
            for k in range(max(0, -first), min(count, x.size - first)):
                total += x[first + k] * (taps[j, k] + between * steps[j, k])
        out[i] = total
    return out


@lru_cache(maxsize=1)
def _interpolator() -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Each place's taps side by side, which is several times as fast as finding them one by one; and their slopes."""
    beta = 10.0
    away = np.abs(np.arange(PHASES + 1)[:, None] / PHASES - (np.arange(2 * HALF)[None, :] - HALF + 1))
    window = np.i0(beta * np.sqrt(np.maximum(1.0 - (away / HALF) ** 2, 0.0))) / np.i0(beta)
    taps = np.where(away < HALF, window * np.sinc(away), 0.0)
    return taps, np.diff(taps, axis=0, append=taps[-1:])


def sample_at(x: Audio, positions: NDArray[np.float64]) -> Audio:
    """Band-limited values of ``x`` at fractional positions (48-tap windowed sinc, better than -90 dB to 16 kHz)."""
    return _sample_at(x, np.ascontiguousarray(positions, dtype=np.float64), *_interpolator())


@kernel(fast=True)
def _compress(x: NDArray[np.float32], rate: float, threshold: float, ratio: float) -> NDArray[np.float32]:
    out = np.empty_like(x)
    attack = np.exp(-1.0 / (0.005 * rate))
    release = np.exp(-1.0 / (0.1 * rate))
    envelope = 0.0
    for i in range(x.size):
        a = abs(x[i])
        c = attack if a > envelope else release
        envelope = c * envelope + (1.0 - c) * a
        gain = 1.0
        if envelope > threshold:
            gain = (envelope / threshold) ** (1.0 / ratio - 1.0)
        out[i] = x[i] * gain
    return out


@dataclass(frozen=True)
class RadioPath:
    """What a radio link does: band, 2:1 above -26 dBFS, noise, mutes or loud bursts over a share of the time."""

    low_hz: float = 80.0
    high_hz: float = 14_000.0
    companded: bool = True
    snr_db: float = 20.0
    muted: float = 0.05
    bursts: float = 0.0
    minimum_phase: bool = False
    inverted: bool = False


def _both_ways(sos: NDArray[np.float64], x: Audio) -> Audio:
    """Forward and backward through a filter, in blocks by FFT: its squared magnitude, no delay (as sosfiltfilt)."""
    impulse = np.zeros(16_384)
    impulse[8_192] = 1.0
    kernel_both = signal.sosfiltfilt(sos, impulse).astype(np.float32)
    out: Audio = signal.oaconvolve(x, kernel_both)[8_192 : 8_192 + x.size].astype(np.float32)
    return out


def through_radio(x: Audio, path: RadioPath, seed: int, rate: int = RATE) -> Audio:
    """The sound (n,) after a radio path; noise is set against the level of the louder half of 20 ms blocks."""
    rng = np.random.default_rng(seed)
    high = signal.butter(2, path.low_hz, "highpass", fs=rate, output="sos")
    low = signal.butter(4, path.high_hz, "lowpass", fs=rate, output="sos")
    sos = np.concatenate([high, low])
    y = (signal.sosfilt(sos, x.astype(np.float64)) if path.minimum_phase else _both_ways(sos, x)).astype(np.float32)
    if path.companded:
        y = _compress(y, float(rate), 10 ** (-26 / 20), 2.0)
    block = rate // 50
    power = np.mean(y[: y.size // block * block].reshape(-1, block).astype(np.float64) ** 2, axis=1)
    active = float(np.mean(power[power >= np.median(power)])) if power.size else 0.0
    noise = np.sqrt(active) * 10 ** (-path.snr_db / 20)
    y += rng.standard_normal(y.size, dtype=np.float32) * np.float32(noise)
    for share, loud in ((path.muted, False), (path.bursts, True)):
        left = int(share * y.size)
        while left > 0:
            length = int(rng.uniform(0.005, 0.2) * rate)
            start = int(rng.integers(0, max(y.size - length, 1)))
            hole = y[start : start + length]
            hole[:] = rng.standard_normal(hole.size) * 2 * np.sqrt(active) if loud else 0.0
            left -= length
    return -y if path.inverted else y


def clock_line(offset: float, ppm: float, frames: int) -> NDArray[np.float64]:
    """Positions p(n) = offset + (1 + ppm 1e-6) n."""
    return offset + (1.0 + ppm * 1e-6) * np.arange(frames, dtype=np.float64)


def clock_warm_up(
    offset: float, ppm: float, change_ppm: float, tau_s: float, frames: int, rate: int = RATE
) -> NDArray[np.float64]:
    """A clock whose rate starts ``change_ppm`` off and settles with time constant ``tau_s``."""
    t = np.arange(frames, dtype=np.float64)
    tau = tau_s * rate
    return clock_line(offset, ppm, frames) + change_ppm * 1e-6 * tau * (1.0 - np.exp(-t / tau))


def room_tail(seed: int, rt60_s: float = 0.4, direct_to_reverb_db: float = 3.0, rate: int = RATE) -> Audio:
    """An impulse response: a direct sound at sample 0 and an exponential noise tail."""
    rng = np.random.default_rng(seed)
    n = int(rt60_s * rate)
    tail = rng.standard_normal(n) * 10 ** (-3.0 * np.arange(n) / n)
    tail[: rate // 250] = 0.0
    tail *= np.sqrt(10 ** (-direct_to_reverb_db / 10) / np.sum(tail**2))
    tail[0] = 1.0
    return tail.astype(np.float32)


def in_room(x: Audio, response: Audio) -> Audio:
    """The sound with a room around it, same length."""
    out: Audio = signal.oaconvolve(x, response)[: x.size].astype(np.float32)
    return out


def self_noise(frames: int, level_dbfs: float, seed: int) -> Audio:
    """White noise of an RMS level."""
    rng = np.random.default_rng(seed)
    return rng.standard_normal(frames, dtype=np.float32) * np.float32(10 ** (level_dbfs / 20))


@dataclass(frozen=True)
class Pair:
    """A card, the radio track, and the true position of each track sample in the card."""

    card: Audio
    radio: Audio
    truth: NDArray[np.float64]

    def worst_error(self, positions: NDArray[np.float64]) -> float:
        """Largest distance of found positions (for every track sample) from the truth."""
        return float(np.max(np.abs(positions - self.truth)))


def make_pair(
    seconds: float,
    seed: int,
    *,
    positions: NDArray[np.float64] | None = None,
    offset: float = 1234.37,
    ppm: float = 37.4,
    path: RadioPath | None = None,
    talk: float = 1.0,
    lead_s: float = 0.0,
) -> Pair:
    """Card and radio track of one microphone. The card runs from before to after the take unless offset says else."""
    frames = round(seconds * RATE)
    if positions is None:
        truth, clean, voice = _straight(seconds, seed, offset, ppm, talk, lead_s)
    else:
        truth = positions
        voice = speech(_length(truth, lead_s) / RATE, seed, talk=talk)
        clean = sample_at(voice, truth)
    radio = through_radio(clean, path or RadioPath(), seed + 1)
    card = voice + self_noise(voice.size, -80.0, seed + 2)
    return Pair(card, radio[:frames], truth)


def _length(truth: NDArray[np.float64], lead_s: float) -> int:
    return -(-(int(np.max(truth)) + RATE + round(lead_s * RATE)) // (10 * RATE)) * 10 * RATE


@lru_cache(maxsize=2)
def _straight(
    seconds: float, seed: int, offset: float, ppm: float, talk: float, lead_s: float
) -> tuple[NDArray[np.float64], Audio, Audio]:
    truth = clock_line(offset, ppm, round(seconds * RATE))
    voice = speech(_length(truth, lead_s) / RATE, seed, talk=talk)
    return truth, sample_at(voice, truth), voice
