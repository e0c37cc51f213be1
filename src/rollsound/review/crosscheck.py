"""Log meets media: every take has a file and every file a take, and what both say of it agrees, and with the plan.

Each disagreement is told once, where it is closest: a take that lost its file is not told of again for its tracks.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from rollsound.finding import Area, Finding, Weight
from rollsound.quantities import count, several
from rollsound.review.crosscheck_fields import fields_differ
from rollsound.review.crosscheck_match import matched
from rollsound.review.crosscheck_model import Crosschecked, Pair, PlannedDay, Repair, TakeOnDisk, WrittenTake, plain
from rollsound.review.crosscheck_telling import about_takes, begun
from rollsound.review.crosscheck_time import backwards, gaps_inside, overlaps
from rollsound.review.crosscheck_tracks import isos_missing, notes_of_no_track, twice_named

_LIGHT = ("false start", "no good")


def crosscheck(
    written: Sequence[WrittenTake],
    on_disk: Sequence[TakeOnDisk],
    planned: PlannedDay,
    told_by_log: Sequence[Finding] = (),
) -> Crosschecked:
    """Hold a day's log against its files and the plan.

    Parameters
    ----------
    written
        in the order in which they were rolled
    on_disk
        in any order
    told_by_log
        what the log tells of itself; what is told here of the same lines is not told twice
    """
    singles, copies = _without_copies(on_disk)
    pairs, without_file, without_line = matched(written, singles, planned.rate)
    repairs = [each for pair in pairs for each in fields_differ(pair, pairs, written, planned)]
    back, back_lines = backwards(pairs, planned)
    found = [
        *_copies(copies),
        *(_no_file(each) for each in without_file),
        *(_no_line(each) for each in without_line),
        *(_told(each, pairs) for each in repairs),
        *(each for pair in pairs for each in _names_wrong(pair)),
        *(each for pair in pairs for each in gaps_inside(pair, planned)),
        *(each for pair in pairs for each in _rates(pair, planned)),
        *(each for pair in pairs for each in notes_of_no_track(pair)),
        *isos_missing(pairs, planned),
        *(each for take in singles for each in twice_named(take)),
        *_off_plan(written, planned),
        *overlaps(pairs),
        *back,
    ]
    found += [each for each in told_by_log if not _told_here(each, back_lines, repairs, pairs)]
    found.sort(key=lambda each: list(Weight).index(each.weight))
    if not found and pairs:
        found.append(_fine(pairs))
    return Crosschecked(
        tuple(pairs), tuple(without_file), tuple(without_line), tuple(copies), tuple(found), tuple(repairs)
    )


def _fine(pairs: Sequence[Pair]) -> Finding:
    files = sum(len(take.files) for pair in pairs for take in pair.on_disk)
    what = f"{count(len(pairs), 'take')} of the log and {count(files, 'file')} agree."
    return about_takes(Weight.FINE, Area.MEDIA, "log and media agree", "day", what)


# ---- what is missing on one side -------------------------------------------------------------------------------------


def _without_copies(on_disk: Sequence[TakeOnDisk]) -> tuple[list[TakeOnDisk], list[TakeOnDisk]]:
    """Takes, and those that say the same of themselves as an earlier one in start, length, slate and tracks."""
    seen: set[object] = set()
    singles: list[TakeOnDisk] = []
    copies: list[TakeOnDisk] = []
    for take in on_disk:
        file = take.files[0]
        key = (take.start_samples, take.frames, file.scene, file.take, file.sound_roll, len(take.files), take.tracks)
        twice = take.has_timecode and key in seen
        (copies if twice else singles).append(take)
        seen.add(key)
    return singles, copies


def _copies(copies: Iterable[TakeOnDisk]) -> Iterator[Finding]:
    for take in copies:
        yield about_takes(
            Weight.WATCH,
            Area.MEDIA,
            "file twice",
            take.name,
            f"{take.name} says all the same of itself as another file of the day.",
            why="Post finds two files for one take, and may cut one and mix the other.",
            remedy="Compare their checksums; leave the copy out of the day's folder.",
            takes=[take],
        )


def _no_file(line: WrittenTake) -> Finding:
    light = line.kind in _LIGHT and not line.circled
    named = f", which names {several(line.files, 2)}" if line.files else ""
    return about_takes(
        Weight.WATCH if light else Weight.STOP,
        Area.MEDIA,
        "take without a file",
        line.name,
        f"{begun(line.name)} is in the log{named}, and no file of the day is it.",
        why="" if light else "Its sound may not have been recorded, or was not copied.",
        remedy="Look on the recorder's drive and its second copy before anything is erased.",
        lines=[line],
    )


def _no_line(take: TakeOnDisk) -> Finding:
    file = take.files[0]
    said = " ".join(part for part in (file.scene or "", f"take {file.take}" if file.take else "") if part)
    return about_takes(
        Weight.WATCH,
        Area.MEDIA,
        "file without a take",
        take.name,
        f"{take.name}{f' ({said})' if said else ''} is in no line of the log.",
        why="Post gets a file that no report tells of.",
        remedy="Listen to it, and add its take to the log.",
        takes=[take],
    )


def _names_wrong(pair: Pair) -> Iterator[Finding]:
    if pair.written.files and pair.by != "file name":
        names = several([take.files[0].name for take in pair.on_disk], 2)
        yield about_takes(
            Weight.WATCH,
            Area.MEDIA,
            "file name differs",
            pair.written.name,
            f"{begun(pair.written.name)}: the log names {several(pair.written.files, 2)}; "
            f"by its {pair.by} it is {names}.",
            remedy=f"Write {names} into the log, if it is.",
            lines=[pair.written],
            takes=pair.on_disk,
        )


# ---- disagreements ---------------------------------------------------------------------------------------------------


_KINDS = {"time code in": "time code differs", "time code out": "length differs"}


def _told(repair: Repair, pairs: Sequence[Pair]) -> Finding:
    pair = next(each for each in pairs if each.written.id == repair.take)
    where = f", track {repair.channel}" if repair.channel else ""
    side = "the plan" if repair.field == "track name" else "the log"
    log, file = repair.log or "nothing", repair.file or "nothing"
    said = f"{side} says {log}, the file {file}"
    if repair.field == "track name" and not repair.log:
        said = f"nothing in the plan is called {file}"
    elif repair.field.startswith("time code"):
        said = f"{'begins' if repair.field == 'time code in' else 'ends'} at {log} in the log, at {file} in the file"
    elif repair.field not in ("circled", "kind"):
        said = f"{side} says {repair.field} {log}, the file {file}"
    right = f"{side if repair.right == 'log' else 'the file'} is likely to be right: {repair.why}"
    remedy = "Look at it, and correct the log."
    if repair.field == "track name" and not repair.log:
        right, remedy = "", "Name the track in the plan, or find out who was on it."
    elif repair.right == "log":
        remedy = "Look at it; --write makes a corrected copy beside the file."
    return about_takes(
        Weight.WATCH,
        Area.SYNC if repair.field in _KINDS else Area.MEDIA,
        _KINDS.get(repair.field, f"{repair.field} differs"),
        pair.written.name,
        f"{begun(pair.written.name)}{where}: {said}.",
        why=f"{begun(right)}." if right else "",
        remedy=remedy,
        lines=[pair.written],
        takes=pair.on_disk,
    )


def _rates(pair: Pair, planned: PlannedDay) -> Iterator[Finding]:
    rates = {file.frame_rate for take in pair.on_disk for file in take.files if file.frame_rate}
    other = sorted(each for each in rates if each != str(planned.rate))
    if other:
        yield about_takes(
            Weight.STOP,
            Area.SYNC,
            "frame rate differs",
            pair.written.name,
            f"{begun(pair.written.name)} counts at {several(other)}, the show at {planned.rate}.",
            why="Its labels name other frames than the picture's.",
            remedy="Find out at which rate the recorder counted, and tell post.",
            lines=[pair.written],
            takes=pair.on_disk,
        )


def _off_plan(written: Iterable[WrittenTake], planned: PlannedDay) -> Iterator[Finding]:
    scenes = {plain(each) for each in planned.scenes}
    strange: dict[str, list[WrittenTake]] = {}
    for line in written:
        if scenes and line.scene and plain(line.scene) not in scenes:
            strange.setdefault(line.scene, []).append(line)
    for scene, lines in strange.items():
        yield about_takes(
            Weight.WATCH,
            Area.MEDIA,
            "scene not on the day",
            f"scene {scene}",
            f"Scene {scene} has {count(len(lines), 'take')} in the log, and is not among the scenes of the day "
            f"({', '.join(planned.scenes)}).",
            remedy="Correct the scene in the log, or add it to the day in the schedule.",
            lines=lines,
        )


def _told_here(finding: Finding, back: set[frozenset[str]], repairs: Iterable[Repair], pairs: Iterable[Pair]) -> bool:
    """Whether a finding of the log is one that files tell of more closely: where they lie says which label is wrong."""
    if finding.kind != "time code running backwards":
        return False
    ids = frozenset(ref.path.removeprefix("log#") for ref in finding.refs)
    wrong = {each.take for each in repairs if each.field in _KINDS}
    there = {pair.written.id for pair in pairs if all(take.has_timecode for take in pair.on_disk)}
    return ids in back or bool(ids & wrong) or ids <= there
