"""`rollsound packs`: which pack, boom and track each character gets over the schedule, and every re-rig."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from cyclopts import Parameter
from rich.console import Console
from rich.table import Table
from rich.text import Text

from rollsound.actions.packs_model import PackDayRow, PacksResult
from rollsound.cli.frame import AsJson, out, print_json, progress, say
from rollsound.cli.lines import line, plain
from rollsound.cli.radio_screen import show_findings, show_notes
from rollsound.errors import Halted
from rollsound.finding import Weight
from rollsound.quantities import count

if TYPE_CHECKING:
    from rollsound.packs.find import SoFar
    from rollsound.progress import Progress

EXIT_HALTED = 130
_EFFORT = 40
_MOST_DAYS = 4
"""Days told scene by scene where none is asked for; further ones in a line each."""


def packs_command(
    show: Path,
    /,
    *,
    day: Annotated[str, Parameter(help="Id of the day to tell; the whole show when left out.")] = "",
    without: Annotated[
        tuple[str, ...],
        Parameter(
            negative="",
            consume_multiple=True,
            show_default=False,
            help="Ids of packs and booms that fail: on --day, or on every day when none is named.",
        ),
    ] = (),
    replan: Annotated[
        bool, Parameter(negative="", help="Change as little as can be of the plan that was kept.")
    ] = False,
    kept: Annotated[bool, Parameter(negative="", help="Tell the plan that was kept; work nothing out.")] = False,
    effort: Annotated[
        int, Parameter(help="Looks at several days together, to keep packs through the show; 0 for the first answer.")
    ] = _EFFORT,
    seed: Annotated[int, Parameter(help="The same seed gives the same plan; another one tries another way.")] = 0,
    save: Annotated[bool, Parameter(negative="", help="Keep the plan in the show, or in the text.")] = False,
    name: Annotated[str, Parameter(name="--as", help="Whose edit it is; the mixer's when left out.")] = "",
    track_sheet: Annotated[
        Path | None, Parameter(help="Write who is on which track, scene by scene, for post: .pdf or .csv.")
    ] = None,
    json: AsJson = False,
) -> int:
    """Find who wears which pack in every scene: everybody covered, few re-rigs, one pack and track through the show.

    Says what had to be given up, why, and what would mend it. Stopped with Ctrl-C, it answers with the best found until
    then. Exit 1 says that somebody is not covered.

    Example: rollsound packs northbound-ferry/ --day day-4 --save

    Parameters
    ----------
    show
        The show's folder, or a YAML or JSON file of a plan with script, schedule and radio part.
    """
    from rollsound.actions.packs import kept_plan, packs, save_packs
    from rollsound.actions.packs_papers import refuse_target, write_track_sheet
    from rollsound.actions.plan_read import read_plan
    from rollsound.errors import InputError

    if effort < 0:
        raise InputError(f"--effort is {effort}; write 0 for the first answer, or how many looks")
    if kept and (replan or without or save):
        raise InputError("--kept tells the plan as it is; leave out --replan, --without and --save")
    refuse_target(track_sheet)
    read = read_plan(show)
    for note in read.notes("packs", "script"):
        say(note)
    halted = False
    if kept:
        answer = kept_plan(read, day)
    else:
        with progress(json, stopped="The best found until then stands here; the same command looks again.") as told:
            answer = packs(
                read,
                day=day,
                without=without,
                near=replan,
                moves=effort,
                seed=seed,
                progress=_Teller(told),
                stop=lambda: told.stopping,
            )
            halted = told.stopping and answer.result.stopped
        if save:
            answer = save_packs(answer, name)
    result = answer.result
    if track_sheet is not None:
        result = write_track_sheet(answer, track_sheet)
    if json:
        print_json(result)
    else:
        show_packs(out(), result, kept=kept)
    if halted:
        return EXIT_HALTED
    return 1 if result.weight is Weight.STOP else 0


class _Teller:
    """Turns the best so far into news of a job."""

    def __init__(self, told: Progress) -> None:
        self._told = told

    def __call__(self, found: SoFar) -> None:
        uncovered, *_, rerigs, pairs = found.cost
        words = {"first": "first answer", "days": "day by day", "show": "days together"}[found.phase]
        label = f"{words}: {uncovered} words not covered, re-rigs {rerigs}, {pairs} packs by character"
        try:
            self._told.tell("packs", float(found.done), float(max(1, found.total)), unit="steps", label=label)
        except Halted:
            return  # the search itself asks whether to stop, and answers with what it has


def show_packs(console: Console, result: PacksResult, *, kept: bool = False) -> None:
    """The answer first, what was given up, then the days, and what is proven."""
    line(console, _sentence(result), style="bold")
    console.print()
    show_findings(console, result.findings)
    days = result.days if result.day else result.days[:_MOST_DAYS]
    for each in days:
        console.print()
        _show_day(console, each)
    if len(days) < len(result.days):
        console.print()
        for each in result.days[len(days) :]:
            line(console, _day_sentence(each), head="  ", hang=4)
        line(console, "Name a day with --day to see its scenes.", head="  ", style="dim")
    _show_given(console, result)
    if result.levels:
        console.print()
        _show_levels(console, result)
    console.print()
    if result.saved:
        line(console, result.saved)
    for file in result.files:
        line(console, f"Written: {file}")
    if not result.saved and not kept:
        line(console, "Nothing was saved; --save keeps this plan.", style="dim")
    show_notes(console, result.notes, result.cautions)


def _sentence(result: PacksResult) -> str:
    scenes = sum(len(day.scenes) for day in result.days)
    where = f"{result.name}, {result.days[0].name}" if result.day and result.days else result.name
    asked = (
        f"{where}: {count(scenes, 'scene')}, {count(result.characters, 'character')}, {count(result.packs, 'pack')}, "
        f"{count(result.booms, 'boom')}"
    )
    bare = result.uncovered
    covered = "everybody is covered" if not bare else f"{count(bare, 'voice')} in a scene not covered"
    number = sum(len(day.rerigs) for day in result.days)
    hurried = sum(each.when == "between" for day in result.days for each in day.rerigs)
    rerigs = f"; {count(number, 're-rig')}" + (f", {hurried} between two scenes" if hurried else "")
    proved = "; no better plan is possible" if result.proved else ""
    stopped = "; stopped before it was through" if result.stopped else ""
    return f"{asked}: {covered}{rerigs}{proved}{stopped}."


def _day_sentence(day: PackDayRow) -> str:
    bare = sum(cover.told == "nobody" for row in day.scenes for cover in row.covers)
    more = f", {count(bare, 'voice')} not covered" if bare else ""
    scenes = ", ".join(row.scene for row in day.scenes)
    return f"{day.name}: scenes {scenes}; {day.worn} of {day.packs} packs, {count(len(day.rerigs), 're-rig')}{more}."


def _show_day(console: Console, day: PackDayRow) -> None:
    line(console, _day_sentence(day), style="bold")
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0))
    table.add_column("scene", no_wrap=True)
    table.add_column("packs", overflow="fold", ratio=2)
    table.add_column("boom", overflow="fold", ratio=1)
    table.add_column("nobody", overflow="fold", ratio=1)
    for row in day.scenes:
        worn = [
            f"{cover.name} {' + '.join(cover.pack_names)}" + (" (sings)" if cover.sings else "")
            for cover in row.covers
            if cover.packs
        ]
        booms = [
            f"{cover.name} ({cover.boom_name})" if cover.boom_name else cover.name for cover in row.covers if cover.boom
        ]
        bare = [cover.name for cover in row.covers if cover.told == "nobody"]
        if row.gap in ("break", "move"):
            table.add_row("", Text(plain(row.gap_name or row.gap), style="dim"), "", "")
        table.add_row(
            Text(plain(row.scene)),
            Text(plain(", ".join(worn))),
            Text(plain(", ".join(booms))),
            Text(plain(", ".join(bare)), style="bold red"),
        )
    console.print(table)
    for each in day.rerigs:
        line(console, each.sentence, head="  ", hang=4, style="" if each.when == "between" else "dim")


def _show_given(console: Console, result: PacksResult) -> None:
    """What no finding has told: wishes, spares, changes over the show, moves from the kept plan."""
    told = [each for each in result.given if each.level in ("spares", "moved", "wishes", "pairs")]
    if not told:
        return
    console.print()
    line(console, "Given up beside", style="bold")
    for each in told[:12]:
        line(console, each.sentence, head="  ", hang=4)
    if len(told) > 12:
        line(console, f"and {len(told) - 12} more, in --json", head="  ", style="dim")


def _show_levels(console: Console, result: PacksResult) -> None:
    line(console, "Judged by, the first before the next", style="bold")
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0))
    table.add_column("", overflow="fold", ratio=1)
    table.add_column("this plan", justify="right", no_wrap=True)
    table.add_column("no plan below", justify="right", no_wrap=True)
    table.add_column("", no_wrap=True)
    for each in result.levels:
        table.add_row(Text(each.words), str(each.value), str(each.least), "proven" if each.proved else "")
    console.print(table)
