"""`rollsound backup`: a proven copy of a show's plan and history."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from cyclopts import Parameter

from rollsound.actions import show as actions
from rollsound.cli.frame import AsJson, out, print_json
from rollsound.cli.lines import line
from rollsound.quantities import show_size


def backup_command(
    show: Path,
    /,
    *,
    only_list: Annotated[bool, Parameter(name="--list", negative="", help="Make none; tell which there are.")] = False,
    json: AsJson = False,
) -> int:
    """Copy a show's plan and history into its folder of backups, and read the copy back. Works beside a server.

    The newest ten are kept, and the last of each of thirty days.

    Example: rollsound backup northbound-ferry/

    Parameters
    ----------
    show
        The show's folder.
    """
    result = actions.backup(show, make=not only_list)
    if json:
        print_json(result)
        return 0
    console = out()
    if result.made is not None:
        size = show_size(result.made.size_bytes)
        line(console, f"Revision {result.made.revision} was backed up and read back: {result.made.path}, {size}.")
        return 0
    if not result.backups:
        line(console, "There is no backup yet.")
    for each in result.backups:
        at = each.at.astimezone().strftime("%Y-%m-%d %H:%M")
        line(console, f"{Path(each.path).name}  {at}  revision {each.revision}, {show_size(each.size_bytes)}")
    return 0
