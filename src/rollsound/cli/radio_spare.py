"""`rollsound radio spare`: frequencies to switch to at once, clear of all the rest."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from cyclopts import Parameter
from rich.console import Console
from rich.table import Table
from rich.text import Text

from rollsound.actions.radio_model import SpareResult
from rollsound.cli.frame import AsJson, out, print_json
from rollsound.cli.lines import line, plain
from rollsound.cli.radio_screen import mhz, show_notes
from rollsound.quantities import count


def spare_command(
    show: Path,
    /,
    *,
    each: Annotated[
        int | None, Parameter(help="How many for each transmitter; what the plan wants, or 2, when left out.")
    ] = None,
    transmitter: Annotated[
        list[str] | None, Parameter(negative="", help="Id of a transmitter that needs some; may be given again.")
    ] = None,
    site: Annotated[str, Parameter(help="Id of a site; for all sites at once when left out.")] = "",
    save: Annotated[bool, Parameter(negative="", help="Save them in the show, or in the text.")] = False,
    name: Annotated[str, Parameter(name="--as", help="Whose edit it is; the mixer's when left out.")] = "",
    json: AsJson = False,
) -> int:
    """Find spare frequencies: clear of every carrier that is there, and of each other, so that any can be switched to.

    Example: rollsound radio spare northbound-ferry/ --each 2 --save

    Parameters
    ----------
    show
        The show's folder, or a YAML or JSON file that holds only a radio part or a request for carriers.
    """
    from rollsound.actions.radio import read, save_spares, spare

    asked = read(show, sites=(site,) if site else ())
    result = spare(asked, each=each, ids=tuple(transmitter or ()))
    if save:
        result = save_spares(asked, result, name=name)
    if json:
        print_json(result)
    else:
        show_spares(out(), result)
    return 1 if result.short else 0


def show_spares(console: Console, result: SpareResult) -> None:
    """The answer first, then transmitter by transmitter."""
    found = sum(len(row.mhz) for row in result.spares)
    few = f"; {count(len(result.short), 'transmitter')} got fewer than wanted" if result.short else ""
    head = f"{result.name}: {count(found, 'spare frequency').replace('frequencys', 'frequencies')}"
    line(console, f"{head} for {count(len(result.spares), 'transmitter')}{few}.", style="bold")
    console.print()
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0))
    table.add_column("transmitter", overflow="fold", max_width=28)
    table.add_column("spare, MHz", overflow="fold")
    for row in result.spares:
        short = f"  ({len(row.mhz)} of {row.wanted})" if len(row.mhz) < row.wanted else ""
        table.add_row(Text(plain(row.name)), Text("  ".join(mhz(freq) for freq in row.mhz) + short))
    console.print(table)
    console.print()
    if result.saved is not None:
        line(console, result.saved.sentence)
    show_notes(console, result.notes, result.cautions)
