"""`rollsound kit`: what the kit weighs, how its batteries may fly, the list for customs, and labels."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from cyclopts import Parameter
from rich.console import Console
from rich.table import Table
from rich.text import Text

from rollsound.actions.kit_model import BatteryRow, KitResult, LoadRow
from rollsound.cli.frame import AsJson, out, print_json, say, show_finding
from rollsound.cli.lines import line, plain
from rollsound.cli.radio_screen import show_findings
from rollsound.finding import Weight
from rollsound.quantities import count

_NARROW = 90
_TOLD = {"lifting", "rolling", "steps", "wind", "battery by air", "customs list"}
"""Checks that answer on the screen also where they hold."""


def kit_command(
    show: Path,
    /,
    *,
    carnet: Annotated[Path | None, Parameter(help="Write the general list of a carnet: .pdf or .csv.")] = None,
    labels: Annotated[Path | None, Parameter(help="Write a label with a code for every piece: .pdf.")] = None,
    travel_date: Annotated[str, Parameter(help="Date of the flight, 2026-03-27: its rules hold for batteries.")] = "",
    json: AsJson = False,
) -> int:
    """Tell how the kit travels: mass case by case, what is lifted, which batteries may fly, and what customs want.

    Example: rollsound kit northbound-ferry/ --travel-date 2026-04-12 --carnet list.pdf

    Parameters
    ----------
    show
        The show's folder, or a YAML or JSON text with a kit part.
    """
    from rollsound.actions.kit import kit, read_plan
    from rollsound.actions.kit import travel_date as date_of
    from rollsound.actions.kit_papers import check_places, write_papers

    date = date_of(travel_date)
    check_places(carnet, labels)
    read = read_plan(show)
    for note in read.notes("kit"):
        say(note)
    result = kit(read, date=date, listed=carnet is not None)
    result = write_papers(read, result, carnet_file=carnet, labels_file=labels)
    if json:
        print_json(result)
    else:
        show_kit(out(), result)
    return 1 if result.weight is Weight.STOP else 0


def show_kit(console: Console, result: KitResult) -> None:
    """The answer first, then what is to be settled, then case by case and battery by battery."""
    line(console, _sentence(result), style="bold")
    console.print()
    show_findings(console, result.findings)
    for finding in result.findings:
        if finding.weight is Weight.FINE and finding.kind in _TOLD:
            show_finding(console, finding, subject=False)
    console.print()
    _show_loads(console, result)
    if result.batteries:
        console.print()
        _show_batteries(console, result.batteries)
    if result.customs is not None:
        console.print()
        customs = result.customs
        told = f"For customs: {count(len(customs.lines), 'line')}, {count(customs.pieces, 'piece')}"
        line(console, f"{told}, {customs.mass_kg:.1f} kg, {customs.value:,.2f} {customs.currency}.")
    console.print()
    for file in result.files:
        line(console, f"Written: {file}")
    for note in result.notes:
        line(console, f"Note: {note}", style="dim")
    if result.further_notes:
        told = f"{count(len(result.further_notes), 'further note')} on where figures come from"
        line(console, f"Note: {told} are in --json.", style="dim")
    for caution in result.cautions:
        line(console, f"Caution: {caution}", style="dim")


def _sentence(result: KitResult) -> str:
    stops = sum(each.weight is Weight.STOP for each in result.findings)
    whole = result.whole
    batteries = sum(row.capacity_wh * row.pieces for row in result.batteries)
    holds = f", and batteries of {batteries / 1000:.1f} kWh" if batteries else ""
    told = f"{result.name}: {count(whole.pieces, 'piece')}, {whole.mass_kg:.0f} kg{holds}"
    return f"{told}; {count(stops, 'thing')} would stop it." if stops else f"{told}; nothing would stop it."


def _show_loads(console: Console, result: KitResult) -> None:
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0))
    table.add_column("case or trolley", overflow="fold", max_width=30)
    heads = ("pieces", "kg", "rack\nunits", "batteries\ninside, Wh", f"value\n{plain(result.currency)}")
    shown = [n for n, figure in enumerate(_figures(result.whole)) if figure]
    for n in shown:
        table.add_column(heads[n], justify="right", no_wrap=True)
    table.add_column("", overflow="fold", ratio=1)
    rows = [(each.name or "in none", each) for each in result.loads] if len(result.loads) > 1 else []
    for name, row in [*rows, ("the whole kit", result.whole)]:
        style = "bold" if row is result.whole else ""
        figures = _figures(row)
        table.add_row(Text(plain(name), style=style), *(Text(figures[n], style=style) for n in shown), _short(row))
    console.print(table)


def _figures(row: LoadRow) -> tuple[str, ...]:
    """Figures of a load, empty where there is nothing to tell."""
    return (
        f"{row.pieces:,}",
        f"{row.mass_kg:,.1f}",
        f"{row.rack_units:g}" if row.rack_units else "",
        f"{row.battery_wh:,.0f}" if row.battery_wh else "",
        f"{row.value:,.2f}" if row.value else "",
    )


def _short(row: LoadRow) -> str:
    return f"{count(len(row.without_mass), 'item')} without a mass" if row.without_mass else ""


def _show_batteries(console: Console, batteries: tuple[BatteryRow, ...]) -> None:
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0))
    table.add_column("battery", overflow="fold", max_width=30)
    table.add_column("Wh", justify="right", no_wrap=True)
    table.add_column("pieces", justify="right", no_wrap=True)
    wide = console.width >= _NARROW
    if wide:
        table.add_column("inside", no_wrap=True)
    table.add_column("by air", overflow="fold", ratio=1)
    for row in batteries:
        rule = f"{row.travels_by}: {row.rule}" if row.travels_by in ("cabin", "hold", "air cargo") else row.rule
        table.add_row(
            Text(plain(row.name)),
            f"{row.capacity_wh:g}",
            f"{row.pieces:,}",
            *([""] if wide and row.loose else ["equipment"] if wide else []),
            Text(plain(rule)),
        )
    console.print(table)
