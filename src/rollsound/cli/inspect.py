"""`rollsound inspect`: measure every track and say what is wrong, where, and what to do."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Annotated

from cyclopts import Parameter
from rich.console import Console
from rich.table import Table
from rich.text import Text

from rollsound.actions.inspect import FileReport, InspectResult, inspect
from rollsound.cli.frame import AsJson, out, print_json, progress, say, show_finding
from rollsound.cli.lines import line, plain
from rollsound.errors import InputError
from rollsound.facts import cautions
from rollsound.finding import Finding, Weight
from rollsound.measure.proofs import listening_sentence
from rollsound.quantities import count, show_level, show_time
from rollsound.timecode import Rate


def inspect_command(
    *paths: Path,
    index: Annotated[Path | None, Parameter(help="Folder that keeps results and waveform overviews for later.")] = None,
    rate: Annotated[str | None, Parameter(help="Frame rate where a file does not say; 25 when left out.")] = None,
    tracks: Annotated[bool, Parameter(negative="", help="Show the levels of every track.")] = False,
    json: AsJson = False,
) -> int:
    """Measure every track of every file: levels, loudness, faults, each with a place to listen.

    Example: rollsound inspect /media/recorder/day4 --tracks

    Parameters
    ----------
    paths
        Files, or folders of files.
    """
    if not paths:
        raise InputError("Nothing to inspect was named; name files or folders after 'rollsound inspect'")
    with progress(json) as told:
        result = inspect(paths, rate=Rate.parse(rate) if rate else None, index=index, progress=told)
    if json:
        print_json(result)
    else:
        show_inspection(out(), result, tracks)
    for problem in result.problems:
        say(problem)
    if result.problems:
        return 2
    return 1 if result.weight is Weight.STOP else 0


def show_inspection(console: Console, result: InspectResult, tracks: bool = False) -> None:
    """The whole result in words: the answer first, then file by file, then once for each kind what to do."""
    findings = [finding for finding in result.findings if finding.weight is not Weight.FINE]
    stops = sum(finding.weight is Weight.STOP for finding in findings)
    files = [file for file in result.files if not file.problem]
    if not files:
        return  # why none could be read is said beside the result
    length = show_time(sum(file.frames / file.sample_rate_hz for file in files))
    answer = _sentence(len(files), length, stops, len(findings) - stops, len(result.problems))
    line(console, answer, style="bold")
    for file in files:
        _show_file(console, file, tracks)
    if result.across:
        console.print()
        line(console, "All files together", style="bold")
        for finding in result.across:
            show_finding(console, finding, advice=False)
    if findings:
        _show_advice(console, findings)
        console.print()
        line(console, "Caution: " + cautions("hearing")[0].text, style="dim")


def _show_advice(console: Console, findings: list[Finding]) -> None:
    """Why and what to do, once for each kind; of several levels to start listening at, the lowest."""
    told: dict[tuple[str, str, str], float] = {}
    for finding in sorted(findings, key=_heaviest_first):
        start_db = finding.numbers.get("start_listening_db", 0.0)
        why = finding.why.removesuffix(listening_sentence(start_db)).rstrip()
        key = (finding.kind.replace("-", " "), why, finding.remedy)
        if why or finding.remedy:
            told[key] = min(told.get(key, 0.0), start_db)
    if told:
        console.print()
        line(console, "What it means, and what to do", style="bold")
    wide = max((len(kind) for kind, _, _ in told), default=0)
    for (kind, why, remedy), start_db in told.items():
        listen = listening_sentence(start_db) if start_db else ""
        words = " ".join(text for text in (why, remedy, listen) if text)
        line(console, words, head=f"  {kind:{wide}}  ", head_style="bold", hang=wide + 4)


def _heaviest_first(finding: Finding) -> int:
    return list(Weight).index(finding.weight)


def _sentence(files: int, length: str, stops: int, watches: int, unread: int) -> str:
    head = f"{count(files, 'file')}, {length}: "
    if unread:
        head = f"{count(unread, 'file')} could not be read; of the others, {head}"
    if stops:
        would = "thing would" if stops == 1 else "things would"
        look = f", {watches} {'deserves' if watches == 1 else 'deserve'} a look" if watches else ""
        return f"{head}{stops} {would} lose or spoil work{look}."
    if watches:
        return f"{head}nothing is lost; {watches} {'thing deserves' if watches == 1 else 'things deserve'} a look."
    return f"{head}all holds."


def _show_file(console: Console, file: FileReport, tracks: bool) -> None:
    found = [finding for finding in file.all_findings if finding.weight is not Weight.FINE]
    told = [
        file.timecode or "no time code",
        show_time(file.frames / file.sample_rate_hz),
        count(file.channels, "track"),
        file.sample_format,
        f"scene {file.scene}, take {file.take}" if file.scene else "",
        "" if found else "○ fine",
    ]
    if found or tracks:
        console.print()
    name = Path(file.path).name
    line(console, "".join(f"  {text}" for text in told if text), head=name, head_style="bold")
    if tracks:
        _show_tracks(console, file)
    for finding in sorted(found, key=_heaviest_first):
        show_finding(console, finding, subject=finding.subject not in (name, "all tracks"), advice=False)


def _show_tracks(console: Console, file: FileReport) -> None:
    """Figures never lose a digit to a narrow screen: their units stand in the head, and only names are folded."""
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0))
    table.add_column("", justify="right", no_wrap=True)
    table.add_column("track", overflow="fold")
    for name, unit in (
        ("peak", "dBFS"),
        ("true peak", "dBTP"),
        ("loudness", "LUFS"),
        ("floor", "dBFS"),
        ("band", "kHz"),
    ):
        table.add_column(f"{name}\n{unit}", justify="right", no_wrap=True)
    for track in file.tracks:
        table.add_row(
            str(track.index),
            Text(plain(track.name)),
            _bare(track.sample_peak_dbfs, "dBFS"),
            _bare(track.true_peak_dbtp, "dBTP"),
            _bare(track.integrated_lufs, "LUFS"),
            _bare(track.noise_floor_dbfs, "dBFS"),
            f"{track.bandwidth_hz / 1000:.1f}" if track.bandwidth_hz == track.bandwidth_hz else "",
        )
    console.print(table)


def _bare(level: float, unit: str) -> str:
    return "" if math.isnan(level) else show_level(level, unit).removesuffix(f" {unit}")
