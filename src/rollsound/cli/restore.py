"""`rollsound restore`: back to a backup."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from cyclopts import Parameter

from rollsound.actions import show as actions
from rollsound.cli.frame import AsJson, out, print_json
from rollsound.cli.lines import line


def restore_command(
    show: Path,
    backup: str = "",
    /,
    *,
    name: Annotated[str, Parameter(name="--as", help="Your name, for the history.")] = "",
    json: AsJson = False,
) -> int:
    """Go back to a backup. What the show was until then is moved aside into the backups, never thrown away.

    Example: rollsound restore northbound-ferry/

    Parameters
    ----------
    show
        The show's folder.
    backup
        A backup's name, as `rollsound backup SHOW --list` tells it, or a path; the newest good one when left out.
    """
    result = actions.restore(show, backup, name=name)
    if json:
        print_json(result)
        return 0
    console = out()
    line(console, f"{show} is at revision {result.revision}, as the backup {Path(result.backup).name} has it.")
    if result.aside:
        line(console, f"What it was until then is in {result.aside}.")
    return 0
