"""`rollsound radio check`: the frequencies that are there, held against all that is asked of them."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from cyclopts import Parameter
from rich.console import Console

from rollsound.actions.radio_model import CheckResult
from rollsound.cli.frame import AsJson, out, print_json
from rollsound.cli.lines import line
from rollsound.cli.radio_screen import show_bound, show_broken, show_carriers, show_findings, show_notes, show_products
from rollsound.finding import Weight
from rollsound.quantities import count


def check_command(
    show: Path,
    /,
    *,
    site: Annotated[str, Parameter(help="Id of a site: what is in use there; all sites at once when left out.")] = "",
    products: Annotated[
        int | None, Parameter(help="Rank so many products by what they would do at the receivers, such as 20.")
    ] = None,
    json: AsJson = False,
) -> int:
    """Check every frequency: its range and step, what is in use by others, spacing, and all products of the others.

    Example: rollsound radio check northbound-ferry/

    Parameters
    ----------
    show
        The show's folder, or a YAML or JSON file that holds only a radio part or a request for carriers.
    """
    from rollsound.actions.radio import check, read

    result = check(read(show, sites=(site,) if site else ()), products=products)
    if json:
        print_json(result)
    else:
        show_check(out(), result)
    return 1 if result.broken or result.weight is Weight.STOP else 0


def show_check(console: Console, result: CheckResult) -> None:
    """The answer first, then what is not kept, then transmitter by transmitter."""
    line(console, _sentence(result), style="bold")
    show_bound(console, result.bound)
    console.print()
    show_broken(console, result.broken, result.unavoidable)
    if result.broken:
        console.print()
    show_carriers(console, result.carriers, spares=any(row.spares_mhz for row in result.carriers))
    if result.products:
        console.print()
        show_products(console, result.products)
    told = [f for f in result.findings if f.weight is not Weight.FINE and not (result.broken and _told_above(f.kind))]
    if told:
        console.print()
        show_findings(console, told)
    console.print()
    show_notes(console, result.notes, result.cautions)


def _told_above(kind: str) -> bool:
    """Whether a finding says again what stands above as a relation that is not kept."""
    return kind.startswith("carrier-") or kind in {"carriers clean", "carrier clean"}


def _sentence(result: CheckResult) -> str:
    have = result.transmitters - len(result.without)
    if not have:
        return f"{result.name}: no frequency yet for {count(result.transmitters, 'transmitter')}."
    head = f"{result.name}: {count(have, 'carrier')}"
    if result.broken:
        total = sum(result.counts.values()) or len(result.broken)
        return f"{head}, and {count(total, 'relation')} between them not kept."
    margin = ""
    if result.margin_khz is not None:
        margin = f", the least with a margin of {result.margin_khz:g} kHz"
    without = f"; {count(len(result.without), 'transmitter')} without a frequency" if result.without else ""
    verb = "keeps" if have == 1 else "keep"
    return f"{head} {verb} what is asked{margin}{without}."
