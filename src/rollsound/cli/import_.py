"""`rollsound import`: a whole plan from a text."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal

from cyclopts import Parameter

from rollsound.actions.show import import_plan
from rollsound.cli.changed import tell_edit
from rollsound.cli.frame import AsJson, print_json


def import_command(
    show: Path,
    plan: Path,
    /,
    *,
    base: Annotated[int | None, Parameter(help="The revision that the text was exported from.")] = None,
    take: Annotated[
        Literal["mine", "theirs"] | None, Parameter(help="Which side holds where both changed the same field.")
    ] = None,
    name: Annotated[str, Parameter(name="--as", help="Whose edit it is; the mixer's when left out.")] = "",
    json: AsJson = False,
) -> int:
    """Take over a whole plan from a YAML text. With --base, what others changed since is kept, field by field.

    Without it the text replaces the plan. Either way undo brings back what was. A text with mistakes changes nothing.

    Example: rollsound import northbound-ferry/ plan.yaml --base 12

    Parameters
    ----------
    show
        The show's folder.
    plan
        The text, as export writes it.
    """
    result = import_plan(show, plan, name=name, base=base, take=take)
    if json:
        print_json(result)
    else:
        tell_edit(result)
    return 0
