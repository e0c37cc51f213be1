"""`rollsound crosscheck`: a day's log held against its files and the plan."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from cyclopts import Parameter
from rich.console import Console

from rollsound.actions.crosscheck_model import CrosscheckResult
from rollsound.cli.frame import AsJson, out, print_json, progress, say
from rollsound.cli.lines import line
from rollsound.cli.radio_screen import show_findings, show_notes
from rollsound.finding import Weight
from rollsound.quantities import count


def crosscheck_command(
    show: Path,
    /,
    *,
    day: Annotated[str, Parameter(help="Id of the day; today's, or the last one with media when left out.")] = "",
    write: Annotated[
        Path | None, Parameter(help="Folder for corrected copies and the list of corrections; no source is touched.")
    ] = None,
    json: AsJson = False,
) -> int:
    """Hold a day's log against its files and the plan: every take has a file, every file a take, and all agrees.

    Example: rollsound crosscheck northbound-ferry/ --day day-4 --write corrected/

    Parameters
    ----------
    show
        The show's folder, or a YAML or JSON file of a plan that names the day's media and its sheet of takes.
    """
    from rollsound.actions.crosscheck import crosscheck, write_corrections
    from rollsound.actions.plan_read import read_plan

    read = read_plan(show)
    for note in read.notes("media", "schedule"):
        say(note)
    result = crosscheck(read, day=day)
    if write is not None:
        with progress(json) as handed:
            result = write_corrections(result, write, progress=handed)
    if json:
        print_json(result)
    else:
        show_crosscheck(out(), result)
    failed = any(each.outcome == "failed" for each in result.written)
    return 2 if failed else 1 if result.weight is Weight.STOP else 0


def show_crosscheck(console: Console, result: CrosscheckResult) -> None:
    """The answer first, then what does not agree, then what was written."""
    line(console, _sentence(result), style="bold")
    console.print()
    show_findings(console, result.findings)
    if result.written:
        console.print()
        for each in result.written:
            told = each.problem or f"{each.path}: {', '.join(each.changed)}"
            line(console, f"{told}.".replace("..", "."), head=f"  {each.outcome}  ", hang=11)
    if result.sidecars:
        line(console, f"Lists: {', '.join(result.sidecars)}")
    show_notes(console, result.notes, ())


def _sentence(result: CrosscheckResult) -> str:
    head = f"{result.name}, {result.day_name}: {count(result.takes, 'take')} in {result.log_is}"
    head += f", {count(result.files, 'file')}"
    wrong = [each for each in result.findings if each.weight is not Weight.FINE]
    if not wrong:
        return f"{head}; they agree." if result.pairs else f"{head}; nothing can be held against anything."
    lost, loose = len(result.without_file), len(result.without_line)
    parts = [f"{count(lost, 'take')} without a file" if lost else ""]
    parts.append(f"{count(loose, 'file')} without a take" if loose else "")
    parts.append(f"{count(len(result.repairs), 'disagreement')}" if result.repairs else "")
    told = ", ".join(part for part in parts if part) or count(len(wrong), "thing") + " to look at"
    return f"{head}; {told}."
