"""How things stand at a moment of the day, from the lines of its log: packs, batteries, positions, jams, promises."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

from rollsound.log.daylines import LogLine
from rollsound.log.entries import BatteryEntry, ChangeoverEntry, JamEntry, PromiseEntry, TakeEntry, WearingEntry


@dataclass(frozen=True)
class Worn:
    """A pack on somebody, since when."""

    entry: WearingEntry
    line: LogLine


@dataclass(frozen=True)
class Charge:
    """The battery of an item: when it was changed, and the last look at it."""

    item: str
    changed: LogLine | None
    percent: float | None
    looked: LogLine


@dataclass(frozen=True)
class Span:
    """A pack on one character, from one moment to another; ``end`` is None while it is still there."""

    entry: WearingEntry
    start: datetime
    end: datetime | None


def until(lines: Iterable[LogLine], moment: datetime | None) -> list[LogLine]:
    """The lines up to a moment, in the order in which they happened; all of them without one."""
    found = [line for line in lines if moment is None or line.at <= moment]
    return sorted(found, key=lambda line: (line.at, line.made, line.id))


def wearing_at(lines: Iterable[LogLine], moment: datetime | None = None) -> dict[str, Worn]:
    """Who wears which pack: by pack, those that are on somebody."""
    worn: dict[str, Worn] = {}
    for line in until(lines, moment):
        if isinstance(line.entry, WearingEntry):
            worn.pop(line.entry.pack, None)
            if line.entry.character:
                worn[line.entry.pack] = Worn(line.entry, line)
    return worn


def worn_spans(lines: Iterable[LogLine]) -> dict[str, list[Span]]:
    """Every span that a pack was on somebody, by pack. The same wearer told twice goes on, with the later words."""
    spans: dict[str, list[Span]] = {}
    for line in until(lines, None):
        entry = line.entry
        if not isinstance(entry, WearingEntry):
            continue
        known = spans.setdefault(entry.pack, [])
        start = line.at
        if known and known[-1].end is None:
            last = known.pop()
            if last.entry.character == entry.character:
                start = last.start
            elif last.start < line.at:
                known.append(Span(last.entry, last.start, line.at))
        if entry.character:
            known.append(Span(entry, start, None))
    return spans


def charges_at(lines: Iterable[LogLine], moment: datetime | None = None) -> dict[str, Charge]:
    """How every battery stands that was ever changed or looked at, by what it feeds."""
    found: dict[str, Charge] = {}
    for line in until(lines, moment):
        entry = line.entry
        if isinstance(entry, BatteryEntry):
            item = entry.pack or entry.item
            before = found.get(item)
            changed = line if entry.what == "changed" else before.changed if before else None
            found[item] = Charge(item, changed, entry.percent, line)
    return found


def positions_at(lines: Iterable[LogLine], moment: datetime | None = None) -> dict[str, LogLine]:
    """The last switch of every changeover, by its id."""
    return {line.entry.changeover: line for line in until(lines, moment) if isinstance(line.entry, ChangeoverEntry)}


def jams_at(lines: Iterable[LogLine], moment: datetime | None = None) -> dict[str, LogLine]:
    """The last jam of every time code device; a mere comparison is none."""
    return {
        line.entry.device: line
        for line in until(lines, moment)
        if isinstance(line.entry, JamEntry) and line.entry.what == "jammed"
    }


def promises_open(lines: Sequence[LogLine]) -> list[LogLine]:
    """Wild tracks that were promised and that no take keeps, in the order in which they were promised."""
    kept = {line.entry.promise for line in lines if isinstance(line.entry, TakeEntry) and line.entry.promise}
    takes = {line.id for line in lines if isinstance(line.entry, TakeEntry)}
    return [
        line
        for line in until(lines, None)
        if isinstance(line.entry, PromiseEntry) and line.id not in kept and line.entry.kept_by not in takes
    ]


def rolling(lines: Iterable[LogLine]) -> LogLine | None:
    """The take that is rolling: the last one, while it has a time code in and none out."""
    takes = [line for line in until(lines, None) if isinstance(line.entry, TakeEntry)]
    last = takes[-1].entry if takes else None
    running = isinstance(last, TakeEntry) and last.timecode_in and not last.timecode_out
    return takes[-1] if running else None
