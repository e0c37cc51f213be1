"""Schedules as plain sheets: one row for each day, or one for each scene with its day."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from rollsound.script.elements import Trouble
from rollsound.script.grid import Field, Row, read_grid
from rollsound.script.model import plain_number

FIELDS = (
    Field("day", ("day number", "day no", "shoot day", "shooting day", "day #")),
    Field("date", ("shoot date", "on")),
    Field("scenes", ("scene", "scene number", "scene numbers", "sc", "scene no"), needed=True),
    Field("site", ("location", "set location", "place", "base")),
    Field("moves", ("move to", "company move", "then")),
    Field("call", ("call time", "unit call", "crew call", "start")),
    Field("wrap", ("wrap time", "est wrap", "end")),
    Field("unit", ("units",)),
    Field("breaks", ("break", "meal", "lunch", "meals")),
    Field("note", ("notes", "remarks", "comment", "comments")),
)
_CLOCK = re.compile(r"([01]?\d|2[0-3])[:.h]([0-5]\d)(?::\d\d)?")
_SPAN = re.compile(r"(\S+)\s*(?:-|–|to)\s*(\S+)")
_SCENE = re.compile(r"[0-9A-Za-z.\-]*\d[0-9A-Za-z.\-]*")
_RANGE = re.compile(r"(\d+)\s*[-–]\s*(\d+)")
_LONGEST_RANGE = 30
_DATES = ("%Y-%m-%d", "%d.%m.%Y", "%d/%m/%Y")
_DAY = re.compile(r"(?:day\s*)?#?\s*(\d{1,4})(?!\d)", re.IGNORECASE)


@dataclass(frozen=True)
class SheetDay:
    """A day as it was read. ``number`` and ``date`` may be unknown, though not both."""

    line: int
    number: int | None
    date: dt.date | None
    scenes: tuple[str, ...] = ()
    site: str = ""
    moves: tuple[str, ...] = ()
    call: str = ""
    wrap: str = ""
    unit: str = ""
    breaks: tuple[tuple[str, str], ...] = ()
    note: str = ""


@dataclass(frozen=True)
class ScheduleSheet:
    """A schedule as it was read."""

    days: tuple[SheetDay, ...]
    troubles: tuple[Trouble, ...]
    used: Mapping[str, str]
    unused: tuple[str, ...]


def read_schedule(text: str, name: str, columns: Mapping[str, str] | None = None) -> ScheduleSheet:
    """Read a schedule. A row that names no day of its own belongs to the day above it, as stripboards are exported.

    Raises
    ------
    InputError
        when no column holds scenes, or the mapping ``columns`` (field to heading) fits nothing
    """
    grid = read_grid(text, name, FIELDS, columns)
    troubles: list[Trouble] = []
    days: list[SheetDay] = []
    for row in grid.rows:
        number, date = _day_number(row, troubles), _date(row, troubles)
        day = _day(row, number, date, troubles)
        if number is None and date is None:
            if not days:
                troubles.append(
                    Trouble(row.line, "this row has neither day nor date and none stands above it; left out")
                )
            elif row.text("day") or row.text("date"):
                continue  # told already: its day cannot be read
            else:
                days[-1] = _joined(days[-1], day)
            continue
        at = next((at for at, known in enumerate(days) if _same(known, day)), None)
        if at is None:
            days.append(day)
        else:
            days[at] = _joined(days[at], day)
    _told_twice(days, troubles)
    if not days:
        troubles.append(Trouble(0, f"{name} has no days; write day or date and the scenes of each"))
    return ScheduleSheet(tuple(days), tuple(troubles), grid.used, grid.unused)


def _same(one: SheetDay, other: SheetDay) -> bool:
    if one.unit.casefold() != other.unit.casefold() and one.unit and other.unit:
        return False
    if one.number is not None and other.number is not None:
        return one.number == other.number
    return one.date is not None and one.date == other.date


def _joined(day: SheetDay, more: SheetDay) -> SheetDay:
    sites = [site for site in (more.site, *more.moves) if site]
    known = [day.site, *day.moves]
    further = tuple(dict.fromkeys(site for site in sites if site not in known)) if day.site else ()
    return replace(
        day,
        date=day.date or more.date,
        number=day.number if day.number is not None else more.number,
        scenes=(*day.scenes, *(scene for scene in more.scenes if scene not in day.scenes)),
        site=day.site or more.site,
        moves=(*day.moves, *further) if day.site else more.moves,
        call=day.call or more.call,
        wrap=more.wrap or day.wrap,
        unit=day.unit or more.unit,
        breaks=(*day.breaks, *(each for each in more.breaks if each not in day.breaks)),
        note=day.note if more.note in day.note else "; ".join(part for part in (day.note, more.note) if part),
    )


def _day(row: Row, number: int | None, date: dt.date | None, troubles: list[Trouble]) -> SheetDay:
    return SheetDay(
        line=row.line,
        number=number,
        date=date,
        scenes=_scenes(row, troubles),
        site=row.text("site"),
        moves=row.items("moves"),
        call=_clock(row.text("call"), "call", row.line, troubles),
        wrap=_clock(row.text("wrap"), "wrap", row.line, troubles),
        unit=row.text("unit"),
        breaks=_breaks(row, troubles),
        note=row.text("note"),
    )


def _day_number(row: Row, troubles: list[Trouble]) -> int | None:
    text = row.text("day")
    if _as_date(text) is not None:
        return None
    found = _DAY.match(text)
    if text and found is None:
        troubles.append(Trouble(row.line, f"'{text[:40]}' is no day; write its number"))
    return int(found[1]) if found else None


def _date(row: Row, troubles: list[Trouble]) -> dt.date | None:
    """The date, which some write where others have the day's number."""
    text = row.text("date") or (row.text("day") if _as_date(row.text("day")) is not None else "")
    if not text:
        return None
    read = _as_date(text)
    if read is None:
        troubles.append(Trouble(row.line, f"'{text[:40]}' is no date; write it as 2031-02-18"))
    elif "/" in text and read.day <= 12 and read.day != read.month:
        troubles.append(Trouble(row.line, f"'{text}' was read as {read}, day first; write it so if that is wrong"))
    return read


def _as_date(text: str) -> dt.date | None:
    if not {"-", ".", "/"} & set(text):
        return None
    for form in _DATES:
        try:
            return dt.datetime.strptime(text, form).date()
        except ValueError:
            continue
    return None


def _scenes(row: Row, troubles: list[Trouble]) -> tuple[str, ...]:
    """Numbers as on the slate, parted by commas, semicolons or spaces; ``4-6`` is three of them."""
    found: list[str] = []
    text = _RANGE.sub(lambda found: _range(found), row.text("scenes"))
    for part in re.split(r"[,;/\s]+", text):
        if not part or part.casefold() in ("sc", "sc.", "scene", "scenes", "and", "&", "+"):
            continue
        if _SCENE.fullmatch(part):
            found.append(part.rstrip("."))
        else:
            troubles.append(Trouble(row.line, f"'{part[:40]}' is no scene number; it was left out"))
    return tuple(dict.fromkeys(found))


def _range(found: re.Match[str]) -> str:
    first, last = int(found[1]), int(found[2])
    if not first < last <= first + _LONGEST_RANGE:
        return found[0]
    return " ".join(str(number) for number in range(first, last + 1))


def _clock(text: str, field: str, line: int, troubles: list[Trouble]) -> str:
    if not text:
        return ""
    found = _CLOCK.fullmatch(text.replace(" ", ""))
    if found is None:
        troubles.append(Trouble(line, f"'{text[:40]}' is no time of day for '{field}'; write it as 07:30"))
        return ""
    return f"{int(found[1]):02d}:{found[2]}"


def _breaks(row: Row, troubles: list[Trouble]) -> tuple[tuple[str, str], ...]:
    spans: list[tuple[str, str]] = []
    for text in row.items("breaks"):
        found = _SPAN.fullmatch(text)
        if found is None:
            troubles.append(Trouble(row.line, f"'{text[:40]}' is no break; write it as 13:00-13:45"))
            continue
        start, end = (_clock(found[part], "breaks", row.line, troubles) for part in (1, 2))
        if start and end:
            spans.append((start, end))
    return tuple(spans)


def _told_twice(days: Sequence[SheetDay], troubles: list[Trouble]) -> None:
    """A scene on two days may be meant, as what was not finished goes on; it is told still."""
    first: dict[str, SheetDay] = {}
    for day in days:
        for scene in day.scenes:
            before = first.setdefault(plain_number(scene), day)
            if before is not day:
                troubles.append(
                    Trouble(
                        day.line,
                        f"scene {scene} is on {_name(before)} already; right when it goes on, else take one out",
                    )
                )


def _name(day: SheetDay) -> str:
    return f"day {day.number}" if day.number is not None else str(day.date)
