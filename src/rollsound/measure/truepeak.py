"""True peak: the highest value between the samples, by four-fold interpolation.

Source: Recommendation ITU-R BS.1770-5, annex 2: a 48-tap filter in four phases of twelve taps. The filter is defined by
ratio, so four-fold is used at every sample rate. Steady tones read between 0.3 dB low and 0.22 dB high, by frequency
(design/true_peak_error.py); that is in the filter, not in this code. The result is never below the sample peak.

The four phases are two pairs of mirror images. Written with sums and differences of mirrored samples, a pair is
``even + odd`` and ``even - odd``, and the larger magnitude of the two is ``|even| + |odd|``: half the multiplications.
A stretch whose samples are too low to beat the running peak through the filter's greatest gain is left out, exactly.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from rollsound.kernel import kernel
from rollsound.measure.analyser import Block, as_block, pieces
from rollsound.measure.decibel import dbfs_of_amplitude

TAPS = 12
PHASES = np.array(
    [
        [
            0.0017089843750, 0.0109863281250, -0.0196533203125, 0.0332031250000, -0.0594482421875, 0.1373291015625,
            0.9721679687500, -0.1022949218750, 0.0476074218750, -0.0266113281250, 0.0148925781250, -0.0083007812500,
        ],
        [
            -0.0291748046875, 0.0292968750000, -0.0517578125000, 0.0891113281250, -0.1665039062500, 0.4650878906250,
            0.7797851562500, -0.2003173828125, 0.1015625000000, -0.0582275390625, 0.0330810546875, -0.0189208984375,
        ],
    ]
)  # fmt: skip
"""Phases 0 and 1 of the filter; phase 2 is phase 1 reversed, phase 3 is phase 0 reversed."""

_HISTORY = TAPS - 1
_STRETCH = 64  # frames judged together: shorter costs more lining up, longer skips less


Six = tuple[Any, ...]


def _pair_coefficients(phases: NDArray[np.float64]) -> tuple[Six, Six, Six, Six]:
    """Even and odd halves of both phase pairs; exact in float32, since the taps are multiples of 2^-13."""
    mirrored = phases[:, ::-1]
    even, odd = (phases + mirrored) / 2, (phases - mirrored) / 2
    half = TAPS // 2
    return (
        tuple(even[0, :half].astype(np.float32)),
        tuple(odd[0, :half].astype(np.float32)),
        tuple(even[1, :half].astype(np.float32)),
        tuple(odd[1, :half].astype(np.float32)),
    )


@kernel(fast=True)
def _between(
    line: NDArray[np.float32], frames: int, pairs: tuple[Six, Six, Six, Six], out: NDArray[np.float32]
) -> None:
    """Greatest magnitude of the four interpolated values at each of ``frames`` places; ``line`` has 11 more samples."""
    e0, e1, e2, e3, e4, e5 = pairs[0]
    o0, o1, o2, o3, o4, o5 = pairs[1]
    f0, f1, f2, f3, f4, f5 = pairs[2]
    p0, p1, p2, p3, p4, p5 = pairs[3]
    for i in range(frames):
        s0, d0 = line[i] + line[i + 11], line[i] - line[i + 11]
        s1, d1 = line[i + 1] + line[i + 10], line[i + 1] - line[i + 10]
        s2, d2 = line[i + 2] + line[i + 9], line[i + 2] - line[i + 9]
        s3, d3 = line[i + 3] + line[i + 8], line[i + 3] - line[i + 8]
        s4, d4 = line[i + 4] + line[i + 7], line[i + 4] - line[i + 7]
        s5, d5 = line[i + 5] + line[i + 6], line[i + 5] - line[i + 6]
        outer = abs(e0 * s0 + e1 * s1 + e2 * s2 + e3 * s3 + e4 * s4 + e5 * s5) + abs(
            o0 * d0 + o1 * d1 + o2 * d2 + o3 * d3 + o4 * d4 + o5 * d5
        )
        inner = abs(f0 * s0 + f1 * s1 + f2 * s2 + f3 * s3 + f4 * s4 + f5 * s5) + abs(
            p0 * d0 + p1 * d1 + p2 * d2 + p3 * d3 + p4 * d4 + p5 * d5
        )
        out[i] = outer if outer > inner else inner


@kernel(fast=True)
def _climb(
    block: NDArray[np.float32],
    before: NDArray[np.float32],
    recent: NDArray[np.float32],
    top: NDArray[np.float32],
    place: NDArray[np.int64],
    position: int,
    pairs: tuple[Six, Six, Six, Six],
    greatest_gain: float,
) -> None:
    """Raise ``top`` (channels) by what lies between the samples of a block, noting where in ``place``.

    ``before`` (11, channels) holds the frames ahead of the block, ``recent`` (channels) the greatest magnitude in them.
    Each channel is lined up on its own, and only where it can climb.
    """
    frames, channels = block.shape
    stretch = _STRETCH
    line = np.empty(stretch + 11, np.float32)
    high = np.empty(stretch, np.float32)
    now = np.empty(channels, np.float32)
    gain = np.float32(greatest_gain)
    for start in range(0, frames, stretch):
        count = min(stretch, frames - start)
        now[:] = 0.0
        for f in range(start, start + count):
            row = block[f]
            for c in range(channels):
                magnitude = abs(row[c])
                now[c] = magnitude if magnitude > now[c] else now[c]
        for c in range(channels):
            reach = max(now[c], recent[c])
            recent[c] = now[c] if count >= 11 else reach
            if now[c] > top[c]:
                top[c] = now[c]
                for f in range(start, start + count):
                    if abs(block[f, c]) == top[c]:
                        place[c] = position + f
                        break
            if reach * gain <= top[c]:
                continue
            for i in range(count + 11):
                f = start - 11 + i
                line[i] = block[f, c] if f >= 0 else before[f + 11, c]
            _between(line, count, pairs, high)
            best = np.float32(0.0)
            for i in range(count):
                best = high[i] if high[i] > best else best
            if best > top[c]:
                top[c] = best
                for i in range(count):
                    if high[i] == best:
                        place[c] = max(position + start + i - 6, 0)
                        break


class TruePeak:
    """Streams blocks and gives the true peak of each channel.

    The stream is taken to be silent before its start and after its end, as it is when played.
    """

    def __init__(self, channels: int, phases: NDArray[np.float64] = PHASES) -> None:
        self._pairs = _pair_coefficients(phases)
        self._gain = float(np.abs(phases).sum(axis=1).max()) * 1.001
        self._before = np.zeros((_HISTORY, channels), dtype=np.float32)
        self._recent = np.zeros(channels, dtype=np.float32)
        self._top = np.zeros(channels, dtype=np.float32)
        self._place = np.zeros(channels, dtype=np.int64)
        self._position = 0

    def feed(self, block: Block) -> None:
        """Take the next block (frames, channels); values must be finite."""
        _climb(block, self._before, self._recent, self._top, self._place, self._position, self._pairs, self._gain)
        self._position += block.shape[0]
        if block.shape[0] >= _HISTORY:
            self._before[:] = block[-_HISTORY:]
        elif block.shape[0]:
            self._before = np.concatenate([self._before[block.shape[0] :], block])

    def finish(self) -> tuple[tuple[float, int], ...]:
        """For each channel the true peak in dBTP and the sample it lies at or just after."""
        end = self._position
        self.feed(np.zeros((_HISTORY, self._top.size), dtype=np.float32))
        return tuple(
            (dbfs_of_amplitude(float(top)), min(int(place), max(end - 1, 0)))
            for top, place in zip(self._top, self._place, strict=True)
        )


def measure_true_peak(audio: NDArray[Any]) -> tuple[float, ...]:
    """True peak in dBTP of each channel of a whole array, shape (frames,) or (frames, channels)."""
    channels = 1 if np.ndim(audio) == 1 else int(np.shape(audio)[1])
    meter = TruePeak(channels)
    for piece in pieces(as_block(audio, channels)):
        meter.feed(piece)
    return tuple(level for level, _ in meter.finish())
