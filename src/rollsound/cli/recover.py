"""`rollsound recover`: whole copies of broken files."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from cyclopts import Parameter

from rollsound.actions.recover import recover_files
from rollsound.cli.frame import AsJson, print_json, progress, say
from rollsound.cli.frame import out as console_out
from rollsound.errors import InputError
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
        console = console_out()
        for file in result.files:
            name = Path(file.path).name
            if file.problem:
                say(file.problem)
                continue
            console.print(f"{name}: {file.outcome}, {file.frames:,} frames", markup=False)
            for sentence in file.assumptions:
                console.print(f"    {sentence}", markup=False, style="dim")
            for output in filter(None, (file.output, *file.further_outputs)):
                console.print(f"    {output}", markup=False)
    return 2 if result.problems else 0
