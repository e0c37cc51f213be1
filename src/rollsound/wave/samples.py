"""Bytes to samples and back. Full scale is 1.0 in float32 and 2**31 in int32 (left-justified)."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.lib.stride_tricks import as_strided
from numpy.typing import NDArray

from rollsound.kernel import kernel
from rollsound.wave.model import SampleFormat

Floats = NDArray[np.float32]
Doubles = NDArray[np.float64]
Ints = NDArray[np.int32]
Raw = NDArray[np.uint8]

SLACK_BYTES = 4
"""Bytes that must follow the last sample in every buffer given to ``decode``: 24-bit samples are read four bytes at a
time, because one unaligned 32-bit load is about twice as fast as three byte loads."""


@kernel()
def _widen24(words: Any, out: Any) -> None:
    for i in range(words.size):
        out[i] = np.int32(words[i] << np.uint32(8))


@kernel()
def _decode24(words: Any, out: Any) -> None:
    for i in range(words.size):
        out[i] = np.float32(np.int32(words[i] << np.uint32(8))) * np.float32(1.0 / 2147483648.0)


@kernel()
def _pack24(samples: Any, words: Any) -> None:
    # Ascending order matters: the fourth byte of each store is overwritten by the next sample.
    for i in range(samples.size):
        words[i] = np.uint32(samples[i])


@kernel()
def _noise(seed: np.uint64, index: np.uint64) -> float:
    """Triangular noise of two least significant bits' width, a pure function of seed and sample number."""
    z = seed + (index + np.uint64(1)) * np.uint64(0x9E3779B97F4A7C15)
    z = (z ^ (z >> np.uint64(30))) * np.uint64(0xBF58476D1CE4E5B9)
    z = (z ^ (z >> np.uint64(27))) * np.uint64(0x94D049BB133111EB)
    z = z ^ (z >> np.uint64(31))
    return (float(z >> np.uint64(32)) - float(z & np.uint64(0xFFFFFFFF))) / 4294967296.0


@kernel()
def _quantise(samples: Any, out: Any, scale: float, dithered: bool, seed: np.uint64, first: np.uint64) -> int:
    """Scale, add noise, round half to even and clip. Returns how many samples were clipped."""
    clipped = 0
    top, bottom = np.float64(scale - 1.0), np.float64(-scale)
    for i in range(samples.size):
        value = np.float64(samples[i]) * scale
        if dithered:
            value += _noise(seed, first + np.uint64(i))
        value = np.rint(value)
        if value > top:
            value = top
            clipped += 1
        elif value < bottom:
            value = bottom
            clipped += 1
        elif value != value:
            value = np.float64(0.0)
            clipped += 1
        out[i] = np.int32(value)
    return clipped


def words24(raw: Raw, count: int, first_byte: int = 0, step_bytes: int = 3) -> NDArray[np.uint32]:
    """See ``count`` 24-bit samples in ``raw`` as overlapping 32-bit words, ``step_bytes`` apart."""
    if count and first_byte + (count - 1) * step_bytes + 4 > raw.size:
        raise ValueError("the buffer needs one spare byte after its last sample")
    if not count:
        return np.zeros(0, "<u4")
    return as_strided(raw[first_byte : first_byte + 4].view("<u4"), (count,), (step_bytes,))


def decode(raw: Raw, frames: int, channels: int, sample_format: SampleFormat, out: Floats | None = None) -> Floats:
    """Interleaved bytes (with ``SLACK_BYTES`` to spare) to float32 of shape (frames, channels).

    24-bit and 16-bit samples are exact; 32-bit ones are rounded to the 24 significant bits float32 has.
    """
    if out is None:
        out = np.empty((frames, channels), np.float32)
    flat = out.reshape(-1)
    count = frames * channels
    if sample_format is SampleFormat.PCM24:
        _decode24(words24(raw, count), flat)
    elif sample_format is SampleFormat.FLOAT32:
        flat[:] = raw[: 4 * count].view("<f4")
    elif sample_format is SampleFormat.PCM16:
        np.multiply(raw[: 2 * count].view("<i2"), np.float32(1 / 32768), out=flat, dtype=np.float32)
    else:
        np.multiply(raw[: 4 * count].view("<i4"), 1 / 2147483648, out=flat, casting="unsafe")
    return out


def decode_channel(
    raw: Raw, frames: int, channel: int, channels: int, sample_format: SampleFormat, out: Floats | None = None
) -> Floats:
    """One channel (0-based) of interleaved bytes as float32 of shape (frames,); ``out`` may have any stride."""
    if out is None:
        out = np.empty(frames, np.float32)
    size = sample_format.bytes
    if sample_format is SampleFormat.PCM24:
        _decode24(words24(raw, frames, 3 * channel, 3 * channels), out)
        return out
    code = {SampleFormat.PCM16: "<i2", SampleFormat.PCM32: "<i4", SampleFormat.FLOAT32: "<f4"}[sample_format]
    picked = raw[: frames * channels * size].view(code)[channel::channels]
    if sample_format is SampleFormat.FLOAT32:
        out[:] = picked
    elif sample_format is SampleFormat.PCM16:
        np.multiply(picked, np.float32(1 / 32768), out=out, dtype=np.float32)
    else:
        np.multiply(picked, 1 / 2147483648, out=out, casting="unsafe")
    return out


def decode_ints(raw: Raw, frames: int, channels: int, sample_format: SampleFormat) -> Ints:
    """Interleaved whole-number samples to left-justified int32 of shape (frames, channels); always exact."""
    count = frames * channels
    out = np.empty(count, np.int32)
    if sample_format is SampleFormat.PCM24:
        _widen24(words24(raw, count), out)
    elif sample_format is SampleFormat.PCM16:
        np.left_shift(raw[: 2 * count].view("<i2"), 16, out=out, dtype=np.int32)
    elif sample_format is SampleFormat.PCM32:
        out[:] = raw[: 4 * count].view("<i4")
    else:
        raise ValueError("floating point samples have no whole-number form")
    return out.reshape(frames, channels)


def encode(
    block: Floats | Doubles, sample_format: SampleFormat, seed: int | None, first_sample: int
) -> tuple[Raw, int]:
    """Float32 or float64 (any shape, C order) to little-endian bytes, and how many samples had to be clipped.

    Parameters
    ----------
    seed
        None for plain rounding, else triangular dither of two least significant bits' width whose noise depends only
        on the seed and on the running number of the sample, so that block sizes do not change the result
    first_sample
        running number of the block's first sample (frames times channels)

    Source: Lipshitz, Wannamaker, Vanderkooy, "Quantization and dither", JAES 40(5), 1992 (triangular density, 2 LSB).
    """
    kept = np.float64 if block.dtype == np.float64 else np.float32
    flat = np.ascontiguousarray(block, kept).reshape(-1)
    if sample_format is SampleFormat.FLOAT32:
        return flat.astype("<f4").view(np.uint8), 0
    whole = np.empty(flat.size, np.int32)
    scale = float(1 << (sample_format.bits - 1))
    noise = np.uint64((seed or 0) % (1 << 64))
    clipped = int(_quantise(flat, whole, scale, seed is not None, noise, np.uint64(first_sample)))
    return _pack(whole, sample_format), clipped


def encode_ints(block: Ints, sample_format: SampleFormat) -> Raw:
    """Left-justified int32 to little-endian bytes; bits below the container are rounded off (half away from the floor).

    Exact when the samples came from a file of no more bits.
    """
    flat = np.ascontiguousarray(block, np.int32).reshape(-1)
    shift = 32 - sample_format.bits
    if sample_format is SampleFormat.FLOAT32:
        return (flat / np.float64(2147483648)).astype("<f4").view(np.uint8)
    if shift:
        rounded = (flat.astype(np.int64) + (1 << (shift - 1))) >> shift
        flat = np.minimum(rounded, (1 << (sample_format.bits - 1)) - 1).astype(np.int32)
    return _pack(flat, sample_format)


def _pack(whole: Ints, sample_format: SampleFormat) -> Raw:
    """Right-justified int32 to little-endian bytes."""
    if sample_format is SampleFormat.PCM32:
        return whole.astype("<i4").view(np.uint8)
    if sample_format is SampleFormat.PCM16:
        return whole.astype("<i2").view(np.uint8)
    raw = np.empty(3 * whole.size + SLACK_BYTES, np.uint8)
    _pack24(whole, words24(raw, whole.size))
    return raw[: 3 * whole.size]
