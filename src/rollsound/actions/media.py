"""The media of a show: what the plan names, joined with what inspect measured and what conform made.

Built anew when a file, a result or the plan has changed, and kept in between. Takes are named by ids of ours; nobody
outside names a path.
"""

from __future__ import annotations

import functools
import os
import threading
import time
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Protocol

from pydantic import ValidationError

from rollsound.actions.conform_result import RESULT_NAME, ConformResult, ConformTake
from rollsound.actions.gather import audio_files
from rollsound.actions.inspect import INDEX_NAME, InspectResult, across_files
from rollsound.actions.kept import index_folder
from rollsound.actions.media_build import KnownFiles, last_part, take_as_rebuilt, take_as_recorded, told_of
from rollsound.actions.media_model import MediaDay, MediaIndex, MediaTake
from rollsound.errors import InputError, RollsoundError
from rollsound.finding import Finding
from rollsound.wave import group_sets

LOOK_AGAIN_SECONDS = 1.0
"""How long the disk is not asked again: a page asks for many waveforms at once."""


class PlannedDay(Protocol):
    """What is needed of the plan's entry for a day's media."""

    @property
    def id(self) -> str: ...
    @property
    def day(self) -> str: ...
    @property
    def recorder(self) -> str: ...
    @property
    def cards(self) -> str: ...
    @property
    def conformed(self) -> str: ...
    @property
    def turnover(self) -> str: ...
    @property
    def takes_sheet(self) -> str: ...
    @property
    def wearers_sheet(self) -> str: ...


_FOLDERS = ("recorder", "cards", "conformed", "turnover", "takes_sheet", "wearers_sheet")


def place_of(folder: Path, text: str) -> Path | None:
    """A path as the plan writes it, from the show's folder; None when it is empty."""
    return Path(os.path.normpath(folder / text)) if text else None


class Media:
    """The media of one show folder."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._lock = threading.Lock()
        self._signature: object = None
        self._index = MediaIndex(days=())
        self._looked = float("-inf")
        self._asked: object = None

    def index(self, days: Iterable[PlannedDay], labels: dict[str, str]) -> MediaIndex:
        """All media, as they are now (or were a second ago).

        Parameters
        ----------
        days
            the plan's entries
        labels
            what the days are called, by their ids
        """
        planned = tuple(days)
        asked = (planned, tuple(labels.items()))
        with self._lock:
            now = time.monotonic()
            if asked == self._asked and now - self._looked < LOOK_AGAIN_SECONDS:
                return self._index
            looks = [_Look.of(self._folder, each) for each in planned]
            signature = (asked, _stamp(index_folder(self._folder) / INDEX_NAME), [look.signature for look in looks])
            if signature != self._signature:
                known = KnownFiles(index_folder(self._folder), _measured(self._folder))
                self._index = MediaIndex(
                    days=tuple(
                        _day(each, labels.get(each.day, each.day or each.id), look, known)
                        for each, look in zip(planned, looks, strict=True)
                    )
                )
                self._signature = signature
            self._asked, self._looked = asked, time.monotonic()
            return self._index

    def look_again(self) -> None:
        """Something has changed: do not wait to look."""
        with self._lock:
            self._looked = float("-inf")


@dataclass
class _Look:
    """What lies in a day's folders now."""

    files: tuple[Path, ...] = ()
    conformed: Path | None = None
    recorder: Path | None = None
    problems: tuple[str, ...] = ()
    signature: list[object] = field(default_factory=list)

    @classmethod
    def of(cls, folder: Path, planned: PlannedDay) -> _Look:
        recorder = place_of(folder, planned.recorder)
        conformed = place_of(folder, planned.conformed)
        files: tuple[Path, ...] = ()
        problems: list[str] = []
        if recorder is not None:
            others = [place for place in (conformed, place_of(folder, planned.cards)) if place is not None]
            try:
                files = tuple(audio_files([recorder], leave_out=others))
            except RollsoundError as error:
                problems.append(told_of(error, recorder, planned.recorder))
        result = None if conformed is None else conformed / RESULT_NAME
        stamps = [(str(path), _stamp(path)) for path in files]
        # Mirrors are listed by the result, and may vanish without it.
        made = [] if conformed is None else _names_in(conformed)
        signature: list[object] = [stamps, None if result is None else _stamp(result), made, tuple(problems)]
        return cls(files, conformed, recorder, tuple(problems), signature)


def _day(planned: PlannedDay, label: str, look: _Look, known: KnownFiles) -> MediaDay:
    problems = list(look.problems)
    result: ConformResult | None = None
    if look.conformed is not None:
        try:
            result = _conform_result(look.conformed)
        except RollsoundError as error:
            problems.append(told_of(error, look.conformed, planned.conformed))
    mode = result.mode if result is not None else ""
    takes: list[MediaTake] = []
    for group in _groups(look, known, result):
        done = _take_in(result, group)
        recorded = take_as_recorded(planned.id, group, known, done, mode)
        if done is not None and done.output and look.conformed is not None:
            made = [look.conformed / last_part(path) for path in done.output]
            rebuilt = take_as_rebuilt(planned.id, made, known, done, other=recorded.id)
            takes += [recorded.model_copy(update={"other": rebuilt.id}), rebuilt]
        else:
            takes.append(recorded)
    return MediaDay(
        id=planned.id,
        label=label,
        takes=tuple(takes),
        cards=tuple(
            card.model_copy(update={"files": tuple(last_part(path) for path in card.files)})
            for card in (result.cards if result is not None else ())
        ),
        mode=mode,
        findings=(*_across(look, known), *(result.findings if result is not None else ())),
        problems=tuple(problems),
        folders={name: getattr(planned, name) for name in _FOLDERS},
    )


def _across(look: _Look, known: KnownFiles) -> list[Finding]:
    """What only several files of the day together show; with names in place of paths."""
    reports = [report for path in look.files if (report := known.of(path)) is not None]
    return [
        finding.model_copy(
            update={"refs": tuple(ref.model_copy(update={"path": Path(ref.path).name}) for ref in finding.refs)}
        )
        for finding in across_files(reports)
    ]


def _groups(look: _Look, known: KnownFiles, result: ConformResult | None) -> list[list[Path]]:
    """Files by take. Those that were measured or conformed here and are gone are listed too: a loss must be seen."""
    gone: list[Path] = []
    if look.recorder is not None:
        names = [last_part(path) for take in (result.takes if result is not None else ()) for path in take.recorder]
        here = {path.name for path in look.files}
        lost = [*known.below(look.recorder), *(look.recorder / name for name in names)]
        gone = [path for path in dict.fromkeys(lost) if path.name not in here]
    try:
        groups = group_sets(look.files) if look.files else []
    except RollsoundError:  # a file that cannot be read stands for itself
        groups = [[path] for path in look.files]
    return sorted([*groups, *([path] for path in gone)], key=lambda group: known.order(group[0]))


def _take_in(result: ConformResult | None, group: list[Path]) -> ConformTake | None:
    """What conform did with a take; by the files' names, so that a show may be moved."""
    names = {path.name for path in group}
    takes = result.takes if result is not None else ()
    return next((take for take in takes if names & {last_part(path) for path in take.recorder}), None)


def _conform_result(folder: Path) -> ConformResult | None:
    path = folder / RESULT_NAME
    try:
        return ConformResult.model_validate_json(path.read_bytes())
    except FileNotFoundError:
        return None
    except OSError as error:
        raise InputError(f"{path} could not be read ({error.strerror}); check the drive") from error
    except ValidationError as error:
        raise InputError(f"{path} is not what conform writes; run conform again, or move it away") from error


def _measured(folder: Path) -> InspectResult:
    try:
        return InspectResult.model_validate_json((index_folder(folder) / INDEX_NAME).read_bytes())
    except (OSError, ValidationError):  # not measured yet, or by another version: measuring again costs time only
        return InspectResult(files=())


def _stamp(path: Path) -> tuple[int, int] | None:
    try:
        stat = path.stat()
    except OSError:
        return None
    return stat.st_size, stat.st_mtime_ns


def _names_in(folder: Path) -> list[str]:
    try:
        return sorted(os.listdir(folder))
    except OSError:
        return []


class OpenShow(Protocol):
    """What is needed of a show."""

    @property
    def folder(self) -> Path: ...

    def plan(self) -> Any:
        """The plan as it stands."""


@functools.lru_cache(maxsize=16)
def media_in(folder: Path) -> Media:
    """The one Media of a show's folder."""
    return Media(folder)


def media_of(show: OpenShow) -> MediaIndex:
    """All media of a show, as they are now (or were a second ago)."""
    plan = show.plan()
    labels = {day.id: _day_label(day.number, day.id) for day in plan.schedule.days}
    return media_in(show.folder).index(plan.media, labels)


def day_order(show: OpenShow, kind: str, media_id: str, *, mode: str = "mirror") -> dict[str, Any]:
    """The arguments of a job on a day's media, by what the plan says of it, so that nobody has to type a path.

    Raises
    ------
    InputError
        when the plan has no such entry, or does not name what the job needs
    """
    planned = next((each for each in show.plan().media if each.id == media_id), None)
    if planned is None:
        raise InputError("the plan has no media of that name; look at the list of days again")
    places = {name: place_of(show.folder, getattr(planned, name)) for name in _FOLDERS}
    if kind == "inspect":
        found = [place for name in ("recorder", "conformed") if (place := places[name]) is not None and place.exists()]
        if places["recorder"] is None:
            raise InputError(f"the plan does not say where the recorder's files of '{media_id}' lie; write it in first")
        paths = found or [places["recorder"]]
        return {"paths": [str(path) for path in paths], "index": str(index_folder(show.folder))}
    if kind == "conform":
        lacking = [name for name in ("recorder", "cards", "conformed") if places[name] is None]
        if lacking:
            raise InputError(f"for '{media_id}' the plan does not name: {', '.join(lacking)}; write it in first")
        return {
            "recorder": str(places["recorder"]),
            "cards": str(places["cards"]),
            "out": str(places["conformed"]),
            "mode": mode,
            "takes_sheet": _text(places["takes_sheet"]),
            "wearers_sheet": _text(places["wearers_sheet"]),
        }
    raise InputError(f"'{kind}' is no job on a day's media; measure or conform it")


def _text(place: Path | None) -> str | None:
    return None if place is None else str(place)


def _day_label(number: int | None, day_id: str) -> str:
    return day_id if number is None else f"Day {number}"
