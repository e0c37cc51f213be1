"""How many bytes of audio there really are, whatever the size fields say. The length of the file outranks them all."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from rollsound.wave.chunks import ALL_ONES_32, ALL_ONES_64, after, find_tail, starts_chunk
from rollsound.wave.disk import ByteSource
from rollsound.wave.model import Assumption, AudioFormat
from rollsound.wave.samples import SLACK_BYTES, decode

_PLACEHOLDERS = (0, ALL_ONES_32, ALL_ONES_64)
_SMALLEST_PREALLOCATION_BYTES = 4096
_SCAN_BYTES = 4 << 20
_COMPARED_FRAMES = 4096
_FEWEST_FRAMES = 64
_SMOOTH_STEP = 0.05
"""Median step between neighbouring samples, in full scale, below which bytes are taken for sound."""
_SMOOTHER_THAN_BESIDE = 1.25
"""How much smoother sound is at its own bytes than one byte beside; text and left-over data are not smoother at all.
Both numbers: ``design/wave_roughness.py``."""
_LONG_JUNK_SECONDS = 0.1


@dataclass(frozen=True)
class Extent:
    """The audio: its bytes from the start of the payload, where the next chunk may start, and what was assumed."""

    size: int
    next_chunk: int
    assumptions: tuple[Assumption, ...] = ()


def audio_extent(source: ByteSource, start: int, stated: int, form: AudioFormat | None) -> Extent:
    """Judge a data chunk whose payload starts at ``start`` and whose size field (64-bit one first) says ``stated``."""
    rest = source.size - start
    if stated == 0 and (rest == 0 or starts_chunk(source, start)):
        return Extent(0, start)
    if stated in _PLACEHOLDERS:
        return _unfinished(
            source, start, form, f"The audio's size was never filled in ({_field(stated)})", "unfinished"
        )
    if stated > rest:
        return _cut(source, start, stated, form)
    end = start + stated
    following, pad_missing = after(source, end, stated)
    if following >= source.size:
        return Extent(stated, source.size)
    if starts_chunk(source, following) or (pad_missing and starts_chunk(source, end)):
        notes = (_no_pad("data"),) if pad_missing else ()
        return Extent(stated, following, notes)
    if source.read(following, 4) == b"data":  # a further audio chunk that was never finished; no chance puts it there
        return Extent(stated, following)
    return _more_than_stated(source, start, stated, form)


def _no_pad(name: str) -> Assumption:
    return Assumption("pad-missing", f"The chunk '{name}' has an odd size but no pad byte after it; read without it.")


def _field(value: int) -> str:
    return "it holds zero" if value == 0 else "it holds only ones"


def _cut(source: ByteSource, start: int, stated: int, form: AudioFormat | None) -> Extent:
    rest = source.size - start
    tail = find_tail(source, start)
    if tail is not None:
        return _unfinished(
            source, start, form, f"The audio's size of {stated} bytes goes past the end of the file", "size-past-end"
        )
    frame = form.frame_bytes if form else 1
    lost = stated - rest
    seconds = f", {lost / frame / form.sample_rate_hz:.3g} s," if form else ""
    note = Assumption(
        "cut",
        f"The file states {stated} bytes of audio but ends after {rest}; the last {lost} bytes{seconds} are missing "
        "or were never written.",
        audio=True,
        numbers={"stated": stated, "present": rest},
    )
    return Extent(rest, source.size, (note,))


def _unfinished(source: ByteSource, start: int, form: AudioFormat | None, why: str, kind: str) -> Extent:
    """Everything up to the chunks after the audio, or up to space that was set aside and never written."""
    tail = find_tail(source, start)
    size = (source.size if tail is None else tail) - start
    frame = form.frame_bytes if form else 1
    if frame % 2 and size % 2 == 0 and size % frame == 1 and source.read(start + size - 1, 1) == b"\0":
        size -= 1  # the pad byte after an odd number of odd frames
    zeros = _trailing_zeros(source, start, size) if tail is None else 0
    notes = []
    if zeros >= _SMALLEST_PREALLOCATION_BYTES and zeros < size:
        zeros -= zeros % frame
        notes.append(
            Assumption(
                "preallocated",
                f"The last {zeros} bytes hold only zeros, as space set aside for a recording does; they are not "
                "counted as audio.",
                audio=True,
                numbers={"zeros": zeros},
            )
        )
        kept = size - zeros
        size = min(size, kept + -kept % frame)
    elif zeros == size and zeros >= _SMALLEST_PREALLOCATION_BYTES:
        notes.append(
            Assumption(
                "all-zeros",
                f"All {size} bytes of audio are zeros: silence, or space set aside and never recorded to.",
                audio=True,
                numbers={"zeros": zeros},
            )
        )
    end = "the chunks after it" if tail is not None else "the end of the file"
    notes.insert(
        0, Assumption(kind, f"{why}; audio was taken up to {end}, {size} bytes.", audio=True, numbers={"used": size})
    )
    return Extent(size, source.size if tail is None else tail, tuple(notes))


def _more_than_stated(source: ByteSource, start: int, stated: int, form: AudioFormat | None) -> Extent:
    """The size is smaller than the rest of the file and no chunk follows."""
    rest = source.size - start
    for wraps in range(1, (rest >> 32) + 1):
        size = stated + (wraps << 32)
        following = after(source, start + size, size)[0]
        if size <= rest and (following >= source.size or starts_chunk(source, following)):
            note = Assumption(
                "wrapped",
                f"The audio is longer than the 4 GiB its size field can say; {size} bytes were read, not {stated}.",
                audio=True,
                numbers={"stated": stated, "used": size},
            )
            return Extent(size, min(following, source.size), (note,))
    spare = rest - stated
    if _trailing_zeros(source, start + stated, spare) == spare:
        note = Assumption(
            "zeros-after",
            f"After the audio the file holds {spare} bytes of zeros; they are not counted as audio.",
            numbers={"spare": spare},
        )
        return Extent(stated, source.size, (note,))
    if sounds_like_more(source, start, stated, form):
        why = f"The size field says {stated} bytes of audio, but it goes on after them and no chunk follows"
        return _unfinished(source, start, form, why, "stale-size")
    note = Assumption(
        "junk-after",
        f"After the audio the file holds {spare} bytes that are neither a chunk nor sound; they were left out.",
        audio=form is not None and spare > _LONG_JUNK_SECONDS * form.sample_rate_hz * form.frame_bytes,
        numbers={"spare": spare},
    )
    return Extent(stated, source.size, (note,))


def _trailing_zeros(source: ByteSource, start: int, size: int) -> int:
    """How many bytes at the end of a span are zero."""
    end = start + size
    while end > start:
        first = max(start, end - _SCAN_BYTES)
        block = np.frombuffer(source.read(first, end - first), np.uint8)
        used = np.flatnonzero(block[-4096:])
        if used.size == 0:
            used = np.flatnonzero(block)
        elif block.size > 4096:
            used = used + (block.size - 4096)
        if used.size:
            return start + size - (first + int(used[-1]) + 1)
        end = first
    return size


def sounds_like_more(source: ByteSource, start: int, size: int, form: AudioFormat | None) -> bool:
    """True if the bytes after ``size`` go on like sound: no rougher than sound is, or than what came before."""
    if form is None:
        return True
    frame = form.frame_bytes
    boundary = start + size // frame * frame
    later = roughness(source, boundary, form)
    if later is None:
        return False
    earlier = roughness(source, max(start, boundary - _COMPARED_FRAMES * frame), form) or 0.0
    if later < max(_SMOOTH_STEP, 4 * min(earlier, 0.25)):
        return True
    # Loud and bright, perhaps: sound still is smoother where its samples really begin than a byte beside that.
    beside = [roughness(source, boundary + shift, form) for shift in range(1, form.sample_format.bytes)]
    return all(value is None or later < value / _SMOOTHER_THAN_BESIDE for value in beside)


def roughness(source: ByteSource, at: int, form: AudioFormat) -> float | None:
    """Median step between neighbouring samples of a channel from here on; None if it cannot be sound."""
    raw = source.read(at, _COMPARED_FRAMES * form.frame_bytes)
    frames = len(raw) // form.frame_bytes
    if frames < _FEWEST_FRAMES:
        return None
    padded = np.frombuffer(raw + b"\0" * SLACK_BYTES, np.uint8)
    block = decode(padded, frames, form.channels, form.sample_format)
    if not np.isfinite(block).all() or float(np.abs(block).max()) > 64:
        return None
    moving = np.abs(np.diff(block, axis=0))
    active = moving[:, block.any(axis=0)]
    return float(np.median(active)) if active.size else 0.0
