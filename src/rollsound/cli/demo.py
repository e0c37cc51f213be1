"""`rollsound demo`: an invented day, and the whole night's work on it."""

from __future__ import annotations

import shlex
from pathlib import Path
from typing import Annotated

from cyclopts import Parameter
from rich.console import Console
from rich.text import Text

from rollsound.cli.conform import told_beside_clock
from rollsound.cli.frame import AsJson, print_json, progress
from rollsound.cli.frame import out as console_out
from rollsound.cli.lines import line
from rollsound.cli.serve import serve_command
from rollsound.demo.night import NightResult, faulty_tracks, rebuilt_tracks, run_night
from rollsound.facts import cautions
from rollsound.finding import Weight
from rollsound.quantities import count, show_ppm, show_size, show_time

MOST_STOPS = 6


def demo_command(
    out: Path = Path("out"),
    /,
    *,
    seed: Annotated[int, Parameter(help="Another seed makes another day of the same story.")] = 4,
    serve: Annotated[bool, Parameter(negative="", help="Then open the demo's show in the browser.")] = False,
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
    if serve and not json:
        console_out().print()
        serve_command(out)
    return 0 if result.holds else 1


def show_night(console: Console, result: NightResult) -> None:
    """A summary that a mixer can check line by line."""

    def say(step: str, text: str) -> None:
        line(console, text, head=f"{step:10}", head_style="bold", hang=10)

    verdict = "proven and repaired" if result.holds else "not proven, or not repaired as it should be"
    line(console, f"{result.show}, day 4: {verdict}.", style="bold")
    console.print()
    files = sum(each.file_count for each in result.offloads)
    size = show_size(sum(each.size_bytes for each in result.offloads))
    say("Offload", f"{files} files, {size}, from {len(result.offloads)} drives and cards to two places, read back.")
    findings = [f for f in result.recorder.findings if f.weight is not Weight.FINE]
    stops = [f for f in findings if f.weight is Weight.STOP]
    say(
        "Inspect",
        f"{count(len(result.recorder.files), 'recorder file')}: {len(stops)} of {count(len(findings), 'finding')} "
        "would lose or spoil work.",
    )
    for finding in stops[:MOST_STOPS]:
        name = Path(finding.refs[0].path).stem if finding.refs else ""
        line(console, f"{name}: {finding.what}", head=" " * 10, style="dim", hang=12)
    if len(stops) > MOST_STOPS:
        line(console, f"and {len(stops) - MOST_STOPS} more, in findings.csv", head=" " * 10, style="dim")
    _show_cards(console, result)
    rebuilt, before, after = (
        rebuilt_tracks(result.conform),
        faulty_tracks(result.recorder),
        faulty_tracks(result.mirrors),
    )
    mended, still, left = len(before & rebuilt), len(after & rebuilt), len(before - rebuilt)
    say(
        "Mirrors",
        f"radio faults on {len(before)} tracks as recorded; of the {mended} rebuilt from cards, "
        f"{still} show any now; {left} have no card or are the mix, and stay.",
    )
    truth = result.agreement
    say(
        "Truth",
        f"synthesised, so known: {truth.outcomes_right} of {truth.tracks} radio tracks judged right, "
        f"{truth.placed} placed within {truth.worst_offset_samples:.2f} samples, "
        f"{truth.spans_found} of {truth.spans_true} damaged spans found, {truth.spans_extra} too many.",
    )
    for difference in truth.differences:
        line(console, difference, head=" " * 10, style="dim", hang=12)
    verdict = "proven" if result.verify.proven else "not proven"
    say("Turnover", f"{len(result.turnover.files)} files, {show_size(result.turnover.size_bytes)}, {verdict}.")
    console.print()
    console.print(Text(f"Read: {result.turnover.day_folder}/sound report.pdf"), soft_wrap=True)
    console.print(Text(f"Prove it again: rollsound verify {shlex.quote(result.turnover.root)}"), soft_wrap=True)
    console.print(Text(f"Open it in a browser: rollsound serve {shlex.quote(result.out)}"), soft_wrap=True)
    console.print()
    timing = ", ".join(f"{step.name} {show_time(step.seconds)}" for step in result.steps)
    line(console, f"{show_time(result.seconds)} in all: {timing}.", style="dim")
    for caution in cautions("hearing", "media"):
        line(console, f"Caution: {caution.text}", style="dim")


def _show_cards(console: Console, result: NightResult) -> None:
    tracks = [track for take in result.conform.takes for track in take.tracks]
    usable = [track for track in tracks if track.outcome in ("placed", "by model")]
    spans = sum(len(track.spans) for track in usable)
    text = f"{count(len(usable), 'radio track')} rebuilt from cards, {count(spans, 'damaged span')} gone."
    line(console, text, head=f"{'Conform':10}", head_style="bold", hang=10)
    for card in result.conform.cards:
        clock = show_ppm(card.rate_ppm) if card.rate_ppm is not None else "no clock"
        stands = card.stands_for or "no track"
        special = told_beside_clock(card.note)
        row = f"{card.name:5} {stands:9} {clock:>12}  {count(card.takes, 'take'):>7}  {special}".rstrip()
        line(console, row, head=" " * 10, style="dim", hang=49)
