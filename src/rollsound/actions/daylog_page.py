"""What the pages Takes and Floor show of a day, and what a device needs to go on through a gap in its connection."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from rollsound.actions.daylog import day_of, findings_of, next_slate, open_promises, plan_of, style_kept
from rollsound.finding import Finding
from rollsound.log.daybook import LogBook
from rollsound.log.daylines import LogLine
from rollsound.log.entries import PAGE_CLOCK, JamEntry, TakeEntry, TakeKind
from rollsound.log.numbering import Slate, Style, next_take, style_of
from rollsound.log.standing import Charge, Worn, charges_at, jams_at, positions_at, rolling, wearing_at
from rollsound.show.folder import Show
from rollsound.show.model import Plan
from rollsound.timecode.rates import Rate

_TAKES_AHEAD, _SETUPS_AHEAD, _WILD_AHEAD = 40, 30, 20
MIC_PLACES = ("chest", "collar", "tie", "hair", "hat", "cap", "shoulder strap", "belt")


@dataclass(frozen=True)
class Ahead:
    """What may stand on the slate next, and after it, so that a device that hears nothing goes on counting right."""

    now: Slate
    sound_roll: str
    style: Style
    takes: tuple[str, ...]
    """Of the present setup."""
    setups: tuple[str, ...]
    """The slates that follow."""
    wild: tuple[str, ...]
    tone: tuple[str, ...]


@dataclass(frozen=True)
class DayName:
    """A day that may be chosen."""

    id: str
    number: int | None
    date: str


@dataclass(frozen=True)
class TakesState:
    """The takes of a day."""

    day: str
    days: tuple[DayName, ...]
    takes: tuple[tuple[LogLine, TakeEntry], ...]
    """Newest first."""
    rolling: LogLine | None
    ahead: Ahead
    scenes: tuple[str, ...]
    promises: tuple[LogLine, ...]
    findings: tuple[Finding, ...]
    rate: Rate
    jam: tuple[LogLine, JamEntry] | None
    """The last jam of the page's own clock on this day."""
    style_kept: Style | None


@dataclass(frozen=True)
class PackRow:
    """A pack: who wears it, and how its battery stands."""

    id: str
    name: str
    planned: str
    worn: Worn | None
    charge: Charge | None


@dataclass(frozen=True)
class ChangeoverRow:
    """A planned switch and the position that it was put into last."""

    id: str
    name: str
    positions: tuple[tuple[str, str], ...]
    at: str
    since: datetime | None


@dataclass(frozen=True)
class FloorState:
    """The floor of a day."""

    day: str
    days: tuple[DayName, ...]
    packs: tuple[PackRow, ...]
    changeovers: tuple[ChangeoverRow, ...]
    characters: tuple[str, ...]
    places: tuple[str, ...]
    sites: tuple[tuple[str, str], ...]
    jams: tuple[tuple[str, LogLine], ...]
    promises: tuple[LogLine, ...]
    rolling: LogLine | None
    recent: tuple[LogLine, ...]
    """The last lines, newest first."""
    findings: tuple[Finding, ...]


def takes_state(show: Show, day: str = "") -> TakesState:
    """The takes of a day, and what comes next."""
    plan = plan_of(show)
    found = chosen_day(show, day)
    lines = LogBook(show.store).lines(found) if found else ()
    takes = [(line, line.entry) for line in lines if isinstance(line.entry, TakeEntry)]
    jam = jams_at(lines).get(PAGE_CLOCK)
    jammed = (jam, jam.entry) if jam is not None and isinstance(jam.entry, JamEntry) and jam.entry.timecode else None
    planned = next((each for each in plan.schedule.days if each.id == found), None) if plan else None
    return TakesState(
        day=found,
        days=days_of(show, plan),
        takes=tuple(reversed(takes)),
        rolling=rolling(lines),
        ahead=ahead_of(show, found),
        scenes=planned.scenes if planned else (),
        promises=tuple(open_promises(show)),
        findings=findings_of(show, found),
        rate=plan.show.rate if plan else Rate.parse("25"),
        jam=jammed,
        style_kept=style_kept(show),
    )


def ahead_of(show: Show, day: str) -> Ahead:
    """What may stand on the slate next, and after it."""
    first = next_slate(show, day)
    takes = [take for _, take in LogBook(show.store).takes()]
    style = style_kept(show) or style_of(takes)
    now = Slate(first.scene, first.slate, first.take)

    def following(count: int, kind: TakeKind = "take", *, new_setup: bool = False) -> list[Slate]:
        known: Sequence[TakeEntry] = takes
        found: list[Slate] = []
        for _ in range(count):
            slate = next_take(known, style=style, kind=kind, new_setup=new_setup, sound_roll=first.sound_roll)
            found.append(slate)
            # The highest number is in it; the takes before it tell no more.
            known = [
                TakeEntry(scene=slate.scene, slate=slate.slate, take=slate.take, kind=kind, sound_roll=first.sound_roll)
            ]
        return found

    return Ahead(
        now=now,
        sound_roll=first.sound_roll,
        style=style,
        takes=tuple(each.take for each in following(_TAKES_AHEAD)),
        setups=tuple(each.slate for each in following(_SETUPS_AHEAD, new_setup=True)),
        wild=tuple(each.take for each in following(_WILD_AHEAD, "wild track")),
        tone=tuple(each.take for each in following(_WILD_AHEAD, "room tone")),
    )


def floor_state(show: Show, day: str = "") -> FloorState:
    """Who wears what, how batteries and changeovers stand, and what was written last."""
    plan = plan_of(show)
    found = chosen_day(show, day)
    lines = LogBook(show.store).lines(found) if found else ()
    worn, charges = wearing_at(lines), charges_at(lines)
    packs = _packs(plan, worn, charges)
    return FloorState(
        day=found,
        days=days_of(show, plan),
        packs=packs,
        changeovers=_changeovers(plan, lines),
        characters=_characters(plan, packs),
        places=MIC_PLACES,
        sites=tuple((site.id, site.name) for site in plan.sites) if plan else (),
        jams=tuple((device, line) for device, line in sorted(jams_at(lines).items()) if device != PAGE_CLOCK),
        promises=tuple(open_promises(show)),
        rolling=rolling(lines),
        recent=tuple(reversed(lines[-12:])),
        findings=findings_of(show, found),
    )


def chosen_day(show: Show, day: str) -> str:
    """The day that a page shows; empty where the show has none at all."""
    from rollsound.errors import InputError

    try:
        return day_of(show, day)
    except InputError:
        return ""


def days_of(show: Show, plan: Plan | None) -> tuple[DayName, ...]:
    """The days of the plan, then those that only the log knows."""
    known = (
        {each.id: DayName(each.id, each.number, str(each.date or "")) for each in plan.schedule.days} if plan else {}
    )
    for day in LogBook(show.store).days():
        known.setdefault(day, DayName(day, None, ""))
    return tuple(known.values())


def _packs(plan: Plan | None, worn: dict[str, Worn], charges: dict[str, Charge]) -> tuple[PackRow, ...]:
    """The body packs of the plan, then whatever else the log speaks of as one."""
    rows = {}
    for each in plan.radio.transmitters if plan else ():
        if each.kind == "body pack":
            rows[each.id] = PackRow(each.id, each.name, each.wearer, worn.get(each.id), charges.get(each.id))
    for id in [*worn, *charges]:
        if id not in rows:
            rows[id] = PackRow(id, id, "", worn.get(id), charges.get(id))
    return tuple(rows.values())


def _changeovers(plan: Plan | None, lines: Sequence[LogLine]) -> tuple[ChangeoverRow, ...]:
    at = positions_at(lines)
    return tuple(
        ChangeoverRow(
            each.id,
            each.name or each.id,
            tuple((position.id, position.name or position.id) for position in each.positions),
            at[each.id].fields["position"] if each.id in at else "",
            at[each.id].at if each.id in at else None,
        )
        for each in (plan.rig.changeovers if plan else ())
    )


def _characters(plan: Plan | None, packs: Sequence[PackRow]) -> tuple[str, ...]:
    """Everybody who may wear a pack: the script's characters, wearers that the radio part names, and those of today."""
    names: dict[str, None] = {}
    script = getattr(plan, "script", None)
    for each in getattr(script, "characters", ()):
        names[each.name or each.id] = None
    for row in packs:
        if row.planned:
            names[row.planned] = None
        if row.worn:
            names[row.worn.entry.character] = None
    return tuple(names)


__all__ = ["FloorState", "TakesState", "ahead_of", "floor_state", "takes_state"]
