"""Plain CSV sheets with any headings: which column is which field, by its name or as the reader is told."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from rollsound.errors import InputError

_ROWS_ABOVE = 25
"""Sheets often begin with a title; the headings are looked for in so many rows."""
_MOST_ROWS = 100_000
_SHOWN = 12


@dataclass(frozen=True)
class Field:
    """A field of a sheet and the headings that it is known by, all in small letters."""

    name: str
    headings: tuple[str, ...] = ()
    needed: bool = False


@dataclass(frozen=True)
class Row:
    """A row by its fields; what is empty is left out."""

    line: int
    cells: Mapping[str, str]

    def text(self, field: str) -> str:
        """What a field holds; empty when nothing."""
        return self.cells.get(field, "")

    def items(self, field: str) -> tuple[str, ...]:
        """What a field lists, parted by semicolons, line breaks or, without those, commas; each once."""
        text = self.text(field)
        mark = next((mark for mark in ("\n", ";", "/ ") if mark in text), ",")
        return tuple(dict.fromkeys(" ".join(part.split()) for part in text.split(mark) if part.strip()))


@dataclass(frozen=True)
class Grid:
    """A sheet."""

    rows: tuple[Row, ...]
    used: Mapping[str, str]
    """The heading of every field that was found."""
    unused: tuple[str, ...]
    """Headings that nothing was read from."""


def read_grid(text: str, name: str, fields: Iterable[Field], columns: Mapping[str, str] | None = None) -> Grid:
    """Read a sheet; commas, semicolons, tabs or bars part its columns.

    Parameters
    ----------
    columns
        field and the heading that it has in this sheet, before the headings that a field is known by

    Raises
    ------
    InputError
        when a column that is needed is missing, or a mapping names a field or heading that is not there
    """
    fields = tuple(fields)
    columns = dict(columns or {})
    known = {field.name for field in fields}
    for field in columns:
        if field not in known:
            raise InputError(f"'{field}' is no field of this sheet; there are: {', '.join(sorted(known))}")
    rows = _rows(text, name)
    best: tuple[int, dict[int, str]] = (0, {})
    for at, (_, cells) in enumerate(rows[:_ROWS_ABOVE]):
        found = _columns(cells, fields, columns)
        if len(found) > len(best[1]):
            best = (at, found)
    at, found = best
    headings = rows[at][1] if rows else []
    _require(name, headings, fields, columns, found)
    read = tuple(
        Row(
            line,
            {
                field: cells[place].strip()
                for place, field in found.items()
                if place < len(cells) and cells[place].strip()
            },
        )
        for line, cells in rows[at + 1 :]
        if any(cell.strip() for cell in cells)
    )
    used = {field: headings[place].strip() for place, field in found.items()}
    unused = tuple(cell.strip() for place, cell in enumerate(headings) if cell.strip() and place not in found)
    return Grid(read, used, unused)


def _rows(text: str, name: str) -> list[tuple[int, list[str]]]:
    head = "\n".join(text.split("\n", _ROWS_ABOVE)[:_ROWS_ABOVE])
    delimiter = max(",;\t|", key=head.count)
    return list(_lines(csv.reader(io.StringIO(text.lstrip("\ufeff"), newline=""), delimiter=delimiter), name))


def _lines(reader: Iterator[list[str]], name: str) -> Iterator[tuple[int, list[str]]]:
    line, count = 1, 0
    try:
        for cells in reader:
            yield line, cells
            line = reader.line_num + 1  # type: ignore[attr-defined]
            count += 1
            if count > _MOST_ROWS:
                raise InputError(f"{name} has more than {_MOST_ROWS} rows; that is no breakdown or schedule")
    except csv.Error as error:
        raise InputError(f"{name} cannot be read as CSV in line {line} ({error}); export the sheet again") from error


def _plain(heading: str) -> str:
    return " ".join(heading.replace("_", " ").replace(".", "").split()).casefold()


def _columns(cells: list[str], fields: tuple[Field, ...], columns: Mapping[str, str]) -> dict[int, str]:
    """Field by place. A field that was mapped takes its column first."""
    plain = [_plain(cell) for cell in cells]
    found: dict[int, str] = {}
    for mapped, heading in columns.items():
        if _plain(heading) in plain:
            found[plain.index(_plain(heading))] = mapped
    for field in fields:
        if field.name in columns:
            continue
        for heading in (field.name, *field.headings):
            place = next((at for at, cell in enumerate(plain) if cell == _plain(heading) and at not in found), None)
            if place is not None:
                found[place] = field.name
                break
    return found


def _require(
    name: str, headings: list[str], fields: tuple[Field, ...], columns: Mapping[str, str], found: Mapping[int, str]
) -> None:
    there = [cell.strip() for cell in headings if cell.strip()]
    shown = ", ".join(there[:_SHOWN]) + (", ..." if len(there) > _SHOWN else "") or "none"
    got = set(found.values())
    for field, heading in columns.items():
        if field not in got:
            raise InputError(f"{name} has no column '{heading}' to read '{field}' from; its columns are: {shown}")
    for each in fields:
        if each.needed and each.name not in got:
            raise InputError(
                f"{name} has no column for '{each.name}'; its columns are: {shown}; tell which one it is, "
                f"as {each.name}=HEADING, or name a column '{each.name}'"
            )
