"""Does the next day fit on the drive that it is copied to?"""

from __future__ import annotations

from dataclasses import dataclass

from rollsound.finding import Area, Finding, Weight
from rollsound.quantities import show_size
from rollsound.review.model import AreaFigure

PRACTICE = "common practice, no source"
ENOUGH_DAYS = 2.0
"""Below this much room a drive deserves a look: a day that runs long, and its copy, still fit."""


@dataclass(frozen=True)
class Drive:
    """One drive: what stands on it, and how much is free."""

    holds: str
    free_bytes: int


@dataclass(frozen=True)
class DaySize:
    """What a day takes, and how that is known."""

    size_bytes: float
    basis: str
    numbers: dict[str, float]
    at_most: bool = False
    """No day takes more: what fits it fits, and what does not may fit all the same."""


def recorded_day(days_bytes: list[int]) -> DaySize | None:
    """A day as the recorded ones were: their largest, for the next one may be like it."""
    days = [each for each in days_bytes if each > 0]
    if not days:
        return None
    basis = "as the day that is recorded" if len(days) == 1 else f"as the largest of {len(days)} recorded days"
    return DaySize(float(max(days)), basis, {"recorded_days": float(len(days))})


def planned_day(tracks: int, sample_rate_hz: float, bytes_per_sample: int, hours: float) -> DaySize | None:
    """A day that rolls without a stop from call to wrap: more than any day takes."""
    if not tracks or hours <= 0:
        return None
    size = tracks * sample_rate_hz * bytes_per_sample * hours * 3600
    numbers = {"tracks": float(tracks), "rate_hz": sample_rate_hz, "sample_bytes": float(bytes_per_sample)}
    return DaySize(size, "if all tracks roll from call to wrap", numbers | {"hours_h": hours}, at_most=True)


def room(drive: Drive, day: DaySize) -> Finding:
    """Judge one drive: below one day of room the next day would not fit."""
    days = drive.free_bytes / day.size_bytes
    if day.at_most:
        weight = Weight.WATCH if days < 1.0 else Weight.FINE
    else:
        weight = Weight.STOP if days < 1.0 else Weight.WATCH if days < ENOUGH_DAYS else Weight.FINE
    free, size = show_size(drive.free_bytes), show_size(day.size_bytes)
    return Finding(
        area=Area.MEDIA,
        weight=weight,
        subject=f"drive of {drive.holds}",
        kind="room on drive",
        what=f"The drive of {drive.holds} has room for {in_days(days)}: {free} free, a day takes {size} {day.basis}.",
        remedy="" if weight is Weight.FINE else "Free space, or plan another drive, before the next day is copied.",
        source=PRACTICE,
        numbers={"free_bytes": float(drive.free_bytes), "day_bytes": day.size_bytes, "days": days, **day.numbers},
    )


def in_days(days: float) -> str:
    """Room in days; beyond three months it does not matter how many."""
    if days >= 100:
        return "more than 99 days"
    return f"{days:.1f} days" if days < 10 else f"{days:.0f} days"


def room_figure(findings: list[Finding]) -> AreaFigure | None:
    """The tightest drive, as the number of an area."""
    if not findings:
        return None
    tightest = min(findings, key=lambda finding: finding.numbers["days"])
    days = tightest.numbers["days"]
    figure = "99+ days" if days >= 100 else in_days(days)
    return AreaFigure(figure=figure, sentence=f"of room on the {tightest.subject}", weight=tightest.weight)
