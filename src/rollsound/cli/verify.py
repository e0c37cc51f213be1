"""`rollsound verify`: prove a received folder."""

from __future__ import annotations

from pathlib import Path

from rollsound.actions.verify import verify_folder
from rollsound.cli.frame import AsJson, out, print_json, progress, show_finding
from rollsound.finding import Weight
from rollsound.quantities import show_size


def verify_command(folder: Path, /, *, json: AsJson = False) -> int:
    """Prove a folder by the manifests in it: every file good, changed, missing or extra. Works anywhere, offline.

    Example: rollsound verify /drives/post/Northbound-Ferry-Day-4

    Parameters
    ----------
    folder
        A turnover, an offloaded card, or a drive that holds several of them.
    """
    with progress(json) as told:
        result = verify_folder(folder, told)
    if json:
        print_json(result)
    else:
        console = out()
        files = len(result.good)
        if result.proven:
            head = f"Proven: {files} file{'s' if files != 1 else ''}, {show_size(result.size_bytes)}, as recorded."
        else:
            bad = len(result.changed) + len(result.missing) + len(result.unreadable)
            head = f"Not proven: {bad} of {bad + files} files are not as recorded."
        console.print(head, style="bold", markup=False)
        for finding in result.findings:
            if finding.weight is not Weight.FINE:
                show_finding(console, finding, subject=False)
    return 1 if result.weight is Weight.STOP else 0
