"""The line at the head of every page: the day, its scenes, its call."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from rollsound.web.words import w

if TYPE_CHECKING:
    from rollsound.show.model import Plan


@dataclass(frozen=True)
class StripPart:
    """A part of the line; ``head`` stands out."""

    text: str
    head: str = ""


@dataclass(frozen=True)
class Strip:
    """The whole line, and the two lines above the way around."""

    title: str
    where: str
    lines: tuple[StripPart, ...]


def strip_of(plan: Plan, today: date) -> Strip:
    """The line for the day that matters now: today, the next one, or the last; before the first, the last recorded."""
    days = plan.schedule.days
    day = plan.day_now(today)
    if day is None:
        return Strip(plan.show.title, w("frame.no_day"), (StripPart(w("frame.no_day")),))
    title = w("frame.day", number=day.number) if day.number is not None else day.id
    where = w("frame.day_of", number=day.number, total=len(days)) if day.number is not None else title
    site = next((each.name for each in plan.sites if each.id == day.site), "")
    parts = [StripPart(_in_words(day.date) if day.date else "", title)]
    if day.scenes:
        parts.append(StripPart(w("frame.scenes", n=len(day.scenes), scenes=", ".join(day.scenes))))
    if day.call:
        parts.append(StripPart(w("frame.call", call=day.call)))
    return Strip(plan.show.title, f"{where}, {site}" if site else where, tuple(parts))


def _in_words(day: date) -> str:
    names, months = w("frame.weekdays").split(), w("frame.months").split()
    return f"{names[day.weekday()]} {day.day} {months[day.month - 1]}"
