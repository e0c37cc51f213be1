"""The line at the head of every page: the day, its scenes, its call."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

from rollsound.web.words import w


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


def strip_of(plan: Any, today: date) -> Strip:
    """The line for the day that matters now: today, else the next one, else the last."""
    days = list(plan.schedule.days)
    dated = sorted((day for day in days if _date(day) is not None), key=lambda day: _date(day) or today)
    day = next((each for each in dated if (_date(each) or today) >= today), None) or (dated or days or [None])[-1]
    if day is None:
        return Strip(plan.show.title, w("frame.no_day"), (StripPart(w("frame.no_day")),))
    number = getattr(day, "number", None)
    title = w("frame.day", number=number) if number is not None else day.id
    total = len(days)
    site = next((each.name for each in plan.sites if each.id == getattr(day, "site", "")), "")
    where = w("frame.day_of", number=number, total=total) if number is not None else title
    parts = [StripPart(_in_words(_date(day)), title)]
    scenes = getattr(day, "scenes", ())
    if scenes:
        parts.append(StripPart(w("frame.scenes", n=len(scenes), scenes=", ".join(str(each) for each in scenes))))
    if getattr(day, "call", None):
        parts.append(StripPart(w("frame.call", call=_short(day.call))))
    return Strip(plan.show.title, f"{where}, {site}" if site else where, tuple(parts))


def _date(day: Any) -> date | None:
    found = getattr(day, "date", None)
    if isinstance(found, date):
        return found
    try:
        return date.fromisoformat(found) if isinstance(found, str) else None
    except ValueError:
        return None


def _in_words(day: date | None) -> str:
    if day is None:
        return ""
    names = w("frame.weekdays").split()
    months = w("frame.months").split()
    return f"{names[day.weekday()]} {day.day} {months[day.month - 1]}"


def _short(call: Any) -> str:
    return call.strftime("%H:%M") if hasattr(call, "strftime") else str(call)
