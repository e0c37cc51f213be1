"""Readings of a walk test from a CSV sheet: a place or a stand, and a level or a quality."""

from __future__ import annotations

import csv
import math
import re
from collections.abc import Mapping
from typing import Any

from pydantic import ValidationError

from rollsound.errors import InputError, Mistake, MistakesError
from rollsound.mistakes import mistakes_of
from rollsound.quantities import parse
from rollsound.radio.model import Reading

MOST_READINGS = 20_000
_COLUMNS = {
    "x": ("x", "xm"),
    "y": ("y", "ym"),
    "stand": ("stand", "place"),
    "transmitter": ("transmitter", "pack", "idoftransmitter"),
    "antenna": ("antenna",),
    "level": ("level", "leveldbm", "dbm", "rssi", "rssidbm"),
    "quality": ("quality", "qualitypercent", "quality%", "percent"),
    "note": ("note", "remark"),
}
_MOST_TOLD = 8
_WANTED = "x m, y m (or stand), level dBm (or quality %), and perhaps transmitter, antenna, note"


def read_readings(text: str, name: str) -> tuple[Reading, ...]:
    """The readings of a sheet; lines that begin with '#' are remarks.

    Raises
    ------
    InputError
        when it is empty, or its columns cannot be told
    MistakesError
        with the line of every reading that is none
    """
    lines = text.removeprefix("\ufeff").splitlines()
    kept = [
        (number, line) for number, line in enumerate(lines, 1) if line.strip() and not line.lstrip().startswith("#")
    ]
    if len(kept) < 2:
        raise InputError(f"{name} holds no readings; write a head ({_WANTED}), then a line for each reading")
    if len(kept) > MOST_READINGS:
        raise InputError(f"{name} has more than {MOST_READINGS:,} readings, which nobody walks; name the right file")
    separator = max(",;\t", key=kept[0][1].count)
    head = [_plain(cell) for cell in _cells(kept[0][1], separator)]
    at = {field: head.index(word) for field, words in _COLUMNS.items() for word in words if word in head}
    if not ({"x", "y"} <= set(at) or "stand" in at) or not {"level", "quality"} & set(at):
        raise InputError(f"{name} does not name its columns; write over them: {_WANTED}")
    readings: list[Reading] = []
    wrong: list[Mistake] = []
    for count, (number, line) in enumerate(kept[1:], 1):
        cells = _cells(line, separator)
        row = {field: cells[place].strip() if place < len(cells) else "" for field, place in at.items()}
        try:
            readings.append(_reading(count, row))
        except ValueError as error:
            wrong.append(Mistake("this reading", number, str(error)))
    if wrong:
        raise MistakesError(name, wrong[:_MOST_TOLD])
    return tuple(readings)


def _plain(cell: str) -> str:
    return re.sub(r"[\s_(),.\[\]]", "", cell.casefold().replace("(m)", "m"))


def _cells(line: str, separator: str) -> list[str]:
    return next(csv.reader([line], delimiter=separator), [])


def _reading(count: int, row: Mapping[str, str]) -> Reading:
    """One reading.

    Raises
    ------
    ValueError
        with what is wrong, for people
    """
    values: dict[str, Any] = {"id": f"r{count:03d}"}
    x, y = row.get("x", ""), row.get("y", "")
    if x and y:
        values["at"] = f"{_number(x, 'm', 'place'):.3f}, {_number(y, 'm', 'place'):.3f} m"
    elif not row.get("stand"):
        raise ValueError("has no place; write x and y in metres, or the id of a stand")
    level, quality = row.get("level", ""), row.get("quality", "")
    if level:
        dbm = _number(level, "dBm", "level")
        if not -200 <= dbm <= 40:
            raise ValueError(f"has the level {level[:20]}, which no receiver shows; write dBm, such as -67")
        values["level"] = f"{dbm:.2f} dBm"
    elif quality:
        percent = _number(quality.removesuffix("%").strip(), "", "quality")
        if not 0 <= percent <= 100:
            raise ValueError(f"has the quality {quality[:20]}; write percent, 0 to 100")
        values["quality_percent"] = percent
    else:
        raise ValueError("has neither level nor quality; write one of them, or take the line out")
    for field in ("stand", "transmitter", "antenna", "note"):
        if row.get(field):
            values[field] = row[field]
    return _checked(values)


def _checked(values: dict[str, Any]) -> Reading:
    if "quality_percent" in values:
        values["quality"] = values.pop("quality_percent")
    try:
        return Reading.model_validate(values)
    except ValidationError as error:
        first = mistakes_of(error)[0]
        raise ValueError(f"{first.place} {first.sentence}".strip()) from error


def _number(text: str, unit: str, what: str) -> float:
    try:
        value = parse(text, unit) if unit else float(text.replace(",", "."))
    except (InputError, ValueError) as error:
        raise ValueError(
            f"has the {what} '{text[:20]}', which is no number; correct it, or take the line out"
        ) from error
    if not math.isfinite(value):
        raise ValueError(f"has the {what} '{text[:20]}', which is no number; correct it, or take the line out")
    return value
