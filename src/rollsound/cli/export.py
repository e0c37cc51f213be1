"""`rollsound export`: the whole plan as one readable text."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

from cyclopts import Parameter

from rollsound.actions.show import export_plan
from rollsound.cli.frame import AsJson, nobody_reads, print_json, say


def export_command(
    show: Path,
    /,
    *,
    out: Annotated[Path | None, Parameter(help="The file to write; the text is printed when left out.")] = None,
    revision: Annotated[int | None, Parameter(help="The plan as it was at this revision.")] = None,
    json: AsJson = False,
) -> int:
    """Write the whole plan as one YAML text, with its comments. Works beside a server.

    Example: rollsound export northbound-ferry/ --out plan.yaml

    Parameters
    ----------
    show
        The show's folder.
    """
    result = export_plan(show, out=out, revision=revision)
    if json:
        print_json(result)
    elif result.out:
        say(f"The plan at revision {result.revision} is in {result.out}")
    else:
        try:
            sys.stdout.write(result.text)
            sys.stdout.flush()
        except BrokenPipeError:
            nobody_reads()
        # Beside the text, never in it: what an import is to be merged against.
        if sys.stdout.isatty():
            say(f"This is revision {result.revision}; import it with --base {result.revision}")
    return 0
