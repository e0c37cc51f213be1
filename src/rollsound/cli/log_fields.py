"""How the commands of the log read fields, and tell what was written."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Annotated, Any

from cyclopts import Parameter

from rollsound.actions.daylog_model import LogWritten
from rollsound.cli.frame import out, print_json
from rollsound.cli.lines import line
from rollsound.errors import InputError

As = Annotated[str, Parameter(name="--as", help="Who does it; the mixer when left out.")]
Day = Annotated[str, Parameter(help="The day's id in the plan; today's, or the last that has lines, when left out.")]
At = Annotated[str, Parameter(help="When it happened: 14:05 of that day, or a whole moment; now when left out.")]


def read_pairs(given: Iterable[str]) -> dict[str, Any]:
    """Fields from words such as ``slate=214``; ``track_notes.3=rustle`` is the note of a track.

    Raises
    ------
    InputError
        when a word has no '='
    """
    fields: dict[str, Any] = {}
    for each in given:
        name, sign, value = each.partition("=")
        name = name.strip()
        if not sign or not name:
            raise InputError(f"'{each[:60]}' is no field; write name=value, for example slate=214")
        group, dot, inside = name.partition(".")
        if not dot:
            fields[name] = value
            continue
        kept = fields.setdefault(group, {})
        if not isinstance(kept, dict) or not inside:
            raise InputError(f"'{each[:60]}' cannot stand beside another {group}; write one of both")
        kept[inside] = value
    return fields


def tell_written(result: LogWritten, as_json: bool) -> int:
    """What was done, which line it is, and what somebody else had written meanwhile."""
    if as_json:
        print_json(result)
        return 0
    console = out()
    if result.number is None:
        line(console, f"{result.sentence}.")
        return 0
    line(console, f"{result.sentence} (entry {result.number}).", style="bold")
    for row in result.lines:
        line(console, f"  {row.id}  {row.day} {row.local}")
    for each in result.overlaps:
        line(console, f"  {each.person or 'Somebody'} had changed {each.field} meanwhile; yours holds.")
    return 0
