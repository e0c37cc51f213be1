"""`rollsound recover`: whole copies of broken files."""

from __future__ import annotations

from collections import Counter
from pathlib import Path
from typing import Annotated

from cyclopts import Parameter
from rich.console import Console
from rich.text import Text

from rollsound.actions.recover import RecoverResult, recover_files
from rollsound.cli.frame import AsJson, print_json, progress, say
from rollsound.cli.frame import out as console_out
from rollsound.cli.lines import line, plain
from rollsound.errors import InputError
from rollsound.quantities import count, group_bytes
from rollsound.wave import AudioFormat, SampleFormat


def recover_command(
    *paths: Path,
    out: Annotated[Path | None, Parameter(help="Folder for the copies; beside each source when left out.")] = None,
    channels: Annotated[int | None, Parameter(help="Channels, where a header is destroyed.")] = None,
    bits: Annotated[int | None, Parameter(help="Bits per sample, where a header is destroyed.")] = None,
    sample_rate: Annotated[int | None, Parameter(help="Sample rate in Hz, where a header is destroyed.")] = None,
    json: AsJson = False,
) -> int:
    """Copy what is sound of broken files into whole ones. Sources are only read; whole files are left alone.

    Example: rollsound recover /media/card7 --out recovered

    Parameters
    ----------
    paths
        Files, or folders of files.
    """
    if not paths:
        raise InputError("nothing to recover was named; name files or folders after 'rollsound recover'")
    assume = None
    given = (channels, bits, sample_rate)
    if any(given):
        if channels is None or bits is None or sample_rate is None:
            raise InputError(
                "a destroyed header needs all three of --channels, --bits and --sample-rate; name them all"
            )
        assume = AudioFormat(sample_rate, channels, SampleFormat.of(bits))
    with progress(json) as told:
        result = recover_files(paths, out=out, assume=assume, progress=told)
    if json:
        print_json(result)
    else:
        show_recovery(console_out(), result)
    for problem in () if json else result.problems:
        say(problem)
    return 2 if result.problems else 0


def show_recovery(console: Console, result: RecoverResult) -> None:
    """The answer first, then file by file: what was assumed of it, and where its copy lies."""
    tally = Counter(file.outcome for file in result.files)
    told = [f"{tally[outcome]:,} {words}" for outcome, words in _OUTCOMES.items() if tally[outcome]]
    line(console, f"{count(len(result.files), 'file')} looked at: {', '.join(told)}.", style="bold")
    for file in result.files:
        if file.problem:
            continue  # said beside the result
        length = f"{count(file.frames, 'frame')} of sound" if file.frames else "no sound"
        line(console, f": {file.outcome}, {length}", head=Path(file.path).name, head_style="bold")
        for sentence in file.assumptions:
            line(console, group_bytes(sentence), head="    ", style="dim", hang=4)
        for output in filter(None, (file.output, *file.further_outputs)):
            console.print(Text(plain(f"    {output}")), soft_wrap=True)


_OUTCOMES = {
    "recovered": "recovered",
    "already there": "recovered earlier",
    "whole": "whole, nothing to do",
    "lost": "beyond reading",
}
