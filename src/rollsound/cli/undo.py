"""`rollsound undo`: take back a person's last edit."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from cyclopts import Parameter

from rollsound.actions import show as actions
from rollsound.cli.changed import tell_edit
from rollsound.cli.frame import AsJson, print_json


def undo_command(
    show: Path,
    /,
    *,
    name: Annotated[str, Parameter(name="--as", help="Whose edit; the mixer's when left out.")] = "",
    json: AsJson = False,
) -> int:
    """Take back your last edit that still stands. What somebody else changed since is not touched, but named.

    Example: rollsound undo northbound-ferry/ --as Mina

    Parameters
    ----------
    show
        The show's folder.
    """
    result = actions.undo(show, name=name)
    if json:
        print_json(result)
    else:
        tell_edit(result)
    return 0
