"""`rollsound radio reach`: where on a site every transmitter is heard, how often, and what power that takes."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from cyclopts import Parameter
from rich.console import Console
from rich.table import Table
from rich.text import Text

from rollsound.actions.reach_model import PowerRow, ReachResult
from rollsound.cli.frame import MARKS, AsJson, out, print_json
from rollsound.cli.lines import line, plain
from rollsound.cli.radio_screen import show_findings, show_notes
from rollsound.finding import Weight
from rollsound.quantities import count


def reach_command(
    show: Path,
    /,
    *,
    site: Annotated[str, Parameter(help="Id of the site whose ground is meant.")],
    transmitter: Annotated[
        list[str] | None,
        Parameter(negative="", help="Id of a transmitter; may be given again; all microphones when left out."),
    ] = None,
    layout: Annotated[str, Parameter(help="Name of a layout of antennas; all antennas when left out.")] = "",
    against: Annotated[str, Parameter(help="Another layout, to compare it with.")] = "",
    wanted: Annotated[float, Parameter(help="Percent of the time that sound is to hold.")] = 99.0,
    map: Annotated[Path | None, Parameter(help="Draw the ground with what is heard from it: .png, .svg, .pdf.")] = None,
    json: AsJson = False,
) -> int:
    """Tell how acting areas and walking lines are heard, the least power that holds there, and what antennas give.

    Example: rollsound radio reach northbound-ferry/ --site quay --map quay.png

    Parameters
    ----------
    show
        The show's folder, or a YAML or JSON file that holds only a radio part.
    """
    from rollsound.actions.radio_read import read
    from rollsound.actions.reach import reach, refuse_pictures, write_map

    asked = read(show, ask=False)
    refuse_pictures(map)
    reached = reach(
        asked, site, transmitters=tuple(transmitter or ()), layout=layout, against=against, wanted=wanted / 100
    )
    if map is not None:
        reached = write_map(reached, map)
    if json:
        print_json(reached.result)
    else:
        show_reach(out(), reached.result)
    return 1 if reached.result.weight is Weight.STOP else 0


def show_reach(console: Console, result: ReachResult) -> None:
    """The answer first, then where it is weak, then power, antennas and what others would give."""
    line(console, _sentence(result), style="bold")
    console.print()
    for row in result.where:
        mark, style = MARKS[Weight.FINE if row.enough else Weight.STOP]
        line(console, f"{row.name}: {row.sentence}", head=f"  {mark}  ", head_style=style, hang=11)
    if result.powers:
        console.print()
        _show_powers(console, result.powers)
    if result.antennas:
        console.print()
        _show_antennas(console, result)
    if result.differences:
        console.print()
        line(console, "What other ways of hearing would give", style="bold")
        told = [each for each in result.differences if each.kind != "ground"] or result.differences
        for difference in told:
            line(console, difference.sentence, head="  ", hang=4)
    if result.findings:
        console.print()
        show_findings(console, result.findings)
    console.print()
    if result.map_file:
        line(console, f"Drawn: {result.map_file}")
    show_notes(console, result.notes, result.cautions)


def _sentence(result: ReachResult) -> str:
    weak = [row.name for row in result.where if not row.enough]
    wanted = f"{100 * result.wanted_share:g} % of the time"
    with_layout = f", with the layout {result.layout}" if result.layout else ""
    if not result.where:
        return (
            f"{result.name}, {result.site}{with_layout}: the worst of {count(len(result.transmitters), 'transmitter')} "
            f"holds {wanted} on {100 * result.covered:.0f} % of the ground; draw acting areas to know where it matters."
        )
    if weak:
        return (
            f"{result.name}, {result.site}{with_layout}: {', '.join(weak)} {_are(weak)} not heard {wanted} everywhere."
        )
    return f"{result.name}, {result.site}{with_layout}: every area and line is heard {wanted} or more."


def _are(names: list[str]) -> str:
    return "is" if len(names) == 1 else "are"


def _show_powers(console: Console, powers: tuple[PowerRow, ...]) -> None:
    line(console, "The least power that holds on every acting area", style="bold")
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0))
    table.add_column("transmitter", overflow="fold", max_width=24)
    table.add_column("now\nmW", justify="right", no_wrap=True)
    table.add_column("least\nmW", justify="right", no_wrap=True)
    table.add_column("battery\nhours", justify="right", no_wrap=True)
    table.add_column("", overflow="fold", ratio=1)
    for rows in _by_transmitter(powers).values():
        none = next((row for row in rows if row.least_mw is None), None)
        most = max((row for row in rows if row.least_mw is not None), key=lambda row: row.least_mw or 0.0, default=None)
        least = "none" if none is not None else f"{most.least_mw:g}" if most is not None else ""
        told = ""
        hours = ""
        if none is not None:
            told = f"{none.missing_db:.0f} dB short on {none.area}"
        elif most is not None:
            hours = f"{most.hours_least:.1f}" if most.hours_least is not None else ""
            if most.hours_gained:
                gained = abs(most.hours_gained)
                told = f"{gained:.1f} hours {'more' if most.hours_gained > 0 else 'less'} than now"
        style = "bold red" if none is not None else ""
        table.add_row(
            Text(plain(rows[0].name)), f"{rows[0].now_mw:g}", Text(least, style=style), hours, Text(plain(told))
        )
    console.print(table)


def _by_transmitter(powers: tuple[PowerRow, ...]) -> dict[str, list[PowerRow]]:
    found: dict[str, list[PowerRow]] = {}
    for row in powers:
        found.setdefault(row.transmitter, []).append(row)
    return found


def _show_antennas(console: Console, result: ReachResult) -> None:
    line(console, "Antennas and what their cables take", style="bold")
    for row in result.antennas:
        powered = f", amplifier {row.amplifier_gain_db:g} dB" if row.amplifier_gain_db else ", passive"
        told = (
            f"{row.name} ({row.model}{powered}): {row.cable_length_m:g} m of {row.cable} take "
            f"{row.cable_loss_db:.1f} dB; thin cable (rg-58) would take {row.thin_cable_loss_db:.1f} dB."
        )
        line(console, told, head="  ", hang=4)
