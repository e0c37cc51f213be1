"""What every streaming measurement looks like: blocks in, one answer out."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from rollsound.errors import InputError

Block = NDArray[np.float32]
"""Interleaved audio, shape (frames, channels), C-contiguous, full scale 1.0."""

_WORK_SAMPLES = 131_072  # half a megabyte of float32: stays in the second-level cache of small machines


def work_frames(channels: int) -> int:
    """Frames per working piece, so that several analysers read it while it is in the processor's cache."""
    return max(512, min(16_384, _WORK_SAMPLES // max(channels, 1)))


class Analyser(Protocol):
    """Measures a stream without keeping it.

    The answer depends on the samples alone: any cut of the same stream into blocks, empty ones included, gives the
    same result. Blocks are read during the call only, so the caller may reuse the array.
    """

    def feed(self, block: Block) -> None:
        """Take the next block, shape (frames, channels)."""

    def finish(self) -> Any:
        """Give the answer for everything fed so far; nothing may be fed afterwards."""


def as_block(block: NDArray[Any], channels: int) -> Block:
    """Bring what a caller hands over to an interleaved float32 block, without copying when it is one already.

    A 1-D array is one channel. Raises InputError when the channels do not match.
    """
    array = np.asarray(block)
    if array.ndim == 1:
        array = array[:, np.newaxis]
    if array.ndim != 2 or array.shape[1] != channels:
        raise InputError(f"A block of shape {array.shape} was given where {channels} channels side by side are wanted.")
    return np.ascontiguousarray(array, dtype=np.float32)


def pieces(block: Block) -> Iterator[Block]:
    """Cut a block into pieces small enough to stay in the processor's cache while several analysers read them."""
    step = work_frames(block.shape[1])
    for start in range(0, block.shape[0], step):
        yield block[start : start + step]
