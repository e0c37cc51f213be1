"""`rollsound guide`: live voices against guide or click, phrase by phrase."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Annotated

from cyclopts import Parameter
from rich.console import Console
from rich.table import Table
from rich.text import Text

from rollsound.actions.guide_model import GuideResult, PhraseRow, VoiceRow
from rollsound.cli.frame import AsJson, out, print_json, progress, say
from rollsound.cli.lines import line, plain
from rollsound.cli.radio_screen import show_findings, show_notes
from rollsound.errors import InputError
from rollsound.finding import Weight
from rollsound.quantities import count, signed

MOST_PHRASES = 60
_AUDIO = (".wav", ".wave", ".bwf", ".rf64", ".bw64")


def guide_command(
    show: Path,
    other: Path | None = None,
    /,
    *,
    day: Annotated[str, Parameter(help="Id of the day; all days whose files are there when left out.")] = "",
    take: Annotated[str, Parameter(help="One take, by its file's name; all sung ones when left out.")] = "",
    track: Annotated[
        tuple[str, ...], Parameter(help="Live track by name or number; may be given again. All voices when left out.")
    ] = (),
    guide_track: Annotated[str, Parameter(help="Track of guide or click, of bare files.")] = "",
    limit_ms: Annotated[
        float | None, Parameter(help="Phrases further off are told; the plan's limit, or 40, when left out.")
    ] = None,
    plot: Annotated[Path | None, Parameter(help="Draw every voice's course: .png, .svg, .pdf.")] = None,
    json: AsJson = False,
) -> int:
    """Tell how early or late live voices are against guide, playback or click: course, drift, and phrases off.

    Example: rollsound guide northbound-ferry/ --take NF04_S217_T1 --plot guide.svg

    Two bare files: rollsound guide live.wav guide.wav. Two tracks: rollsound guide take.wav --track Runa --guide-track
    Playback.

    Parameters
    ----------
    show
        The show's folder, a YAML or JSON file of a plan, or a file with live voices.
    other
        A file with the guide, when the first is a bare file; without it the guide is on a track of the first.
    """
    from rollsound.actions.guide import guide, guide_files, write_guide_chart
    from rollsound.actions.reach import refuse_pictures

    refuse_pictures(plot)
    bare = show.suffix.lower() in _AUDIO
    if not bare and (other is not None or guide_track):
        raise InputError(f"{show} is no sound; a second file and --guide-track go with a file such as live.wav")
    if bare and (day or take):
        raise InputError(f"{show} is one file; --day and --take go with a show's folder")
    with progress(json) as told:
        if bare:
            result = guide_files(
                show, other, live_tracks=track, guide_track=guide_track, limit_ms=limit_ms, progress=told
            )
        else:
            from rollsound.actions.plan_read import read_plan

            read = read_plan(show)
            for note in read.notes("songs", "media"):
                say(note)
            result = guide(read, day=day, take=take, tracks=track, limit_ms=limit_ms, progress=told)
        if plot is not None:
            result = write_guide_chart(result, plot)
    if json:
        print_json(result)
    else:
        show_guide(out(), result)
    return 1 if result.weight is Weight.STOP else 0


def show_guide(console: Console, result: GuideResult) -> None:
    """The answer first, then what is off, then each voice with its phrases."""
    line(console, _sentence(result), style="bold")
    console.print()
    show_findings(console, result.findings)
    if any(each.weight is not Weight.FINE for each in result.findings):
        console.print()
    _show_voices(console, result)
    for voice in result.voices:
        off = [each for each in voice.phrases if each.verdict in ("early", "late")]
        if off or len(result.voices) == 1:
            _show_phrases(console, voice)
    if result.plot:
        line(console, f"Drawn: {result.plot}")
    show_notes(console, result.notes, ())


def _sentence(result: GuideResult) -> str:
    followed = [voice for voice in result.voices if not math.isnan(voice.late_ms)]
    phrases = [each for voice in followed for each in voice.phrases if each.verdict != "unsure"]
    off = sum(each.verdict != "in time" for each in phrases)
    if not followed:
        return f"{result.name}: no live voice could be followed along a guide."
    return (
        f"{result.name}: {off} of {count(len(phrases), 'phrase')} off by more than {result.limit_ms:g} ms, "
        f"on {count(len(followed), 'track')}."
    )


def _show_voices(console: Console, result: GuideResult) -> None:
    if not result.voices:
        return
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0))
    for name in ("track", "take", "against", "late", "drift a minute", "sure", "off"):
        table.add_column(name, overflow="fold", justify="right" if name in ("sure", "off") else "left")
    for voice in result.voices:
        followed = not math.isnan(voice.late_ms)
        off = sum(each.verdict in ("early", "late") for each in voice.phrases)
        table.add_row(
            Text(plain(voice.track_name)),
            Text(plain(voice.take)),
            Text(plain(voice.guide)),
            Text(_known(voice.late_ms, voice.uncertainty_ms) if followed else "not followed"),
            Text(_known(voice.drift_ms_per_min, voice.drift_uncertainty_ms_per_min) if followed else ""),
            Text(f"{100 * voice.sure_share:.0f} %"),
            Text(f"{off} of {len(voice.phrases)}", style="bold" if off else ""),
        )
    console.print(table)
    console.print()


def _known(value_ms: float, doubt_ms: float) -> str:
    return f"{signed(value_ms)} ms ±{max(doubt_ms, 1):.0f}" if math.isfinite(doubt_ms) else f"{signed(value_ms)} ms"


def _show_phrases(console: Console, voice: VoiceRow) -> None:
    line(console, f"{voice.track_name} on {voice.take}, phrase by phrase")
    for each in voice.phrases[:MOST_PHRASES]:
        line(console, _phrase(each), head="  ", hang=4)
    if len(voice.phrases) > MOST_PHRASES:
        line(console, f"and {len(voice.phrases) - MOST_PHRASES} more, in --json", head="  ", style="dim")
    console.print()


def _phrase(each: PhraseRow) -> str:
    where = f"{each.start_s:6.1f} to {each.end_s:5.1f} s" + (f"  {each.bar}" if each.bar else "")
    if math.isnan(each.late_ms):
        return f"{where}  cannot be told"
    told = "" if each.verdict == "in time" else f"  {each.verdict}"
    return f"{where}  {_known(each.late_ms, each.uncertainty_ms)}{told}"
