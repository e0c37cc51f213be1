"""`rollsound script`: who speaks and sings in every scene, what a revision changes, and what the schedule has of it."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from cyclopts import Parameter
from rich.console import Console
from rich.table import Table
from rich.text import Text

from rollsound.actions.script_model import RevisionRow, SceneRow, ScriptResult, VoiceRow
from rollsound.cli.frame import AsJson, out, print_json, say
from rollsound.cli.lines import line, plain
from rollsound.cli.radio_screen import show_findings, show_notes
from rollsound.errors import InputError
from rollsound.finding import Weight
from rollsound.quantities import count

_MOST_SCENES, _MOST_CHARACTERS, _MOST_TOLD = 120, 40, 30
_MOST_VOICES, _MOST_REMARKS = 12, 20


def script_command(
    show: Path,
    file: Path | None = None,
    /,
    *,
    schedule: Annotated[Path | None, Parameter(help="A CSV sheet of days and their scenes.")] = None,
    column: Annotated[
        list[str] | None, Parameter(negative="", help="Where a sheet has a field: 'number=Sc.'; may be given again.")
    ] = None,
    same: Annotated[
        list[str] | None, Parameter(negative="", help="One character spelt twice: 'Runna=Runa'; may be given again.")
    ] = None,
    apart: Annotated[
        list[str] | None, Parameter(negative="", help="Two that look alike and are two: 'Ida=Ada'.")
    ] = None,
    save: Annotated[bool, Parameter(negative="", help="Keep what was read in the plan.")] = False,
    name: Annotated[str, Parameter(name="--as", help="Whose edit it is; the mixer's when left out.")] = "",
    json: AsJson = False,
) -> int:
    """Break a script down for sound: who speaks and sings, how long, which cues; and what a revision changes.

    Without a file it tells what the plan has. A script is Fountain text; a breakdown is a CSV sheet.

    Example: rollsound script northbound-ferry/ blue-pages.fountain --save

    Parameters
    ----------
    show
        The show's folder, or a YAML or JSON file of a plan.
    file
        The script, or a breakdown that ends in .csv.
    """
    from rollsound.actions.plan_read import read_plan
    from rollsound.actions.script import read_script, script

    read = read_plan(show)
    for note in read.notes("script", "schedule"):
        say(note)
    asked = read_script(
        read,
        file,
        schedule=schedule,
        columns=dict(_pair(each, "--column", "number=Sc.") for each in column or ()) or None,
        same=[_pair(each, "--same", "Runna=Runa") for each in same or ()],
        apart=[_pair(each, "--apart", "Ida=Ada") for each in apart or ()],
    )
    result = script(asked)
    if save:
        from rollsound.actions.script_save import save_script

        result = result.model_copy(update={"saved": save_script(asked, name)})
    if json:
        print_json(result)
    else:
        show_script(out(), result, read_now=file is not None or schedule is not None)
    return 1 if result.weight is Weight.STOP else 0


def _pair(text: str, option: str, example: str) -> tuple[str, str]:
    first, mark, second = (part.strip() for part in text.partition("="))
    if not (first and mark and second):
        raise InputError(f"{option} '{text[:60]}' has no two sides; write it as {option} '{example}'")
    return first, second


def show_script(console: Console, result: ScriptResult, *, read_now: bool = True) -> None:
    """The answer first, then what a revision changes, what does not agree, the scenes, characters and days."""
    line(console, _sentence(result), style="bold")
    if result.revision is not None:
        _show_revision(console, result.revision)
    for each in result.remarks[:_MOST_REMARKS]:
        where = f"line {each.line}: " if each.line else ""
        line(console, f"{where}{each.sentence}.", head="  ", hang=4, style="yellow")
    if len(result.remarks) > _MOST_REMARKS:
        line(console, f"and {len(result.remarks) - _MOST_REMARKS} more, in --json", head="  ", style="dim")
    console.print()
    show_findings(console, result.findings)
    if any(each.weight is not Weight.FINE for each in result.findings):
        console.print()
    if result.scenes:
        _show_scenes(console, result)
        _show_characters(console, result)
    if result.days:
        _show_days(console, result)
    if result.saved is not None:
        line(console, result.saved.sentence)
    elif read_now:
        line(console, "Nothing was saved; --save keeps it in the plan.", style="dim")
    if read_now:
        show_notes(console, result.notes, ())


def _sentence(result: ScriptResult) -> str:
    sung = [each for each in result.scenes if each.sung and not each.omitted]
    there = [each for each in result.scenes if not each.omitted]
    heard = [each for each in result.characters if each.scenes]
    draft = f", {result.draft}" if result.draft else ""
    if not there:
        days = count(len(result.days), "day")
        return f"{result.name}: no script yet; {days} scheduled. Name a script's file, and keep it with --save."
    most = max(there, key=lambda each: len(_who(each)))
    minutes = f"{result.minutes:.{0 if result.minutes >= 10 else 1}f}"
    return (
        f"{result.name}{draft}: {count(len(there), 'scene')}, {result.pages} pages or about {minutes} minutes, "
        f"{count(len(heard), 'character')}; {len(sung)} sung; most at once in scene {most.number or most.heading}: "
        f"{len(_who(most))}."
    )


def _who(scene: SceneRow) -> set[str]:
    return {each.character for each in (*scene.speaks, *scene.sings)}


def _show_revision(console: Console, revision: RevisionRow) -> None:
    line(console, revision.sentence, style="bold")
    told = [each.sentence for each in revision.scenes]
    for sentence in told[:_MOST_TOLD]:
        line(console, sentence, head="  ", hang=4)
    if len(told) > _MOST_TOLD:
        line(console, f"and {count(len(told) - _MOST_TOLD, 'scene')} more, in --json", head="  ", style="dim")
    if revision.new_characters:
        line(console, f"New: {', '.join(revision.new_characters)}.", head="  ", hang=4)
    if revision.gone_characters:
        line(console, f"Not heard any more: {', '.join(revision.gone_characters)}.", head="  ", hang=4)
    for sentence in revision.scheduled_and_gone:
        line(console, sentence, head="  ", hang=4, style="yellow")
    if revision.unscheduled:
        line(console, f"On no day yet: scene {', '.join(revision.unscheduled)}.", head="  ", hang=4, style="yellow")
    for each in revision.days:
        line(console, each.sentence, head="  ", hang=4, style="yellow" if each.newly_needed else "")


def _show_scenes(console: Console, result: ScriptResult) -> None:
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0))
    table.add_column("scene", no_wrap=True)
    table.add_column("where", overflow="fold", max_width=34)
    table.add_column("pages", justify="right", no_wrap=True)
    table.add_column("speaks and sings, with words", overflow="fold", ratio=2)
    table.add_column("to be heard", overflow="fold", ratio=1)
    days = {each.id: each.name for each in result.days}
    if days:
        table.add_column("on", overflow="fold", max_width=12)
    for scene in result.scenes[:_MOST_SCENES]:
        marks = (["sung"] if scene.sung else []) + (["two at once"] if scene.dual else [])
        kinds = list(dict.fromkeys((*marks, *(each.kind for each in scene.cues))))
        on = ", ".join(days.get(day, day) for day in scene.days)
        table.add_row(
            Text(plain(scene.number)),
            Text(plain("taken out" if scene.omitted else scene.heading)),
            Text("" if scene.omitted else scene.pages),
            Text(plain(_voices(scene))),
            Text(plain(", ".join(kinds))),
            *([Text(plain(on))] if days else ()),
        )
    console.print(table)
    if len(result.scenes) > _MOST_SCENES:
        line(console, f"and {count(len(result.scenes) - _MOST_SCENES, 'scene')} more, in --json", style="dim")
    console.print()


def _voices(scene: SceneRow) -> str:
    told = [_voice(each) for each in scene.speaks] + [_voice(each, "♪ ") for each in scene.sings]
    more = f" and {len(told) - _MOST_VOICES} more" if len(told) > _MOST_VOICES else ""
    return ", ".join(told[:_MOST_VOICES]) + more


def _voice(each: VoiceRow, mark: str = "") -> str:
    off = f" ({each.off})" if each.off else ""
    return f"{mark}{each.name} {each.words}{off}"


def _show_characters(console: Console, result: ScriptResult) -> None:
    line(console, "Characters", style="bold")
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0))
    table.add_column("character", overflow="fold", max_width=30)
    for head in ("scenes", "words\nspoken", "words\nsung", "days"):
        table.add_column(head, justify="right", no_wrap=True)
    table.add_column("", overflow="fold", ratio=1)
    for each in result.characters[:_MOST_CHARACTERS]:
        more = [each.kind] if each.kind != "adult" else []
        more += ["principal"] if each.principal else []
        more += [f"also {', '.join(each.also)}"] if each.also else []
        more += [each.performer] if each.performer else []
        table.add_row(
            Text(plain(each.name)),
            str(each.scenes),
            str(each.words),
            str(each.sung_words or ""),
            str(len(each.days) or ""),
            Text(plain("; ".join(more))),
        )
    console.print(table)
    if len(result.characters) > _MOST_CHARACTERS:
        left = count(len(result.characters) - _MOST_CHARACTERS, "character")
        line(console, f"and {left} more, in --json", style="dim")
    console.print()


def _show_days(console: Console, result: ScriptResult) -> None:
    line(console, "Schedule", style="bold")
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0))
    for head in ("day", "date", "hours"):
        table.add_column(head, no_wrap=True)
    table.add_column("where", overflow="fold", max_width=26)
    table.add_column("scenes", overflow="fold", ratio=1)
    for head in ("pages", "who\nis heard", "most\nat once"):
        table.add_column(head, justify="right", no_wrap=True)
    table.add_column("")
    for each in result.days:
        hours = f"{each.call}-{each.wrap}" if each.call and each.wrap else each.call
        table.add_row(
            Text(plain(each.name + (f", {each.unit}" if each.unit else ""))),
            each.date,
            hours,
            Text(plain(", ".join(each.sites))),
            Text(plain(", ".join(f"{number}♪" if number in each.sung else number for number in each.scenes))),
            each.pages,
            str(len(each.characters)),
            str(each.most),
            each.change,
        )
    console.print(table)
    console.print()
