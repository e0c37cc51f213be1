"""Rows of the tables, with the show's own before them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TypeVar

from rollsound.errors import InputError
from rollsound.facts import table
from rollsound.written import Part

Row = TypeVar("Row", bound=Part)


def read_rows(file: str, name: str, form: type[Row]) -> dict[str, Row]:
    """The rows ``[[name]]`` of the table ``file`` by id, checked against the form that people write."""
    return {row["id"]: form.model_validate(row) for row in table(file)[name]}


def with_own(rows: Mapping[str, Row], own: Iterable[Row]) -> dict[str, Row]:
    """All rows by id; a row of the show goes before the table's with its id."""
    return {**rows, **{row.id: row for row in own}}  # type: ignore[attr-defined]


def row_of(rows: Mapping[str, Row], wanted: str, what: str) -> Row:
    """The row of an id.

    Raises
    ------
    InputError
        when there is none, naming what there is
    """
    if wanted not in rows:
        raise InputError(
            f"'{wanted}' is no {what}; there are: {', '.join(sorted(rows))}; or write your own in the plan"
        )
    return rows[wanted]


def notes_of(file: str) -> tuple[str, ...]:
    """What the reader of a table must be told: where sources are at odds, and what nobody here has verified."""
    return tuple(table(file)["about"]["notes"])
