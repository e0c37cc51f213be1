"""The script of a show: read from Fountain or a sheet, broken down, and held against what the show has."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path, PurePath
from typing import TYPE_CHECKING, Any

from rollsound.actions.script_model import RemarkRow, ScriptResult
from rollsound.actions.script_rows import (
    character_rows,
    day_rows,
    name_of_day,
    offer_rows,
    revision_row,
    scene_rows,
)
from rollsound.errors import InputError, storage
from rollsound.facts.rows import notes_of
from rollsound.finding import Finding, Weight
from rollsound.script.compare import compare
from rollsound.script.elements import Trouble
from rollsound.script.lengths import eighths_text
from rollsound.script.merging import kept_apart, merged, offers_of
from rollsound.script.model import ScriptPart
from rollsound.script.proofs import DayOfScenes, proofs

if TYPE_CHECKING:
    from rollsound.actions.plan_read import PlanRead
    from rollsound.show.model import Day, Plan

SHEETS = frozenset({".csv", ".tsv"})


@dataclass(frozen=True)
class ScriptRead:
    """What was read and decided, before it is told or kept."""

    read: PlanRead
    part: ScriptPart
    file: Path | None = None
    remarks: tuple[Trouble, ...] = ()
    days: tuple[Day, ...] = ()
    """The schedule as it would be."""
    day_documents: tuple[dict[str, Any], ...] | None = None
    """As they would be written; None where no schedule was read."""
    day_changes: Mapping[str, str] = field(default_factory=dict)

    @property
    def plan(self) -> Plan:
        """What the show has."""
        return self.read.plan


def read_script(
    read: PlanRead,
    file: Path | None = None,
    *,
    schedule: Path | None = None,
    columns: Mapping[str, str] | None = None,
    same: Sequence[tuple[str, str]] = (),
    apart: Sequence[tuple[str, str]] = (),
) -> ScriptRead:
    """Read what was named: a script, a schedule, decisions on names. What is not named stays as the plan has it.

    Parameters
    ----------
    columns
        field to heading of a sheet, where they are not found by their names
    same
        pairs of a spelling and the character that it is
    apart
        pairs of characters that look alike and are two

    Raises
    ------
    InputError, BrokenFileError
        when a file is none that can be read, or a name is nobody's
    StorageError
        when it is not there
    """
    part = read.plan.script
    remarks: tuple[Trouble, ...] = ()
    if file is not None:
        part, remarks = _part_of(file, part, columns)
    for other, keep in same:
        part = merged(part, other, keep)
    for one, other in apart:
        part = kept_apart(part, one, other)
    if schedule is None:
        return ScriptRead(read, part, file, remarks, read.plan.schedule.days)
    from rollsound.actions.script_schedule import with_sheet

    of_script = file is not None and file.suffix.lower() in SHEETS
    told = with_sheet(read, schedule, None if of_script else columns)
    return ScriptRead(read, part, file, (*remarks, *told.remarks), told.days, told.documents, told.changes)


def script(asked: ScriptRead) -> ScriptResult:
    """The breakdown, what it changes of the plan's, and what script and schedule prove of each other.

    Raises
    ------
    InputError
        when there is neither a script nor a schedule
    """
    plan, part = asked.plan, asked.part
    if not part.scenes and not asked.days:
        raise InputError(
            f"{asked.read.path} has no script yet; name its file, such as: rollsound script {asked.read.path} "
            "script.fountain --save",
            path=str(asked.read.path),
        )
    revision = None
    if asked.file is not None and plan.script.scenes:
        changed = compare(plan.script, part, [(day.id, day.scenes) for day in asked.days])
        revision = revision_row(changed, part, asked.days, plan.script)
    length = sum(scene.eighths for scene in part.scenes)
    return ScriptResult(
        path=str(asked.read.path),
        name=asked.read.name,
        file=str(asked.file or part.file),
        draft=part.draft,
        pages=eighths_text(length),
        minutes=round(length / 8, 1),
        words=sum(scene.words for scene in part.scenes),
        scenes=scene_rows(part, asked.days, plan.songs),
        characters=character_rows(part, asked.days),
        days=day_rows(part, asked.days, asked.day_changes),
        offers=offer_rows(offers_of(part)),
        remarks=tuple(RemarkRow(line=each.line, sentence=each.sentence) for each in asked.remarks),
        revision=revision,
        findings=tuple(findings_of(part, asked.days, plan)),
        notes=(*notes_of("script_page"), *notes_of("script_cues")) if part.scenes else (),
    )


def findings_of(part: ScriptPart, days: Sequence[Day], plan: Plan) -> list[Finding]:
    """Every proof of a script against a schedule, the heaviest first."""
    of_days = [DayOfScenes(day.id, name_of_day(day), day.scenes, day.unit) for day in days]
    songs = [number for song in plan.songs.songs for number in song.scenes]
    return sorted(proofs(part, of_days, songs), key=lambda each: list(Weight).index(each.weight))


def _part_of(
    file: Path, known: ScriptPart, columns: Mapping[str, str] | None
) -> tuple[ScriptPart, tuple[Trouble, ...]]:
    return part_of_bytes(_bytes_of(file), file.name, known, columns)


def part_of_bytes(
    data: bytes, name: str, known: ScriptPart, columns: Mapping[str, str] | None = None
) -> tuple[ScriptPart, tuple[Trouble, ...]]:
    """A script or a breakdown's sheet, told apart by the ending of its name, and what was not as it should be.

    Raises
    ------
    InputError, BrokenFileError
        when it is no text, or holds no scene
    """
    from rollsound.script.decoding import decode

    decoded = decode(data, name)
    first = (Trouble(0, decoded.note),) if decoded.note else ()
    if PurePath(name).suffix.lower() in SHEETS:
        from rollsound.script.from_sheet import breakdown_of_sheet
        from rollsound.script.sheet import read_breakdown

        found = breakdown_of_sheet(read_breakdown(decoded.text, name, columns), known)
    else:
        from rollsound.script.breakdown import breakdown
        from rollsound.script.fountain import read_fountain

        found = breakdown(read_fountain(decoded.text), known)
        if not found.part.scenes:
            raise InputError(
                f"{name} holds no scene; a scene's heading begins with INT. or EXT., or with a full stop", path=name
            )
    return found.part, (*first, *found.remarks)


def text_of(file: Path) -> tuple[str, str]:
    """The text of a script or sheet, and what was odd about its bytes.

    Raises
    ------
    InputError, BrokenFileError
        when it is no text
    StorageError
        when it cannot be read
    """
    from rollsound.script.decoding import decode

    found = decode(_bytes_of(file), file.name)
    return found.text, found.note


def _bytes_of(file: Path) -> bytes:
    from rollsound.script.decoding import LARGEST_BYTES

    with storage(file), file.open("rb") as source:
        return source.read(LARGEST_BYTES + 1)
