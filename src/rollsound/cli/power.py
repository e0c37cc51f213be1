"""`rollsound power`: what every battery of a day carries, when it is changed, and what wires and chargers bear."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Annotated

from cyclopts import Parameter
from rich.console import Console
from rich.table import Table
from rich.text import Text

from rollsound.actions.power_model import BatteryRow, FedRow, PowerResult
from rollsound.cli.frame import AsJson, out, print_json, say
from rollsound.cli.lines import line, plain
from rollsound.cli.radio_screen import show_findings, show_notes
from rollsound.finding import Weight
from rollsound.quantities import count, true_minus

MOST_CHARGED = 16


def power_command(
    show: Path,
    /,
    *,
    day: Annotated[str, Parameter(help="Id of the day; the hardest one when left out.")] = "",
    chart: Annotated[Path | None, Parameter(help="Draw the day's batteries as lanes: .png, .svg, .pdf.")] = None,
    json: AsJson = False,
) -> int:
    """Tell how long every battery lasts, when it is changed, the spares that takes, and check wires and charging.

    Example: rollsound power northbound-ferry/ --day day-3 --chart power.png

    Parameters
    ----------
    show
        The show's folder, or a YAML or JSON file of a plan with a power part.
    """
    from rollsound.actions.plan_read import read_plan
    from rollsound.actions.power import power, write_power_chart

    read = read_plan(show)
    for note in read.notes("power", "kit", "rig"):
        say(note)
    result = power(read, day=day)
    if chart is not None:
        result = write_power_chart(result, chart)
    if json:
        print_json(result)
    else:
        show_power(out(), result)
    return 1 if result.weight is Weight.STOP else 0


def show_power(console: Console, result: PowerResult) -> None:
    """The answer first, then batteries, what is not kept, wires, charging, and the cautions."""
    line(console, _sentence(result), style="bold")
    if len(result.days) > 1:
        line(console, _other_days(result), style="dim")
    console.print()
    show_findings(console, result.findings)
    if any(each.weight is not Weight.FINE for each in result.findings):
        console.print()
    if result.batteries:
        _show_batteries(console, result)
    _show_stock(console, result)
    if any(each.wire for each in result.wires):
        _show_wires(console, result.wires)
    if result.charging:
        _show_charging(console, result)
    if result.chart_file:
        line(console, f"Drawn: {result.chart_file}")
    show_notes(console, result.notes, result.cautions)


def _sentence(result: PowerResult) -> str:
    stops = sum(each.weight is Weight.STOP for each in result.findings)
    watches = sum(each.weight is Weight.WATCH for each in result.findings)
    degrees = "" if result.coldest_c is None else f", down to {true_minus(f'{result.coldest_c:g}')} °C"
    day = f", {result.day_name}" if result.day_name else ""
    when = f"{result.name}{day}, {result.call} to {result.wrap}{degrees}"
    if stops:
        return f"{when}: power does not carry the day; {count(stops, 'stop')}, {count(watches, 'thing')} to watch."
    if watches:
        return f"{when}: power carries the day, with {count(watches, 'thing')} to watch."
    return f"{when}: power carries the day."


def _other_days(result: PowerResult) -> str:
    told = [
        f"{each.name} {count(each.stops, 'stop') if each.stops else each.weight.value}"
        for each in result.days
        if each.id != result.day
    ]
    return f"The hardest of {len(result.days)} days is shown; name another with --day. Others: {', '.join(told)}."


def _hours(value: float) -> str:
    return "∞" if math.isinf(value) or math.isnan(value) else f"{value:.1f}"


def _show_batteries(console: Console, result: PowerResult) -> None:
    line(console, "Batteries in use", style="bold")
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0))
    table.add_column("feeds", overflow="fold", max_width=26)
    table.add_column("battery", overflow="fold", max_width=24)
    for head in ("load\nW", "set\nWh", "hours\na set", "dry"):
        table.add_column(head, justify="right", no_wrap=True)
    table.add_column("changes", overflow="fold", ratio=1)
    table.add_column("left\nh", justify="right", no_wrap=True)
    for row in result.batteries:
        name = row.name if row.alike == len(row.names) else f"{row.name} × {row.alike}"
        battery = row.battery_name if row.in_set == 1 else f"{row.in_set} × {row.battery_name}"
        dry = Text(f"flat {row.flat}", style="bold red") if row.flat else Text(row.dry or "lasts")
        left = "" if row.flat else _hours(row.left_h)
        table.add_row(
            Text(plain(name)),
            Text(plain(battery)),
            f"{row.load_w:.1f}",
            f"{row.set_wh:.1f}" if row.set_wh < 20 else f"{row.set_wh:.0f}",
            _hours(row.hours),
            dry,
            Text(_swaps(row)),
            left,
        )
    console.print(table)
    for row in result.batteries:
        if row.swaps:
            line(console, f"{row.name}: {row.sentence}", head="  ", style="dim", hang=4)
    console.print()


def _swaps(row: BatteryRow) -> str:
    if not row.swaps:
        return "none"
    return ", ".join(each.told if each.in_break else f"{each.told} (working)" for each in row.swaps)


def _show_stock(console: Console, result: PowerResult) -> None:
    used = [each for each in result.stock if each.in_use]
    if not used:
        return
    line(console, "Batteries to have", style="bold")
    for each in used:
        missing = f"; {each.missing} missing" if each.missing else ""
        told = (
            f"{each.name}: {each.in_use} in use and {count(each.spares_needed, 'spare')}, {each.owned} owned{missing}."
        )
        line(console, told, head="  ", hang=4, style="bold red" if each.missing else "")
    console.print()


def _show_wires(console: Console, wires: tuple[FedRow, ...]) -> None:
    line(console, "Wires", style="bold")
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0))
    table.add_column("to", overflow="fold", max_width=26)
    table.add_column("wire", no_wrap=True)
    for head in ("load\nW", "most\nA", "lost\n%", "volts\nat the end", "bears\nV", "fuse\nA"):
        table.add_column(head, justify="right", no_wrap=True)
    table.add_column("", overflow="fold", ratio=1)
    for each in wires:
        if not each.wire:
            continue
        collapses = math.isnan(each.low_v)
        volts = f"{each.full_v:.1f}-{'collapse' if collapses else f'{each.low_v:.1f}'}"
        fuse = f"{each.fuse_a:g}" if each.fuse_a else "none"
        more = [f"fuse {each.fuse_wanted_a:g} A" if each.fuse_wanted_a and not each.fuse_fits else ""]
        more.append(f"better {each.better}" if each.better else "")
        more.append(f"short circuit {each.short_circuit_a:.0f} A" if each.short_circuit_a else "")
        table.add_row(
            Text(plain(each.name)),
            f"{each.length_m:g} m {each.wire}",
            f"{each.load_w:.1f}",
            "" if math.isnan(each.worst_a) else f"{each.worst_a:.1f}",
            "" if math.isnan(each.lost_percent) else f"{each.lost_percent:.1f}",
            volts,
            each.input_v.removesuffix(" V"),
            fuse,
            Text("; ".join(part for part in more if part)),
        )
    console.print(table)
    console.print()


def _show_charging(console: Console, result: PowerResult) -> None:
    line(console, "Charging, by need", style="bold")
    groups: dict[tuple[str, str, str, str, bool], list[float]] = {}
    for each in result.charging:
        key = (each.battery_name, each.socket, each.start, each.end, each.late)
        groups.setdefault(key, []).append(each.taken_wh)
    for n, ((name, socket, start, end, late), taken) in enumerate(groups.items()):
        if n == MOST_CHARGED:
            line(console, f"and {len(groups) - n} more, in --json", head="  ", style="dim")
            break
        many = f"{len(taken)} × " if len(taken) > 1 else ""
        where = f"{start} to {end} at {socket}" if socket else "finds no socket"
        told = f"{many}{name}: {where}, {sum(taken):.0f} Wh{', too late' if late else ''}."
        line(console, told, head="  ", hang=4, style="bold red" if late else "")
    console.print()
