"""Which files are which take: by name of the file, by time code, or by what stands on the slate, in this order."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from pathlib import PurePath

from rollsound.review.crosscheck_model import Pair, TakeOnDisk, WrittenTake, day_s, plain
from rollsound.timecode.rates import Rate

_ENDINGS = {".wav", ".wave", ".bwf", ".rf64", ".bw64"}
_BETWEEN = (" ", "_", "-", ".")
_LEAST_SHARED = 0.5
"""Of the shorter of the two: what shares less is another roll of the recorder."""
Matched = tuple[list[Pair], list[WrittenTake], list[TakeOnDisk]]


def matched(written: Sequence[WrittenTake], on_disk: Sequence[TakeOnDisk], rate: Rate) -> Matched:
    """Pairs in the order of the log, then takes without a file and files without a take."""
    found: dict[str, Pair] = {}
    left = list(on_disk)
    for each in written:
        own = [disk for disk in left if _named(each, disk)] if each.files else []
        if own:
            found[each.id] = Pair(each, _in_order(own), "file name")
            left = [disk for disk in left if disk not in own]
    _by_time(found, written, left, rate)
    _by_slate(found, written, left)
    pairs = [found[each.id] for each in written if each.id in found]
    return pairs, [each for each in written if each.id not in found], left


def _in_order(takes: Iterable[TakeOnDisk]) -> tuple[TakeOnDisk, ...]:
    return tuple(sorted(takes, key=lambda each: (each.start_samples, each.name)))


def _named(written: WrittenTake, disk: TakeOnDisk) -> bool:
    """Whether the line names one of the files, with or without its ending, or the common stem of a set's monos."""
    stems = [file.name.rpartition(".")[0].casefold() or file.name.casefold() for file in disk.files]
    names = {file.name.casefold() for file in disk.files} | set(stems)
    for text in written.files:
        last = text.replace("\\", "/").rpartition("/")[2].casefold()
        bare = last[: -len(PurePath(last).suffix)] if PurePath(last).suffix in _ENDINGS else last
        if last in names or bare in names:
            return True
        # Behind the stem of a set stands a sign: T1_3 is a mono of T1, and T10_3 is none.
        if len(stems) > 1 and all(stem.startswith(bare) and stem[len(bare) :][:1] in _BETWEEN for stem in stems):
            return True
    return False


def _by_slate(found: dict[str, Pair], written: Sequence[WrittenTake], left: list[TakeOnDisk]) -> None:
    """What is alike in slate or scene, take and roll, and is so once only on either side."""
    open_takes = [each for each in written if each.id not in found]
    asked = {each.id: alike for each in open_takes if (alike := [disk for disk in left if same_slate(each, disk)])}
    claimed = Counter(id(disk) for alike in asked.values() for disk in alike)
    for each in open_takes:
        alike = asked.get(each.id, [])
        if len(alike) == 1 and claimed[id(alike[0])] == 1:
            found[each.id] = Pair(each, (alike[0],), "slate")
            left.remove(alike[0])


def same_slate(written: WrittenTake, disk: TakeOnDisk) -> bool:
    """Whether slate, take and roll tell that they are one.

    Several slates of a scene have a take 1, and a wild track may be number 1 too: where both have a time code, which
    then tells another thing, the file must have the very slate.
    """
    file = disk.files[0]
    if not file.take or not same_take(written, file.take) or not file.scene or not same_scene(written, file.scene):
        return False
    if written.sound_roll and file.sound_roll and plain(written.sound_roll) != plain(file.sound_roll):
        return False
    if not (disk.has_timecode and written.timecode_in):
        return True
    only_scene = plain(file.scene) == plain(written.scene) != plain(written.slate)
    return plain(written.take) == plain(file.take) and not (written.slate and only_scene)


def same_take(written: WrittenTake, take: str) -> bool:
    """Whether a file's take is the line's: 2 and 02, WT1 and 1 of a wild track are the same."""
    mine, theirs = plain(written.take), plain(take)
    if written.kind in ("wild track", "room tone"):
        mine, theirs = (each.removeprefix("wt").removeprefix("rt").lstrip("0") for each in (mine, theirs))
    return mine == theirs


def same_scene(written: WrittenTake, scene: str) -> bool:
    """Whether a file's scene is the line's scene, its slate, or both behind each other."""
    mine = {plain(each) for each in (written.scene, written.slate) if each}
    mine |= {plain(written.scene + written.slate), plain(written.slate + written.scene)}
    return plain(scene) in mine


def _by_time(found: dict[str, Pair], written: Sequence[WrittenTake], left: list[TakeOnDisk], rate: Rate) -> None:
    """What shares most time, the closest first; a line may have several files that follow each other."""
    wishes = []
    for place, each in enumerate(written):
        if each.id in found:
            continue
        start, end = each.span_s(rate)
        if start is None:
            continue
        for disk in left:
            share, near = shared(start, end, disk, rate)
            if share >= _LEAST_SHARED:
                wishes.append((-share, near, place, disk))
    wishes.sort(key=lambda wish: (wish[0], wish[1], wish[2], wish[3].name))
    for _, _, place, disk in wishes:
        if disk not in left:
            continue
        line = written[place]
        before = found.get(line.id)
        if before is not None and (before.by != "time code" or any(_overlap(disk, other) for other in before.on_disk)):
            continue
        found[line.id] = Pair(line, _in_order((*(before.on_disk if before else ()), disk)), "time code")
        left.remove(disk)


def _overlap(one: TakeOnDisk, other: TakeOnDisk) -> bool:
    return one.start_s < other.end_s and other.start_s < one.end_s


def shared(start: float, end: float | None, disk: TakeOnDisk, rate: Rate) -> tuple[float, float]:
    """Share of the shorter of both spans that they have in common, and how far their beginnings are apart in seconds.

    A line without a time code out shares all or nothing: all when it begins inside of the file.
    """
    if not disk.has_timecode:
        return 0.0, 0.0
    apart = apart_s(disk.start_s, start, rate)
    length = disk.end_s - disk.start_s
    if end is None:
        return float(-length <= apart <= 0), abs(apart)
    said = (end - start) % day_s(rate)
    common = min(length + apart, said) - max(apart, 0.0)
    least = min(length, said)
    return (common / least if least > 0 else float(-1 <= common <= 0)), abs(apart)


def apart_s(one_s: float, other_s: float, rate: Rate) -> float:
    """How much later the one is than the other, in seconds; over midnight the shorter way."""
    day = day_s(rate)
    return (one_s - other_s + day / 2) % day - day / 2
