"""The last hundredth of a sample: phase of the cross-spectrum, weighed by coherence, window by window.

Source: Knapp & Carter 1976 (maximum-likelihood weight g2 / (1 - g2)); Carter, Knapp & Nuttall, "Estimation of the
magnitude-squared coherence function via overlapped FFT processing", IEEE Trans. AU 21(4), 1973 (its bias 1/N);
the idea of a linear-phase maximum-likelihood fit per window: Miyabe, Ono & Makino, Signal Processing 107, 2015.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import fft
from scipy.signal.windows import kaiser

from rollsound.conform.readers import Mono, Reader
from rollsound.conform.windows import read_padded
from rollsound.kernel import kernel

FINE_SECONDS = 0.34
_BAND_HZ = (150.0, 14_000.0)
_SMOOTH_BINS = 7
_NEWTON = 4
_ZERO_RUN = 16
_ZERO_MARGIN = 64
_TAPS_PER_SIDE = 10
_PHASES = 512


def _sinc_table() -> NDArray[np.float32]:
    u = np.arange(_TAPS_PER_SIDE * _PHASES + 2) / _PHASES
    whole = kaiser(2 * _TAPS_PER_SIDE * _PHASES + 1, 7.0)[_TAPS_PER_SIDE * _PHASES :]
    window = np.concatenate([whole, [0.0]])
    table: NDArray[np.float32] = (np.sinc(u) * window).astype(np.float32)
    return table


_TABLE = _sinc_table()


@dataclass(frozen=True, eq=False)
class FineLags:
    """Residual lag of each window in samples and its one-sigma by theory (infinite where nothing was to be seen)."""

    lag: NDArray[np.float64]
    sigma: NDArray[np.float64]


def read_along(reader: Reader, channel: int, positions: NDArray[np.float64]) -> Mono:
    """Card samples at fractional positions (n,), by a short windowed sinc (-60 dB to 14 kHz), zeros off the ends."""
    first = int(np.floor(positions[0])) - _TAPS_PER_SIDE - 1
    span = read_padded(reader, channel, first, int(np.ceil(positions[-1])) + _TAPS_PER_SIDE + 2 - first)
    return _interpolate(span, positions - first, _TABLE, _TAPS_PER_SIDE, _PHASES)


def fine_lags(radio: NDArray[np.float32], card: NDArray[np.float32], sample_rate_hz: int) -> FineLags:
    """Residual lags of radio windows (K, n) against card windows (K, n) already laid along the map (within a sample).

    Positive lag: the true card position is later than the map says.
    """
    width = radio.shape[1]
    hann = np.hanning(width + 2)[1:-1].astype(np.float32)
    keep = _kept(radio) * hann
    spectra_r, spectra_c = fft.rfft(radio * keep, axis=1), fft.rfft(card * keep, axis=1)
    hz = sample_rate_hz / width
    low = max(int(_BAND_HZ[0] / hz), 1)
    high = min(int(_BAND_HZ[1] / hz), spectra_r.shape[1] - 1)
    lag, information = _phase_lags(
        np.ascontiguousarray(spectra_r[:, low:high]),
        np.ascontiguousarray(spectra_c[:, low:high]),
        low,
        2.0 * np.pi / width,
        _SMOOTH_BINS,
        _NEWTON,
    )
    return FineLags(lag, 1.0 / np.sqrt(np.maximum(information, 1e-30)))


def mask_mutes(radio: NDArray[np.float32], card: NDArray[np.float32]) -> None:
    """Silence both where the radio windows (K, n) hold runs of exact zeros, in place."""
    keep = _kept(radio)
    radio *= keep
    card *= keep


def _kept(radio: NDArray[np.float32]) -> NDArray[np.float32]:
    keep = np.ones(radio.shape, np.float32)
    _mask_mutes(radio, keep, _ZERO_RUN, _ZERO_MARGIN)
    return keep


@kernel(fast=True)
def _interpolate(
    x: NDArray[np.float32], positions: NDArray[np.float64], table: NDArray[np.float32], half: int, phases: int
) -> NDArray[np.float32]:
    out = np.empty(positions.size, np.float32)
    for i in range(positions.size):
        p = positions[i]
        base = int(np.floor(p))
        part = (p - base) * phases
        j = int(part)
        f = np.float32(part - j)
        total = np.float32(0.0)
        for k in range(half):
            # Taps at distance part + k to the left and (1 - part) + k to the right.
            a = table[k * phases + j]
            b = table[k * phases + j + 1]
            total += x[base - k] * (a + f * (b - a))
            c = table[(k + 1) * phases - j]
            d = table[(k + 1) * phases - j - 1]
            total += x[base + 1 + k] * (c + f * (d - c))
        out[i] = total
    return out


@kernel(fast=False)
def _mask_mutes(radio: NDArray[np.float32], keep: NDArray[np.float32], run: int, margin: int) -> None:
    for w in range(radio.shape[0]):
        n = radio.shape[1]
        i = 0
        while i < n:
            if radio[w, i] != 0.0:
                i += 1
                continue
            j = i
            while j < n and radio[w, j] == 0.0:
                j += 1
            if j - i >= run:
                for k in range(max(i - margin, 0), min(j + margin, n)):
                    keep[w, k] = 0.0
            i = j


@kernel(fast=True)
def _phase_lags(
    radio: NDArray[np.complex64],
    card: NDArray[np.complex64],
    low: int,
    step: float,
    smooth: int,
    rounds: int,
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Newton's method on sum w cos(phase - omega lag), w from the coherence over 2 ``smooth`` + 1 bins."""
    windows, bins = radio.shape
    lags = np.zeros(windows)
    information = np.zeros(windows)
    unit_re = np.empty(bins)
    unit_im = np.empty(bins)
    weight = np.empty(bins)
    xr = np.empty(bins)
    xi = np.empty(bins)
    pr = np.empty(bins)
    pc = np.empty(bins)
    bias = 1.0 / (2 * smooth + 1)
    for w in range(windows):
        for k in range(bins):
            a, b = radio[w, k].real, radio[w, k].imag
            c, d = card[w, k].real, card[w, k].imag
            xr[k] = a * c + b * d
            xi[k] = b * c - a * d
            pr[k] = a * a + b * b
            pc[k] = c * c + d * d
        sr = si = sp = sc = 0.0
        for k in range(-smooth, bins):
            if k + smooth < bins:
                sr += xr[k + smooth]
                si += xi[k + smooth]
                sp += pr[k + smooth]
                sc += pc[k + smooth]
            if k - smooth - 1 >= 0:
                sr -= xr[k - smooth - 1]
                si -= xi[k - smooth - 1]
                sp -= pr[k - smooth - 1]
                sc -= pc[k - smooth - 1]
            if k < 0:
                continue
            size = np.sqrt(xr[k] * xr[k] + xi[k] * xi[k]) + 1e-30
            unit_re[k] = xr[k] / size
            unit_im[k] = xi[k] / size
            g = (sr * sr + si * si) / (sp * sc + 1e-30)
            g = (g - bias) / (1.0 - bias)
            g = min(max(g, 0.0), 0.995)
            weight[k] = g / (1.0 - g)
        lag = 0.0
        bend = 0.0
        for _ in range(rounds):
            slope = 0.0
            bend = 0.0
            turn_re, turn_im = np.cos(step * lag), -np.sin(step * lag)
            at_re, at_im = np.cos(step * low * lag), -np.sin(step * low * lag)
            for k in range(bins):
                omega = step * (low + k)
                re = unit_re[k] * at_re - unit_im[k] * at_im
                im = unit_re[k] * at_im + unit_im[k] * at_re
                slope += weight[k] * omega * im
                bend += weight[k] * omega * omega * re
                next_re = at_re * turn_re - at_im * turn_im
                at_im = at_re * turn_im + at_im * turn_re
                at_re = next_re
            if bend <= 0.0:
                break
            move = slope / bend
            lag += min(max(move, -0.5), 0.5)
        lags[w] = lag
        information[w] = max(bend, 0.0)
    return lags, information
