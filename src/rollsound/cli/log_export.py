"""`rollsound log export`: the log as CSV, JSON or PDF."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from cyclopts import Parameter

from rollsound.cli.frame import AsJson, out, print_json
from rollsound.cli.lines import line
from rollsound.quantities import count


def export_command(
    show: Path,
    file: Annotated[Path, Parameter(help="Where to: its ending .csv, .json or .pdf says how.")],
    /,
    *,
    day: Annotated[str, Parameter(help="Only this day, by its id in the plan; all of them when left out.")] = "",
    all_lines: Annotated[bool, Parameter(negative="", help="CSV of every line, not of the takes alone.")] = False,
    json: AsJson = False,
) -> int:
    """Write the log to a file. CSV of the takes is a takes sheet that 'conform' and 'turnover' read.

    Example: rollsound log export northbound-ferry/ day-4.pdf --day day-4

    Parameters
    ----------
    show
        The show's folder.
    """
    from rollsound.actions.daylog_papers import export

    result = export(show, file, day=day, all_lines=all_lines)
    if json:
        print_json(result)
    else:
        line(out(), f"Written: {result.out}, {count(result.takes, 'take')} in {count(result.lines, 'line')}.")
    return 0
