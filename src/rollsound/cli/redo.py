"""`rollsound redo`: make an edit again that was taken back."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from cyclopts import Parameter

from rollsound.actions import show as actions
from rollsound.cli.changed import tell_edit
from rollsound.cli.frame import AsJson, print_json


def redo_command(
    show: Path,
    /,
    *,
    name: Annotated[str, Parameter(name="--as", help="Whose edit; the mixer's when left out.")] = "",
    json: AsJson = False,
) -> int:
    """Make the edit again that you took back last, unless you have edited something else since.

    Example: rollsound redo northbound-ferry/ --as Mina

    Parameters
    ----------
    show
        The show's folder.
    """
    result = actions.redo(show, name=name)
    if json:
        print_json(result)
    else:
        tell_edit(result)
    return 0
