"""`rollsound ltc`: read linear time code from a track."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from cyclopts import Parameter
from rich.console import Console

from rollsound.actions.ltc import LtcResult, read_ltc
from rollsound.cli.frame import AsJson, out, print_json, progress, show_finding
from rollsound.cli.lines import line
from rollsound.finding import Weight, heaviest
from rollsound.quantities import count, true_minus
from rollsound.timecode import Rate


def ltc_command(
    file: Path,
    /,
    *,
    track: Annotated[int | None, Parameter(help="Track that carries it, from 1; found when left out.")] = None,
    rate: Annotated[str | None, Parameter(help="Frame rate, when it is above 30 or known: 25, 29.97 DF, 50.")] = None,
    json: AsJson = False,
) -> int:
    """Read the linear time code (LTC) on a track: labels by sample, direction, gaps and jumps.

    Example: rollsound ltc 36T2.wav --track 16

    Parameters
    ----------
    file
        A recorder file.
    """
    with progress(json) as told:
        result = read_ltc(file, track=track, rate=Rate.parse(rate) if rate else None, progress=told)
    if json:
        print_json(result)
    else:
        show_ltc(out(), result)
    return 1 if heaviest(result.findings) is Weight.STOP else 0


def show_ltc(console: Console, result: LtcResult) -> None:
    """The answer first, then where the code begins and ends, then what was found."""
    first, last = result.entries[0], result.entries[-1]
    head = f"Track {result.track}, {result.track_name}: {count(result.frames, 'frame')} of time code at {result.rate}."
    line(console, head, style="bold")
    for name, entry in (("first", first), ("last", last)):
        way = _DIRECTIONS.get(entry.direction, entry.direction)
        line(
            console,
            f"{name:5}  {entry.timecode}  at sample {true_minus(f'{entry.sample:,.2f}')}, {way}",
            head="  ",
            hang=9,
        )
    if result.offset_samples is not None and not any(finding.kind in _TELL_THE_OFFSET for finding in result.findings):
        milliseconds = 1000 * result.offset_samples / result.sample_rate_hz
        side = "later" if result.offset_samples > 0 else "earlier"
        text = f"The file's own time stamp is {abs(result.offset_samples):,.1f} samples ({abs(milliseconds):,.2f} ms)"
        line(console, f"{text} {side} than the code.", head="  ", hang=2)
    for finding in result.findings:
        show_finding(console, finding, subject=False)


_DIRECTIONS = {"forward": "running forward", "reverse": "running backward"}
_TELL_THE_OFFSET = frozenset({"ltc", "ltc-zone", "ltc-other-clock"})
"""Findings that say how far the file's stamp is from the code, in the unit that fits."""
