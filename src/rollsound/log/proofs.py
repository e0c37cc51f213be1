"""What the log of a day tells about itself: findings, never refusals, for what happened cannot be forbidden."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence

from rollsound.errors import InputError
from rollsound.finding import Area, Finding, Ref, Weight
from rollsound.log.daylines import LogLine
from rollsound.log.entries import TakeEntry, WearingEntry
from rollsound.log.line_words import line_in_words, take_in_words
from rollsound.log.standing import promises_open
from rollsound.quantities import count
from rollsound.timecode.label import Timecode
from rollsound.timecode.rates import Rate

SOURCE = "the log of the day"
_HALF_A_DAY_H = 12
_ONE_MINUTE_S = 60.0
_Take = tuple[LogLine, TakeEntry]


def proofs(lines: Sequence[LogLine], *, days: Collection[str] | None = None, rate: Rate | None = None) -> list[Finding]:
    """Everything that is odd in these lines.

    Parameters
    ----------
    days
        ids of the plan's days; None where there is no plan to ask
    rate
        of the time code; labels that do not exist at it are told
    """
    takes = [(line, line.entry) for line in lines if isinstance(line.entry, TakeEntry)]
    return [
        *_strange_days(lines, days),
        *_doubles(takes),
        *_labels(takes, rate),
        *_backwards(takes, rate),
        *_not_cut(takes),
        *_worn_twice(lines),
        *_promises(lines),
    ]


def _finding(
    weight: Weight, area: Area, kind: str, what: str, lines: Sequence[LogLine], *, why: str = "", remedy: str = ""
) -> Finding:
    return Finding(
        area=area,
        weight=weight,
        subject=line_in_words(lines[0]),
        kind=kind,
        what=what,
        why=why,
        remedy=remedy,
        source=SOURCE,
        refs=tuple(Ref(path=f"log#{line.id}", timecode=_in(line)) for line in lines),
    )


def _in(line: LogLine) -> str:
    return line.entry.timecode_in if isinstance(line.entry, TakeEntry) else ""


def _strange_days(lines: Iterable[LogLine], days: Collection[str] | None) -> list[Finding]:
    strange: dict[str, list[LogLine]] = {}
    for line in lines:
        if days is not None and line.day not in days:
            strange.setdefault(line.day, []).append(line)
    return [
        _finding(
            Weight.WATCH,
            Area.MEDIA,
            "day not in the plan",
            f"{count(len(found), 'line')} of the log {'is' if len(found) == 1 else 'are'} of {day}, which is no day of "
            "the plan.",
            found[:1],
            why="Reports of a day ask the plan for its date and site.",
            remedy=f"Add {day} to the schedule, or put the lines on the day they belong to.",
        )
        for day, found in strange.items()
    ]


def _doubles(takes: Sequence[_Take]) -> list[Finding]:
    known: dict[tuple[str, str, str], LogLine] = {}
    found = []
    for line, take in takes:
        if not take.take:
            continue
        # A slate is there once in a show; wild tracks and room tones begin anew with every roll.
        within = "" if take.slate else take.sound_roll or line.day
        first = known.setdefault((take.slate or take.kind, take.take, within), line)
        if first is line:
            continue
        where = "" if first.day == line.day else f" and {line.day}"
        found.append(
            _finding(
                Weight.WATCH,
                Area.MEDIA,
                "duplicate take",
                f"{line_in_words(line)} is in the log twice, on {first.day}{where}.",
                [line, first],
                why="Post finds takes by what stands on the slate; two of one name are told apart by ear.",
                remedy="Correct the one that is wrong, or take one out if both are the same roll.",
            )
        )
    return found


def _labels(takes: Iterable[_Take], rate: Rate | None) -> list[Finding]:
    found = []
    for line, take in takes:
        for name, text in (("in", take.timecode_in), ("out", take.timecode_out)):
            if not text or rate is None:
                continue
            try:
                Timecode.parse(text, rate)
            except InputError as error:
                what = f"{line_in_words(line)}: its time code {name} cannot be: {error.sentence}."
                remedy = "Read it again from the file, and correct the line."
                kind = "time code that does not exist"
                found.append(_finding(Weight.WATCH, Area.SYNC, kind, what, [line], remedy=remedy))
    return found


def _backwards(takes: Sequence[_Take], rate: Rate | None) -> list[Finding]:
    found = []
    before: tuple[LogLine, str] | None = None
    for line, take in takes:
        if take.timecode_in and take.timecode_out and _steps_back(take.timecode_in, take.timecode_out, rate):
            what = f"{line_in_words(line)} ends at {take.timecode_out}, before it begins at {take.timecode_in}."
            found.append(_back([line], what))
        # The same roll written twice is told as that.
        same_day = before is not None and before[0].day == line.day and not _one_name(take, _take(before[0]))
        if before is not None and same_day and take.timecode_in and _steps_back(before[1], take.timecode_in, rate):
            what = (
                f"{line_in_words(line)} begins at {take.timecode_in}, before {before[1]}, where "
                f"{take_in_words(_take(before[0]))} had come to."
            )
            found.append(_back([line, before[0]], what))
        if take.timecode_out or take.timecode_in:
            before = (line, take.timecode_out or take.timecode_in)
    return found


def _one_name(one: TakeEntry, other: TakeEntry) -> bool:
    return (one.slate, one.take, one.kind) == (other.slate, other.take, other.kind)


def _back(lines: Sequence[LogLine], what: str) -> Finding:
    return _finding(
        Weight.WATCH,
        Area.SYNC,
        "time code running backwards",
        what,
        lines,
        why="Takes of one day are matched by time code; one that runs back finds the wrong sound.",
        remedy="Look at the file's own time code. If the clock was jammed anew in between, log the jam.",
    )


def _take(line: LogLine) -> TakeEntry:
    assert isinstance(line.entry, TakeEntry)
    return line.entry


def _steps_back(first: str, then: str, rate: Rate | None) -> bool:
    """Whether a label is earlier than one before it; over midnight the shorter way counts."""
    if rate is not None:
        try:
            step = Timecode.parse(then, rate).to_frames() - Timecode.parse(first, rate).to_frames()
            return step % rate.frames_per_day > rate.frames_per_day // 2
        except InputError:  # told as a label that does not exist
            return False
    (first_s, first_frames), (then_s, then_frames) = _seconds(first), _seconds(then)
    step_s = (then_s - first_s) % 86_400
    return step_s > _HALF_A_DAY_H * 3600 or (step_s == 0 and then_frames < first_frames)


def _seconds(label: str) -> tuple[int, int]:
    hours, minutes, seconds, frames = (int(part) for part in label.replace(";", ":").split(":"))
    return hours * 3600 + minutes * 60 + seconds, frames


def _not_cut(takes: Sequence[_Take]) -> list[Finding]:
    """Takes that began and never ended, but for the last of all, which may be rolling."""
    return [
        _finding(
            Weight.WATCH,
            Area.MEDIA,
            "take without an end",
            f"{line_in_words(line)} began at {take.timecode_in} and has no time code out.",
            [line],
            why="Its length cannot be compared with its file.",
            remedy="Read where it ends from the file, and write it down.",
        )
        for line, take in takes[:-1]
        if take.timecode_in and not take.timecode_out
    ]


def _worn_twice(lines: Sequence[LogLine]) -> list[Finding]:
    """One pack on two characters within a minute, told by two devices: one of them is wrong."""
    found = []
    last: dict[str, tuple[LogLine, WearingEntry]] = {}
    for line in lines:
        entry = line.entry
        if not isinstance(entry, WearingEntry):
            continue
        before = last.get(entry.pack)
        last[entry.pack] = (line, entry)
        if before is None or before[0].by == line.by or (line.at - before[0].at).total_seconds() >= _ONE_MINUTE_S:
            continue
        theirs = before[1].character
        if not entry.character or not theirs or entry.character == theirs:
            continue
        found.append(
            _finding(
                Weight.WATCH,
                Area.MEDIA,
                "pack on two at once",
                f"Pack {entry.pack} is on {theirs} and on {entry.character} within a minute, told by two devices.",
                [line, before[0]],
                why="The track's name, and the card in the pack, follow who wears it.",
                remedy="Look who wears it, and take the wrong line out.",
            )
        )
    return found


def _promises(lines: Sequence[LogLine]) -> list[Finding]:
    return [
        _finding(
            Weight.WATCH,
            Area.MEDIA,
            "wild track promised",
            f"{line_in_words(line)}; no take in the log keeps it.",
            [line],
            why="Post waits for what the day's report promises.",
            remedy="Record it before wrap, and say which take it is.",
        )
        for line in promises_open(lines)
    ]


__all__ = ["SOURCE", "proofs"]
