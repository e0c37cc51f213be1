"""Loudness of single tracks and of programmes.

A single track is measured as one channel with weight 1: the same signal on left and right together reads 3.01 LU more.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from rollsound.errors import InputError
from rollsound.measure.analyser import Block, as_block, pieces
from rollsound.measure.gating import Gating
from rollsound.measure.kweight import KWeighting
from rollsound.measure.model import Loudness

SURROUND_WEIGHT = 1.41
_WEIGHTS = {
    1: (1.0,),
    2: (1.0, 1.0),
    3: (1.0, 1.0, 1.0),
    5: (1.0, 1.0, 1.0, SURROUND_WEIGHT, SURROUND_WEIGHT),
    6: (1.0, 1.0, 1.0, 0.0, SURROUND_WEIGHT, SURROUND_WEIGHT),
}


def programme_weights(channels: int) -> tuple[float, ...]:
    """Channel weights of BS.1770 for L R C (LFE) Ls Rs in this order; the LFE counts nothing.

    Raises InputError where the channel count does not say what the channels are.
    """
    if channels not in _WEIGHTS:
        raise InputError(f"Give the weight of each channel: {channels} channels have no layout that is understood.")
    return _WEIGHTS[channels]


class TrackLoudness:
    """Streams blocks and gives a ``Loudness`` for each channel on its own, weight 1."""

    def __init__(self, sample_rate_hz: int, channels: int) -> None:
        self._channels = channels
        self._weighting = KWeighting(sample_rate_hz, channels)
        self._gating = Gating(sample_rate_hz, channels)

    def feed(self, block: Block) -> None:
        """Take the next block (frames, channels); values must be finite."""
        self._gating.feed(self._weighting.feed(block))

    def finish(self) -> tuple[Loudness, ...]:
        """One answer per channel."""
        return self._gating.finish()


class ProgrammeLoudness:
    """Streams blocks and gives one ``Loudness`` for all channels together, weighed."""

    def __init__(self, sample_rate_hz: int, channels: int, weights: Sequence[float] | None = None) -> None:
        chosen = programme_weights(channels) if weights is None else tuple(weights)
        if len(chosen) != channels:
            raise InputError(f"{len(chosen)} weights were given for {channels} channels; give one for each.")
        self._weights = np.array(chosen, dtype=np.float64)
        self._weighting = KWeighting(sample_rate_hz, channels)
        self._gating = Gating(sample_rate_hz, 1)

    def feed(self, block: Block) -> None:
        """Take the next block (frames, channels); values must be finite."""
        hops = self._weighting.feed(block)
        self._gating.feed(np.ascontiguousarray((hops * self._weights).sum(axis=1, keepdims=True)))

    def finish(self) -> Loudness:
        """The answer for the programme."""
        return self._gating.finish()[0]


def measure_loudness(audio: NDArray[Any], sample_rate_hz: int, weights: Sequence[float] | None = None) -> Loudness:
    """Loudness of a whole array, shape (frames,) or (frames, channels), as one programme.

    Without ``weights``, 1, 2, 3, 5 and 6 channels are taken as L R C (LFE) Ls Rs.
    """
    channels = 1 if np.ndim(audio) == 1 else int(np.shape(audio)[1])
    meter = ProgrammeLoudness(sample_rate_hz, channels, weights)
    for piece in pieces(as_block(audio, channels)):
        meter.feed(piece)
    return meter.finish()
