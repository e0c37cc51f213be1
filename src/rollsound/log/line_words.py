"""Lines of the log and changes to them in words, for the history and for lists."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from rollsound.log.changes import ABSENT, Change, split
from rollsound.log.daylines import ROOT, LogLine
from rollsound.log.entries import (
    AnyEntry,
    BatteryEntry,
    ChangeoverEntry,
    JamEntry,
    NoteEntry,
    PromiseEntry,
    TakeEntry,
    TemperatureEntry,
    WearingEntry,
)

_LONGEST = 60
_MOST = 3


def take_in_words(entry: TakeEntry) -> str:
    """What stands on the slate: ``slate 214 take 2``, ``wild track WT1``."""
    parts = [f"slate {entry.slate}" if entry.slate else "", f"take {entry.take}" if entry.take and entry.slate else ""]
    named = " ".join(part for part in parts if part)
    if entry.slate:
        return named if entry.kind == "take" else f"{named} ({entry.kind})"
    return " ".join(part for part in (entry.kind, entry.take) if part)


def entry_in_words(entry: AnyEntry) -> str:
    """What a line says, short."""
    match entry:
        case TakeEntry():
            return take_in_words(entry)
        case WearingEntry(character=""):
            return f"pack {entry.pack} taken off"
        case WearingEntry():
            return f"pack {entry.pack} on {entry.character}" + (f", {entry.mic_place}" if entry.mic_place else "")
        case BatteryEntry():
            left = "" if entry.percent is None else f", {entry.percent:g} % left"
            return f"battery of {entry.item} {entry.what}{left}"
        case ChangeoverEntry():
            return f"{entry.changeover} put to {entry.position}"
        case JamEntry():
            off = "" if entry.offset_frames is None else f", was {entry.offset_frames:+g} frames off"
            source = f" from {entry.source}" if entry.source and entry.what == "jammed" else ""
            return f"{entry.device} {entry.what}{source}{off}"
        case TemperatureEntry():
            return f"{entry.temperature_c:g} °C" + (f" at {entry.site}" if entry.site else "")
        case PromiseEntry():
            return f"wild track promised: {_short(entry.text)}"
        case NoteEntry():
            return f"note: {_short(entry.text)}"


def line_in_words(line: LogLine) -> str:
    """A line, short, with a capital."""
    words = entry_in_words(line.entry)
    return words[:1].upper() + words[1:]


def place_in_words(path: str) -> str:
    """A place of the journal that is in the log: ``take-132 of the log, note``; empty where it is in the plan."""
    root, *steps = split(path) or [""]
    if root != ROOT or not steps:
        return ""
    inside = f", {field_in_words(steps[1:])}" if len(steps) > 1 else ""
    return f"{steps[0]} of the log{inside}"


def field_in_words(steps: Sequence[str]) -> str:
    """A place inside a line: ``note``, ``note on track 3``."""
    steps = steps[1:] if steps[:1] == ["fields"] else steps
    if steps[:1] == ["track_notes"] and len(steps) > 1:
        return f"note on track {steps[1]}"
    return " ".join(step.replace("_", " ") for step in steps) or "the line"


def value_in_words(value: Any) -> str:
    """A value in a few words."""
    if value is None or value == "":
        return "empty"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list):
        return _short(", ".join(str(each) for each in value)) or "empty"
    if isinstance(value, dict):
        return _short(", ".join(f"{name}: {each}" for name, each in value.items())) or "empty"
    return f"'{_short(value)}'" if isinstance(value, str) and " " in value else _short(str(value))


def change_in_words(line: LogLine, changes: Sequence[Change]) -> str:
    """What was changed of a line: ``Slate 214 take 2: circled yes, note empty → 'ramp down'``."""
    told = []
    for change in changes:
        field = field_in_words(split(change.path)[2:])
        before = None if change.before is ABSENT else change.before
        after = None if change.after is ABSENT else change.after
        if before is None or after is True:
            told.append(f"{field} {value_in_words(after)}")
        elif after is None:
            told.append(f"{field} taken out, was {value_in_words(before)}")
        else:
            told.append(f"{field} {value_in_words(before)} → {value_in_words(after)}")
    more = f" and {len(told) - _MOST} more" if len(told) > _MOST else ""
    return f"{line_in_words(line)}: {', '.join(told[:_MOST])}{more}"


def _short(text: str) -> str:
    words = " ".join(text.split())
    return words if len(words) <= _LONGEST else words[: _LONGEST - 1] + "…"
