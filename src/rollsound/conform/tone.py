"""How a card's sound is made to sit in a radio track's: a short filter and a gain fitted on the sound around a span.

The filter is the coherent part of the transfer from card to radio (H1 estimate), so it carries the path's tone and
phase but never its noise; where the two have nothing in common it passes nothing.

Source: Bendat and Piersol, "Random Data", the H1 estimate and its spread; lengths by ``design/tone_match.py``.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import TypeVar

import numpy as np
import scipy.fft
from numpy.typing import NDArray

from rollsound.kernel import kernel

Samples = NDArray[np.float64]
NumberT = TypeVar("NumberT", np.float64, np.complex128)
Read = Callable[[int, int], Samples]
"""``read(start, frames)`` gives samples by take frame."""

FFT_FRAMES = 2048
TAPS = 1023
CONTEXT_SECONDS = 2.0
FARTHEST_SECONDS = 20.0
EDGE_SECONDS = 0.1
_ACTIVE_RMS = 10 ** (-75 / 20)
_FEWEST_FRAMES = 8
_SMOOTH_BINS = 3
_STRONGEST_GAIN = 2.0


@kernel(fast=True)
def _filter(x: Samples, fir: Samples, out: Samples) -> None:
    for i in range(out.size):
        total = 0.0
        window = x[i : i + fir.size]
        for t in range(fir.size):
            total += window[t] * fir[t]
        out[i] = total


@dataclass(frozen=True, eq=False)
class Tone:
    """A fitted match: ``fir`` of odd length, reversed for use as a sliding sum; gains at both ends of the span."""

    fir: Samples
    gain_before: float
    gain_after: float
    start: int
    stop: int
    mismatch_db: float

    def render(self, card: Read, start: int, frames: int) -> Samples:
        """Take frames ``start`` to ``start + frames`` of the card as they would sound over the radio path."""
        out = filtered(card, self.fir, start, frames)
        n = np.arange(start, start + frames)
        share = np.clip((n - self.start) / max(self.stop - self.start, 1), 0.0, 1.0)
        out *= self.gain_before + share * (self.gain_after - self.gain_before)
        return out


def filtered(card: Read, fir: Samples, start: int, frames: int) -> Samples:
    """The card through a filter, by take frame."""
    half = fir.size // 2
    x = np.ascontiguousarray(card(start - half, frames + fir.size - 1))
    out = np.empty(frames, np.float64)
    _filter(x, fir, out)
    return out


def flat(gain: float, start: int, stop: int) -> Tone:
    """No filter, one gain."""
    return Tone(np.ones(1), gain, gain, start, stop, 0.0)


def fit_tone(
    radio: Read,
    card: Read,
    start: int,
    stop: int,
    *,
    inside: tuple[int, int],
    damaged: Iterable[tuple[int, int]],
    sample_rate_hz: int,
    fallback_gain: float = 1.0,
) -> Tone:
    """Match the card to the radio around the span ``start`` to ``stop``.

    Parameters
    ----------
    inside
        the take frames in which both can be read
    damaged
        every damaged stretch of the track, this one too: nothing is learnt from those
    fallback_gain
        used, without a filter, when nothing around the span is loud enough to learn from
    """
    holes = sorted({(start, stop), *damaged})
    frames = [*_places(start, -1, inside, holes, sample_rate_hz), *_places(stop, 1, inside, holes, sample_rate_hz)]
    fir = _fit_filter(radio, card, frames)
    if fir is None:
        return flat(fallback_gain, start, stop)
    edge = round(EDGE_SECONDS * sample_rate_hz)
    before, error_before = _edge(radio, card, fir, start - edge, start, inside, holes)
    after, error_after = _edge(radio, card, fir, stop, stop + edge, inside, holes)
    if before is None or after is None:
        before = after = before or after or 1.0
    return Tone(fir, before, after, start, stop, max(error_before, error_after))


def _places(at: int, way: int, inside: tuple[int, int], holes: list[tuple[int, int]], sample_rate_hz: int) -> list[int]:
    """Starts of sound windows walking away from ``at``, past other holes, until there is enough of it."""
    hop, found = FFT_FRAMES // 2, []
    enough = round(CONTEXT_SECONDS * sample_rate_hz) // hop
    for step in range(round(FARTHEST_SECONDS * sample_rate_hz) // hop):
        first = at + step * hop if way > 0 else at - FFT_FRAMES - step * hop
        if first < inside[0] or first + FFT_FRAMES > inside[1]:
            break
        if not _hits(holes, first, first + FFT_FRAMES):
            found.append(first)
        if len(found) == enough:
            break
    return found


def _hits(holes: list[tuple[int, int]], start: int, stop: int) -> bool:
    return any(first < stop and start < last for first, last in holes)


def _fit_filter(radio: Read, card: Read, places: list[int]) -> Samples | None:
    window = np.hanning(FFT_FRAMES + 1)[:-1]
    bins = FFT_FRAMES // 2 + 1
    xx: Samples = np.zeros(bins)
    yy: Samples = np.zeros(bins)
    xy: NDArray[np.complex128] = np.zeros(bins, np.complex128)
    count = 0
    for first in places:
        x = card(first, FFT_FRAMES)
        if np.sqrt(np.mean(x**2)) < _ACTIVE_RMS:
            continue
        fx, fy = scipy.fft.rfft(x * window), scipy.fft.rfft(radio(first, FFT_FRAMES) * window)
        xx += fx.real**2 + fx.imag**2
        yy += fy.real**2 + fy.imag**2
        xy += np.conj(fx) * fy
        count += 1
    if count < _FEWEST_FRAMES:
        return None
    xx, yy, xy = _smooth(xx), _smooth(yy), _smooth(xy)
    tiny = 1e-12 * float(np.max(xx))
    coherence = np.abs(xy) ** 2 / ((xx + tiny) * (yy + 1e-12 * float(np.max(yy)) + 1e-30))
    # By chance alone the coherence of ``count`` windows (half of them independent) is about 1 / that number.
    chance = 2.0 / (count * (2 * _SMOOTH_BINS + 1) / 2)
    keep = np.clip((coherence - chance) / (1 - chance), 0.0, 1.0)
    response = scipy.fft.irfft(xy / (xx + tiny) * keep)
    half = TAPS // 2
    fir = np.concatenate([response[-half:], response[: half + 1]]) * _taper()
    return np.ascontiguousarray(fir[::-1])


def _smooth(values: NDArray[NumberT]) -> NDArray[NumberT]:
    weights = np.ones(2 * _SMOOTH_BINS + 1) / (2 * _SMOOTH_BINS + 1)
    padded = np.pad(values, _SMOOTH_BINS, mode="edge")
    return np.convolve(padded, weights, mode="valid").astype(values.dtype)


def _taper() -> Samples:
    """Flat over the middle half, falling to nothing at the ends."""
    edge = TAPS // 4
    out = np.ones(TAPS)
    fall = 0.5 + 0.5 * np.cos(np.pi * (np.arange(edge) + 1) / (edge + 1))
    out[-edge:] = fall
    out[:edge] = fall[::-1]
    return out


def _edge(
    radio: Read, card: Read, fir: Samples, start: int, stop: int, inside: tuple[int, int], holes: list[tuple[int, int]]
) -> tuple[float | None, float]:
    """Gain that fits beside the span, and how far radio and matched card still differ there (dB below the radio)."""
    begin, end = max(start, inside[0]), min(stop, inside[1])
    if end - begin < FFT_FRAMES // 4 or _hits(holes, begin, end):
        return None, -np.inf
    x, y = filtered(card, fir, begin, end - begin), radio(begin, end - begin)
    power = float(x @ x)
    if power < _ACTIVE_RMS**2 * x.size:
        return None, -np.inf
    gain = float(np.clip(x @ y / power, 1 / _STRONGEST_GAIN, _STRONGEST_GAIN))
    rest = float(np.sum((y - gain * x) ** 2))
    return gain, 10 * float(np.log10(max(rest, 1e-20) / max(float(y @ y), 1e-20)))
