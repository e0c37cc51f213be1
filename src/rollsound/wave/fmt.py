"""The format chunk: plain PCM, plain float and the extensible form.

Source: WAVEFORMATEX and WAVEFORMATEXTENSIBLE as published by Microsoft; a mask of 0 gives no channel a loudspeaker,
which is what isolated microphones are.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass

from rollsound.errors import InputError
from rollsound.wave.model import MOST_CHANNELS, Assumption, AudioFormat, SampleFormat

_PCM, _FLOAT, _EXTENSIBLE = 1, 3, 0xFFFE
_GUID_TAIL = bytes.fromhex("000000001000800000aa00389b71")


@dataclass(frozen=True)
class Fmt:
    """What a format chunk says: the format, and whether and how it assigns loudspeakers."""

    format: AudioFormat
    extensible: bool = False
    channel_mask: int = 0
    valid_bits: int = 0
    assumptions: tuple[Assumption, ...] = ()


def parse_fmt(payload: bytes) -> Fmt:
    """Read a format chunk.

    Raises
    ------
    InputError
        when it names no format that can be read
    """
    if len(payload) < 16:
        raise InputError(f"its format chunk has {len(payload)} bytes where at least 16 are needed")
    tag, channels, rate, _, align, bits = struct.unpack_from("<HHIIHH", payload)
    mask, valid, extensible = 0, bits, tag == _EXTENSIBLE
    if extensible and len(payload) >= 40:
        valid, mask = struct.unpack_from("<HI", payload, 18)
        tag = struct.unpack_from("<H", payload, 24)[0]
    elif extensible:
        tag = _PCM  # cut short: the sub-format is missing, and whole-number samples are by far the most likely
    if tag not in (_PCM, _FLOAT):
        raise InputError(
            f"its samples are coded in a way that is not read here (format tag {tag}); only PCM and float are"
        )
    if not 1 <= channels <= MOST_CHANNELS:
        raise InputError(f"its format chunk claims {channels} channels; there may be 1 to {MOST_CHANNELS}")
    if not rate:
        raise InputError("its format chunk claims a sample rate of 0 Hz")
    form = AudioFormat(rate, channels, SampleFormat.of((bits + 7) // 8 * 8, floating=tag == _FLOAT))
    found = []
    if align != form.frame_bytes:
        found.append(
            Assumption(
                "block-align",
                f"The format chunk says {align} bytes a frame, but {form} needs {form.frame_bytes}; that is used.",
                numbers={"stated": align, "used": form.frame_bytes},
            )
        )
    return Fmt(form, extensible, mask, min(valid, bits) or bits, tuple(found))


def plausible_fmt(payload: bytes) -> bool:
    """True when this reads as a format chunk with usual values, used to find one in a damaged header."""
    try:
        found = parse_fmt(payload)
    except InputError:
        return False
    return 8000 <= found.format.sample_rate_hz <= 768_000 and not found.assumptions


def build_fmt(form: AudioFormat, *, extensible: bool | None = None, channel_mask: int = 0) -> bytes:
    """A format chunk's payload. Extensible with mask 0 by default for more than two channels, else the plain form."""
    size = form.frame_bytes
    tag = _FLOAT if form.sample_format.is_float else _PCM
    rate, bits = form.sample_rate_hz, form.sample_format.bits
    if extensible is None:
        extensible = form.channels > 2
    byte_rate = min(rate * size, 0xFFFFFFFF)
    head = struct.pack("<HHIIHH", _EXTENSIBLE if extensible else tag, form.channels, rate, byte_rate, size, bits)
    if extensible:
        return head + struct.pack("<HHIH", 22, bits, channel_mask, tag) + _GUID_TAIL
    return head if tag == _PCM else head + b"\0\0"
