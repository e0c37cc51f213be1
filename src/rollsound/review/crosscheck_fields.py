"""Where a line of the log and its files say different things, and which side is likely to be right.

What people decide after the roll (circled, kind of take) is right in the log; what the recorder counts (time code,
length) is right in the file. Scene and take follow whichever fits the day and its neighbours, the sound roll whichever
the day has more often; where neither tells, the log is taken, which is corrected through the day.
"""

from __future__ import annotations

import difflib
from collections import Counter
from collections.abc import Iterator, Sequence

from rollsound.errors import InputError
from rollsound.review.crosscheck_match import apart_s, same_scene, same_take
from rollsound.review.crosscheck_model import FileOnDisk, Pair, PlannedDay, Repair, Side, WrittenTake, plain
from rollsound.timecode.samples import timecode_of_samples

NEAR_S = 2.0
"""A time code that was written by hand may be off by this much."""
PRE_ROLL_S = 12.0
"""A recorder may begin so much before the button is pressed."""
NEAR_NAME = 0.75
"""How alike two names are, of 1, to be taken for one that is misspelt."""
_FLAGS = {"FALSE_START": "false start", "NO_GOOD": "no good", "WILD_TRACK": "wild track"}
_WITHOUT_SLATE = ("wild track", "room tone")
_LATER = "the log is corrected as the day goes, the file keeps what stood on the recorder"


def fields_differ(
    pair: Pair, pairs: Sequence[Pair], written: Sequence[WrittenTake], planned: PlannedDay
) -> list[Repair]:
    """All disagreements of one take; each field once, whatever number of files the take has."""
    return [
        *_scene(pair, planned),
        *_take(pair, written),
        *_roll(pair, pairs),
        *_circled(pair),
        *_kind(pair),
        *_tracks(pair, planned),
        *_times(pair, planned),
    ]


def _files(pair: Pair) -> list[FileOnDisk]:
    return [file for take in pair.on_disk for file in take.files]


def _repair(pair: Pair, field: str, log: str, file: str, right: Side, why: str, files: Sequence[FileOnDisk]) -> Repair:
    return Repair(pair.written.id, field, log, file, right, why, tuple(each.path or each.name for each in files))


def _scene(pair: Pair, planned: PlannedDay) -> Iterator[Repair]:
    line = pair.written
    if not (line.scene or line.slate):
        return
    other = [file for file in _files(pair) if file.scene and not same_scene(line, file.scene)]
    if not other:
        return
    day = {plain(each) for each in planned.scenes}
    mine, theirs = plain(line.scene) in day, plain(other[0].scene or "") in day
    right: Side = "file" if theirs and not mine else "log"
    why = _LATER
    if mine != theirs:
        why = f"scene {line.scene if mine else other[0].scene} is on the day's schedule, the other is not"
    yield _repair(pair, "scene", line.scene or line.slate, other[0].scene or "", right, why, other)


def _take(pair: Pair, written: Sequence[WrittenTake]) -> Iterator[Repair]:
    line = pair.written
    other = [file for file in _files(pair) if file.take and line.take and not same_take(line, file.take)]
    if not other:
        return
    alike = [each for each in written if each is not line and (each.slate, each.scene) == (line.slate, line.scene)]
    taken = {plain(each.take) for each in alike if each.kind == line.kind}
    mine, theirs = plain(line.take) in taken, plain(other[0].take or "") in taken
    right: Side = "file" if mine and not theirs else "log"
    why = _LATER
    if mine != theirs:
        why = f"another take of the slate is number {line.take if mine else other[0].take} already"
    elif (before := _take_before(line, written)) is not None:
        follows = {plain(each): each for each in (line.take, other[0].take or "") if plain(each) == str(before + 1)}
        if follows:
            right = "log" if plain(line.take) in follows else "file"
            why = f"take {before + 1} follows take {before}" if before else "a slate begins with take 1"
    yield _repair(pair, "take", line.take, other[0].take or "", right, why, other)


def _take_before(line: WrittenTake, written: Sequence[WrittenTake]) -> int | None:
    """The number of the take before this one on its slate; 0 for the first, None where numbers are none."""
    last = 0
    for each in written:
        if each is line:
            return last if line.slate else None
        if (each.slate, each.scene, each.kind in _WITHOUT_SLATE) == (line.slate, line.scene, False):
            number = plain(each.take)
            last = int(number) if number.isdecimal() else last
    return None


def _roll(pair: Pair, pairs: Sequence[Pair]) -> Iterator[Repair]:
    line = pair.written
    other = [
        file
        for file in _files(pair)
        if file.sound_roll and line.sound_roll and plain(file.sound_roll) != plain(line.sound_roll)
    ]
    if not other:
        return
    often = Counter(plain(each.written.sound_roll) for each in pairs)
    often += Counter(plain(file.sound_roll) for each in pairs for file in _files(each)[:1] if file.sound_roll)
    mine, theirs = often[plain(line.sound_roll)], often[plain(other[0].sound_roll or "")]
    right: Side = "file" if theirs > mine else "log"
    roll = other[0].sound_roll if theirs > mine else line.sound_roll
    why = _LATER if mine == theirs else f"the day has {roll} more often"
    yield _repair(pair, "sound roll", line.sound_roll, other[0].sound_roll or "", right, why, other)


def _circled(pair: Pair) -> Iterator[Repair]:
    said = {True: "circled", False: "not circled"}
    other = [file for file in _files(pair) if file.circled is not None and file.circled != pair.written.circled]
    if other:
        why = "takes are circled after the roll, when the file is written already"
        mine = pair.written.circled
        yield _repair(pair, "circled", said[mine], said[not mine], "log", why, other)


def _kind(pair: Pair) -> Iterator[Repair]:
    """Only where the file names a kind, and another one: many recorders know no kinds at all."""
    other = [
        file
        for file in _files(pair)
        if (kinds := {_FLAGS[each] for each in file.kinds if each in _FLAGS}) and pair.written.kind not in kinds
    ]
    if other:
        names = ", ".join(_FLAGS[each] for each in other[0].kinds if each in _FLAGS)
        why = "the kind of a take is often decided after the roll"
        yield _repair(pair, "kind", pair.written.kind, names, "log", why, other)


def _tracks(pair: Pair, planned: PlannedDay) -> Iterator[Repair]:
    """Names that nobody in the plan has, with the one that was perhaps meant."""
    spelt = {plain(each): each for each in planned.track_names}
    if not spelt:
        return
    used = {name for take in pair.on_disk for name in take.track_names}
    for take in pair.on_disk[:1]:
        for track in take.tracks:
            if not track.named or plain(track.name) in spelt:
                continue
            near = difflib.get_close_matches(
                plain(track.name), [each for each in spelt if each not in used], 1, NEAR_NAME
            )
            meant = spelt[near[0]] if near else ""
            why = "no track or character has the other name" if meant else "the plan has no such name"
            file = take.files[track.file]
            right: Side = "log" if meant else "file"
            yield Repair(
                pair.written.id, "track name", meant, track.name, right, why, (file.path or file.name,), track.channel
            )


def _times(pair: Pair, planned: PlannedDay) -> Iterator[Repair]:
    start, end = pair.written.span_s(planned.rate)
    first, last = pair.on_disk[0], pair.on_disk[-1]
    why = "the recorder's clock wrote it"
    if not first.has_timecode:
        return
    if start is not None:
        late = apart_s(first.start_s, start, planned.rate)
        if not -PRE_ROLL_S <= late <= NEAR_S:
            label = _label(first.start_samples, first.sample_rate_hz, planned)
            yield _repair(pair, "time code in", pair.written.timecode_in, label, "file", why, first.files[:1])
            return
    if end is not None and abs(apart_s(last.end_s, end, planned.rate)) > NEAR_S:
        label = _label(last.start_samples + last.frames, last.sample_rate_hz, planned)
        yield _repair(pair, "time code out", pair.written.timecode_out, label, "file", why, last.files[:1])


def _label(samples: int, sample_rate_hz: int, planned: PlannedDay) -> str:
    try:
        return str(timecode_of_samples(samples, sample_rate_hz, planned.rate)[0])
    except InputError:  # a rate that is none
        return ""
