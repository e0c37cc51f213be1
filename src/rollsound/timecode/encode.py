"""Linear time code as audio: exact frame positions, shaped edges, any rate and sample rate."""

from __future__ import annotations

import math
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from rollsound.errors import InputError
from rollsound.kernel import kernel
from rollsound.timecode.label import Timecode
from rollsound.timecode.rates import Rate, exact_sample_rate
from rollsound.timecode.word import WORD_BITS, word_of

RISE_US = 40.0
"""Rise time from 10 to 90 %. Source: SMPTE ST 12-1, 40 ± 10 µs, as carried by libltc's encoder."""

_RISE_SIGMAS = 2.5631031310892007  # from 10 to 90 % of a Gaussian edge, in its standard deviations


def encode_ltc(
    start: Timecode,
    frames: int,
    sample_rate_hz: int | Fraction,
    level_dbfs: float = -18.0,
    *,
    reverse: bool = False,
    inverted: bool = False,
    user_bits: bytes = bytes(4),
    groups: int = 0,
    colour_frame: bool = False,
    polarity: bool = True,
    rise_us: float = RISE_US,
    offset_samples: Fraction | int = 0,
) -> NDArray[np.float32]:
    """Linear time code of ``frames`` frames, peak ``level_dbfs``, shape (samples,).

    Parameters
    ----------
    start : Timecode
        the label heard first; labels then count up, or down when ``reverse`` plays the tape backwards
    frames : int
        frames of the rate (above 30 frames per second an even number: a word covers two)
    inverted : bool
        swap the wires
    user_bits, groups, colour_frame, polarity
        as in ``word_of``; the same in every frame
    offset_samples : Fraction
        where the first frame's edge lies, from 0 to below 1: a frame seldom starts on a sample

    Source: SMPTE ST 12-1; bi-phase mark, 80 bits per frame, Gaussian edges.
    """
    if not 0 <= offset_samples < 1:
        raise InputError(f"The first frame cannot start {offset_samples} samples in; give 0 or more, and less than 1")
    per_word = 2 if start.rate.nominal > 30 else 1
    if frames < 0 or frames % per_word:
        raise InputError(f"{frames} frames cannot be written at {start.rate}; give a whole number of words")
    first = start.plus(per_word - frames) if reverse else start
    length = math.ceil(frames * start.rate.samples_per_frame(sample_rate_hz) + offset_samples)
    marks = (user_bits, groups, colour_frame, polarity)
    sound = _render(
        first, frames // per_word, exact_sample_rate(sample_rate_hz), Fraction(offset_samples), length, marks, rise_us
    )
    sound *= np.float32((-1 if inverted else 1) * _peak(level_dbfs))
    return np.ascontiguousarray(sound[::-1]) if reverse else sound


def ltc_span(
    start_samples: int,
    length_samples: int,
    sample_rate_hz: int | Fraction,
    rate: Rate,
    level_dbfs: float = -18.0,
    *,
    user_bits: bytes = bytes(4),
    groups: int = 0,
    rise_us: float = RISE_US,
) -> NDArray[np.float32]:
    """The samples of time code that a recorder locked to the time of day would hear, shape (length_samples,).

    ``start_samples`` counts from midnight, so a file's first sample may lie anywhere in a frame. Neighbouring spans
    join without a seam.
    """
    per_word = 2 if rate.nominal > 30 else 1
    per_sound_word = per_word * rate.samples_per_frame(sample_rate_hz)
    first_word = start_samples // per_sound_word - 1
    last_word = (start_samples + length_samples) // per_sound_word + 1
    origin = first_word * per_sound_word - start_samples
    sound = _render(
        Timecode.from_frames(first_word * per_word, rate),
        last_word - first_word + 1,
        exact_sample_rate(sample_rate_hz),
        origin,
        length_samples,
        (user_bits, groups, False, True),
        rise_us,
    )
    sound *= np.float32(_peak(level_dbfs))
    return sound


def _peak(level_dbfs: float) -> float:
    if not level_dbfs <= 0:
        raise InputError(f"{level_dbfs} dBFS is above full scale; choose 0 dBFS or less")
    return float(10 ** (level_dbfs / 20))


def _render(
    first: Timecode,
    words: int,
    sample_rate_hz: Fraction,
    origin: Fraction,
    length: int,
    marks: tuple[bytes, int, bool, bool],
    rise_us: float,
) -> NDArray[np.float32]:
    """Words at full scale into ``length`` samples; ``origin`` is where the first word's edge lies in them."""
    per_word = first.rate.pair.samples_per_frame(sample_rate_hz)
    step = 2 if first.rate.nominal > 30 else 1
    user_bits, groups, colour_frame, polarity = marks
    number = first.to_frames()
    packed = bytearray()
    for index in range(words):
        label = Timecode.from_frames(number + index * step, first.rate)
        word = word_of(label, user_bits, groups=groups, colour_frame=colour_frame, polarity=polarity)
        packed += word.to_bytes(10, "little")
    bits = np.unpackbits(np.frombuffer(packed, np.uint8), bitorder="little").reshape(words, WORD_BITS)
    starts = np.array([float(origin + index * per_word) for index in range(words + 1)])
    sound = np.empty(length, np.float32)
    _draw(bits, starts, max(rise_us * 1e-6 * float(sample_rate_hz) / _RISE_SIGMAS, 1e-6), sound)
    return sound


@kernel()
def _draw(
    bits: NDArray[np.uint8], starts: NDArray[np.float64], sigma: float, sound: NDArray[np.float32]
) -> None:  # pragma: no cover
    """Draw the edges: plateaus first, then every edge's rounded shape around it."""
    words = bits.shape[0]
    edges = np.empty(words * 160 + 1)
    count = 0
    for word in range(words):
        half_bit = (starts[word + 1] - starts[word]) / 160.0
        for bit in range(80):
            edges[count] = starts[word] + 2 * bit * half_bit
            count += 1
            if bits[word, bit]:
                edges[count] = starts[word] + (2 * bit + 1) * half_bit
                count += 1
    edges[count] = starts[words]
    count += 1
    sign = -1.0
    position = 0
    for edge in range(count):
        until = min(max(math.ceil(edges[edge]), 0), sound.size)
        for i in range(position, until):
            sound[i] = sign
        position = max(position, until)
        sign = -sign
    for i in range(position, sound.size):
        sound[i] = sign
    reach = 6.0 * sigma
    sign = 1.0
    for edge in range(count):
        centre = edges[edge]
        for i in range(max(math.ceil(centre - reach), 0), min(int(centre + reach) + 1, sound.size)):
            away = i - centre
            shape = math.erf(away / (sigma * math.sqrt(2.0)))
            sound[i] += sign * (shape - (1.0 if away >= 0.0 else -1.0))
        sign = -sign
