"""`rollsound log now`: how the day stands, now or at a moment."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from cyclopts import Parameter

from rollsound.actions import daylog
from rollsound.actions.daylog_model import LogNow
from rollsound.cli.frame import AsJson, out, print_json
from rollsound.cli.lines import line
from rollsound.cli.log_fields import Day


def now_command(
    show: Path,
    /,
    *,
    day: Day = "",
    at: Annotated[str, Parameter(help="At this time of the day: 14:05, or a whole moment.")] = "",
    json: AsJson = False,
) -> int:
    """Tell who wears which pack, how batteries and changeovers stand, what was jammed when, and the next slate.

    Example: rollsound log now northbound-ferry/ --day day-4 --at 14:05

    Parameters
    ----------
    show
        The show's folder.
    """
    result = daylog.state(show, day=day, at=at)
    if json:
        print_json(result)
    else:
        _show(result)
    return 0


def _show(result: LogNow) -> None:
    console = out()
    if result.rolling is not None:
        line(console, f"Rolling: {result.rolling.words}, since {result.rolling.local}.", style="bold")
    else:
        named = " ".join(part for part in (result.next.slate, "take", result.next.take) if part)
        scene = f", scene {result.next.scene}" if result.next.scene else ""
        line(console, f"Next on {result.day}: {named}{scene}.", style="bold")
    for worn in result.wearing:
        power = "" if worn.power_mw is None else f", {worn.power_mw:g} mW"
        place = f", {worn.mic_place}" if worn.mic_place else ""
        line(console, f"  {worn.pack}: {worn.character}{place}{power}, since {worn.since:%H:%M}")
    for charge in result.batteries:
        left = "" if charge.percent is None else f", {charge.percent:g} % at {charge.looked:%H:%M}"
        changed = "never changed" if charge.changed is None else f"changed {charge.changed:%H:%M}"
        line(console, f"  battery of {charge.item}: {changed}{left}")
    for position in result.positions:
        line(console, f"  {position.changeover}: {position.position}, since {position.since:%H:%M}")
    for jam in result.jams:
        source = f" from {jam.source}" if jam.source else ""
        line(console, f"  {jam.device}: jammed {jam.at:%H:%M}{source}")
    for promise in result.promises:
        line(console, f"  {promise.words} ({promise.id})")
