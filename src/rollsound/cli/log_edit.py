"""`rollsound log edit`: change fields of a line."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from cyclopts import Parameter

from rollsound.actions import daylog
from rollsound.cli.frame import AsJson
from rollsound.cli.log_fields import As, read_pairs, tell_written


def edit_command(
    show: Path,
    line: Annotated[str, Parameter(help="The line's id, as 'log list' tells it.")],
    /,
    *fields: Annotated[str, Parameter(help="What changes, as name=value; name= takes a field out.")],
    day: Annotated[str, Parameter(help="Put the line on another day.")] = "",
    at: Annotated[str, Parameter(help="Put it at another time: 14:05, or a whole moment.")] = "",
    name: As = "",
    json: AsJson = False,
) -> int:
    """Change fields of a line; those that are not named stay as they are.

    Example: rollsound log edit northbound-ferry/ take-132 circled=yes "track_notes.5=Rustle at the end"

    Parameters
    ----------
    show
        The show's folder.
    """
    result = daylog.edit(daylog.LogAsked(show, name), line, read_pairs(fields), day=day, at=at)
    return tell_written(result, json)
