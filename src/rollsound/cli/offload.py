"""`rollsound offload`: copy once, to several places, proven."""

from __future__ import annotations

import shlex
from pathlib import Path
from typing import Annotated

from cyclopts import Parameter
from rich.console import Console
from rich.text import Text

from rollsound.actions.offload import OffloadResult, offload
from rollsound.cli.frame import AsJson, out, print_json, progress, show_finding
from rollsound.cli.lines import line
from rollsound.facts import cautions
from rollsound.finding import Weight
from rollsound.quantities import count, show_size

MOST_LEFT_OUT = 8


def offload_command(
    source: Path,
    /,
    *,
    to: Annotated[list[Path], Parameter(help="A place to copy to; name two or more, each with its own --to.")],
    hash: Annotated[str, Parameter(help="Digest: xxh64, xxh3, xxh128, md5, sha1 or c4.")] = "xxh64",
    md5: Annotated[bool, Parameter(negative="", help="Record MD5 as well, where post asks for it.")] = False,
    name: Annotated[str, Parameter(help="Name of the folder made in every place; the source's when left out.")] = "",
    json: AsJson = False,
) -> int:
    """Copy a card or recorder drive to several places at once; every copy is read back and proven.

    In each place a folder named after the source is made. Nothing is ever overwritten; run it again to go on.

    Example: rollsound offload /media/card7 --to /drives/a/day4/cards --to /drives/b/day4/cards

    Parameters
    ----------
    source
        The card or drive, or a folder on it. It is only read.
    """
    with progress(json) as told:
        result = offload(source, to, algorithm=hash, also_md5=md5, name=name, progress=told)
    if json:
        print_json(result)
    else:
        show_offload(out(), result)
    return 1 if result.weight is Weight.STOP else 0


def show_offload(console: Console, result: OffloadResult) -> None:
    """The answer first, then every place."""
    size = f"{count(result.file_count, 'file')}, {show_size(result.size_bytes)}"
    every = "every file is" if result.complete else "not every file is"
    line(console, f"{size}: {every} proven in {count(len(result.destinations), 'place')}.", style="bold")
    for place in result.destinations:
        tallies = (
            (len(place.copied), "copied and read back"),
            (len(place.already_there), "there already, read back"),
            (len(place.already_proven), "proven earlier"),
            (len(place.problems), "not copied"),
        )
        words = ", ".join(f"{number} {text}" for number, text in tallies if number) or "nothing to do"
        line(console, f"{place.root}: {words}", head="  ", hang=4)
    left_out = list(result.left_out.items())
    for path, why in left_out[:MOST_LEFT_OUT]:
        line(console, f"left out: {path} ({why})", head="  ", style="dim", hang=4)
    if len(left_out) > MOST_LEFT_OUT:
        line(console, f"left out: {len(left_out) - MOST_LEFT_OUT} more; --json lists all", head="  ", style="dim")
    for finding in result.findings:
        show_finding(console, finding, subject=False)
    if result.complete and result.destinations:
        root = shlex.quote(str(result.destinations[0].root))
        console.print(Text(f"Prove a copy again at any time: rollsound verify {root}", style="dim"), soft_wrap=True)
    line(console, "Caution: " + cautions("media")[0].text, style="dim")
