"""`rollsound new`: a show in a folder."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from cyclopts import Parameter

from rollsound.actions.show import new_show
from rollsound.cli.frame import AsJson, out, print_json
from rollsound.cli.lines import line


def new_command(
    show: Path,
    /,
    *,
    plan: Annotated[Path | None, Parameter(name="--from", help="A plan as text, as export writes it.")] = None,
    example: Annotated[bool, Parameter(negative="", help="Begin with an invented show, to look around in.")] = False,
    title: Annotated[str, Parameter(help="The show's title; the folder's name when left out.")] = "",
    name: Annotated[str, Parameter(name="--as", help="Your name; you are then the show's mixer.")] = "",
    json: AsJson = False,
) -> int:
    """Make a show in a folder. With a plan that has mistakes nothing is made, and all of them are told by line.

    Example: rollsound new northbound-ferry/ --title "Northbound Ferry" --as Mina

    Parameters
    ----------
    show
        The folder; made when it is not there.
    """
    text = ""
    if example:
        from rollsound.demo.example import example_to_begin_with
        from rollsound.demo.show import lay_radio_files

        text = example_to_begin_with()
    result = new_show(show, plan=plan, example=text, title=title, name=name)
    if example:
        lay_radio_files(show)
    if json:
        print_json(result)
    else:
        line(out(), f"{result.title} was begun in {result.folder}. Open it with: rollsound serve {result.folder}")
    return 0
