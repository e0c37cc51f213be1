"""Gather every proof of a show: over the plan, the media, the drives and the backups; and weigh them as one."""

from __future__ import annotations

import functools
import itertools
import os
import re
import shutil
import threading
import time
from collections.abc import Iterable, Iterator, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from rollsound.actions.ready_day import day_proven
from rollsound.actions.ready_fields import fields_proven
from rollsound.actions.ready_log import log_proven
from rollsound.actions.ready_radio import of_radio, radio_proven
from rollsound.actions.ready_song import song_proven
from rollsound.errors import RollsoundError
from rollsound.finding import Area, Finding, Weight
from rollsound.log.backups import Backup, backups_of, verify
from rollsound.quantities import count
from rollsound.review.backups import backup_age
from rollsound.review.model import AreaFigure, Place, Proof, Told, Verdict
from rollsound.review.ready import verdict_of
from rollsound.review.storage import DaySize, Drive, planned_day, recorded_day, room, room_figure
from rollsound.show.proofs import proofs_of

if TYPE_CHECKING:
    from rollsound.actions.media_model import MediaDay, MediaIndex, MediaTake
    from rollsound.show.folder import Show
    from rollsound.show.model import Plan

LOOK_AGAIN_SECONDS = 2.0
"""How long the answer is kept while the plan stays as it is: every page asks for its figure."""
_BYTES = {"16-bit": 2, "24-bit": 3, "32-bit float": 4}
_IN_PLAN = "plan#"


class _Kept:
    """The last answer for one show folder."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._at = float("-inf")
        self._revision = -1
        self._verdict: Verdict | None = None

    def verdict(self, show: Show) -> Verdict:
        with self._lock:
            revision = show.store.head().revision
            now = time.monotonic()
            if self._verdict is None or revision != self._revision or now - self._at > LOOK_AGAIN_SECONDS:
                self._verdict = _gather(show, datetime.now(UTC))
                self._revision, self._at = revision, time.monotonic()
            return self._verdict


@functools.lru_cache(maxsize=16)
def _kept(folder: Path) -> _Kept:
    return _Kept()


def ready(show: Show) -> Verdict:
    """Everything that is proven of a show as it stands, or stood two seconds ago.

    Raises
    ------
    MistakesError, InputError
        when the plan cannot be read
    """
    return _kept(show.folder).verdict(show)


def ready_without_media(show: Show) -> Verdict:
    """What is proven of the plan alone: for the moment in which neither media nor the arithmetic of radio are there."""
    return _gather(show, datetime.now(UTC), media=False)


def _gather(show: Show, now: datetime, *, media: bool = True) -> Verdict:
    head, plan = show.store.head(), show.plan()
    proofs = [*_of_plan(plan, proofs_of(plan, head.document)), *log_proven(show)]
    gaps: list[str] = []
    figures: dict[Area, AreaFigure] = {}
    if media:
        radio = radio_proven(show.folder, plan)
        proofs += of_radio(radio)
        figures |= dict(radio.figures)
        proofs += fields_proven(show.folder, plan)
        proofs += day_proven(show, plan)
        proofs += song_proven(show)
    index = _media(show) if media and plan.media else None
    days = index.days if index is not None else ()
    for day in days:
        proofs += _of_day(day)
        proofs += _of_turnover(show, day)
        gaps += _gaps_of(day)
    if figure := _clock_figure(days):
        figures[Area.SYNC] = figure
    rooms = _rooms(show, plan, days)
    proofs += [Proof(area=Area.MEDIA, what="drive with room", told=(_told_on("media", each),)) for each in rooms]
    if figure := room_figure(rooms):
        figures[Area.MEDIA] = figure
    if proofs:  # of an empty plan there is nothing to keep
        backup = _backup(show, now)
        proofs.append(Proof(area=Area.MEDIA, what="backup of the plan", told=(_told_on("settings", backup),)))
    return verdict_of(proofs, figures, gaps, _basis(head.revision, days))


def _basis(revision: int, days: Sequence[MediaDay]) -> str:
    if not days:
        return f"for the plan at revision {revision}"
    return f"for the plan at revision {revision} and the media of {count(len(days), 'day')}"


def _media(show: Show) -> MediaIndex:
    from rollsound.actions.media import media_of  # signal code, which takes a moment to load

    return media_of(show)


def _told_on(page: str, finding: Finding, **where: object) -> Told:
    return Told(finding=_without_folders(finding), place=Place.model_validate({"page": page, **where}))


def _without_folders(finding: Finding) -> Finding:
    """Where files lie is for this machine only; their names say enough to everybody else."""
    refs = tuple(
        ref if ref.path.startswith(_IN_PLAN) else ref.model_copy(update={"path": re.split(r"[/\\\\]", ref.path)[-1]})
        for ref in finding.refs
    )
    return finding if refs == finding.refs else finding.model_copy(update={"refs": refs})


def _of_plan(plan: Plan, findings: Iterable[Finding]) -> Iterator[Proof]:
    """The checks of the plan, one proof a check. What holds of nothing at all proves nothing, and is left out."""
    days, tracks = plan.schedule.days, plan.rig.tracks
    asked = {"mixer": plan.people, "day date": days, "day site": days, "media day": plan.media}
    asked |= {"day twice": days[1:], "track twice": tracks[1:]}
    for (kind, area), found in itertools.groupby(findings, lambda finding: (finding.kind, finding.area)):
        told = tuple(_in_plan(finding) for finding in found)
        if asked.get(kind, True) or any(each.finding.weight is not Weight.FINE for each in told):
            held = told[0].finding.what.rstrip(".")
            yield Proof(area=area, what=f"plan: {held[:1].lower()}{held[1:]}", told=told)


def _in_plan(finding: Finding) -> Told:
    """Where a finding is about one place of the plan, its first reference says which."""
    path = next((ref.path.removeprefix(_IN_PLAN) for ref in finding.refs if ref.path.startswith(_IN_PLAN)), "")
    return _told_on("plan", finding, path=path)


def _of_day(day: MediaDay) -> Iterator[Proof]:
    for problem in day.problems:
        yield _recorded(Area.MEDIA, "folder of a day", [_lost(problem, day.label, "media", name=day.label, id=day.id)])
    for take in day.recorded:
        if take.problem:
            told = _lost(take.problem, take.name, "take", name=take.name, id=take.id)
            yield _recorded(Area.MEDIA, "file that can be read", [told])
        elif take.measured:
            yield from _of_take(take)
        yield from _on_cards(take)
    for finding in day.findings:
        told = _told_on("media", finding, name=day.label, id=day.id)
        yield _recorded(finding.area, "card against recorder", [told])
    for card in day.cards:
        if card.rate_ppm is not None:
            yield _recorded(Area.SYNC, "clock of a card, fitted over the day", [])


def _recorded(area: Area, what: str, told: Sequence[Told]) -> Proof:
    return Proof(area=area, what=what, told=tuple(told), recorded=True)


def _lost(sentence: str, subject: str, page: str, **where: object) -> Told:
    finding = Finding(
        area=Area.MEDIA,
        weight=Weight.STOP,
        subject=subject,
        kind="lost",
        what=sentence,
        remedy="Connect the drive, or copy the files from another copy, before anything is erased.",
        source="common practice, no source",
    )
    return _told_on(page, finding, **where)


def _of_take(take: MediaTake) -> Iterator[Proof]:
    """One proof a track, one for what several tracks show together, and one for the files themselves."""
    placed: dict[tuple[Area, int], list[Told]] = {}
    for number, finding in enumerate(take.findings):
        place = _place(take, finding, number)
        placed.setdefault((finding.area, place.track), []).append(Told(finding=finding, place=place))
    for track in take.tracks:
        if track.kind != "time code":
            yield _recorded(
                Area.SIGNAL, "track of a take, searched for faults", placed.pop((Area.SIGNAL, track.index), [])
            )
    yield _recorded(Area.SIGNAL, "take, its tracks held against each other", placed.pop((Area.SIGNAL, 0), []))
    yield _recorded(Area.MEDIA, "file of a take, whole and readable", placed.pop((Area.MEDIA, 0), []))
    for (area, _), told in placed.items():
        what = "time code of a take" if area is Area.SYNC else "track of a take"
        yield _recorded(area, what, told)


def _place(take: MediaTake, finding: Finding, number: int) -> Place:
    channels = {(take.members[track.member].name, track.channel): track.index for track in take.tracks}
    tracks = {channels.get((ref.path, ref.track), 0) for ref in finding.refs if ref.track}
    spot = next((spot for spot in take.spots if spot.finding == number), None)
    return Place(
        page="take",
        name=take.name,
        id=take.id,
        track=tracks.pop() if len(tracks) == 1 else 0,
        start_sample=spot.start_sample if spot else 0,
        length_samples=spot.length_samples if spot else 0,
    )


def _on_cards(take: MediaTake) -> Iterator[Proof]:
    """Radio tracks whose place on a card is known. Where it is not, conform's own findings say so."""
    for track in take.tracks:
        if track.looked_for and track.conform is not None and track.conform.outcome in ("placed", "by model"):
            yield _recorded(Area.SYNC, "radio track, placed on its card", [])


def _of_turnover(show: Show, day: MediaDay) -> Iterator[Proof]:
    """What the turnover's checklist says of a day that has recordings. What is not measured yet is told as a gap."""
    from rollsound.actions.turnover_check import turnover_check

    check = turnover_check(show, day.id) if day.recorded else None
    for finding in check.checks if check is not None else ():
        if finding.kind == "files measured" and finding.weight is Weight.WATCH:
            continue
        told = _told_on("turnover", finding, name=day.label, id=day.id)
        yield _recorded(finding.area, f"turnover: {finding.kind}", [told])


def _clock_figure(days: Sequence[MediaDay]) -> AreaFigure | None:
    """The card whose clock is furthest from the recorder's."""
    rates = [card.rate_ppm for day in days for card in day.cards if card.rate_ppm is not None]
    if not rates:
        return None
    furthest = f"{max(rates, key=abs):+.1f} ppm".replace("-", "−")
    return AreaFigure(figure=furthest, sentence="the card clock furthest from the recorder's")


def _gaps_of(day: MediaDay) -> Iterator[str]:
    if not day.recorded and not day.problems:
        yield f"{day.label}: no recordings lie where the plan says."
    if day.unmeasured:
        was = "was" if day.unmeasured == 1 else "were"
        yield f"{day.label}: {count(day.unmeasured, 'take')} {was} not measured yet. Measure them on the page Media."


def _rooms(show: Show, plan: Plan, days: Sequence[MediaDay]) -> list[Finding]:
    day = recorded_day([sum(take.size_bytes for take in each.recorded) for each in days]) or _planned(plan)
    if day is None:
        return []
    """Of drives that are written to only: a recorder's or a card's may be full, and nothing on it is to be freed."""
    places = [("the show", show.folder)]
    for each in plan.media:
        named = [
            (told, getattr(each, name))
            for name, told in (("conformed", "what conform makes"), ("turnover", "the turnover"))
            if getattr(each, name)
        ]
        places += [(name, Path(os.path.normpath(show.folder / path))) for name, path in named]
    return [room(drive, day) for drive in _drives(places)]


def _planned(plan: Plan) -> DaySize | None:
    hours = max((_hours(day.call, day.wrap) for day in plan.schedule.days), default=0.0)
    return planned_day(len(plan.rig.tracks), plan.show.sample_rate_hz, _BYTES[plan.show.sample_format], hours)


def _hours(call: str, wrap: str) -> float:
    if not call or not wrap:
        return 0.0
    begin, end = (int(hour) + int(minute) / 60 for hour, minute in (text.split(":") for text in (call, wrap)))
    return (end - begin) % 24


def _drives(places: Iterable[tuple[str, Path]]) -> list[Drive]:
    """Each drive once, by what lies on it first; what is not there tells nothing about its drive."""
    found: dict[int, Drive] = {}
    for name, path in places:
        try:
            device = path.stat().st_dev
            if device not in found:
                found[device] = Drive(name, shutil.disk_usage(path).free)
        except OSError:
            continue
    return list(found.values())


def _is_whole(backup: Backup) -> bool:
    """Whether a backup's bytes hold, looked at once as long as the file stays as it is."""
    try:
        info = backup.path.stat()
    except OSError:
        return False
    return _holds(backup.path, info.st_size, info.st_mtime_ns)


@functools.lru_cache(maxsize=64)
def _holds(path: Path, size_bytes: int, modified_ns: int) -> bool:
    try:
        verify(path)
    except RollsoundError:
        return False
    return True


def _backup(show: Show, now: datetime) -> Finding:
    newest = next((each for each in backups_of(show.store.path) if each.kind != "aside" and _is_whole(each)), None)
    revision = show.store.head().revision
    held = newest.revision if newest is not None else 0
    first = show.store.entry(held + 1) if held < revision else None
    unsaved = first.at if first is not None else now
    return backup_age(now, revision, (newest.at, newest.revision) if newest is not None else None, unsaved)
