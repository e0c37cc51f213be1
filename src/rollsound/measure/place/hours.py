"""Hours when a place is noisy against the hours that are worked there."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from rollsound.measure.place.model import NoisyHours

_DAY = 24 * 60


@dataclass(frozen=True)
class Overlap:
    """Noisy hours that fall into a day's work; times are minutes from the first midnight, over 1440 on the next day."""

    noisy: NoisyHours
    from_min: int
    to_min: int

    @property
    def minutes(self) -> int:
        """How long."""
        return self.to_min - self.from_min


def overlaps(noisy: Iterable[NoisyHours], call: str, wrap: str, date: str = "") -> tuple[Overlap, ...]:
    """What of the noisy hours falls between call and wrap, in order of time.

    Parameters
    ----------
    call, wrap
        times of day such as 07:30; a wrap at or before the call is on the next day
    date
        the day's, such as 2031-02-18; hours of a single date count only on it (and on every day when it is not known)
    """
    start = _minutes(call)
    stop = _minutes(wrap)
    stop += _DAY if stop <= start else 0
    found = []
    for each in noisy:
        if each.date and date and each.date != date:
            continue
        first, last = _minutes(each.from_time), _minutes(each.to_time)
        last += _DAY if last <= first else 0
        # yesterday's night and tomorrow's morning may reach into the day as well
        for shift in (0,) if each.date else (-_DAY, 0, _DAY):
            low, high = max(start, first + shift), min(stop, last + shift)
            if low < high:
                found.append(Overlap(each, low, high))
    return tuple(sorted(found, key=lambda each: (each.from_min, each.to_min)))


def clock(minutes: int) -> str:
    """Minutes as a time of day."""
    return f"{minutes % _DAY // 60:02d}:{minutes % 60:02d}"


def _minutes(time: str) -> int:
    hour, minute = time.strip().split(":")
    return int(hour) * 60 + int(minute)
