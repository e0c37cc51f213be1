"""`rollsound history`: who changed what and when."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from cyclopts import Parameter

from rollsound.actions import show as actions
from rollsound.cli.changed import tell_changes
from rollsound.cli.frame import AsJson, out, print_json
from rollsound.cli.lines import line


def history_command(
    show: Path,
    /,
    *,
    person: Annotated[str, Parameter(help="Only what this person did, by name or id.")] = "",
    path: Annotated[str, Parameter(help="Only what changed at this place, such as /people/mina.")] = "",
    limit: Annotated[int, Parameter(help="The most entries to tell.")] = 30,
    before: Annotated[int | None, Parameter(help="Only entries before this one, to go further back.")] = None,
    values: Annotated[bool, Parameter(negative="", help="Every value, before and after.")] = False,
    json: AsJson = False,
) -> int:
    """Tell who changed what and when, newest first. Works beside a server.

    Example: rollsound history northbound-ferry/ --person Mina --path /radio

    Parameters
    ----------
    show
        The show's folder.
    """
    result = actions.history(show, person=person, path=path, limit=limit, before=before)
    if json:
        print_json(result)
        return 0
    console = out()
    if not result.entries:
        line(console, "Nothing in the history fits.")
    for entry in result.entries:
        at = entry.at.astimezone().strftime("%Y-%m-%d %H:%M")
        undone = " (taken back since)" if entry.undone else ""
        line(console, f"{entry.sentence}{undone}", head=f"{entry.number:>5}  {at}  {entry.person}: ", hang=7)
        if values:
            tell_changes(console, entry.changes, indent=" " * 7)
    return 0
