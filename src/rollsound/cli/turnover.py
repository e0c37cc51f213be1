"""`rollsound turnover`: the folder for sound post."""

from __future__ import annotations

import shlex
from pathlib import Path
from typing import Annotated

from cyclopts import Parameter
from rich.console import Console
from rich.text import Text

from rollsound.actions.turnover import TurnoverResult, turnover
from rollsound.cli.frame import AsJson, out, print_json, progress, show_finding
from rollsound.cli.lines import line, plain
from rollsound.finding import Weight
from rollsound.quantities import count, show_size


def turnover_command(
    day: Path,
    /,
    *,
    to: Annotated[Path, Parameter(help="Where the turnover goes; days may share it.")],
    conformed: Annotated[
        tuple[Path, ...], Parameter(help="A folder that conform wrote, where the day's folder does not hold it.")
    ] = (),
    takes: Annotated[Path | None, Parameter(help="Sheet of takes (CSV); takes.csv in the day when left out.")] = None,
    wearers: Annotated[
        Path | None, Parameter(help="Sheet of wearers (CSV); wearers.csv in the day if left out.")
    ] = None,
    index: Annotated[
        Path | None, Parameter(help="Folder of an earlier inspect --index, so as not to measure again.")
    ] = None,
    show: Annotated[str, Parameter(help="Title of the show; what the files say when left out.")] = "",
    day_name: Annotated[str, Parameter(help="The day as on the call sheet, such as 'Day 4'.")] = "",
    date: Annotated[str, Parameter(help="The date; what the files say when left out.")] = "",
    mixer: Annotated[str, Parameter(help="Who recorded it.")] = "",
    md5: Annotated[bool, Parameter(negative="", help="Record MD5 as well, where post asks for it.")] = False,
    json: AsJson = False,
) -> int:
    """Make the folder for sound post: files by sound roll, mirrors, sound report (PDF and CSV), lists and manifest.

    Nothing is ever overwritten; run it again to add what is missing.

    Example: rollsound turnover /drives/a/day4 --to /drives/post --day-name "Day 4"

    Parameters
    ----------
    day
        Folder of the day: recorder files, what conform made, takes.csv and wearers.csv. A bare folder of files will do.
    """
    with progress(json) as told:
        result = turnover(
            day,
            to,
            conformed=conformed,
            takes_sheet=takes,
            wearers_sheet=wearers,
            index=index,
            show=show,
            day_name=day_name,
            date=date,
            mixer=mixer,
            also_md5=md5,
            progress=told,
        )
    if json:
        print_json(result)
    else:
        show_turnover(out(), result)
    return 1 if result.weight is Weight.STOP else 0


def show_turnover(console: Console, result: TurnoverResult) -> None:
    """The answer first."""
    size = f"{count(len(result.files), 'file')}, {show_size(result.size_bytes)}"
    head = "whole and proven" if result.complete else "not whole"
    line(console, f"Turnover {head}: {size} in {result.day_folder}", style="bold")
    for report in result.reports:
        console.print(Text(plain(f"  {Path(result.root) / report}")), soft_wrap=True)
    if result.stops or result.watches:
        look = "deserves" if result.watches == 1 else "deserve"
        line(
            console,
            f"The reports tell of {count(result.stops, 'thing')} that would lose or spoil work and "
            f"{count(result.watches, 'thing')} that {look} a look; read findings.csv before you send it.",
        )
    for finding in result.findings:
        show_finding(console, finding, subject=False)
    proof = f"Post proves it with: rollsound verify {shlex.quote(result.root)}"
    console.print(Text(proof, style="dim"), soft_wrap=True)
