"""`rollsound verify`: prove a received folder."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

from rich.console import Console

from rollsound.actions.verify import VerifyResult, verify_folder
from rollsound.cli.frame import AsJson, out, print_json, progress, show_finding
from rollsound.cli.lines import line
from rollsound.finding import Finding, Weight
from rollsound.quantities import count, show_size

MOST_EXTRA = 5


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
        show_proof(out(), result)
    return 1 if result.weight is Weight.STOP else 0


def show_proof(console: Console, result: VerifyResult) -> None:
    """The answer first, then every file that is not as recorded."""
    files = len(result.good)
    if result.proven:
        head = f"Proven: {count(files, 'file')}, {show_size(result.size_bytes)}, as recorded."
    else:
        bad = len(result.changed) + len(result.missing) + len(result.unreadable)
        be = "is" if bad == 1 else "are"
        head = f"Not proven: {bad} of {count(bad + files, 'file')} {be} not as recorded."
    line(console, head, style="bold")
    many = len(result.extra) > MOST_EXTRA
    for finding in result.findings:
        if finding.weight is not Weight.FINE and not (many and finding.kind == "extra"):
            show_finding(console, finding, subject=False)
    if many:
        show_finding(console, _extra_together(result), subject=False)


def _extra_together(result: VerifyResult) -> Finding:
    """One line for many files that no manifest knows: such as what was made in a copied folder since."""
    tally = Counter(path.partition("/")[0] + "/" if "/" in path else path for path in result.extra)
    where = ", ".join(f"{name} ({number})" if name.endswith("/") else name for name, number in tally.most_common(4))
    rest = f" and {len(tally) - 4} more places" if len(tally) > 4 else ""
    one = next(finding for finding in result.findings if finding.kind == "extra")
    what = f"{len(result.extra)} files are there but stand in no manifest, so nothing proves them: {where}{rest}."
    remedy = "Ask who added them; they are not part of what was handed over."
    return one.model_copy(update={"what": what, "remedy": remedy})
