"""`rollsound radio scan`: what is in use on a site, and whose carrier lies on it."""

from __future__ import annotations

import shlex
from pathlib import Path
from typing import Annotated

from cyclopts import Parameter
from rich.console import Console

from rollsound.actions.radio_model import ScanResult
from rollsound.cli.frame import MARKS, AsJson, out, print_json
from rollsound.cli.lines import line
from rollsound.cli.radio_screen import mhz, show_notes
from rollsound.finding import Weight
from rollsound.quantities import count, parse, true_minus

MOST_TOLD = 24


def scan_command(
    show: Path,
    file: Path,
    /,
    *,
    threshold: Annotated[
        str,
        Parameter(
            allow_leading_hyphen=True, help="What lies above is in use; '-90 dBm', or the plan's, when left out."
        ),
    ] = "",
    guard: Annotated[str, Parameter(help="Kept clear beside it; '100 kHz', or the plan's, when left out.")] = "",
    site: Annotated[
        list[str] | None, Parameter(negative="", help="Id of a site where it holds; may be given again.")
    ] = None,
    taken: Annotated[str, Parameter(help="When and where it was taken, in words.")] = "",
    save: Annotated[bool, Parameter(negative="", help="Keep it with the show, to be planned around.")] = False,
    name: Annotated[str, Parameter(name="--as", help="Whose edit it is; the mixer's when left out.")] = "",
    json: AsJson = False,
) -> int:
    """Read a scan (CSV of frequency and level). Take it with your own transmitters off, or they count as in use.

    Example: rollsound radio scan northbound-ferry/ scan.csv --site quay --save

    Parameters
    ----------
    show
        The show's folder, or a YAML or JSON file that holds only a radio part or a request for carriers.
    file
        The scan, as the analyser wrote it.
    """
    from rollsound.actions.radio_read import read, refuse_unknown_sites
    from rollsound.actions.radio_scan import save_scan, take_scan

    asked = read(show, scans=False)
    refuse_unknown_sites(asked, site or ())
    result = take_scan(
        asked,
        file,
        threshold_dbm=parse(threshold, "dBm") if threshold else None,
        guard_hz=round(parse(guard, "Hz")) if guard else None,
        sites=tuple(site or ()),
    )
    if save:
        result = save_scan(asked, result, sites=tuple(site or ()), taken=taken, name=name)
    if json:
        print_json(result)
    else:
        show_scan(out(), result)
    return 1 if result.weight is Weight.STOP else 0


def show_scan(console: Console, result: ScanResult) -> None:
    """The answer first, then what is in use, from low to high."""
    line(console, _sentence(result), style="bold")
    console.print()
    told = sorted(result.occupied, key=lambda row: (not row.touches, row.low_mhz))[:MOST_TOLD]
    for row in sorted(told, key=lambda row: row.low_mhz):
        mark, style = MARKS[Weight.STOP] if row.touches else ("       ", "")
        touches = f"; touches {', '.join(row.touches)}" if row.touches else ""
        level = row.why.rpartition(", ")[2]
        line(
            console,
            f"{mhz(row.low_mhz)} to {mhz(row.high_mhz)} MHz, up to {level}{touches}",
            head=f"  {mark}  ",
            head_style=style,
            hang=11,
        )
    if len(result.occupied) > len(told):
        line(console, f"and {len(result.occupied) - len(told)} more, in --json", head=" " * 11, style="dim")
    console.print()
    if result.saved is not None:
        line(console, result.saved.sentence)
    if result.touched:
        first = "" if result.saved is not None else "Keep it with --save, then repair"
        repair = f"rollsound radio plan {shlex.quote(result.path)} --mode repair --save"
        line(console, f"{first or 'Repair'} with: {repair}")
    elif result.saved is None:
        line(console, "Nothing was saved; --save keeps the scan with the show.", style="dim")
    show_notes(console, result.notes, result.cautions)


def _sentence(result: ScanResult) -> str:
    head = (
        f"{Path(result.file).name}: {mhz(result.low_mhz)} to {mhz(result.high_mhz)} MHz, noise about "
        f"{true_minus(f'{result.floor_dbm:.0f}')} dBm; {count(len(result.occupied), 'stretch')} above "
        f"{true_minus(f'{result.threshold_dbm:g}')} dBm"
    ).replace("stretchs", "stretches")
    if result.touched:
        return f"{head}, and {count(len(result.touched), 'carrier')} of yours on them."
    return f"{head}, and none of your carriers on them."
