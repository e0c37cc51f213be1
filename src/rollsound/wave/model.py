"""What an audio file is made of: its sample format, its chunks, its cue points, and what had to be assumed about it."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import Enum

from rollsound.errors import InputError

MOST_CHANNELS = 128


class SampleFormat(Enum):
    """How one sample is stored. ``bits`` is the size of its container."""

    PCM16 = "16-bit"
    PCM24 = "24-bit"
    PCM32 = "32-bit"
    FLOAT32 = "32-bit float"

    @property
    def bits(self) -> int:
        """Bits of one sample."""
        return {"16-bit": 16, "24-bit": 24}.get(self.value, 32)

    @property
    def bytes(self) -> int:
        """Bytes of one sample."""
        return self.bits // 8

    @property
    def is_float(self) -> bool:
        """True for floating point samples."""
        return self is SampleFormat.FLOAT32

    @classmethod
    def of(cls, bits: int, *, floating: bool = False) -> SampleFormat:
        """The format of so many bits.

        Raises
        ------
        InputError
            when there is none
        """
        if floating and bits == 32:
            return cls.FLOAT32
        by_bits = {16: cls.PCM16, 24: cls.PCM24, 32: cls.PCM32}
        if floating or bits not in by_bits:
            kind = "floating point" if floating else "whole-number"
            raise InputError(
                f"{bits}-bit {kind} samples are not read or written here; use 16, 24 or 32 bits, or 32-bit float"
            )
        return by_bits[bits]


@dataclass(frozen=True)
class AudioFormat:
    """Rate, channel count and sample format."""

    sample_rate_hz: int
    channels: int
    sample_format: SampleFormat

    def __post_init__(self) -> None:
        if not 1 <= self.channels <= MOST_CHANNELS:
            raise InputError(f"{self.channels} channels cannot be read or written; there may be 1 to {MOST_CHANNELS}")
        if not 1 <= self.sample_rate_hz <= 0xFFFFFFFF:
            raise InputError(f"{self.sample_rate_hz} Hz is no sample rate; 48000 is the usual one")

    @property
    def frame_bytes(self) -> int:
        """Bytes of one frame: one sample of every channel."""
        return self.channels * self.sample_format.bytes

    def __str__(self) -> str:
        plural = "channel" if self.channels == 1 else "channels"
        return f"{self.channels} {plural}, {self.sample_format.value}, {self.sample_rate_hz} Hz"


@dataclass(frozen=True)
class Chunk:
    """One chunk: its four-letter name, where its payload starts in the file, and how many bytes are really there."""

    id: str
    offset: int
    size: int


@dataclass(frozen=True)
class MoreAudio:
    """A further audio chunk of a file that should have one only: where its payload starts, and its whole frames."""

    offset: int
    frames: int
    format: AudioFormat


@dataclass(frozen=True)
class Cue:
    """A cue point at ``frame`` of the file; ``length_frames`` is more than zero for a region."""

    frame: int
    label: str = ""
    note: str = ""
    length_frames: int = 0


@dataclass(frozen=True)
class Assumption:
    """What had to be assumed to read a file that is not as it should be.

    ``kind`` is a short stable name for programs, ``sentence`` is for people. ``audio`` is true when it bears on which
    samples are read (not only on a size field or on the text beside them). ``numbers`` holds the figures.
    """

    kind: str
    sentence: str
    audio: bool = False
    numbers: dict[str, int] = field(default_factory=dict)
