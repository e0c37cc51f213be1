"""The log of the day: written, changed, taken back, listed, and told as it stands at a moment."""

from __future__ import annotations

import contextlib
import re
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from typing import Any
from weakref import WeakKeyDictionary

from rollsound.actions.daylog_model import (
    ChargeRow,
    JamRow,
    LogActRow,
    LogLineRow,
    LogListed,
    LogNow,
    LogWritten,
    PositionRow,
    SlateRow,
    WornRow,
)
from rollsound.actions.show import author_of
from rollsound.errors import InputError
from rollsound.finding import Finding
from rollsound.log.daybook import LogBook, NewLine, Written
from rollsound.log.daylines import LogLine
from rollsound.log.entries import KINDS, TakeEntry, TakeKind
from rollsound.log.numbering import STYLES, Style, next_take, style_of
from rollsound.log.proofs import proofs
from rollsound.log.standing import charges_at, jams_at, positions_at, promises_open, rolling, wearing_at
from rollsound.show.folder import Show
from rollsound.show.model import Day, Plan

_CLOCK = re.compile(r"([01]?\d|2[0-3]):([0-5]\d)(?::([0-5]\d))?")
_STYLE = "log-numbering"


@dataclass(frozen=True)
class LogAsked:
    """An act from the command line: on which show, and who does it."""

    folder: Path
    name: str = ""


def add(asked: LogAsked, kind: str, fields: Mapping[str, Any], *, day: str = "", at: str = "") -> LogWritten:
    """Write a line.

    Parameters
    ----------
    day
        its id; the day of today's date, else the last that has lines, when left out
    at
        a time of day on that day (14:05, 14:05:09) or a whole moment; now when left out

    Raises
    ------
    InputError, MistakesError
        when something cannot be; nothing is written then
    StorageError
        when the disk fails
    """
    with Show.open(asked.folder) as show:
        plan = plan_of(show)
        found = day_of(show, day)
        moment = moment_of(at, plan, found)
        written = LogBook(show.store).add(kind, fields, author_of(plan, asked.name), found, at=moment)
        return LogWritten.of(written)


def edit(asked: LogAsked, id: str, fields: Mapping[str, Any], *, day: str = "", at: str = "") -> LogWritten:
    """Change fields of a line; an empty value takes a field out. Raises as ``add``."""
    with Show.open(asked.folder) as show:
        plan, book = plan_of(show), LogBook(show.store)
        moment = moment_of(at, plan, day or book.line(id).day)
        return LogWritten.of(book.change(id, fields, author_of(plan, asked.name), day=day, at=moment))


def remove(asked: LogAsked, id: str) -> LogWritten:
    """Take a line out; the history keeps it. Raises as ``add``."""
    with Show.open(asked.folder) as show:
        return LogWritten.of(LogBook(show.store).remove(id, author_of(plan_of(show), asked.name)))


def undo(asked: LogAsked) -> LogWritten:
    """Take back a person's last act in the log. Raises ClashError, which names whoever changed the same since."""
    with Show.open(asked.folder) as show:
        return LogWritten.of(LogBook(show.store).undo(author_of(plan_of(show), asked.name)))


def redo(asked: LogAsked) -> LogWritten:
    """Do again what a person took back last. Raises as ``undo``."""
    with Show.open(asked.folder) as show:
        return LogWritten.of(LogBook(show.store).redo(author_of(plan_of(show), asked.name)))


def listed(folder: Path, *, day: str = "", kind: str = "") -> LogListed:
    """The log of a day, or of all days, with what is odd in it."""
    if kind and kind not in KINDS:
        raise InputError(f"the log has no kind '{kind[:40]}'; choose one of: {', '.join(KINDS)}")
    with _reading(folder) as show:
        return list_of(show, day=day, kind=kind)


def list_of(show: Show, *, day: str = "", kind: str = "") -> LogListed:
    """As ``listed``, of an open show."""
    plan, book = plan_of(show), LogBook(show.store)
    return LogListed(
        folder=str(show.folder),
        title=plan.show.title if plan else show.folder.name,
        day=day,
        lines=tuple(LogLineRow.of(line) for line in book.lines(day or None, *([kind] if kind else []))),
        findings=findings_of(show, day),
        number=book.last_number(),
    )


_found: WeakKeyDictionary[Show, tuple[tuple[object, ...], tuple[Finding, ...]]] = WeakKeyDictionary()


def findings_of(show: Show, day: str = "") -> tuple[Finding, ...]:
    """What is odd in the log of a day, or of all days, seen in the whole log: a slate may have been used before."""
    plan, version = plan_of(show), show.store.data_version()
    days = None if plan is None else frozenset(each.id for each in plan.schedule.days)
    rests_on = (version, days, None if plan is None else plan.show.rate)
    kept = _found.get(show)
    if kept is None or kept[0] != rests_on:
        rate = None if plan is None else plan.show.rate
        kept = (rests_on, tuple(proofs(LogBook(show.store).lines(), days=days, rate=rate)))
        _found[show] = kept
    if not day:
        return kept[1]
    own = {f"log#{line.id}" for line in LogBook(show.store).lines(day)}
    return tuple(each for each in kept[1] if any(ref.path in own for ref in each.refs))


def state(folder: Path, *, day: str = "", at: str = "") -> LogNow:
    """How a day stands now, or stood at a moment."""
    with _reading(folder) as show:
        found = day_of(show, day)
        return now_of(show, found, moment_of(at, plan_of(show), found))


def now_of(show: Show, day: str, moment: datetime | None = None) -> LogNow:
    """As ``state``, of an open show."""
    lines = LogBook(show.store).lines(day)
    turning = rolling([line for line in lines if moment is None or line.at <= moment])
    return LogNow(
        day=day,
        at=moment,
        wearing=tuple(
            WornRow(
                pack=pack,
                character=worn.entry.character,
                mic_place=worn.entry.mic_place,
                power_mw=worn.entry.power_mw,
                since=worn.line.at,
                note=worn.entry.note,
                line=worn.line.id,
            )
            for pack, worn in sorted(wearing_at(lines, moment).items())
        ),
        batteries=tuple(
            ChargeRow(
                item=item,
                changed=None if charge.changed is None else charge.changed.at,
                percent=charge.percent,
                looked=charge.looked.at,
                line=charge.looked.id,
            )
            for item, charge in sorted(charges_at(lines, moment).items())
        ),
        positions=tuple(
            PositionRow(changeover=id, position=line.fields["position"], since=line.at, line=line.id)
            for id, line in sorted(positions_at(lines, moment).items())
        ),
        jams=tuple(_jam(device, line) for device, line in sorted(jams_at(lines, moment).items())),
        promises=tuple(LogLineRow.of(line) for line in open_promises(show, moment)),
        rolling=None if turning is None else LogLineRow.of(turning),
        next=next_slate(show, day),
    )


def open_promises(show: Show, moment: datetime | None = None) -> list[LogLine]:
    """Wild tracks that were promised on any day and that no take keeps yet."""
    lines = LogBook(show.store).lines(None, "promise", "take")
    return promises_open([each for each in lines if moment is None or each.at <= moment])


def next_slate(show: Show, day: str, *, kind: TakeKind = "take", scene: str = "", new_setup: bool = False) -> SlateRow:
    """What is likely to stand on the slate next, and on which sound roll."""
    book = LogBook(show.store)
    takes = [take for _, take in book.takes()]
    today = [take for _, take in book.takes(day)]
    roll = next((take.sound_roll for take in reversed(today) if take.sound_roll), "") or _next_roll(takes)
    style = style_kept(show) or style_of(takes)
    found = next_take(takes, style=style, kind=kind, scene=scene, new_setup=new_setup, sound_roll=roll)
    return SlateRow(scene=found.scene, slate=found.slate, take=found.take, sound_roll=roll, style=style)


def style_kept(show: Show) -> Style | None:
    """The style of numbering that was chosen for the show; none where the last slates decide."""
    kept = show.store.get(_STYLE)
    return next((style for style in STYLES if style == kept), None)


def keep_style(show: Show, style: str) -> None:
    """Choose a style of numbering. Raises InputError when there is no such style."""
    if style not in STYLES:
        raise InputError(f"there is no numbering '{style[:40]}'; choose one of: {', '.join(STYLES)}")
    show.store.put(_STYLE, style)


def acts_on(show: Show, id: str) -> tuple[LogActRow, ...]:
    """Everything that was done to a line, newest first."""
    return tuple(LogActRow.of(entry) for entry in LogBook(show.store).history_of(id))


def add_lines(show: Show, new: Sequence[NewLine], name: str = "", key: str = "") -> Written:
    """Write several lines at once, as one act. Raises as ``add``."""
    return LogBook(show.store).add_all(new, author_of(plan_of(show), name), key=key)


def day_of(show: Show, day: str = "", today: date | None = None) -> str:
    """The id of a day: as given, else that of today's date, else the last with lines, else the one that matters now.

    Raises
    ------
    InputError
        when none is given and there is none to choose
    """
    if day:
        return day
    plan = plan_of(show)
    days = plan.schedule.days if plan else ()
    wanted = today or date.today()
    for each in days:
        if each.date == wanted:
            return each.id
    lines = LogBook(show.store).lines()
    if lines:
        return max(lines, key=lambda line: line.made).day
    now = plan.day_now(wanted) if plan else None
    if now is not None:
        return now.id
    raise InputError(f"the plan of {show.folder} has no days; say which day it is with --day day-1")


def moment_of(at: str, plan: Plan | None, day: str) -> datetime | None:
    """A moment as it was given; None for now.

    Raises
    ------
    InputError
        when it is neither a time of day nor a whole moment
    """
    if not at:
        return None
    clock = _CLOCK.fullmatch(at.strip())
    if clock:
        on = _date_of(plan, day)
        seconds = int(clock[3] or 0)
        return datetime(on.year, on.month, on.day, int(clock[1]), int(clock[2]), seconds).astimezone()
    with contextlib.suppress(ValueError, OverflowError):
        found = datetime.fromisoformat(at.strip())
        return found if found.tzinfo is not None else found.astimezone()
    raise InputError(f"'{at[:40]}' is no time; write a time of day such as 14:05, or 2031-02-18T14:05:00+01:00")


def plan_of(show: Show) -> Plan | None:
    """The plan, or none where it is one of another version: the log is there all the same."""
    try:
        return show.plan()
    except InputError:
        return None


def planned_day(plan: Plan | None, day: str) -> Day | None:
    """The day of an id in the plan."""
    return next((each for each in plan.schedule.days if each.id == day), None) if plan else None


def _date_of(plan: Plan | None, day: str) -> date:
    planned = planned_day(plan, day)
    return planned.date if planned is not None and planned.date is not None else date.today()


def _next_roll(takes: Sequence[TakeEntry]) -> str:
    """The sound roll after the last one that was used, when it ends in a number."""
    last = next((take.sound_roll for take in reversed(takes) if take.sound_roll), "")
    form = re.fullmatch(r"(.*?)(\d{1,6})", last)
    return f"{form[1]}{int(form[2]) + 1:0{len(form[2])}d}" if form else ""


def _jam(device: str, line: LogLine) -> JamRow:
    fields = line.fields
    return JamRow(
        device=device,
        source=fields.get("source", ""),
        timecode=fields.get("timecode", ""),
        at=line.at,
        line=line.id,
    )


@contextmanager
def _reading(folder: Path) -> Iterator[Show]:
    with Show.open(folder, read_only=True) as show:
        yield show
