"""Log meets media: a day's takes held against its files and the plan, and what is right written beside."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from rollsound.actions.crosscheck_gather import day_of_media
from rollsound.actions.crosscheck_model import CrosscheckResult, PairRow, RepairRow, WrittenFile
from rollsound.errors import InputError, RollsoundError, storage
from rollsound.finding import Weight
from rollsound.progress import Progress
from rollsound.review.crosscheck import crosscheck as held_together
from rollsound.review.crosscheck_model import Crosschecked, Repair
from rollsound.wave import read_info
from rollsound.wave.relabel import NewLabels, relabel
from rollsound.whole import write_whole

if TYPE_CHECKING:
    from rollsound.actions.plan_read import PlanRead

CORRECTIONS, RESULT = "log corrections.csv", "crosscheck.json"
COLUMNS = ("line of the log", "take", "field", "the log says", "the file says", "right", "why", "files")
_FLAG_OF = {"false start": ("FALSE_START",), "no good": ("NO_GOOD",), "wild track": ("WILD_TRACK",)}


def crosscheck(read: PlanRead, *, day: str = "") -> CrosscheckResult:
    """Hold a day's log against its media and the plan; today, or the last day that has media.

    Raises
    ------
    InputError, StorageError, MistakesError
        when there is no such day, nothing says where its files lie, they are not there, or a sheet has mistakes
    """
    found = day_of_media(read, day)
    answer = held_together(found.written, found.on_disk, found.planned, found.told_by_log)
    findings = [
        *found.unread,
        *(each for each in answer.findings if each.weight is not Weight.FINE or not found.unread),
    ]
    findings.sort(key=lambda each: list(Weight).index(each.weight))
    number = found.day.number
    return CrosscheckResult(
        path=str(read.path),
        name=read.name,
        day=found.day.id,
        day_name=f"day {number}" if number is not None else found.day.id,
        log_is=found.log_is,
        takes=len(found.written),
        files=sum(len(take.files) for take in found.on_disk),
        pairs=tuple(
            PairRow(
                take=pair.written.id,
                name=pair.written.name,
                scene=pair.written.scene,
                kind=pair.written.kind,
                circled=pair.written.circled,
                files=tuple(file.name for take in pair.on_disk for file in take.files),
                by=pair.by,
            )
            for pair in answer.pairs
        ),
        without_file=tuple(each.name for each in answer.without_file),
        without_line=tuple(file.name for each in answer.without_line for file in each.files),
        repairs=tuple(_row(each, answer) for each in answer.repairs),
        findings=tuple(findings),
        notes=found.notes,
    )


def _row(repair: Repair, answer: Crosschecked) -> RepairRow:
    name = next(pair.written.name for pair in answer.pairs if pair.written.id == repair.take)
    return RepairRow(
        take=repair.take,
        name=name,
        field=repair.field,
        log=repair.log,
        file=repair.file,
        right=repair.right,
        why=repair.why,
        files=repair.files,
        channel=repair.channel,
    )


def write_corrections(result: CrosscheckResult, folder: Path, *, progress: Progress | None = None) -> CrosscheckResult:
    """Write beside what is right: copies of files whose labels are wrong, and the list of all disagreements.

    No source is touched, and nothing in the folder is written over: a copy that is there already is left.

    Raises
    ------
    InputError
        when the folder is the one of the recorder's files
    StorageError
        when it cannot be made or written to; a single copy that fails is told, and the rest is done
    """
    with storage(folder):
        if folder.exists() and not folder.is_dir():
            raise InputError(f"{folder} is a file; name a folder for the corrected copies")
        beside = {Path(path).resolve().parent for each in result.repairs for path in each.files}
        if folder.resolve() in beside:
            raise InputError(f"{folder} holds the recorder's own files; name another folder for the corrected copies")
        folder.mkdir(parents=True, exist_ok=True)
    wanted: dict[str, list[RepairRow]] = {}
    for each in result.repairs:
        if each.right == "log":
            for path in each.files:
                wanted.setdefault(path, []).append(each)
    taken: set[str] = set()
    written = [_copy(Path(path), repairs, folder, taken, progress) for path, repairs in wanted.items()]
    write_whole(folder / CORRECTIONS, corrections_csv(result.repairs))
    done = result.model_copy(
        update={
            "written": tuple(written),
            "sidecars": tuple(str(folder / name) for name in (CORRECTIONS, RESULT)),
        }
    )
    write_whole(folder / RESULT, done.model_dump_json(indent=2))
    return done


def _copy(
    source: Path, repairs: Sequence[RepairRow], folder: Path, taken: set[str], progress: Progress | None
) -> WrittenFile:
    changed = tuple(f"{each.field}: {each.file or 'nothing'} to {each.log}" for each in repairs)
    target = folder / source.name
    if source.name.casefold() in taken:  # of two folders of one day
        target = folder / f"{source.stem}, {source.parent.name}{source.suffix}"
    taken.add(target.name.casefold())
    row = WrittenFile(source=str(source), path=str(target), outcome="written", changed=changed)
    try:
        new = _labels(repairs)
        if target.exists():
            return _there(row, source, target, new)
        relabel(source, target, new, progress=progress)
    except RollsoundError as error:
        return row.model_copy(update={"outcome": "failed", "problem": error.sentence})
    return row


def _there(row: WrittenFile, source: Path, target: Path, new: NewLabels) -> WrittenFile:
    """A copy of this name: left alone when it is what would be written, told when it is another file."""
    was, there = read_info(source), read_info(target)
    asked = (
        new.scene or was.scene,
        new.take or was.take,
        new.sound_roll or was.sound_roll,
        was.circled if new.circled is None else new.circled,
        tuple(new.track_names.get(n, name) for n, name in enumerate(was.track_names, 1)),
    )
    same = asked == (there.scene, there.take, there.sound_roll, there.circled, there.track_names)
    if same and (was.frames, was.start_samples) == (there.frames, there.start_samples):
        return row.model_copy(update={"outcome": "there already"})
    problem = f"{target} is there already and is another file; move it away, or name another folder"
    return row.model_copy(update={"outcome": "failed", "problem": problem})


def _labels(repairs: Sequence[RepairRow]) -> NewLabels:
    by_field = {each.field: each.log for each in repairs if each.field != "track name"}
    kind = by_field.get("kind")
    circled = by_field.get("circled")
    return NewLabels(
        scene=by_field.get("scene"),
        take=by_field.get("take"),
        sound_roll=by_field.get("sound roll"),
        circled=None if circled is None else circled == "circled",
        take_types=None if kind is None else _FLAG_OF.get(kind, ()),
        track_names={each.channel: each.log for each in repairs if each.field == "track name" and each.log},
    )


def corrections_csv(repairs: Sequence[RepairRow]) -> str:
    """One line a disagreement, with the side that is likely to be right."""
    sheet = io.StringIO()
    writer = csv.writer(sheet, lineterminator="\r\n")
    writer.writerow(COLUMNS)
    for each in repairs:
        files = ", ".join(Path(path).name for path in each.files)
        cells = (each.take, each.name, each.field, each.log, each.file, each.right, each.why, files)
        writer.writerow([f"'{cell}" if cell[:1] in ("=", "+", "-", "@") else cell for cell in cells])
    return "\ufeff" + sheet.getvalue()  # the mark by which spreadsheets know UTF-8
