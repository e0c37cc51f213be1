"""`rollsound demo`: an invented day, and the whole night's work on it."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from cyclopts import Parameter
from rich.console import Console

from rollsound.cli.frame import AsJson, print_json, progress
from rollsound.cli.frame import out as console_out
from rollsound.demo.night import NightResult, faulty_tracks, rebuilt_tracks, run_night
from rollsound.facts import cautions
from rollsound.finding import Weight
from rollsound.quantities import show_ppm, show_size, show_time


def demo_command(
    out: Path = Path("out"),
    /,
    *,
    seed: Annotated[int, Parameter(help="Another seed makes another day of the same story.")] = 4,
    json: AsJson = False,
) -> int:
    """Build day 4 of Northbound Ferry, an invented drama, and run the night on it: offload, inspect, conform, turnover.

    All sound is synthesised here and says so. Stopped, it goes on where it was.

    Example: rollsound demo out/

    Parameters
    ----------
    out
        Where to put it all (some 3 GB).
    """
    with progress(json) as told:
        result = run_night(out, seed=seed, progress=told)
    if json:
        print_json(result)
    else:
        show_night(console_out(), result)
    return 0 if result.holds else 1


def show_night(console: Console, result: NightResult) -> None:
    """A summary that a mixer can check line by line."""
    say = console.print
    verdict = "proven and repaired" if result.holds else "not proven, or not repaired as it should be"
    say(f"{result.show}, day 4: {verdict}.", style="bold", markup=False)
    files = sum(each.file_count for each in result.offloads)
    size = show_size(sum(each.size_bytes for each in result.offloads))
    say(f"\nOffload   {files} files, {size}, from {len(result.offloads)} drives and cards to two places, read back.")
    findings = [f for f in result.recorder.findings if f.weight is not Weight.FINE]
    stops = sum(f.weight is Weight.STOP for f in findings)
    say(f"Inspect   {len(result.recorder.files)} recorder files: {len(findings)} findings, {stops} would spoil work.")
    for finding in [f for f in findings if f.weight is Weight.STOP][:6]:
        name = Path(finding.refs[0].path).name if finding.refs else ""
        say(f"            {name}: {finding.what}", markup=False, style="dim")
    _show_cards(console, result)
    rebuilt, before, after = (
        rebuilt_tracks(result.conform),
        faulty_tracks(result.recorder),
        faulty_tracks(result.mirrors),
    )
    mended, still, left = len(before & rebuilt), len(after & rebuilt), len(before - rebuilt)
    say(
        f"Mirrors   radio faults on {len(before)} tracks as recorded; of the {mended} rebuilt from cards, "
        f"{still} show any now;\n          {left} have no card or are the mix, and stay."
    )
    truth = result.agreement
    say(
        f"Truth     synthesised, so known: {truth.outcomes_right} of {truth.tracks} radio tracks "
        f"judged right,\n          {truth.placed} placed within {truth.worst_offset_samples:.2f} sample, "
        f"{truth.spans_found} of {truth.spans_true} damaged spans found, {truth.spans_extra} too many."
    )
    for difference in truth.differences:
        say(f"            {difference}", markup=False, style="dim")
    verdict = "proven" if result.verify.proven else "not proven"
    say(f"Turnover  {len(result.turnover.files)} files, {show_size(result.turnover.size_bytes)}, {verdict}.")
    say(f"\n  {result.turnover.day_folder}/sound report.pdf", markup=False)
    say(f"  prove it again with: rollsound verify '{result.turnover.root}'", markup=False, style="dim")
    timing = ", ".join(f"{step.name} {show_time(step.seconds)}" for step in result.steps)
    say(f"\n{show_time(result.seconds)} in all: {timing}.", style="dim", markup=False)
    for caution in cautions("hearing", "media"):
        say(f"Caution: {caution.text}", style="dim", markup=False)


def _show_cards(console: Console, result: NightResult) -> None:
    tracks = [track for take in result.conform.takes for track in take.tracks]
    usable = [track for track in tracks if track.outcome in ("placed", "by model")]
    spans = sum(len(track.spans) for track in usable)
    console.print(f"Conform   {len(usable)} radio tracks rebuilt from cards, {spans} damaged spans gone.")
    for card in result.conform.cards:
        clock = show_ppm(card.rate_ppm) if card.rate_ppm is not None else "no clock"
        stands = card.stands_for or "no track"
        console.print(
            f"            {card.name:5} {stands:10} {clock:>12}  {card.takes} takes  {_told(card.note)}",
            markup=False,
            style="dim",
        )


def _told(note: str) -> str:
    """What is special about a card; a plain steady clock goes without saying."""
    return "" if note.endswith("takes.") and "," not in note else note
