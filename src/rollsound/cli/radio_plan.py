"""`rollsound radio plan`: a frequency for every transmitter, with the margin each one keeps."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

from cyclopts import Parameter
from rich.console import Console

from rollsound.actions.radio_model import PlanResult
from rollsound.cli.frame import AsJson, out, print_json, progress
from rollsound.cli.lines import line
from rollsound.cli.radio_screen import (
    show_bound,
    show_carriers,
    show_findings,
    show_notes,
    show_unplaced,
)
from rollsound.errors import Halted, RollsoundError
from rollsound.finding import Weight
from rollsound.quantities import count, show_time

if TYPE_CHECKING:
    from rollsound.actions.radio import SoFar
    from rollsound.progress import Progress

EXIT_HALTED = 130


def plan_command(
    show: Path,
    /,
    *,
    mode: Annotated[
        Literal["all", "most", "repair", "add"] | None,
        Parameter(
            help="all: everyone, then the largest margin. most: as many as can be. repair: keep what is on the air, "
            "move as few as can be. add: move nothing; with --site, only those of that site are in the way.",
            show_default=lambda _: "all",
        ),
    ] = None,
    seconds: Annotated[float | None, Parameter(help="Stop after so long with the best found.")] = None,
    seed: Annotated[int, Parameter(help="The same seed gives the same plan; another one tries another way.")] = 0,
    site: Annotated[str, Parameter(help="Id of a site to plan for; for all sites at once when left out.")] = "",
    save: Annotated[bool, Parameter(negative="", help="Save the frequencies in the show, or in the text.")] = False,
    name: Annotated[str, Parameter(name="--as", help="Whose edit it is; the mixer's when left out.")] = "",
    csv: Annotated[Path | None, Parameter(help="Write the plan as CSV, for devices and other programs.")] = None,
    pdf: Annotated[Path | None, Parameter(help="Write the plan as PDF, for the whole crew.")] = None,
    json: AsJson = False,
) -> int:
    """Find a frequency for every transmitter, clear of all that is in use and of every product that matters.

    Stopped with Ctrl-C, it answers with the best found until then. No plan leaves that a full check refuses.

    Example: rollsound radio plan northbound-ferry/ --save --pdf carriers.pdf

    Parameters
    ----------
    show
        The show's folder, or a YAML or JSON file that holds only a radio part or a request for carriers.
    """
    from rollsound.actions.radio import plan, read, save_plan
    from rollsound.actions.radio_papers import refuse_targets, write_papers
    from rollsound.actions.radio_save import refuse_request
    from rollsound.radio.carriers.task import Mode

    asked = read(show, sites=(site,) if site else ())
    refuse_targets(csv, pdf)
    if save:
        refuse_request(asked)
    with progress(json, stopped="The best found until then stands here; the same command looks again.") as told:
        result = plan(
            asked,
            Mode(mode) if mode else None,
            seed=seed,
            seconds=seconds,
            progress=_teller(told, seconds),
            stop=lambda: told.stopping,
        )
        halted = told.stopping and result.stopped
    try:
        if save and result.assignments:
            result = save_plan(asked, result, name=name)
        result = write_papers(asked, result, csv=csv, pdf=pdf)
    except RollsoundError as error:  # what was found took a while: it is told before what went wrong
        if json:
            print_json(result.model_copy(update={"problem": error.sentence}))
            return error.exit_code
        show_plan(out(), result)
        raise
    if json:
        print_json(result)
    else:
        show_plan(out(), result)
    if halted:
        return EXIT_HALTED
    return 1 if result.weight is Weight.STOP else 0


def _teller(told: Progress, seconds: float | None) -> SoFarTeller:
    return SoFarTeller(told, seconds)


class SoFarTeller:
    """Turns the best so far into news of a job: how much of the work is done, and what was found."""

    def __init__(self, told: Progress, seconds: float | None) -> None:
        self._told, self._seconds = told, seconds

    def __call__(self, found: SoFar) -> None:
        margin = "" if found.margin_khz is None else f", margin {found.margin_khz:g} kHz"
        label = f"{found.placed} of {found.wanted} placed{margin}"
        done, total = (
            (found.seconds, self._seconds) if self._seconds else (float(found.moves), float(found.effort_moves))
        )
        try:
            self._told.tell("carriers", min(done, total), total, unit="moves", label=label)
        except Halted:
            return  # the search itself asks whether to stop, and answers with what it has


def show_plan(console: Console, result: PlanResult) -> None:
    """The answer first, then who has no room, then transmitter by transmitter."""
    line(console, _sentence(result), style="bold")
    show_bound(console, result.bound if result.unplaced else None)
    if result.unplaced:
        console.print()
        show_unplaced(console, result.unplaced)
    console.print()
    show_carriers(
        console,
        [row for row in result.carriers if row.mhz is not None],
        spares=any(row.spares_mhz for row in result.carriers),
    )
    told = [each for each in result.findings if each.weight is not Weight.FINE and each.kind != "carrier chosen"]
    if told:
        console.print()
        show_findings(console, told)
    console.print()
    if result.saved is not None:
        line(console, result.saved.sentence)
    for file in result.files:
        line(console, f"Written: {file}")
    if result.saved is None and result.assignments:
        line(console, "Nothing was saved; --save writes these frequencies where the request stands.", style="dim")
    show_notes(console, result.notes, result.cautions)


def _sentence(result: PlanResult) -> str:
    placed, total = len(result.assignments), len(result.carriers)
    who = f"all {count(total, 'transmitter')}" if placed == total else f"{placed} of {count(total, 'transmitter')}"
    margin = "" if result.margin_khz is None else f", the least with a margin of {result.margin_khz:g} kHz"
    moved = f"; {count(len(result.moved), 'carrier')} moved" if result.moved else ""
    proved = ""
    if result.proved:
        proved = "; no more can be placed" if result.unplaced else "; no better plan is possible"
    stopped = "; stopped before it was through" if result.stopped else ""
    spent = f" ({show_time(result.seconds)}, {result.moves:,} moves)"
    return f"{result.name}: a frequency for {who}{margin}{moved}{proved}{stopped}{spent}."
