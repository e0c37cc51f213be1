"""A schedule read from a sheet and laid over the plan's: days are matched, sites found by name, the rest told."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from rollsound.script.elements import Trouble
from rollsound.script.names import loose_key
from rollsound.script.schedule_sheet import SheetDay, read_schedule
from rollsound.show.model import Day

if TYPE_CHECKING:
    from rollsound.actions.plan_read import PlanRead
    from rollsound.show.model import Plan

NEW, CHANGED = "new", "changed"


@dataclass(frozen=True)
class ScheduleRead:
    """The days as they would be, as documents too, and which are new or changed."""

    days: tuple[Day, ...]
    documents: tuple[dict[str, Any], ...]
    changes: Mapping[str, str]
    remarks: tuple[Trouble, ...]


def with_sheet(read: PlanRead, file: Path, columns: Mapping[str, str] | None) -> ScheduleRead:
    """Lay a sheet over the plan's schedule. Days of the plan that the sheet has not stay, and that is told.

    Raises
    ------
    InputError
        when it is no sheet of days and scenes
    StorageError
        when it cannot be read
    """
    from rollsound.actions.script import text_of

    text, note = text_of(file)
    sheet = read_schedule(text, file.name, columns)
    remarks = [Trouble(0, note)] if note else []
    remarks += [replace(each, sentence=f"schedule: {each.sentence}") for each in sheet.troubles]
    before = {
        str(each["id"]): dict(each)
        for each in (read.document.get("schedule") or {}).get("days") or ()
        if isinstance(each, Mapping) and "id" in each
    }
    documents, changes = dict(before), {}
    for row in sheet.days:
        id = _known(row, read.plan) or _new_id(row, documents)
        made = _document(row, id, documents.get(id, {}), read.plan, remarks)
        if id not in before:
            changes[id] = NEW
        elif made != before[id]:
            changes[id] = CHANGED
        documents[id] = made
    left = [id for id in before if id not in {_known(row, read.plan) for row in sheet.days}]
    if left and sheet.days:
        told = ", ".join(left[:6])
        remarks.append(Trouble(0, f"schedule: the plan has days that {file.name} has not ({told}); they stay"))
    days = sorted((Day.model_validate(each) for each in documents.values()), key=_order)
    return ScheduleRead(tuple(days), tuple(documents[day.id] for day in days), changes, tuple(remarks))


def _order(day: Day) -> tuple[bool, str, int]:
    return day.date is None, day.date.isoformat() if day.date else "", day.number if day.number is not None else 10**6


def _known(row: SheetDay, plan: Plan) -> str:
    """Id of the plan's day that a row is of: by number, by date otherwise, and of the same unit."""
    of_unit = [day for day in plan.schedule.days if not row.unit or not day.unit or _same_unit(day.unit, row.unit)]
    by_number = [day.id for day in of_unit if row.number is not None and day.number == row.number]
    by_date = [day.id for day in of_unit if row.number is None and day.date == row.date]
    return next(iter([*by_number, *by_date]), "")


def _same_unit(one: str, other: str) -> bool:
    return one.casefold() == other.casefold()


def _new_id(row: SheetDay, taken: Mapping[str, Any]) -> str:
    base = f"day-{row.number}" if row.number is not None else f"day-of-{row.date}"
    id, number = base, 2
    while id in taken:
        id, number = f"{base}-unit-{number}", number + 1
    return id


def _document(row: SheetDay, id: str, before: Mapping[str, Any], plan: Plan, remarks: list[Trouble]) -> dict[str, Any]:
    """A day as it is written; what the sheet has no word on stays."""
    written: dict[str, Any] = {
        "number": row.number,
        "date": row.date.isoformat() if row.date else None,
        "site": _site(row.site, row.line, plan, remarks),
        "moves": [site for each in row.moves if (site := _site(each, row.line, plan, remarks))],
        "scenes": list(row.scenes),
        "call": row.call,
        "wrap": row.wrap,
        "unit": row.unit,
        "breaks": [{"from": start, "to": end} for start, end in row.breaks],
        "note": row.note,
    }
    made = {"id": id, **before}
    for name, value in written.items():
        if value not in (None, "", []) and str(made.get(name)) != str(value):
            made[name] = value
    return made


def _site(name: str, line: int, plan: Plan, remarks: list[Trouble]) -> str:
    if not name:
        return ""
    wanted = loose_key(name)
    exact = [site.id for site in plan.sites if wanted in (loose_key(site.id), loose_key(site.name))]
    near = [site.id for site in plan.sites if wanted in loose_key(site.name) or loose_key(site.id) in wanted]
    found = exact or near
    if len(set(found)) != 1:
        there = ", ".join(site.id for site in plan.sites) or "none yet"
        remarks.append(
            Trouble(
                line, f"schedule: '{name[:40]}' is no site of the plan, so its day has none from it; sites: {there}"
            )
        )
        return ""
    return found[0]
