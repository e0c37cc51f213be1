"""What the day's clocks, and log and media together, prove for Ready; each kept while what it rests on stays."""

from __future__ import annotations

import functools
import threading
from collections.abc import Callable, Iterable, Iterator, Sequence
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from rollsound.errors import RollsoundError
from rollsound.finding import Area, Finding, Ref, Weight
from rollsound.log.daybook import LogBook
from rollsound.review.model import Place, Proof, Told

if TYPE_CHECKING:
    from rollsound.log.daylines import LogLine
    from rollsound.show.folder import Show
    from rollsound.show.model import Day, Plan

_CLOCKS = "time code of the day inside half a frame"
_MEETS = "log and media agree"


class _Kept:
    """The last answers for one show folder, each with what it rests on."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._answers: dict[str, tuple[object, list[Finding]]] = {}

    def findings(self, name: str, rests_on: object, find: Callable[[], list[Finding]]) -> list[Finding]:
        with self._lock:
            before = self._answers.get(name)
            if before is None or before[0] != rests_on:
                self._answers[name] = before = (rests_on, find())
            return before[1]


@functools.lru_cache(maxsize=16)
def _kept(folder: Path) -> _Kept:
    return _Kept()


def day_proven(show: Show, plan: Plan) -> Iterator[Proof]:
    """Clocks of the day that matters now, and every day that has both a log and media."""
    kept, book = _kept(show.folder), LogBook(show.store)
    number = book.last_number()
    lines = book.lines()
    now = plan.day_now(date.today())
    if now is not None:
        parts = (plan.schedule, plan.kit, plan.rig.pieces, plan.power.phases, plan.sites, plan.media)
        stamps = _stamps(_conformed(plan, show.folder))
        jams = kept.findings("clocks", (number, now, parts, stamps), lambda: _jams(show, plan, lines))
        if jams:
            yield _proof(Area.SYNC, _CLOCKS, jams, now.id, recorded=False)
    logged = {line.day for line in lines if line.kind == "take"}
    of_plan = (plan.script, plan.packs, plan.rig.tracks, plan.rig.sources, plan.media, plan.show)
    for day in plan.schedule.days:
        media = [each for each in plan.media if each.day == day.id and each.recorder]
        if not media or day.id not in logged:
            continue
        try:
            stamps = _stamps(_files(show.folder, plan, day))
        except RollsoundError:  # where files are not there, the proofs of media tell it
            continue
        find = functools.partial(_met, show, plan, lines, day)
        found = kept.findings(day.id, (number, day, of_plan, stamps), find)
        for area in (Area.MEDIA, Area.SYNC):
            yield _proof(area, _MEETS, [each for each in found if each.area is area], media[0].id, recorded=True)


def _proof(area: Area, what: str, findings: Iterable[Finding], id: str, *, recorded: bool) -> Proof:
    page = Place(page="media", name=id, id=id) if recorded else None
    return Proof(area=area, what=what, told=tuple(_told(each, page) for each in findings), recorded=recorded)


def _told(finding: Finding, place: Place | None) -> Told:
    """Where files lie is for this machine only; their names say enough to everybody else."""
    refs = tuple(_bare(ref) for ref in finding.refs)
    return Told(finding=finding.model_copy(update={"refs": refs}), place=place)


def _bare(ref: Ref) -> Ref:
    return ref if ref.path.startswith("log#") else ref.model_copy(update={"path": Path(ref.path).name})


def _jams(show: Show, plan: Plan, lines: Iterable[LogLine]) -> list[Finding]:
    from rollsound.actions.jams import jams_of
    from rollsound.actions.jams_gather import ClocksOfDay

    return list(jams_of(ClocksOfDay(plan, show.folder, [line for line in lines if line.kind == "jam"])).findings)


def _files(folder: Path, plan: Plan, day: Day) -> list[Path]:
    from rollsound.actions.crosscheck_gather import recorder_files

    return recorder_files(plan, folder, day)


def _met(show: Show, plan: Plan, lines: Sequence[LogLine], day: Day) -> list[Finding]:
    """What log and media tell together; what the log tells of itself has proofs of its own."""
    from rollsound.actions.crosscheck_gather import gathered
    from rollsound.review.crosscheck import crosscheck

    found = gathered(plan, show.folder, lines, day)
    answer = crosscheck(found.written, found.on_disk, found.planned)
    return [each for each in answer.findings if each.weight is not Weight.FINE]


def _conformed(plan: Plan, folder: Path) -> list[Path]:
    return [folder / each.conformed / "conform.json" for each in plan.media if each.conformed]


def _stamps(paths: Iterable[Path]) -> tuple[tuple[str, int, int], ...]:
    found = []
    for path in paths:
        try:
            stat = path.stat()
        except OSError:
            continue
        found.append((str(path), stat.st_size, stat.st_mtime_ns))
    return tuple(found)
