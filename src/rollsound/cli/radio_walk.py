"""`rollsound radio walk`: the reach of a site fitted to the readings of a walk test."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from cyclopts import Parameter
from rich.console import Console
from rich.table import Table
from rich.text import Text

from rollsound.actions.reach_model import FittedRow, WalkResult
from rollsound.cli.frame import MARKS, AsJson, out, print_json
from rollsound.cli.lines import line, plain
from rollsound.cli.radio_screen import show_notes
from rollsound.errors import RollsoundError
from rollsound.finding import Weight
from rollsound.quantities import signed, true_minus


def walk_command(
    show: Path,
    readings: Path,
    /,
    *,
    site: Annotated[str, Parameter(help="Id of the site that was walked, where the readings do not tell.")] = "",
    chart: Annotated[Path | None, Parameter(help="Draw readings over what is computed: .png, .svg, .pdf.")] = None,
    map: Annotated[Path | None, Parameter(help="Draw the ground before and after: .png, .svg, .pdf.")] = None,
    save: Annotated[bool, Parameter(negative="", help="Save what was fitted at the ground.")] = False,
    name: Annotated[str, Parameter(name="--as", help="Whose edit it is; the mixer's when left out.")] = "",
    json: AsJson = False,
) -> int:
    """Fit loss with distance, walls and bodies to what was read on the site; readings that do not fit are named.

    Example: rollsound radio walk northbound-ferry/ 'walk tests/car deck.csv' --save

    Parameters
    ----------
    show
        The show's folder, or a YAML or JSON file that holds only a radio part.
    readings
        CSV: x m and y m (or stand), level dBm (or quality %), and perhaps transmitter, antenna, note.
    """
    from rollsound.actions.radio_read import read
    from rollsound.actions.reach import refuse_pictures
    from rollsound.actions.reach_walk import save_walk, walk, write_pictures

    asked = read(show, ask=False)
    refuse_pictures(chart, map)
    walked = walk(asked, readings, site=site, drawn=map is not None)
    try:
        if save:
            walked = save_walk(asked, walked, name=name)
        walked = write_pictures(walked, chart=chart, maps=map)
    except RollsoundError as error:  # what was fitted is told before what went wrong
        if json:
            print_json(walked.result.model_copy(update={"problem": error.sentence}))
            return error.exit_code
        show_walk(out(), walked.result)
        raise
    if json:
        print_json(walked.result)
    else:
        show_walk(out(), walked.result)
    return 0


def show_walk(console: Console, result: WalkResult) -> None:
    """The answer first, then what was fitted, then what does not fit."""
    line(console, result.sentence, style="bold")
    console.print()
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0))
    table.add_column("fitted", overflow="fold", max_width=30)
    for name in ("before", "after", "give or\ntake", "readings"):
        table.add_column(name, justify="right", no_wrap=True)
    table.add_column("", overflow="fold", ratio=1)
    for row in result.fitted:
        table.add_row(
            Text(plain(row.name)),
            _figure(row, row.before),
            Text(_figure(row, row.after), style="bold" if row.told else ""),
            _figure(row, row.sigma),
            str(row.readings),
            Text(plain(row.why)),
        )
    console.print(table)
    strange = [row for row in result.residuals if row.outlier]
    if strange or result.set_aside:
        console.print()
    mark, style = MARKS[Weight.WATCH]
    for residual in strange:
        x, y = residual.at_m
        told = (
            f"{residual.id} at {x:.1f}, {y:.1f} m does not fit the rest: {signed(residual.after_db, 1)} dB off what is "
            "computed; it was not fitted to. Read there again."
        )
        line(console, told, head=f"  {mark}  ", head_style=style, hang=11)
    for aside in result.set_aside:
        line(console, f"{aside.id} was set aside: {aside.why}", head=f"  {mark}  ", head_style=style, hang=11)
    console.print()
    line(
        console,
        f"The worst of those who walked holds {100 * result.wanted_share:g} % of the time on "
        f"{100 * result.covered_before:.0f} % of the ground by the drawing alone, on "
        f"{100 * result.covered_after:.0f} % as fitted.",
    )
    if result.saved is not None:
        line(console, result.saved.sentence)
    elif any(row.told for row in result.fitted):
        line(console, "Nothing was saved; --save writes what was fitted at the ground.", style="dim")
    for file in (result.chart_file, *result.map_files):
        if file:
            line(console, f"Drawn: {file}")
    show_notes(console, result.notes, result.cautions)


def _figure(row: FittedRow, value: float | None) -> str:
    if value is None:
        return ""
    return f"{true_minus(f'{value:.2f}' if not row.unit else f'{value:.1f}')} {row.unit}".strip()
