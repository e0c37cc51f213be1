"""Carriers on the screen: the table of transmitters, what is not kept, and the cautions that go along."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from rich.console import Console
from rich.table import Table
from rich.text import Text

from rollsound.actions.radio_model import BoundRow, CarrierRow, HoldRow, ProductRow, UnplacedRow
from rollsound.cli.frame import MARKS, show_finding
from rollsound.cli.lines import line, plain
from rollsound.finding import Finding, Weight
from rollsound.quantities import count

MOST_BROKEN = 12
MOST_FINDINGS = 20
_NARROW = 100
"""Columns below which what sets a margin stands under the table's row instead of beside it."""


def mhz(value_mhz: float) -> str:
    """A frequency in MHz with three decimals or as many as it needs, so that columns stand."""
    text = f"{value_mhz:.6f}"
    return text[:-3] if text.endswith("000") else text.rstrip("0")


def khz(value_khz: float | None) -> str:
    """A margin; nothing where there is none."""
    if value_khz is None:
        return ""
    return f"{value_khz:,.3f}".rstrip("0").rstrip(".").replace("-", "−")


def show_carriers(console: Console, carriers: Sequence[CarrierRow], *, spares: bool = False) -> None:
    """Transmitter by transmitter: frequency, margin, and what sets it."""
    wide = console.width >= _NARROW
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0))
    table.add_column("transmitter", overflow="fold", max_width=24)
    if wide:
        table.add_column("for", overflow="fold", max_width=22)
    table.add_column("MHz", justify="right", no_wrap=True)
    table.add_column("margin\nkHz", justify="right", no_wrap=True)
    table.add_column("set by", overflow="fold", ratio=1)
    if spares:
        table.add_column("spare\nMHz", no_wrap=True)
    for row in carriers:
        freq = Text(mhz(row.mhz), style="bold") if row.mhz is not None else Text("none", style="bold red")
        broken = row.margin_khz is not None and row.margin_khz < 0
        marks = ["fixed"] if row.fixed else []
        if row.was_mhz is not None:
            marks.append(f"was {mhz(row.was_mhz)}")
        told = "; ".join(part for part in (row.set_by, ", ".join(marks)) if part)
        table.add_row(
            Text(plain(row.name)),
            *([Text(plain(row.wearer))] if wide else ()),
            freq,
            Text(khz(row.margin_khz), style="bold red" if broken else ""),
            Text(plain(told)),
            *([Text("\n".join(mhz(each) for each in row.spares_mhz))] if spares else ()),
        )
    console.print(table)


def show_broken(console: Console, broken: Sequence[HoldRow], unavoidable: Sequence[HoldRow] = ()) -> None:
    """What is not kept, worst first."""
    for row in broken[:MOST_BROKEN]:
        mark, style = MARKS[Weight.STOP]
        line(console, row.sentence, head=f"  {mark}  ", head_style=style, hang=11)
    if len(broken) > MOST_BROKEN:
        line(console, f"and {count(len(broken) - MOST_BROKEN, 'relation')} more, in --json", head=" " * 11, style="dim")
    if unavoidable:
        told = count(len(unavoidable), "relation")
        line(
            console,
            f"Between fixed transmitters alone {told} cannot be kept, whatever is planned; the worst: "
            f"{unavoidable[0].sentence}",
            head=" " * 11,
            style="dim",
            hang=11,
        )


def show_products(console: Console, products: Sequence[ProductRow]) -> None:
    """Products by what they would do, the most harmful first."""
    line(console, "Products at the receivers, the most harmful first", style="bold")
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0))
    table.add_column("product", overflow="fold", max_width=40)
    table.add_column("MHz", justify="right", no_wrap=True)
    table.add_column("falls near", overflow="fold", max_width=24)
    table.add_column("kHz\naway", justify="right", no_wrap=True)
    table.add_column("dBm", justify="right", no_wrap=True)
    table.add_column("what it does", overflow="fold", ratio=1)
    for row in products:
        table.add_row(
            Text(plain(row.product)),
            Text(mhz(row.at_mhz)),
            Text(plain(row.hit_name)),
            Text(khz(row.distance_khz)),
            Text(f"{row.level_dbm:.0f}".replace("-", "−")),
            Text(plain(f"{row.receiver}: {row.verdict}"), style="bold red" if row.heard else ""),
        )
    console.print(table)


def show_unplaced(console: Console, unplaced: Sequence[UnplacedRow]) -> None:
    """Who has no frequency, and what would let them in, the cheapest first."""
    for row in unplaced:
        mark, style = MARKS[Weight.STOP]
        why = row.why.removesuffix(".")
        line(console, f"{row.name or row.id} has no frequency: {why}.", head=f"  {mark}  ", head_style=style, hang=11)
        for relaxation in row.relaxations[:3]:
            line(console, f"{' ' * 11}{relaxation.what} ({mhz(relaxation.mhz)} MHz)", style="dim", hang=11)


def show_bound(console: Console, bound: BoundRow | None) -> None:
    """The proof that no more fit."""
    if bound is not None:
        line(console, bound.why, style="bold")


def show_findings(console: Console, findings: Iterable[Finding]) -> None:
    """Findings that weigh, heaviest first."""
    told = [finding for finding in findings if finding.weight is not Weight.FINE]
    told.sort(key=lambda finding: list(Weight).index(finding.weight))
    for finding in told[:MOST_FINDINGS]:
        show_finding(console, finding)
    if len(told) > MOST_FINDINGS:
        line(console, f"and {count(len(told) - MOST_FINDINGS, 'finding')} more, in --json", head=" " * 11, style="dim")


def show_notes(console: Console, notes: Iterable[str], cautions: Iterable[str]) -> None:
    """What was assumed, and the cautions, last on the screen."""
    for note in notes:
        line(console, f"Note: {note}", style="dim")
    for caution in cautions:
        line(console, f"Caution: {caution}", style="dim")
