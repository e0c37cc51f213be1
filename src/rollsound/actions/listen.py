"""A stretch of one track as sound that every browser plays: 16-bit, one channel, at the file's own rate."""

from __future__ import annotations

import struct

import numpy as np
from numpy.typing import NDArray

from rollsound.actions.media_model import MediaTake
from rollsound.errors import InputError
from rollsound.wave import open_wave

LONGEST_SECONDS = 30.0
_HEAD_BYTES = 44


def listen(take: MediaTake, track: int, from_sample: int, seconds: float) -> bytes:
    """A WAV file in memory with up to ``seconds`` of one track (from 1); shorter at the take's end.

    Players ask for one short stretch after another, so that a drive that is pulled costs one sentence and no fault.

    Raises
    ------
    InputError
        when there is no such track or place, or it is too long at once
    StorageError
        when the file is gone
    """
    found = next((each for each in take.tracks if each.index == track), None)
    if found is None:
        raise InputError(f"{take.name} has {len(take.tracks)} tracks; there is no number {track}")
    if not 0 < seconds <= LONGEST_SECONDS:
        raise InputError(f"listen to more than nothing and at most {LONGEST_SECONDS:.0f} s at once")
    if not 0 <= from_sample < max(take.frames, 1):
        raise InputError(f"{take.name} has {take.frames} samples; there is no number {from_sample}")
    wanted = min(round(seconds * take.sample_rate_hz), take.frames - from_sample)
    with open_wave(take.members[found.member].path) as reader:
        rate = reader.info.format.sample_rate_hz
        sound = reader.read_channel(found.channel - 1, from_sample, wanted)
    # A member of a set may be shorter than its take.
    whole = np.zeros(wanted, "<i2")
    whole[: sound.size] = to_16_bit(sound)
    return _head(rate, whole.nbytes) + whole.tobytes()


def to_16_bit(sound: NDArray[np.float32]) -> NDArray[np.int16]:
    """Rounded, and clipped where floating point goes above full scale."""
    scaled = np.rint(np.nan_to_num(sound.astype(np.float64), posinf=1.0, neginf=-1.0) * 32768.0)
    return np.clip(scaled, -32768, 32767).astype(np.int16)


def _head(rate_hz: int, size_bytes: int) -> bytes:
    form = struct.pack("<HHIIHH", 1, 1, rate_hz, 2 * rate_hz, 2, 16)
    return (
        b"".join(
            (b"RIFF", struct.pack("<I", _HEAD_BYTES - 8 + size_bytes), b"WAVEfmt ", struct.pack("<I", len(form)), form)
        )
        + b"data"
        + struct.pack("<I", size_bytes)
    )
