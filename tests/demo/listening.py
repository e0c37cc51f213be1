"""Whether the truth of a built day is heard in its sound, by none of the package's own ways of aligning."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import scipy.interpolate
import scipy.signal
from numpy.typing import NDArray

from rollsound.demo import TrueTake, TrueTrack, Truth
from rollsound.wave import open_set, open_wave

F32 = NDArray[np.float32]
RATE = 48000
BAND = scipy.signal.butter(4, [300, 9000], "band", fs=RATE, output="sos")


def read_take(out: Path, take: TrueTake) -> F32:
    with open_set([out / "recorder" / file for file in take.files]) as reader:
        return reader.read(0, reader.info.frames)


def read_card(out: Path, name: str) -> F32:
    with open_wave(out / name) as reader:
        return reader.read_channel(0, 0, reader.info.frames)


def true_position(track: TrueTrack, n: NDArray[np.float64]) -> NDArray[np.float64]:
    assert track.offset_samples is not None
    assert track.rate_ppm is not None
    if track.knots:
        knots = np.array(track.knots)
        return np.interp(n, knots[:, 0], knots[:, 1])
    return track.offset_samples + (1.0 + track.rate_ppm * 1e-6) * n


def lag_of(track: TrueTrack, radio: F32, card: F32, first: int, size: int) -> float | None:
    """How far the card's sound lies from where the truth puts it, in samples, over one window.

    The card is laid onto the take's clock along the truth by spline, so that a window may be long without blur; then
    ordinary phase-weighted correlation, read to a sixteenth of a sample.
    """
    near = true_position(track, np.arange(first - 96.0, first + size + 96.0))
    low = int(near[0]) - 8
    if low < 0 or near[-1] + 8 > card.size:
        return None
    spline = scipy.interpolate.CubicSpline(np.arange(low, int(near[-1]) + 9), card[low : int(near[-1]) + 9])
    a = scipy.signal.sosfiltfilt(BAND, spline(near))[96:-96] * np.hanning(size)
    b = scipy.signal.sosfiltfilt(BAND, radio[first - 96 : first + size + 96].astype(float))[96:-96] * np.hanning(size)
    cross = np.fft.rfft(a, 2 * size) * np.conj(np.fft.rfft(b, 2 * size))
    cross /= np.abs(cross) + 1e-2 * np.abs(cross).max()
    found = np.fft.irfft(cross, 32 * size)
    lag = int(np.argmax(np.abs(found)))
    assert np.sign(found[lag]) == track.polarity, track.name
    return (lag if lag < 16 * size else lag - 32 * size) / 16.0


def worst_median_lag(out: Path, truth: Truth, windows: int = 5) -> dict[tuple[str, str], float]:
    """Median lag of a few windows of every track that lies on a card and is alive."""
    cards: dict[str, F32] = {}
    found: dict[tuple[str, str], float] = {}
    for take in truth.takes:
        audio = read_take(out, take)
        for track in take.tracks:
            if not track.card_file or any(span.kind == "dead" for span in track.spans):
                continue
            card = cards.setdefault(track.card_file, read_card(out, track.card_file))
            piece = next(piece for piece in track.pieces if piece.card_file == track.card_file)
            size = 1 << 14
            places = np.linspace(piece.start + 200, piece.stop - size - 200, windows).astype(int)
            lags = [lag_of(track, audio[:, track.index], card, int(at), size) for at in places]
            found[(take.name, track.name)] = float(np.median([lag for lag in lags if lag is not None]))
    return found
