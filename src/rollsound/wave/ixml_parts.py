"""The parts of an iXML document as plain values, and how their texts are read.

Source: iXML specification, object details and dictionaries (gallery.co.uk/ixml), revisions 1.x to 3.x.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction

from rollsound.errors import InputError
from rollsound.timecode import Rate

TAKE_TYPES = (
    "DEFAULT",
    "NO_GOOD",
    "FALSE_START",
    "WILD_TRACK",
    "PICKUP",
    "REHEARSAL",
    "ANNOUNCEMENT",
    "SOUND_GUIDE",
)
TOP_LEVEL = frozenset(
    """
    ixml_version project scene take tape circled no_good false_start wild_track take_type file_uid ubits speed
    sync_point_list loudness history file_set track_list bext user location
    """.split()  # noqa: SIM905
)
"""Published elements that stand right under the root and nowhere else (NOTE stands under SPEED as well)."""
LEGACY_FLAGS = ("NO_GOOD", "FALSE_START", "WILD_TRACK")
LOUDNESS_NAMES = (
    "LOUDNESS_VALUE",
    "LOUDNESS_RANGE",
    "MAX_TRUE_PEAK_LEVEL",
    "MAX_MOMENTARY_LOUDNESS",
    "MAX_SHORT_TERM_LOUDNESS",
)
_TRUE = frozenset({"true", "1", "yes", "y", "on"})


@dataclass(frozen=True)
class IXmlTrack:
    """One TRACK: ``channel_index`` counts the recorder's inputs, ``interleave_index`` places in the file, from 1.

    ``mix_level`` (dB, or OFF) and ``mix_pan`` (such as ``30L``) are those of DEFAULT_MIX.
    """

    channel_index: int
    interleave_index: int
    name: str = ""
    function: str = ""
    mix_level: str = ""
    mix_pan: str = ""


@dataclass(frozen=True)
class SyncPoint:
    """One SYNC_POINT. ``position`` counts samples from the file's start, or from midnight if ``absolute``."""

    function: str
    position: int
    absolute: bool = False
    comment: str = ""
    duration: int = 0


@dataclass(frozen=True)
class Speed:
    """The SPEED element. Rates of material are exact fractions; None where nothing is written."""

    note: str = ""
    master: Fraction | None = None
    current: Fraction | None = None
    rate: Rate | None = None
    file_sample_rate_hz: int | None = None
    bit_depth: int | None = None
    digitizer_sample_rate_hz: int | None = None
    timestamp_samples: int | None = None
    timestamp_sample_rate_hz: int | None = None


@dataclass(frozen=True)
class History:
    """The HISTORY element: the name at creation, and the file this one was made from."""

    original_filename: str = ""
    parent_filename: str = ""
    parent_uid: str = ""
    current_filename: str = ""


@dataclass(frozen=True)
class FileSet:
    """The FILE_SET element: which files are one recording. ``index`` is a number for monos, a letter for polys."""

    total_files: int = 1
    family_uid: str = ""
    family_name: str = ""
    index: str = ""
    start_samples: int | None = None


@dataclass(frozen=True)
class Location:
    """The LOCATION element."""

    name: str = ""
    gps: str = ""
    altitude: str = ""
    type: str = ""
    time: str = ""


@dataclass(frozen=True)
class IXmlLoudness:
    """The LOUDNESS element; None where nothing is written."""

    value_lufs: float | None = None
    range_lu: float | None = None
    true_peak_dbtp: float | None = None
    momentary_lufs: float | None = None
    short_term_lufs: float | None = None


def read_flag(text: str) -> bool:
    """TRUE, true, 1 and YES are true, all else is false."""
    return text.strip().casefold() in _TRUE


def read_int(text: str) -> int | None:
    """A whole number, or None; a fraction of zeros such as ``48000.0`` is let through."""
    match = re.fullmatch(r"\s*([+-]?\d{1,20})(?:\.0*)?\s*", text, re.ASCII)
    return int(match[1]) if match else None


def read_float(text: str) -> float | None:
    """A decimal number with an optional unit after it, or None."""
    match = re.match(r"\s*([+-]?\d{1,9}(?:[.,]\d{1,9})?)(?!\d)", text, re.ASCII)
    return float(match[1].replace(",", ".")) if match else None


def read_fraction(text: str) -> Fraction | None:
    """``24000/1001``, ``25`` or ``23.976``; well-known decimals become the exact ratio they stand for."""
    match = re.fullmatch(r"\s*(\d{1,9}(?:\.\d{1,9})?)(?:\s*/\s*(\d{1,9}))?\s*", text, re.ASCII)
    if not match or (match[2] and not int(match[2])):
        return None
    if match[2]:
        return Fraction(match[1]) / int(match[2])
    rate = read_rate(text, "")
    return rate.fps if rate else Fraction(match[1])


def read_rate(text: str, flag: str) -> Rate | None:
    """A time code rate with its drop-frame flag, or None. A flag that cannot hold at this rate is not used."""
    if not text.strip():
        return None
    drop = flag.strip().casefold() in ("df", "drop", "d")
    for wanted in (drop, False) if flag.strip() else (None,):
        try:
            return Rate.parse(text.strip(), wanted)
        except InputError:
            continue
    try:
        return Rate.parse(text.strip())
    except InputError:
        return None


def words_to_samples(high: str, low: str) -> int | None:
    """Two decimal 32-bit words to one count; None when the low word is missing or either does not fit."""
    first, second = read_int(high) if high.strip() else 0, read_int(low)
    if first is None or second is None or not (0 <= first < 1 << 32 and 0 <= second < 1 << 64):
        return None
    return (first << 32) + second if second < 1 << 32 else (second if first == 0 else None)


def samples_to_words(samples: int) -> tuple[str, str]:
    """One count to two decimal 32-bit words, high and low."""
    if not 0 <= samples < 1 << 64:
        raise InputError(f"{samples} samples cannot be written as a time; it counts from midnight or the file's start")
    return str(samples >> 32), str(samples & 0xFFFFFFFF)
