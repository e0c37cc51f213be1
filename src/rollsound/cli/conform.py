"""`rollsound conform`: radio tracks rebuilt from the transmitters' own recordings."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Annotated, Literal

from cyclopts import Parameter
from rich.console import Console
from rich.table import Table
from rich.text import Text

from rollsound.actions.conform import conform
from rollsound.actions.conform_result import ConformResult, ConformTrack
from rollsound.cli.frame import AsJson, print_json, progress, show_finding
from rollsound.cli.frame import out as console_out
from rollsound.cli.lines import line, plain
from rollsound.finding import Weight
from rollsound.quantities import count, parse, show_ppm, signed, true_minus


def conform_command(
    recorder: Path,
    /,
    *,
    cards: Annotated[Path, Parameter(help="Folder of cards, one folder a card; or one card's file.")],
    out: Annotated[Path, Parameter(help="Folder for what is made; a mirror keeps the recorder file's name.")],
    mode: Annotated[
        Literal["mirror", "mend", "compare"] | None,
        Parameter(
            help="mirror: whole tracks from the cards. mend: only damaged spans. compare: measure, write no sound.",
            show_default=lambda _: "mirror",
        ),
    ] = None,
    takes: Annotated[Path | None, Parameter(help="Sheet of takes (CSV); takes marked no good are left out.")] = None,
    wearers: Annotated[
        Path | None, Parameter(help="Sheet of who wore which card (CSV); a hint, never an order.")
    ] = None,
    place: Annotated[
        Literal["track", "source"] | None,
        Parameter(
            help="track: at the time of the radio track. source: at the time of the sound at the microphone.",
            show_default=lambda _: "track",
        ),
    ] = None,
    path_delay: Annotated[
        str, Parameter(allow_leading_hyphen=True, help="Delay of the radio path, for --place source: '3 ms'.")
    ] = "",
    plan: Annotated[
        Path | None,
        Parameter(help="Carry out this plan, made earlier and perhaps edited; the folders must be those it names."),
    ] = None,
    plan_only: Annotated[bool, Parameter(negative="", help="Write the plan and stop.")] = False,
    json: AsJson = False,
) -> int:
    """Find which card is which radio track, fit its clock, and rebuild the track from it.

    Every other track stays as it is, bit for bit; start, length, time code and metadata stay. Sources are only read.

    Example: rollsound conform day4/recorder --cards day4/cards --out day4/mirrors

    Parameters
    ----------
    recorder
        The recorder's file, or the folder of them.
    """
    with progress(json) as told:
        result = conform(
            recorder,
            cards=cards,
            out=out,
            mode=mode,
            takes_sheet=takes,
            wearers_sheet=wearers,
            place=place,
            path_delay_seconds=parse(path_delay, "s") if path_delay else None,
            plan=plan,
            plan_only=plan_only,
            progress=told,
        )
    if json:
        print_json(result)
    else:
        show_conform(console_out(), result)
    return 1 if result.weight is Weight.STOP else 0


def show_conform(console: Console, result: ConformResult) -> None:
    """The answer first, then card by card and take by take."""
    line(console, _sentence(result), style="bold")
    for card in result.cards:
        clock = f", clock {show_ppm(card.rate_ppm)}" if card.rate_ppm is not None else ""
        stands = f"is {card.stands_for}" if card.stands_for else "stands for no track"
        special = told_beside_clock(card.note)
        note = f"; {special[0].lower()}{special[1:].rstrip('.')}" if special else ""
        line(console, f"{card.name} {stands}{clock}, {count(card.takes, 'take')}{note}", head="  ", hang=4)
    for take in result.takes:
        console.print()
        line(console, f"{Path(take.recorder[0]).name}  {take.timecode or 'no time code'}", style="bold")
        _show_tracks(console, [track for track in take.tracks if track.card or track.outcome != "no card"])
    told = [finding for finding in result.findings if finding.weight is not Weight.FINE]
    if told:
        console.print()
    for finding in told:
        show_finding(console, finding)
    _show_where(console, result)


def _sentence(result: ConformResult) -> str:
    tracks = [track for take in result.takes for track in take.tracks]
    usable = [track for track in tracks if track.action != "keep"]
    spans = sum(len(track.spans) for track in usable)
    refused = [track for track in tracks if track.card and track.outcome not in ("placed", "by model")]
    done = {"mirror": "rebuilt from cards", "mend": "mended from cards", "compare": "compared with cards"}[result.mode]
    if not result.carried_out:
        done = "planned"
    tracks_done, takes = count(len(usable), "radio track"), count(len(result.takes), "take")
    head = f"{tracks_done} in {takes} {done}; {count(spans, 'damaged span')}"
    return f"{head}; {count(len(refused), 'track')} refused, with the reason." if refused else f"{head}."


def _show_tracks(console: Console, tracks: list[ConformTrack]) -> None:
    if not tracks:
        console.print("  no radio track here has a card")
        return
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0) if console.width >= _ROOMY else (0, 1, 0, 0))
    table.add_column("", width=1)
    for name in ("track", "card", "outcome"):
        table.add_column(name, overflow="fold")
    figures = [("offset", "samples"), ("clock", "ppm"), ("scatter", "samples"), ("sure", "%"), ("spans", "")]
    if console.width < _NARROW:  # the scatter also stands in the report; names must not be torn for it
        figures.remove(("scatter", "samples"))
    for name, unit in figures:
        table.add_column(f"{name}\n{unit}", justify="right", no_wrap=True)
    for track in tracks:
        scatter = f"{track.residual_samples:.2f}" if track.residual_samples is not None else ""
        table.add_row(
            "",
            Text(plain(track.name)),
            Text(plain(track.card)),
            track.outcome,
            true_minus(f"{track.offset_samples:,.2f}") if track.offset_samples is not None else "",
            signed(track.rate_ppm, 3) if track.rate_ppm is not None else "",
            *([scatter] if console.width >= _NARROW else ()),
            f"{100 * track.confidence:.0f}" if track.card else "",
            str(len(track.spans)) if track.spans else "",
        )
    console.print(table)
    for track in tracks:
        told = track.not_possible if track.action != "keep" else ()
        for sentence in (track.reason if track.outcome != "placed" else "", *told):
            if sentence:
                line(console, f"{track.name}: {sentence}", head="    ", style="dim", hang=6)


def told_beside_clock(note: str) -> str:
    """What is special about a card; its clock and takes stand beside, and a steady clock goes without saying."""
    return _CLOCK.sub("", note).removesuffix(".") if _CLOCK.match(note) else note


_CLOCK = re.compile(r"[+−-]?[\d.,]+ ppm over [\d,]+ takes?(, |; )?")
_NARROW = 72
"""Columns below which the least important figure is left out."""
_ROOMY = 90
"""Columns from which the table stands with wide gaps."""


def _show_where(console: Console, result: ConformResult) -> None:
    """What was made, last on the screen; a folder's name stands alone in its line, to be copied."""
    made = [Path(path) for take in result.takes for path in take.output]
    before = sum(len(take.resumed) for take in result.takes)
    lines: list[tuple[str, str]] = []
    if made:
        noun = "mirror" if result.mode == "mirror" else "mended file"
        first, last = made[0].name, made[-1].name
        names = first if len(made) == 1 else f"{first} to {last}"
        lines.append((f"{count(len(made), noun)}:", f"{names}{f' ({before} from an earlier run)' if before else ''}"))
    if result.lists:
        lines.append(("lists:", ", ".join(Path(path).name for path in result.lists)))
    plan = Path(result.plan)
    lines.append(("plan:", plan.name if plan.parent == Path(result.folder) else str(plan)))
    console.print()
    console.print(Text(plain(f"In {result.folder}"), style="bold"), soft_wrap=True)
    for label, text in lines:
        line(console, text, head=f"  {label} ", hang=4)
    if not result.carried_out:
        line(console, "Nothing else was written; --plan carries it out.", style="dim")
