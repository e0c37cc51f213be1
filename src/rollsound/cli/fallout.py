"""`rollsound fallout`: what is lost when one thing fails, or two, and the cheapest cure."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from cyclopts import Parameter
from rich.console import Console
from rich.table import Table
from rich.text import Text

from rollsound.actions.rig_model import FalloutResult, LossRow
from rollsound.cli.frame import AsJson, out, print_json, say
from rollsound.cli.lines import line, plain
from rollsound.quantities import count

_MOST_NAMED = 3


def fallout_command(
    show: Path,
    /,
    *,
    pairs: Annotated[bool, Parameter(negative="", help="Two failures at once as well.")] = False,
    most: Annotated[int, Parameter(help="Rows to show; all are in --json.")] = 20,
    json: AsJson = False,
) -> int:
    """Take away every piece, cable, subscription and battery in turn, and tell what is lost and what covers it.

    Example: rollsound fallout northbound-ferry/ --pairs

    Parameters
    ----------
    show
        The show's folder, or a YAML or JSON file of a plan with its kit and rig.
    """
    from rollsound.actions.plan_read import read_plan
    from rollsound.actions.rig import fallout

    read = read_plan(show)
    for note in read.notes("rig", "kit"):
        say(note)
    result = fallout(read, pairs=pairs)
    if json:
        print_json(result)
    else:
        show_fallout(out(), result, max(most, 1), pairs=pairs)
    return 0


def show_fallout(console: Console, result: FalloutResult, most: int, *, pairs: bool = False) -> None:
    """The answer first, then failures, dearest first, each with its cure."""
    line(console, _sentence(result), style="bold")
    console.print()
    _show(console, result.single, most)
    if result.pairs:
        console.print()
        line(console, f"Two at once, where neither costs it alone: {count(len(result.pairs), 'pair')}.", style="bold")
        _show(console, result.pairs, most)
    elif pairs:
        console.print()
        line(console, "Two at once cost nothing that one of them would not cost alone.", style="bold")
    if not result.complete:
        line(console, "Some sources have more ways than are told apart; what is lost may be less than shown.")


def _sentence(result: FalloutResult) -> str:
    dear = sum(len(each.uncovered) > 1 for each in result.single)
    asked = f"{count(result.asked, 'thing')} taken away in turn, in every combination"
    if dear:
        return f"{result.name}: {count(dear, 'single failure')} would leave several characters on no track ({asked})."
    return f"{result.name}: no single failure takes more than one character ({asked})."


def _show(console: Console, rows: tuple[LossRow, ...], most: int) -> None:
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0))
    table.add_column("fails", overflow="fold", ratio=3)
    table.add_column("characters\non no track", overflow="fold", ratio=2)
    table.add_column("tracks", justify="right", no_wrap=True)
    table.add_column("hear\nless", justify="right", no_wrap=True)
    table.add_column("cure", overflow="fold", ratio=4)
    for row in rows[:most]:
        named = ", ".join(row.uncovered[:_MOST_NAMED])
        more = f" and {len(row.uncovered) - _MOST_NAMED} more" if len(row.uncovered) > _MOST_NAMED else ""
        covered = ", ".join(f"{name}: {', '.join(tracks)}" for name, tracks in row.covered_by.items())
        still = f"still heard: {covered}" if covered and not named else ""
        slips = f"{count(len(row.at_risk), 'track')} would slip" if row.at_risk else ""
        table.add_row(
            Text(plain(row.in_words)),
            Text(plain(named + more or still or slips), style="bold" if named else ""),
            Text(str(len(row.tracks) or len(row.at_risk) or "")),
            Text(str(len(row.listeners) or "")),
            Text(plain(row.cure), style="dim"),
        )
    console.print(table)
    if len(rows) > most:
        line(console, f"and {len(rows) - most} more; --most {len(rows)} shows them, --json has all.", style="dim")
