"""A scan taken in: what is in use, whose carriers lie on it, and the file kept with the show."""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from rollsound.actions.radio_findings import cautions_of
from rollsound.actions.radio_model import OccupiedRow, ScanResult
from rollsound.actions.radio_read import Asked, scan_text
from rollsound.actions.radio_writing import write_changes
from rollsound.errors import InputError, storage
from rollsound.log.changes import ABSENT, Change, join, value_at

if TYPE_CHECKING:
    from rollsound.radio.carriers.task import Occupied, Task

THRESHOLD_DBM = -90.0
GUARD_HZ = 100_000
SCANS = "scans"
_NOT_OF_AN_ID = re.compile(r"[^a-z0-9]+")


def take_scan(
    asked: Asked,
    file: Path,
    *,
    threshold_dbm: float | None = None,
    guard_hz: int | None = None,
    sites: Collection[str] = (),
) -> ScanResult:
    """Read a scan, and tell whose carriers lie on what is in use.

    Parameters
    ----------
    threshold_dbm
        what lies above is in use; that of the plan's entry for this file, or -90 dBm, when None
    guard_hz
        kept between a signal's edge and what is in use
    sites
        where it was taken: who does not send there is not touched; those of the plan's entry for this file when empty

    Raises
    ------
    InputError, MistakesError
        when it is no scan, or its units cannot be told
    """
    from rollsound.radio.scan import occupied, read

    levels = read(scan_text(file), file.name)
    known = _entry(asked, file)
    if threshold_dbm is None:
        threshold_dbm = float(known.threshold_dbm) if known is not None else THRESHOLD_DBM
    if guard_hz is None:
        guard_hz = round(known.guard_hz) if known is not None else GUARD_HZ
    if not -200 <= threshold_dbm <= 40:
        raise InputError(f"a threshold of {threshold_dbm:g} dBm tells nothing; -90 dBm is usual")
    where = set(sites) or set(known.sites if known is not None else ())
    task = _on_sites(asked, where)
    rows = tuple(
        OccupiedRow(
            low_mhz=each.low_hz / 1e6,
            high_mhz=each.high_hz / 1e6,
            why=each.why,
            touches=touches(task, asked.carriers_hz, each),
        )
        for each in occupied(levels, threshold_dbm, guard_hz, file.stem)
    )
    touched = {id for row in rows for id in row.touches}
    return ScanResult(
        path=str(asked.path),
        name=asked.name,
        file=str(file),
        low_mhz=int(levels.low_hz[0]) / 1e6,
        high_mhz=int(levels.high_hz[-1]) / 1e6,
        points=levels.level_dbm.size,
        step_khz=levels.step_hz / 1e3,
        highest_dbm=round(float(levels.level_dbm.max()), 1),
        floor_dbm=round(float(np.median(levels.level_dbm)), 1),
        threshold_dbm=threshold_dbm,
        guard_khz=guard_hz / 1e3,
        occupied=rows,
        touched=tuple(each.id for each in asked.task.wanted if each.id in touched),
        notes=levels.notes,
        cautions=cautions_of(asked),
    )


def _on_sites(asked: Asked, sites: Collection[str]) -> Task:
    """The task with those only that send on one of the sites; with everybody where none is named."""
    if not sites:
        return asked.task
    here = {each.id for each in asked.radio.transmitters if not each.sites or not set(each.sites).isdisjoint(sites)}
    return replace(asked.task, wanted=tuple(each for each in asked.task.wanted if each.id in here))


def _entry(asked: Asked, file: Path) -> Any:
    return next((each for each in asked.radio.scans if _same(asked.folder / each.file, file)), None)


def _same(one: Path, other: Path) -> bool:
    return one.absolute().resolve() == other.absolute().resolve()


def touches(task: Task, carriers_hz: Mapping[str, int], found: Occupied) -> tuple[str, ...]:
    """Ids of the transmitters whose signal lies nearer to what is in use than its guard."""
    return tuple(
        each.id
        for each in task.wanted
        if each.id in carriers_hz
        and carriers_hz[each.id] * 2 + each.width_hz > 2 * (found.low_hz - found.guard_hz)
        and carriers_hz[each.id] * 2 - each.width_hz < 2 * (found.high_hz + found.guard_hz)
    )


def save_scan(
    asked: Asked, result: ScanResult, *, sites: Collection[str] = (), taken: str = "", name: str = ""
) -> ScanResult:
    """Keep the scan with the show: its file copied beside the plan, and named there, to be planned around.

    One that is named already is only switched on, with this threshold.

    Raises
    ------
    InputError
        for a bare request, which has no place for it
    ClashError
        when somebody changed the same since it was read
    StorageError
        when the disk fails
    """
    if asked.form == "request":
        raise InputError(f"{asked.path.name} is a request, with no place for a scan; write what is in use into it")
    file = Path(result.file)
    known = _entry(asked, file)
    where = known.file if known is not None else _kept_at(asked, file)
    entry: dict[str, Any] = {
        "id": known.id if known is not None else _new_id(asked, file),
        "file": where,
        "sites": list(sites) or None,
        "threshold": f"{result.threshold_dbm:g} dBm",
        "guard": f"{result.guard_khz:g} kHz",
        "taken": taken or None,
        "used": True,
    }
    entry = {field: value for field, value in entry.items() if value is not None}
    told = f"Took in the scan {file.name}"
    saved = write_changes(asked, [_change(asked, entry)], told, name)
    return result.model_copy(update={"saved": saved})


def _kept_at(asked: Asked, file: Path) -> str:
    """Where the file lies as seen from the plan; one from elsewhere is copied beside it."""
    from rollsound.whole import write_whole

    folder = asked.folder.absolute().resolve()
    whole = file.absolute().resolve()
    if whole.is_relative_to(folder):
        return whole.relative_to(folder).as_posix()
    target = folder / SCANS / file.name
    with storage(file):
        data = file.read_bytes()
    with storage(target):
        target.parent.mkdir(parents=True, exist_ok=True)
        if target.exists() and target.read_bytes() != data:
            raise InputError(
                f"{target} is there already, with another scan in it; rename {file.name} and take it again"
            )
    write_whole(target, data)
    return target.relative_to(folder).as_posix()


def _new_id(asked: Asked, file: Path) -> str:
    base = _NOT_OF_AN_ID.sub("-", file.stem.lower()).strip("-")[:56] or "scan"
    taken = {each.id for each in asked.radio.scans}
    return next(id for n in range(1, len(taken) + 2) if (id := base if n == 1 else f"{base}-{n}") not in taken)


def _change(asked: Asked, entry: dict[str, Any]) -> Change:
    path = join(["radio", "scans", entry["id"]])
    before = value_at(asked.document, path)
    if isinstance(before, dict):
        return Change(path, before, {**before, **entry})
    if value_at(asked.document, "/radio/scans") is ABSENT:
        return Change("/radio/scans", ABSENT, [entry])
    return Change(path, ABSENT, entry)
