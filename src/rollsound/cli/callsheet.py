"""`rollsound callsheet`: a day of the sound crew on one sheet."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from cyclopts import Parameter
from rich.console import Console
from rich.table import Table
from rich.text import Text

from rollsound.actions.callsheet_model import CallsheetResult
from rollsound.cli.frame import AsJson, out, print_json, say
from rollsound.cli.lines import line, plain
from rollsound.cli.radio_screen import show_findings, show_notes
from rollsound.finding import Weight


def callsheet_command(
    show: Path,
    /,
    *,
    day: Annotated[str, Parameter(help="Id of the day; the one that matters now when left out.")] = "",
    to: Annotated[Path | None, Parameter(help="Write the sheet: a .pdf file.")] = None,
    json: AsJson = False,
) -> int:
    """Put a day of the sound crew on one sheet: scenes, packs, frequencies, playback, feeds, batteries, jams, cautions.

    What the plan does not say yet is told on the sheet.

    Example: rollsound callsheet northbound-ferry/ --day day-4 --to "day 4.pdf"

    Parameters
    ----------
    show
        The show's folder, or a YAML or JSON file of a plan with its schedule.
    """
    from rollsound.actions.callsheet import callsheet
    from rollsound.actions.callsheet_papers import check_place, write_sheet
    from rollsound.actions.plan_read import read_plan

    if to is not None:
        check_place(to)
    read = read_plan(show)
    for note in read.notes("schedule", "script", "songs", "sites"):
        say(note)
    result = callsheet(read, day=day)
    if to is not None:
        result = write_sheet(result, to)
    if json:
        print_json(result)
    else:
        show_sheet(out(), result)
    return 1 if result.weight is Weight.STOP else 0


def show_sheet(console: Console, result: CallsheetResult) -> None:
    """The sheet in short; the PDF and --json have all of it."""
    from rollsound.actions.callsheet_papers import told_of

    line(console, told_of(result), style="bold")
    console.print()
    show_findings(console, result.findings)
    if result.scenes:
        _show_scenes(console, result)
        console.print()
    for told, what in _lists(result):
        line(console, f"{told}: {what}", hang=4)
    if result.not_planned:
        console.print()
        line(console, "Not planned yet", style="bold")
        for each in result.not_planned:
            line(console, each, head="  ", hang=4)
    if result.file:
        line(console, f"Written: {result.file}")
    show_notes(console, (), result.cautions)


def _show_scenes(console: Console, result: CallsheetResult) -> None:
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0))
    table.add_column("scene", no_wrap=True)
    table.add_column("where", overflow="fold", max_width=30)
    table.add_column("speaks, in words; sings", overflow="fold", ratio=1)
    table.add_column("wired", overflow="fold", ratio=1)
    table.add_column("playback", overflow="fold", max_width=24)
    for row in result.scenes:
        heard = [", ".join(row.speaks), f"sings: {', '.join(row.sings)}" if row.sings else ""]
        wired = Text(plain(", ".join((*row.wired, *(f"{each}: boom" for each in row.booms)))))
        if row.without and result.by_scene:
            told = f"{'; ' if wired.plain else ''}not covered: {', '.join(row.without)}"
            wired.append(plain(told), style="yellow")
        table.add_row(
            Text(row.number, style="bold"),
            Text(plain(row.heading)),
            Text(plain("; ".join(each for each in heard if each))),
            wired,
            Text(plain(", ".join(row.songs))),
        )
    console.print(table)


def _lists(result: CallsheetResult) -> list[tuple[str, str]]:
    places = [f"{each.name}{f' ({each.temperature})' if each.temperature else ''}" for each in result.places]
    batteries = [f"{each.told}: {', '.join(each.what)}" for each in result.batteries]
    jams = [f"{each.device} {', '.join(each.told[:3])}" for each in result.jams]
    found = [("Sites", ", ".join(places)), ("Breaks", ", ".join(result.breaks))]
    found += [("Batteries", "; ".join(batteries)), ("Jams", "; ".join(jams))]
    return [(told, what) for told, what in found if what]
