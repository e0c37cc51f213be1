"""`rollsound log list`: the log of a day, and what is odd in it."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from cyclopts import Parameter

from rollsound.actions import daylog
from rollsound.actions.daylog_model import LogLineRow, LogListed
from rollsound.cli.frame import AsJson, out, print_json, show_finding
from rollsound.cli.lines import line
from rollsound.finding import Weight, heaviest
from rollsound.quantities import count


def list_command(
    show: Path,
    /,
    *,
    day: Annotated[str, Parameter(help="Only this day, by its id in the plan.")] = "",
    kind: Annotated[str, Parameter(help="Only lines of this kind, such as take.")] = "",
    json: AsJson = False,
) -> int:
    """List the log in the order in which it happened, and tell what is odd in it. Works beside a server.

    Example: rollsound log list northbound-ferry/ --day day-4 --kind take

    Parameters
    ----------
    show
        The show's folder.
    """
    result = daylog.listed(show, day=day, kind=kind)
    if json:
        print_json(result)
    else:
        _show(result)
    return 1 if heaviest(result.findings) is Weight.STOP else 0


def _show(result: LogListed) -> None:
    console = out()
    takes = [row for row in result.lines if row.kind == "take"]
    circled = sum(bool(row.fields.get("circled")) for row in takes)
    told = f"{count(len(result.lines), 'line')}, {count(len(takes), 'take')}, {circled} circled"
    line(console, f"{result.title}{f', {result.day}' if result.day else ''}: {told}.", style="bold")
    for finding in result.findings:
        if finding.weight is not Weight.FINE:
            show_finding(console, finding)
    day = ""
    for row in result.lines:
        if row.day != day and not result.day:
            day = row.day
            console.print()
            line(console, day, style="bold")
        line(console, _words(row), head=f"  {row.local}  ", hang=12)


def _words(row: LogLineRow) -> str:
    fields = row.fields
    code = "–".join(part for part in (fields.get("timecode_in", ""), fields.get("timecode_out", "")) if part)
    parts = [row.words, "circled" if fields.get("circled") else "", code, str(fields.get("note", ""))]
    parts += [f"track {track}: {text}" for track, text in fields.get("track_notes", {}).items()]
    return f"{', '.join(part for part in parts if part)}  ({row.person}; {row.id})"
