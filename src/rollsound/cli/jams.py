"""`rollsound jams`: how far every time code device drifts through a day, and when to jam it again."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from cyclopts import Parameter
from rich.console import Console
from rich.table import Table
from rich.text import Text

from rollsound.actions.jams_model import JamsResult
from rollsound.cli.frame import AsJson, out, print_json, say
from rollsound.cli.lines import line, plain
from rollsound.cli.radio_screen import show_findings, show_notes
from rollsound.finding import Weight
from rollsound.quantities import count, show_ppm, signed

_MOST_MEASURED = 12


def jams_command(
    show: Path,
    /,
    *,
    day: Annotated[str, Parameter(help="Id of the day; the one that matters now when left out.")] = "",
    json: AsJson = False,
) -> int:
    """Tell how far every time code device drifts through a day, and when to jam it to stay inside half a frame.

    What conform measured of cards' clocks, and offsets that the log has, narrow what data sheets say.

    Example: rollsound jams northbound-ferry/ --day day-4

    Parameters
    ----------
    show
        The show's folder, or a YAML or JSON file of a plan with its kit.
    """
    from rollsound.actions.jams import jams
    from rollsound.actions.plan_read import read_plan

    read = read_plan(show)
    for note in read.notes("kit"):
        say(note)
    result = jams(read, day=day)
    if json:
        print_json(result)
    else:
        show_jams(out(), result)
    return 1 if result.weight is Weight.STOP else 0


def show_jams(console: Console, result: JamsResult) -> None:
    """The answer first, then what to do, device by device, and what was measured."""
    wanted = sum(bool(row.past) for row in result.devices)
    when = f"{result.name}, {result.day_name or 'the day'}, {result.call} to {result.wrap}, {result.frame_rate} fps"
    if not result.devices:
        told = "no time code device is known."
    elif wanted:
        told = f"{wanted} of {count(len(result.devices), 'device')} to jam again before wrap."
    else:
        told = f"{count(len(result.devices), 'device')}, none to jam again before wrap."
    line(console, f"{when}: {told}", style="bold")
    console.print()
    show_findings(console, result.findings)
    if result.devices:
        console.print()
        _show_devices(console, result)
    if result.measured:
        console.print()
        line(console, "Measured so far", style="bold")
        for each in result.measured[:_MOST_MEASURED]:
            told = f"{each.device} against {each.against}, {each.day}: {show_ppm(each.ppm)} ± {each.sd_ppm:.3f}"
            line(console, f"{told} ({each.told}{'' if each.used else '; left out'}).", head="  ", hang=4)
        if len(result.measured) > _MOST_MEASURED:
            line(console, f"and {len(result.measured) - _MOST_MEASURED} more, in --json", head="  ", style="dim")
    show_notes(console, result.notes, ())


def _show_devices(console: Console, result: JamsResult) -> None:
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0))
    table.add_column("device", overflow="fold", max_width=26)
    table.add_column("from", overflow="fold", max_width=22)
    table.add_column("jammed", no_wrap=True)
    for head in ("rate\nppm", "give or\ntake", "at wrap\nframes", "give or\ntake"):
        table.add_column(head, justify="right", no_wrap=True)
    table.add_column("past half\na frame", no_wrap=True)
    table.add_column("jam it", overflow="fold", ratio=1)
    for row in result.devices:
        table.add_row(
            Text(plain(row.name)),
            Text(plain(row.source_name)),
            row.jammed if row.from_log else f"({row.jammed})",
            signed(row.ppm, 2),
            f"{row.give_or_take_ppm:.2f}",
            signed(row.wrap_frames, 2),
            f"{row.wrap_give_or_take_frames:.2f}",
            Text(row.past, style="bold") if row.past else Text("no"),
            Text(plain("; ".join(each.told for each in row.wishes[:3]) + (" …" if len(row.wishes) > 3 else ""))),
        )
    console.print(table)
