"""`rollsound changeovers`: what every planned switch asks of hands, and what it costs."""

from __future__ import annotations

from pathlib import Path

from rich.console import Console

from rollsound.actions.rig_model import ChangeoversResult, ChangeRow
from rollsound.cli.frame import MARKS, AsJson, out, print_json, say
from rollsound.cli.lines import line
from rollsound.finding import Weight
from rollsound.quantities import count, signed


def changeovers_command(show: Path, /, *, json: AsJson = False) -> int:
    """Prove every changeover in every combination of the rest: tracks kept, hands, faders, gain.

    Example: rollsound changeovers northbound-ferry/

    Parameters
    ----------
    show
        The show's folder, or a YAML or JSON file of a plan with its kit and rig.
    """
    from rollsound.actions.plan_read import read_plan
    from rollsound.actions.rig import changeovers

    read = read_plan(show)
    for note in read.notes("rig", "kit"):
        say(note)
    result = changeovers(read)
    if json:
        print_json(result)
    else:
        show_changeovers(out(), result)
    return 1 if result.weight is Weight.STOP else 0


def show_changeovers(console: Console, result: ChangeoversResult) -> None:
    """The answer first, then changeover by changeover."""
    lost = sum(bool(each.lost) for each in result.changes)
    every = "the one combination" if result.combinations == 1 else f"all {result.combinations:,} combinations"
    if not all(each.covered for each in result.changes):
        every = f"what was looked at of {result.combinations:,} combinations"
    answer = f"{count(lost, 'change')} would cost a track" if lost else "no changeover costs a track"
    if not result.changes:
        line(console, f"{result.name}: the rig has no changeovers.", style="bold")
        return
    line(console, f"{result.name}: {answer}, in {every}.", style="bold")
    console.print()
    told = {each.subject: each for each in result.findings if each.weight is not Weight.FINE}
    for row in result.changes:
        finding = told.get(row.name)
        _show_change(console, row, finding.weight if finding is not None else Weight.FINE)
        if finding is not None:
            line(console, " " * 11 + finding.remedy, style="dim", hang=11)


def _show_change(console: Console, row: ChangeRow, weight: Weight) -> None:
    mark, style = MARKS[weight]
    line(console, row.sentence, head=f"  {mark}  ", head_style=style, hang=11)
    details = [f"lost: {each}" for each in row.lost]
    details += [f"unplug {', '.join(row.unplug)}"] if row.unplug else []
    details += [f"plug {', '.join(row.plug)}"] if row.plug else []
    details += [f"change by hand {', '.join(row.repatches)}"] if row.repatches else []
    details += [f"faders that move: {', '.join(row.faders)}"] if row.faders else []
    details += [f"switch on {', '.join(row.switched_on)}"] if row.switched_on else []
    details += [f"switch off {', '.join(row.switched_off)}"] if row.switched_off else []
    details += [f"carry {', '.join(row.carried)}"] if row.carried else []
    details += [f"{count(row.tracks_kept, 'track')} kept"]
    details += [f"delay {signed(row.delay_ms, 1)} ms"] if abs(row.delay_ms) >= 0.05 else []
    line(console, " " * 11 + "; ".join(details), style="dim", hang=11)
