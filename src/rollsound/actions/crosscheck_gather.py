"""What the cross-check needs of a day: takes of the log or of a sheet, files as they describe themselves, the plan."""

from __future__ import annotations

import os.path
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from rollsound.actions.day import take_sets
from rollsound.actions.gather import audio_files
from rollsound.errors import InputError, RollsoundError
from rollsound.finding import Area, Finding, Ref, Weight
from rollsound.log.entries import TakeEntry
from rollsound.log.proofs import proofs
from rollsound.log.sheet import TakeRow, read_takes
from rollsound.log.standing import wearing_at
from rollsound.review.crosscheck_model import FileOnDisk, PlannedDay, TakeOnDisk, TrackOnDisk, WrittenTake, plain
from rollsound.show.model import Day, DayMedia, Plan
from rollsound.wave import WaveInfo, read_info

if TYPE_CHECKING:
    from rollsound.actions.plan_read import PlanRead
    from rollsound.log.daylines import LogLine

_OF_THE_LOG = frozenset(
    {
        "duplicate take",
        "time code running backwards",
        "time code that does not exist",
        "take without an end",
        "wild track promised",
    }
)
"""What the log tells of itself and belongs to a day's media."""


@dataclass(frozen=True)
class DayOfMedia:
    """One day, gathered."""

    day: Day
    written: tuple[WrittenTake, ...]
    on_disk: tuple[TakeOnDisk, ...]
    planned: PlannedDay
    told_by_log: tuple[Finding, ...]
    unread: tuple[Finding, ...]
    """Files that cannot be read."""
    log_is: str
    notes: tuple[str, ...]


def day_of_media(read: PlanRead, asked: str = "") -> DayOfMedia:
    """Gather a day: the one asked for, else today's, else the last that has media.

    Raises
    ------
    InputError, StorageError, MistakesError
        when there is no such day, nothing says where its files lie, they are not there, or a sheet has mistakes
    """
    return gathered(read.plan, read.folder, _lines(read), _day(read.plan, asked))


def gathered(plan: Plan, folder: Path, lines: Sequence[LogLine], day: Day) -> DayOfMedia:
    """As ``day_of_media``, of a plan and a log that were read."""
    media = [each for each in plan.media if each.day == day.id and each.recorder]
    if not media:
        raise InputError(
            f"the plan does not say where the recorder's files of '{day.id}' lie; write it under 'media', 'recorder'"
        )
    on_disk, unread = _on_disk(recorder_files(plan, folder, day))
    own = [line for line in lines if line.day == day.id]
    written, log_is, notes = _written(own, media, plan, folder)
    return DayOfMedia(
        day=day,
        written=tuple(written),
        on_disk=tuple(on_disk),
        planned=planned_day(plan, day),
        told_by_log=told_by_log(own, plan),
        unread=tuple(unread),
        log_is=log_is,
        notes=tuple(notes),
    )


def recorder_files(plan: Plan, folder: Path, day: Day) -> list[Path]:
    """The recorder's files of a day. Raises as ``day_of_media``."""
    media = [each for each in plan.media if each.day == day.id and each.recorder]
    return [path for each in media for path in audio_files([_place(folder, each.recorder)])]


def _place(folder: Path, text: str) -> Path:
    """A path as the plan writes it, from the show's folder."""
    return Path(os.path.normpath(folder / text))


def _lines(read: PlanRead) -> Sequence[LogLine]:
    if read.form != "show":
        return ()
    from rollsound.log.daybook import LogBook
    from rollsound.show.folder import Show

    with Show.open(read.path, read_only=True) as show:
        return LogBook(show.store).lines()


def _day(plan: Plan, asked: str) -> Day:
    days = {day.id: day for day in plan.schedule.days}
    if asked:
        if asked not in days:
            raise InputError(f"the schedule has no day '{asked}'; there are: {', '.join(days) or 'none yet'}")
        return days[asked]
    with_media = [days[each.day] for each in plan.media if each.day in days]
    today = next((day for day in with_media if day.date == date.today()), None)
    if today is None and not with_media:
        raise InputError("the plan names no media of any day; write them under 'media', with 'day' and 'recorder'")
    return today or with_media[-1]


def _written(
    lines: Sequence[LogLine], media: Sequence[DayMedia], plan: Plan, folder: Path
) -> tuple[list[WrittenTake], str, list[str]]:
    takes = takes_of_log(lines, plan)
    if takes:
        return takes, "the log", []
    found: list[WrittenTake] = []
    for each in media:
        if each.takes_sheet:
            found += [_of_row(row) for row in read_takes(_place(folder, each.takes_sheet))]
    if found:
        return found, "the sheet of takes", ["The log has no take on this day; the sheet of takes was taken for it."]
    return [], "the log", ["The log has no take on this day, and the plan names no sheet of takes for it."]


def takes_of_log(lines: Sequence[LogLine], plan: Plan) -> list[WrittenTake]:
    """The takes among a day's lines, with who was wired while they rolled."""
    return [_of_line(line, line.entry, lines, plan) for line in lines if isinstance(line.entry, TakeEntry)]


def told_by_log(lines: Sequence[LogLine], plan: Plan) -> tuple[Finding, ...]:
    """What a day's lines tell of themselves and belongs to the day's media."""
    return tuple(each for each in proofs(lines, rate=plan.show.rate) if each.kind in _OF_THE_LOG)


def planned_day(plan: Plan, day: Day) -> PlannedDay:
    """What the plan expects; the pack plan is asked where there is one."""
    names = {each.id: each.name for each in plan.script.characters}
    tracks = [*(track.name for track in plan.rig.tracks), *(source.name for source in plan.rig.sources)]
    tracks += [name for each in plan.script.characters for name in each.spellings]
    return PlannedDay(
        rate=plan.show.rate,
        scenes=day.scenes,
        track_names=tuple(dict.fromkeys(name for name in tracks if name)) if plan.rig.tracks else (),
        speak=_wired(plan, day, names),
    )


def _of_line(line: LogLine, entry: TakeEntry, lines: Sequence[LogLine], plan: Plan) -> WrittenTake:
    return WrittenTake(
        id=line.id,
        scene=entry.scene,
        slate=entry.slate,
        take=entry.take,
        kind=entry.kind,
        sound_roll=entry.sound_roll,
        timecode_in=entry.timecode_in,
        timecode_out=entry.timecode_out,
        files=entry.files,
        circled=entry.circled,
        note=entry.note,
        track_notes=entry.track_notes,
        worn=_worn(line, entry, lines, plan),
    )


def _worn(line: LogLine, entry: TakeEntry, lines: Sequence[LogLine], plan: Plan) -> tuple[str, ...]:
    """Names of those who wore a pack and are heard in the scene by the script; who only waits needs no track."""
    scene = plan.script.scene(entry.scene)
    heard = {each.id: each for each in plan.script.characters if scene is not None and each.id in scene.characters}
    wearers = {plain(worn.entry.character) for worn in wearing_at(lines, line.at).values()}
    return tuple(each.name for id, each in heard.items() if wearers & {plain(id), *map(plain, each.spellings)})


def _of_row(row: TakeRow) -> WrittenTake:
    return WrittenTake(
        id=row.file,
        scene=row.scene,
        slate=row.slate,
        take=row.take,
        kind=row.kind,  # type: ignore[arg-type]
        sound_roll=row.sound_roll,
        files=(row.file,),
        circled=row.circled,
        note=row.note,
    )


def _on_disk(files: Sequence[Path]) -> tuple[list[TakeOnDisk], list[Finding]]:
    takes, unread = [], []
    for group in take_sets(files):
        infos = []
        for path in group:
            try:
                infos.append(read_info(path))
            except RollsoundError as error:
                unread.append(_unread(path, error))
        if infos:
            takes.append(take_on_disk(infos))
    return takes, unread


def _unread(path: Path, error: RollsoundError) -> Finding:
    return Finding(
        area=Area.MEDIA,
        weight=Weight.STOP,
        subject=path.name,
        kind="file that cannot be read",
        what=f"{error.sentence.rstrip('.')}.",
        remedy="Bring it back from another copy before anything is erased; 'rollsound recover' may make it whole.",
        source="the file itself",
        refs=(Ref(path=str(path)),),
    )


def take_on_disk(infos: Sequence[WaveInfo]) -> TakeOnDisk:
    """What the files of one take say of themselves."""
    start = min(info.start_samples for info in infos)
    return TakeOnDisk(
        files=tuple(_file(info) for info in infos),
        start_samples=start,
        frames=max(info.start_samples - start + info.frames for info in infos),
        sample_rate_hz=infos[0].format.sample_rate_hz,
        has_timecode=any(info.has_timecode for info in infos),
        tracks=tuple(
            TrackOnDisk(n, channel, name, named=name != f"Track {channel}")
            for n, info in enumerate(infos)
            for channel, name in enumerate(info.track_names, 1)
        ),
    )


def _file(info: WaveInfo) -> FileOnDisk:
    lines = info.bext.lines if info.bext else {}
    says = bool((info.ixml and info.ixml.get("CIRCLED")) or lines.get("CIRCLED") or lines.get("CIRCLE"))
    return FileOnDisk(
        name=info.name,
        path=str(info.path),
        scene=info.scene or None,
        take=info.take or None,
        sound_roll=info.sound_roll or None,
        circled=info.circled if says else None,
        kinds=info.take_types,
        frame_rate=str(info.rate or ""),
    )


def _wired(plan: Plan, day: Day, names: Mapping[str, str]) -> dict[str, tuple[str, ...]]:
    """By scene, the characters that the pack plan wires on this day."""
    kept = [each for each in plan.packs.assigned if each.day == day.id]
    return {each.scene: tuple(names.get(id, id) for id, packs in each.packs.items() if packs) for each in kept}
