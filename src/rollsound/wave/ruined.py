"""Audio whose header is gone altogether: where it starts, and how its bytes fall into frames."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from rollsound.wave.chunks import find_tail
from rollsound.wave.disk import ByteSource
from rollsound.wave.extent import roughness
from rollsound.wave.model import Assumption, AudioFormat

_SCAN_BYTES = 1 << 20
_CLEARLY_ROUGHER = 4.0


@dataclass(frozen=True)
class Ruined:
    """A span of audio and the sentence that says how it was found."""

    start: int
    size: int
    next_chunk: int
    assumption: Assumption


def ruined_audio(source: ByteSource, form: AudioFormat) -> Ruined | None:
    """Find the audio of a file without header, in a format that somebody knows; None if there are only zeros.

    Frames are counted back from the end of the audio, since a recorder writes whole frames. Whether that is true shows
    in the bytes: read at the wrong byte, samples jump about as noise does.
    """
    first = _first_sign(source)
    if first is None:
        return None
    tail = find_tail(source, first)
    end = source.size if tail is None else tail
    shift = _better_byte(source, end % form.frame_bytes, first, end, form)
    if _ends_in_pad(source, end, shift, form):
        end, shift = end - 1, 0
    grid = end % form.frame_bytes
    grid = (grid + shift) % form.frame_bytes
    # Round down, so that no sample is lost; at most one frame of the ruined bytes is added.
    start = max(first - (first - grid) % form.frame_bytes, grid)
    size = (end - start) // form.frame_bytes * form.frame_bytes
    order = "" if not shift else "; the file does not end on a whole frame, so the tracks may be in another order"
    sentence = (
        f"The header is destroyed. Audio was taken from byte {start}, where zeros end, to byte {start + size} "
        f"as {form}; where the recording really began cannot be known{order}."
    )
    return Ruined(
        start,
        size,
        source.size if tail is None else tail,
        Assumption("no-header", sentence, True, {"start": start, "size": size, "shift": shift}),
    )


def _first_sign(source: ByteSource) -> int | None:
    at = 0
    while at < source.size:
        used = np.flatnonzero(np.frombuffer(source.read(at, _SCAN_BYTES), np.uint8))
        if used.size:
            return at + int(used[0])
        at += _SCAN_BYTES
    return None


def _ends_in_pad(source: ByteSource, end: int, shift: int, form: AudioFormat) -> bool:
    """True if the last byte is padding: only odd frames need any, and samples then are whole one byte earlier."""
    earlier = shift == form.sample_format.bytes - 1
    return form.frame_bytes % 2 == 1 and earlier and source.read(end - 1, 1) == b"\0"


def _better_byte(source: ByteSource, grid: int, first: int, end: int, form: AudioFormat) -> int:
    """How many bytes to move the frames so that samples are whole; 0 unless another place is clearly smoother."""
    middle = first + (end - first) // 2
    base = middle - (middle - grid) % form.frame_bytes
    rough = [roughness(source, base + shift, form) for shift in range(form.sample_format.bytes)]
    measured = [(1e9 if value is None else value) for value in rough]
    best = int(np.argmin(measured))
    return best if measured[best] * _CLEARLY_ROUGHER < measured[0] else 0
