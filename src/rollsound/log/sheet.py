"""Reading the sheets of takes and wearers: every mistake is reported at once, with its line."""

from __future__ import annotations

import csv
import io
from dataclasses import replace
from pathlib import Path
from typing import Annotated, TypeVar

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, ValidationError

from rollsound.errors import InputError, Mistake, MistakesError, storage
from rollsound.mistakes import mistakes_of

TAKE_KINDS = ("take", "wild track", "room tone", "series", "false start", "no good")
_YES = {"yes", "true", "1", "y", "x", "circled"}
_NO = {"", "no", "false", "0", "n"}
_LARGEST_SHEET_BYTES = 16_000_000


def _yes_or_no(value: object) -> object:
    text = str(value).strip().lower()
    if text in _YES:
        return True
    if text in _NO:
        return False
    raise ValueError(f"'{value}' is neither yes nor no; write yes, no or leave it empty")


def _kind(value: object) -> object:
    text = str(value).strip().lower() or "take"
    if text not in TAKE_KINDS:
        raise ValueError(f"'{value}' is no kind of take; write one of: {', '.join(TAKE_KINDS)}")
    return text


class TakeRow(BaseModel):
    """One line of the takes sheet. ``file`` is the recorder file's name, with or without its ending."""

    model_config = ConfigDict(frozen=True, str_strip_whitespace=True, extra="ignore")

    file: str = Field(min_length=1)
    scene: str = ""
    slate: str = ""
    take: str = ""
    sound_roll: str = ""
    circled: Annotated[bool, BeforeValidator(_yes_or_no)] = False
    kind: Annotated[str, BeforeValidator(_kind)] = "take"
    note: str = ""


class WearerRow(BaseModel):
    """One line of the wearers sheet: which card stands for which recorder track."""

    model_config = ConfigDict(frozen=True, str_strip_whitespace=True, extra="ignore")

    track: str = Field(min_length=1)
    character: str = ""
    performer: str = ""
    card: str = ""


RowT = TypeVar("RowT", TakeRow, WearerRow)


def read_takes(path: Path) -> list[TakeRow]:
    """Read a takes sheet: CSV whose first line names the columns (``file`` is needed; the rest may be left out).

    Raises
    ------
    MistakesError
        with every mistake and its line
    InputError, StorageError
        when it is not a CSV text or cannot be read
    """
    return _read(path, TakeRow)


def read_wearers(path: Path) -> list[WearerRow]:
    """Read a wearers sheet, as ``read_takes`` does (``track`` is needed)."""
    return _read(path, WearerRow)


def _text(path: Path) -> str:
    with storage(path):
        size = path.stat().st_size
        if not path.is_file() and not path.is_dir():
            raise InputError(f"{path} is neither a file nor a folder; name the CSV file of takes or wearers")
        if size > _LARGEST_SHEET_BYTES:
            raise InputError(f"{path} is too large for a sheet; name the CSV file of takes or wearers")
        data = path.read_bytes()
    for encoding in ("utf-8-sig", "cp1252"):
        try:
            return data.decode(encoding)
        except UnicodeDecodeError:
            continue
    raise InputError(f"{path} is not a text file; export the sheet as CSV in UTF-8")


def _read(path: Path, model: type[RowT]) -> list[RowT]:
    """The rows of a sheet; its first column in the model tells them apart."""
    text = _text(path)
    if "\0" in text:
        raise InputError(f"{path} is not a CSV text; export the sheet as CSV in UTF-8")
    first = text.split("\n", 1)[0]
    delimiter = max(",;\t", key=first.count)
    reader = csv.DictReader(io.StringIO(text, newline=""), delimiter=delimiter)
    names = [(name or "").strip().lower() for name in reader.fieldnames or []]
    needed = [name for name, field in model.model_fields.items() if field.is_required() and name not in names]
    if needed:
        known = ", ".join(model.model_fields)
        raise MistakesError(
            str(path), [Mistake("the first line", 1, f"has no column '{needed[0]}'; it may name: {known}")]
        )
    reader.fieldnames = names
    rows: list[tuple[int, RowT]] = []
    mistakes: list[Mistake] = []
    try:
        for raw in reader:
            line = reader.line_num
            cells = {key: value or "" for key, value in raw.items() if key}
            if not any(str(value).strip() for value in cells.values()):
                continue
            try:
                rows.append((line, model.model_validate(cells)))
            except ValidationError as error:
                mistakes += [replace(mistake, line=line) for mistake in mistakes_of(error)]
    except csv.Error as error:
        mistakes.append(Mistake("the row", reader.line_num, f"is not CSV ({error})"))
    mistakes += _doubles(rows, next(iter(model.model_fields)))
    if mistakes:
        raise MistakesError(str(path), mistakes)
    return [row for _, row in rows]


def _doubles(rows: list[tuple[int, RowT]], column: str) -> list[Mistake]:
    seen: dict[str, int] = {}
    mistakes = []
    for line, row in rows:
        value = str(getattr(row, column))
        first = seen.setdefault(value.casefold(), line)
        if first != line:
            mistakes.append(Mistake(column, line, f"'{value}' stands on line {first} already"))
    return mistakes
