"""`rollsound log remove`: take a line out of the log."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from cyclopts import Parameter

from rollsound.actions import daylog
from rollsound.cli.frame import AsJson
from rollsound.cli.log_fields import As, tell_written


def remove_command(
    show: Path,
    line: Annotated[str, Parameter(help="The line's id, as 'log list' tells it.")],
    /,
    *,
    name: As = "",
    json: AsJson = False,
) -> int:
    """Take a line out of the log. The history keeps it, and 'log undo' brings it back.

    Example: rollsound log remove northbound-ferry/ note-140

    Parameters
    ----------
    show
        The show's folder.
    """
    return tell_written(daylog.remove(daylog.LogAsked(show, name), line), json)
