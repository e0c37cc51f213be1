"""`rollsound inspect`: measure every track and say what is wrong, where, and what to do."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from cyclopts import Parameter
from rich.console import Console
from rich.table import Table

from rollsound.actions.inspect import FileReport, InspectResult, inspect
from rollsound.cli.frame import AsJson, out, print_json, progress, say, show_finding
from rollsound.errors import InputError
from rollsound.facts import cautions
from rollsound.finding import Weight
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
        raise InputError("nothing to inspect was named; name files or folders after 'rollsound inspect'")
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
    """The whole result in words: the answer first, then file by file."""
    findings = result.findings
    stops = sum(finding.weight is Weight.STOP for finding in findings)
    watches = sum(finding.weight is Weight.WATCH for finding in findings)
    files = [file for file in result.files if not file.problem]
    if not files:
        return  # why none could be read is said beside the result
    length = show_time(sum(file.frames / file.sample_rate_hz for file in files))
    console.print(_sentence(len(files), length, stops, watches, len(result.problems)), style="bold", markup=False)
    for file in files:
        _show_file(console, file, tracks)
    if stops or watches:
        console.print()
        console.print("Caution: " + cautions("hearing")[0].text, style="dim", markup=False)


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
    label = f"  {file.timecode}" if file.timecode else "  no time code"
    take = f"  scene {file.scene}, take {file.take}" if file.scene else ""
    length = show_time(file.frames / file.sample_rate_hz)
    console.print(Path(file.path).name, style="bold", end="", markup=False)
    found = [finding for finding in file.all_findings if finding.weight is not Weight.FINE]
    fine = "" if found else "  ○ fine"
    console.print(f"{label}  {length}  {file.channels} ch  {file.sample_format}{take}{fine}", markup=False)
    if tracks:
        _show_tracks(console, file)
    for finding in sorted(found, key=lambda finding: list(Weight).index(finding.weight)):
        show_finding(console, finding, subject=finding.subject != Path(file.path).name)


def _show_tracks(console: Console, file: FileReport) -> None:
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0))
    for name in ("", "track", "peak", "true peak", "loudness", "floor", "band"):
        table.add_column(name, justify="left" if name == "track" else "right", no_wrap=True)
    for track in file.tracks:
        table.add_row(
            str(track.index),
            track.name,
            show_level(track.sample_peak_dbfs),
            show_level(track.true_peak_dbtp, "dBTP"),
            show_level(track.integrated_lufs, "LUFS"),
            show_level(track.noise_floor_dbfs),
            f"{track.bandwidth_hz / 1000:.1f} kHz" if track.bandwidth_hz == track.bandwidth_hz else "",
        )
    console.print(table)
