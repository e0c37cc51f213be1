"""The 80-bit word of linear time code: labels, flags and user bits to bytes and back.

Source: SMPTE ST 12-1 as carried by libltc's header (bit positions), least significant bit first, BCD digits.
"""

from __future__ import annotations

from dataclasses import dataclass

from rollsound.errors import InputError
from rollsound.timecode.label import Timecode

WORD_BITS = 80
SYNC = 0xBFFC
"""Bits 64 to 79, 0011 1111 1111 1101 in the order of time, as a little-endian number."""

_USER_POSITIONS = (4, 12, 20, 28, 36, 44, 52, 60)
_DATA_MASK = (1 << 64) - 1


@dataclass(frozen=True)
class Flags:
    """What a word carries beside the label. ``groups`` are binary group flags 0, 1 and 2 as bits 0, 1 and 2."""

    drop: bool = False
    colour_frame: bool = False
    groups: int = 0


def _positions(nominal: int) -> tuple[int, int, int, int]:
    """Bit numbers of the polarity correction and binary group flags 0, 1, 2; they move at 25 frames per second."""
    return (59, 27, 58, 43) if nominal in (25, 50) else (27, 43, 58, 59)


def word_of(
    timecode: Timecode,
    user_bits: bytes = bytes(4),
    *,
    groups: int = 0,
    colour_frame: bool = False,
    polarity: bool = True,
) -> int:
    """Build the 80-bit word of a label as a whole number, bit 0 first in time.

    Above 30 frames per second the word counts frame pairs, so the label must be the first of its pair.

    Parameters
    ----------
    user_bits : bytes
        four bytes: user group 1 in the low half of the first, group 8 in the high half of the last
    groups : int
        binary group flags, bit n for flag n
    polarity : bool
        set the correction bit so that the number of zeros is even and every word starts in the same phase
    """
    if len(user_bits) != 4 or not 0 <= groups <= 7:
        raise InputError("User bits are four bytes and three flags; give exactly four bytes and a number from 0 to 7")
    frames = timecode.frames
    if timecode.rate.nominal > 30:
        if frames % 2:
            raise InputError(f"{timecode} is the second frame of its pair at {timecode.rate}; start on an even frame")
        frames //= 2
    word = SYNC << 64
    for value, position in (
        (frames, 0), (timecode.seconds, 16), (timecode.minutes, 32), (timecode.hours, 48)
    ):  # fmt: skip
        word |= value % 10 << position | value // 10 << position + 8
    user = int.from_bytes(user_bits, "little")
    for group, position in enumerate(_USER_POSITIONS):
        word |= (user >> 4 * group & 15) << position
    correction, *flag_positions = _positions(timecode.rate.nominal)
    word |= timecode.rate.drop << 10 | colour_frame << 11
    for flag, position in enumerate(flag_positions):
        word |= (groups >> flag & 1) << position
    if polarity and word.bit_count() % 2:
        word |= 1 << correction
    return word


def digits_of(word: int) -> tuple[int, int, int, int] | None:
    """Hours, minutes, seconds and frames of a word's 64 data bits, or None when they are no digits of a clock.

    The frames are those of the word: pairs above 30 frames per second.
    """
    frame, second = word & 15, word >> 16 & 15
    minute, hour = word >> 32 & 15, word >> 48 & 15
    if frame > 9 or second > 9 or minute > 9 or hour > 9:
        return None
    frame += 10 * (word >> 8 & 3)
    second += 10 * (word >> 24 & 7)
    minute += 10 * (word >> 40 & 7)
    hour += 10 * (word >> 56 & 3)
    if frame > 29 or second > 59 or minute > 59 or hour > 23:
        return None
    return hour, minute, second, frame


def user_bits_of(word: int) -> bytes:
    """The eight user groups, packed as ``word_of`` takes them."""
    user = 0
    for group, position in enumerate(_USER_POSITIONS):
        user |= (word >> position & 15) << 4 * group
    return user.to_bytes(4, "little")


def flags_of(word: int, nominal: int) -> Flags:
    """The flags, read where they stand at this rate."""
    _, *flag_positions = _positions(nominal)
    groups = 0
    for flag, position in enumerate(flag_positions):
        groups |= (word >> position & 1) << flag
    return Flags(bool(word >> 10 & 1), bool(word >> 11 & 1), groups)


def polarity_holds(word: int) -> bool:
    """True when the 80 bits hold an even number of zeros, as a generator that corrects polarity leaves them."""
    return (word & _DATA_MASK | SYNC << 64).bit_count() % 2 == 0
