"""`rollsound songmap`: which part of every song is on which take, and what is still missing."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from cyclopts import Parameter
from rich.console import Console
from rich.table import Table
from rich.text import Text

from rollsound.actions.song_model import SongMapResult, SongRow, SongSpan, StretchRow
from rollsound.cli.frame import AsJson, out, print_json, progress, say
from rollsound.cli.lines import line, plain
from rollsound.cli.radio_screen import show_findings, show_notes
from rollsound.finding import Weight
from rollsound.quantities import count, signed

MOST_ROWS = 40


def songmap_command(
    show: Path,
    /,
    *,
    day: Annotated[str, Parameter(help="Id of the day; all days whose files are there when left out.")] = "",
    picture: Annotated[Path | None, Parameter(help="Draw songs and takes: .png, .svg, .pdf.")] = None,
    json: AsJson = False,
) -> int:
    """Tell which part of every song is on which take, by the playback's time code, and what is still missing.

    Example: rollsound songmap northbound-ferry/ --day day-4 --picture songs.svg

    Parameters
    ----------
    show
        The show's folder, or a YAML or JSON file of a plan with songs and media.
    """
    from rollsound.actions.plan_read import read_plan
    from rollsound.actions.reach import refuse_pictures
    from rollsound.actions.songmap import songmap, write_song_chart

    refuse_pictures(picture)
    read = read_plan(show)
    for note in read.notes("songs", "media"):
        say(note)
    with progress(json) as told:
        result = songmap(read, day=day, progress=told)
        if picture is not None:
            result = write_song_chart(result, picture)
    if json:
        print_json(result)
    else:
        show_songmap(out(), result)
    return 1 if result.weight is Weight.STOP else 0


def show_songmap(console: Console, result: SongMapResult) -> None:
    """The answer first, then what is not right, then each song with its takes."""
    line(console, _sentence(result), style="bold")
    console.print()
    show_findings(console, result.findings)
    if any(each.weight is not Weight.FINE for each in result.findings):
        console.print()
    for song in result.songs:
        _show_song(console, song)
    for each in result.strangers:
        line(
            console, f"{each.take}, track {each.track}: {each.first} to {each.last}, of no song of the plan", head="  "
        )
    if result.picture:
        line(console, f"Drawn: {result.picture}")
    show_notes(console, result.notes, ())


def _sentence(result: SongMapResult) -> str:
    whole = sum(song.covered_share is not None and not song.missing for song in result.songs)
    day = f", {result.day}" if result.day else ""
    looked = f"{count(result.takes, 'take')} looked at, {result.with_code} with time code of a playback"
    return f"{result.name}{day}: {whole} of {count(len(result.songs), 'song')} whole; {looked}."


def _show_song(console: Console, song: SongRow) -> None:
    length = "" if song.length_s is None else f", {song.length_s:.1f} s"
    bars = "" if song.bars is None else f", {count(song.bars, 'bar')}"
    line(console, f"{song.title}: {song.sentence} (from {song.start_timecode} at {song.frame_rate}{length}{bars})")
    if song.stretches:
        table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0))
        for name in ("  take", "scene", "from", "to", "begins in the take", "speed", ""):
            table.add_column(name, overflow="fold")
        for row in song.stretches[:MOST_ROWS]:
            table.add_row(*(Text(plain(cell)) for cell in _cells(row)))
        console.print(table)
        if len(song.stretches) > MOST_ROWS:
            line(
                console, f"and {count(len(song.stretches) - MOST_ROWS, 'pass')} more, in --json", head="  ", style="dim"
            )
    for hole in song.missing[:MOST_ROWS]:
        line(console, f"missing  {_span(hole)}", head="  ", hang=11)
    console.print()


def _cells(row: StretchRow) -> tuple[str, ...]:
    first = row.span.start_bar or row.span.start_timecode
    last = row.span.end_bar or row.span.end_timecode
    marks = ["circled"] if row.circled else []
    if row.direction == "reverse":
        marks.append("backwards")
    if row.slips:
        marks.append(count(row.slips, "slip"))
    if row.frames_missing:
        marks.append(f"{count(row.frames_missing, 'frame')} of code lost")
    if not row.in_song:
        marks.append("count-in or tail alone")
    name = f"  {row.take}"
    return name, row.scene, first, last, f"sample {signed(row.zero_sample).lstrip('+')}", _speed(row), ", ".join(marks)


def _speed(row: StretchRow) -> str:
    if len(row.speeds) > 1:
        return f"{len(row.speeds)} speeds"
    only = row.speeds[0]
    if only.kind == "unknown":
        return "too short to tell"
    known = f"{signed(only.speed_ppm, 1)} ppm ±{max(only.uncertainty_ppm, 0.1):.1f}"
    return known if only.kind == "true" else f"{known}, {only.kind}"


def _span(span: SongSpan) -> str:
    bars = f"{span.start_bar} to {span.end_bar}, " if span.start_bar else ""
    part = f" ({span.part})" if span.part else ""
    return f"{bars}{span.start_timecode} to {span.end_timecode}, {span.end_s - span.start_s:.1f} s{part}"
