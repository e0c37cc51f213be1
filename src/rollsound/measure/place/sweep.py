"""The impulse response of a place from a sweep that was played in it and recorded.

The recording's spectrum is divided by the sweep's. What the loudspeaker added as harmonics of an exponential sweep
falls before the direct sound and is cut off.
Source: A. Farina, AES 108th Convention (2000), from memory.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import fft

from rollsound.errors import InputError
from rollsound.measure.place.noise import refuse_not_numbers
from rollsound.measure.place.octaves import NAMES, SPEECH, edges_hz
from rollsound.quantities import parse, show_time

F64 = NDArray[np.float64]

LONGEST_S = 180.0
_LEAST_TAIL_S = 0.25
_REGULARISED_DB = 60.0
_COVERED_DB = 25.0
_FADE_S = 0.01
_QUARTER_OF_NOISE = 0.3186
"""Below this share of its rms lies a quarter of normal noise."""
_LEAST_CLEAR_DB = 24.0
"""Noise alone peaks 12 to 15 dB over itself."""
_MOST_SPREAD_S = 0.05
_WORDS = re.compile(r"(.+?)\s*(?:-|–|to)\s*([^-–]+?)\s+in\s+(.+)")


@dataclass(frozen=True)
class Impulse:
    """An impulse response from its direct sound on, and the octaves that the sweep reached."""

    samples: F64
    octaves: tuple[int, ...]
    clear_db: float
    """The direct sound over what the deconvolution leaves elsewhere."""


def exponential(low_hz: float, high_hz: float, length_s: float, sample_rate_hz: int) -> F64:
    """An exponential sweep with short fades, full scale 1.0.

    Raises
    ------
    InputError
        when the frequencies or the length make no sweep
    """
    if not 0.0 < low_hz < high_hz <= sample_rate_hz / 2.0 or not 0.1 <= length_s <= LONGEST_S:
        raise InputError(
            f"a sweep from {low_hz:g} to {high_hz:g} Hz in {length_s:g} s is none at {sample_rate_hz} Hz; it goes up, "
            f"ends under half the sample rate, and lasts {LONGEST_S:g} s or less"
        )
    t = np.arange(round(length_s * sample_rate_hz)) / sample_rate_hz
    ratio = np.log(high_hz / low_hz)
    sweep: F64 = np.sin(2.0 * np.pi * low_hz * length_s / ratio * np.expm1(t / length_s * ratio))
    fade = np.sin(np.linspace(0.0, np.pi / 2.0, max(2, round(_FADE_S * sample_rate_hz)))) ** 2
    sweep[: fade.size] *= fade
    sweep[-fade.size :] *= fade[::-1]
    return sweep


def read_words(text: str) -> tuple[float, float, float]:
    """Read ``50 Hz to 16 kHz in 10 s`` or ``50-16000 Hz in 10 s``: low and high in Hz, length in s.

    Raises
    ------
    InputError
        when it is written otherwise
    """
    found = _WORDS.fullmatch(text.strip())
    if found is None:
        raise InputError(f"'{text[:60]}' tells no sweep; write it as '50 Hz to 16 kHz in 10 s', or name its file")
    low, high, length = found.groups()
    if re.fullmatch(r"[\d.,]+", low.strip()):
        unit = re.sub(r"^[\d.,]+", "", high).strip()
        low = f"{low} {unit or 'Hz'}"
    return parse(low, "Hz"), parse(high, "Hz"), parse(length, "s")


def impulse_of(recorded: ArrayLike, played: ArrayLike, sample_rate_hz: int) -> Impulse:
    """The impulse response.

    Parameters
    ----------
    recorded, played
        one track each, shape (frames,), at the same sample rate

    Raises
    ------
    InputError
        when the recording is silent, clipped, shorter than the sweep, or does not hold it
    """
    y, x = np.asarray(recorded, np.float64), np.asarray(played, np.float64)
    refuse_not_numbers(y, 0, sample_rate_hz)
    refuse_not_numbers(x, 0, sample_rate_hz)
    if max(y.size, x.size) > LONGEST_S * sample_rate_hz:
        raise InputError(f"is longer than {LONGEST_S:g} s; cut out one sweep with its end ringing out")
    if float(np.abs(y).max(initial=0.0)) < 1e-6 or float(np.abs(x).max(initial=0.0)) < 1e-6:
        raise InputError("holds nothing but silence; check the input and its gain")
    if y.size < x.size + _LEAST_TAIL_S * sample_rate_hz:
        raise InputError(
            f"lasts {show_time(y.size / sample_rate_hz)} and the sweep {show_time(x.size / sample_rate_hz)}; record "
            "until the place has rung out"
        )
    if int(np.count_nonzero(np.abs(y) >= 1.0 - 2.0**-15)) > 2:
        raise InputError("is clipped; lower the gain and play the sweep again")
    size = fft.next_fast_len(y.size + x.size, real=True)
    of_x = fft.rfft(x, size)
    power = of_x.real**2 + of_x.imag**2
    floor = float(np.max(_smooth(power, size, sample_rate_hz))) * 10.0 ** (-_REGULARISED_DB / 10.0)
    spectrum = fft.rfft(y, size) * np.conj(of_x) / (power + floor)
    octaves = _covered(power, size, sample_rate_hz)
    response: F64 = fft.irfft(spectrum, size)
    peak = int(np.argmax(np.abs(response)))
    # the quietest quarter: a long room fills much of the rest
    rest = float(np.quantile(np.abs(response), 0.25)) / _QUARTER_OF_NOISE
    clear = 20.0 * float(np.log10(abs(response[peak]) / max(rest, 1e-30)))
    spread = _spread_s(spectrum, size, octaves, sample_rate_hz)
    if clear < _LEAST_CLEAR_DB or peak > y.size or spread > _MOST_SPREAD_S:
        raise InputError("does not hold the sweep that was named; name the one that was played, with --played")
    first = max(0, peak - round(0.002 * sample_rate_hz))
    tail = response[first : first + max(y.size - x.size, round(_LEAST_TAIL_S * sample_rate_hz))]
    return Impulse(tail.copy(), octaves, clear)


def _spread_s(spectrum: F64, size: int, octaves: tuple[int, ...], sample_rate_hz: int) -> float:
    """How far apart the octaves of speech have their peaks: together in a room, one after the other in a sweep.

    So a clap, another sweep than the one named, and a sweep backwards are known from a response.
    """
    peaks = []
    for at in SPEECH:
        if at in octaves:
            low, high = (round(edge * size / sample_rate_hz) for edge in edges_hz(at))
            band = np.zeros_like(spectrum)
            band[low : high + 1] = spectrum[low : high + 1]
            peaks.append(int(np.argmax(np.abs(fft.irfft(band, size)))))
    if len(peaks) < 2:
        return 0.0
    middle = peaks[len(peaks) // 2]
    apart = [(each - middle + size // 2) % size for each in peaks]
    return (max(apart) - min(apart)) / sample_rate_hz


def _smooth(power: F64, size: int, sample_rate_hz: int) -> F64:
    """Mean power of steps of about 10 Hz."""
    step = max(1, round(10.0 * size / sample_rate_hz))
    count = power.size // step
    result: F64 = power[: count * step].reshape(count, step).mean(axis=1)
    return result


def _covered(power: F64, size: int, sample_rate_hz: int) -> tuple[int, ...]:
    """Octaves whose whole width the sweep reaches, near enough in level to the rest of it."""
    found = []
    energy = []
    for at in range(len(NAMES)):
        low, high = edges_hz(at)
        first, last = int(low * size / sample_rate_hz), int(high * size / sample_rate_hz)
        if last >= power.size:
            break
        parts = np.array_split(power[first : last + 1], 4)
        energy.append(min(float(part.mean()) for part in parts) * (last - first))
    top = max(energy, default=0.0)
    for at, value in enumerate(energy):
        if value > top * 10.0 ** (-_COVERED_DB / 10.0):
            found.append(at)
    return tuple(found)
