"""`rollsound rig`: what reaches which track and listener, the path of one source, and every proof of the rig."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from cyclopts import Parameter
from rich.console import Console
from rich.table import Table
from rich.text import Text

from rollsound.actions.rig_model import PathRow, RigResult, TargetRow
from rollsound.cli.frame import AsJson, out, print_json, say
from rollsound.cli.lines import line, plain
from rollsound.cli.radio_screen import show_findings, show_notes
from rollsound.finding import Finding, Weight
from rollsound.quantities import count, signed

_MOST_NAMED = 4


def rig_command(
    show: Path,
    /,
    *,
    combination: Annotated[
        str, Parameter(help="Positions, such as 'boom-1=radio, receivers=cart'; the first of each where none is named.")
    ] = "",
    path: Annotated[str, Parameter(help="Id of a source whose way is told hop by hop.")] = "",
    drawing: Annotated[Path | None, Parameter(help="Draw the wiring: an .svg file.")] = None,
    json: AsJson = False,
) -> int:
    """Prove the rig in every combination of its changeovers, and show one of them.

    Example: rollsound rig northbound-ferry/ --combination "boom-1=radio" --path boom-1

    Parameters
    ----------
    show
        The show's folder, or a YAML or JSON file of a plan with its kit and rig.
    """
    from rollsound.actions.plan_read import read_plan
    from rollsound.actions.rig import show_rig

    read = read_plan(show)
    for note in read.notes("rig", "kit"):
        say(note)
    result = show_rig(read, combination=combination, source=path)
    if drawing is not None:
        from rollsound.actions.rig_drawing import write_drawing

        result = write_drawing(read, result, drawing, source=path)
    if json:
        print_json(result)
    else:
        show_result(out(), result)
    return 1 if result.weight is Weight.STOP else 0


def show_result(console: Console, result: RigResult) -> None:
    """The answer first, then what is not kept, then tracks and listeners, or the path that was asked for."""
    line(console, _sentence(result), style="bold")
    if result.combination_in_words:
        line(console, f"Shown with {result.combination_in_words}.", style="dim")
    console.print()
    show_findings(console, [each for each in result.findings if each.weight is not Weight.FINE])
    if any(each.weight is not Weight.FINE for each in result.findings):
        console.print()
    for path, alike in _apart(result.paths):
        _show_path(console, path, alike)
        console.print()
    if not result.paths:
        _show_targets(console, "track", result.tracks)
        console.print()
        _show_targets(console, "listener", result.listeners)
        console.print()
        for each in _fine(result, "tracks"):
            line(console, each.what)
    if result.drawing_file:
        line(console, f"Drawn: {result.drawing_file}")
    show_notes(console, (), result.cautions)


def _sentence(result: RigResult) -> str:
    stops = sum(each.weight is Weight.STOP for each in result.findings)
    every = "its one combination" if result.combinations == 1 else f"all {result.combinations:,} combinations"
    size = (
        f"{count(result.pieces, 'piece')} in use, {count(result.links, 'link')}, {count(len(result.tracks), 'track')}"
    )
    if stops:
        return f"{result.name}: {count(stops, 'finding')} would stop the roll ({size}, {every})."
    proven = next((each.what for each in _fine(result, "everything arrives")), "")
    if proven:
        return f"{result.name}: {proven[0].lower()}{proven[1:].rstrip('.')} ({size})."
    return f"{result.name}: nothing was found that would stop the roll; what was not proven stands below ({size})."


def _fine(result: RigResult, kind: str) -> list[Finding]:
    return [each for each in result.findings if each.weight is Weight.FINE and each.kind == kind]


def _show_targets(console: Console, what: str, rows: tuple[TargetRow, ...]) -> None:
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0))
    if what == "track":
        table.add_column("no.", justify="right")
    table.add_column(what, overflow="fold", max_width=26)
    table.add_column("has", overflow="fold", ratio=1)
    table.add_column("gain\ndB", justify="right", no_wrap=True)
    table.add_column("delay\nms", justify="right", no_wrap=True)
    for row in rows:
        names = [each.name for each in row.arrives]
        more = f" and {len(names) - _MOST_NAMED} more" if len(names) > _MOST_NAMED else ""
        has = Text(plain(", ".join(names[:_MOST_NAMED]) + more) or "nothing")
        if row.missing:
            has.append(f"; missing: {plain(', '.join(row.missing))}", style="bold red")
        slowest = max(row.arrives, key=lambda each: each.latency_ms, default=None)
        table.add_row(
            *([Text(str(row.number))] if what == "track" else ()),
            Text(plain(row.name)),
            has,
            Text(signed(row.arrives[0].gain_db) if len(row.arrives) == 1 else ""),
            Text(f"{slowest.latency_ms:.1f}" if slowest is not None else ""),
        )
    console.print(table)


def _apart(paths: tuple[PathRow, ...]) -> list[tuple[PathRow, int]]:
    """Paths of one source to one target through the same pieces told as one, with how many more there are like it."""
    found: dict[tuple[object, ...], list[PathRow]] = {}
    for path in paths:
        pieces = tuple(hop.piece for hop in path.hops)
        found.setdefault((path.target, pieces, round(path.gain_db, 1)), []).append(path)
    return [(some[0], len(some) - 1) for some in found.values()]


def _show_path(console: Console, path: PathRow, alike: int) -> None:
    more = f"; {count(alike, 'way')} more like it" if alike else ""
    title = f"{path.source} to {path.target_name}: {path.latency_ms:.2f} ms, {signed(path.gain_db, 1)} dB"
    line(console, f"{title}; {', '.join(path.conversions) or 'no conversion'}{more}.", style="bold")
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0))
    table.add_column("by", no_wrap=True)
    table.add_column("to", overflow="fold", ratio=1)
    table.add_column("gain\ndB", justify="right", no_wrap=True)
    table.add_column("ms", justify="right", no_wrap=True)
    table.add_column("in all\nms", justify="right", no_wrap=True)
    table.add_column("converts", overflow="fold", max_width=24)
    table.add_column("clock", overflow="fold", max_width=18)
    if path.hops:
        first = path.hops[0]
        table.add_row(Text("source"), Text(plain(first.from_)), Text(""), Text(""), Text(""), Text(""), Text(""))
    for hop in path.hops:
        by = "inside" if hop.way in ("route", "pass") else "network" if hop.way == "stream" else "link"
        table.add_row(
            Text(by),
            Text(plain(hop.to)),
            Text(signed(hop.gain_db, 1) if hop.gain_db else ""),
            Text(f"{hop.latency_ms:.2f}" if hop.latency_ms >= 0.005 else ""),  # what two digits show
            Text(f"{hop.total_ms:.2f}"),
            Text(", ".join(hop.conversions)),
            Text(plain(hop.clock)),
        )
    console.print(table)
