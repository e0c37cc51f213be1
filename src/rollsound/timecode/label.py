"""Time code labels: what may be written, and counting frames with and without drop-frame."""

from __future__ import annotations

import re
from dataclasses import dataclass

from rollsound.errors import InputError
from rollsound.timecode.rates import Rate

_FORM = re.compile(r"^\s*(\d{1,2})([:;.,])(\d{1,2})([:;.,])(\d{1,2})([:;.,])(\d{1,2})\s*$")


@dataclass(frozen=True, slots=True)
class Timecode:
    """One label at one rate.

    Raises
    ------
    InputError
        for a label that does not exist at its rate; it is reported, never moved to a neighbour
    """

    hours: int
    minutes: int
    seconds: int
    frames: int
    rate: Rate

    def __post_init__(self) -> None:
        reason = illegal(self.hours, self.minutes, self.seconds, self.frames, self.rate)
        if reason:
            raise InputError(reason)

    @staticmethod
    def parse(text: str, rate: Rate) -> Timecode:
        """Read ``10:20:30:05``; a semicolon, point or comma before the frames says drop-frame.

        Raises
        ------
        InputError
            when the text is no label, does not exist at ``rate``, or is written as drop-frame at a non-drop rate
        """
        form = _FORM.match(text)
        if not form:
            raise InputError(f"'{text}' is no time code; write hours:minutes:seconds:frames, for example 10:20:30:05")
        if form[6] != ":" and not rate.drop:
            raise InputError(
                f"'{text}' is written as drop-frame but the rate is {rate}; write colons, or choose a drop-frame rate"
            )
        return Timecode(int(form[1]), int(form[3]), int(form[5]), int(form[7]), rate)

    @staticmethod
    def from_frames(frames: int, rate: Rate) -> Timecode:
        """The label ``frames`` after 00:00:00:00; past midnight, and before it, labels wrap."""
        hours, minutes, seconds, rest = split(frames % rate.frames_per_day, rate)
        return Timecode(hours, minutes, seconds, rest, rate)

    def to_frames(self) -> int:
        """Frames since label 00:00:00:00."""
        return count(self.hours, self.minutes, self.seconds, self.frames, self.rate)

    def plus(self, frames: int) -> Timecode:
        """The label so many frames on (or back), wrapping at midnight."""
        return Timecode.from_frames(self.to_frames() + frames, self.rate)

    def __str__(self) -> str:
        mark = ";" if self.rate.drop else ":"
        return f"{self.hours:02d}:{self.minutes:02d}:{self.seconds:02d}{mark}{self.frames:02d}"


def illegal(hours: int, minutes: int, seconds: int, frames: int, rate: Rate) -> str:
    """Why a label does not exist at ``rate``, in one sentence; empty when it does."""
    if 0 <= hours < 24 and 0 <= minutes < 60 and 0 <= seconds < 60 and 0 <= frames < rate.nominal:
        if not rate.drop or frames >= rate.dropped or seconds or not minutes % 10:
            return ""
        return (
            f"{hours:02d}:{minutes:02d}:{seconds:02d};{frames:02d} does not exist at {rate}: drop-frame skips it;"
            f" the next label is ;{rate.dropped:02d}"
        )
    return (
        f"{hours:02d}:{minutes:02d}:{seconds:02d}:{frames:02d} does not exist at {rate}:"
        f" hours go to 23, minutes and seconds to 59, frames to {rate.nominal - 1}"
    )


def count(hours: int, minutes: int, seconds: int, frames: int, rate: Rate) -> int:
    """Frames from 00:00:00:00 to a legal label."""
    whole_minutes = hours * 60 + minutes
    named = rate.nominal * (whole_minutes * 60 + seconds) + frames
    return named - rate.dropped * (whole_minutes - whole_minutes // 10)


def split(frames: int, rate: Rate) -> tuple[int, int, int, int]:
    """Hours, minutes, seconds and frames of frame number ``frames``, within one day.

    Source: the drop-frame rule of SMPTE ST 12-1; whole numbers only, division before multiplication.
    """
    if rate.drop:
        ten_minutes = rate.nominal * 600 - 9 * rate.dropped
        tens, rest = divmod(frames, ten_minutes)
        first = rate.nominal * 60
        minutes = 0 if rest < first else (rest - first) // (first - rate.dropped) + 1
        frames += rate.dropped * (9 * tens + minutes)
    whole_seconds, left = divmod(frames, rate.nominal)
    return whole_seconds // 3600, whole_seconds // 60 % 60, whole_seconds % 60, left
