"""Tracks of a take: isos that are missing, names that stand twice, notes on tracks that are not there."""

from __future__ import annotations

import difflib
from collections import Counter
from collections.abc import Iterator, Sequence

from rollsound.finding import Area, Finding, Weight
from rollsound.quantities import count, several
from rollsound.review.crosscheck_fields import NEAR_NAME
from rollsound.review.crosscheck_model import Pair, PlannedDay, TakeOnDisk, WrittenTake, plain
from rollsound.review.crosscheck_telling import about_takes, begun


def isos_missing(pairs: Sequence[Pair], planned: PlannedDay) -> Iterator[Finding]:
    """Tracks that other takes of the slate have and this one has not, and wired characters without a track."""
    by_slate: dict[str, list[Pair]] = {}
    for pair in pairs:
        if pair.written.slate and any(take.track_names for take in pair.on_disk):
            by_slate.setdefault(plain(pair.written.slate), []).append(pair)
    for alike in by_slate.values():
        names = Counter(name for pair in alike for name in _track_names(pair))
        # Of two takes that differ, nobody can say which lacks and which has one too many: what is there is wanted.
        wanted = {name for name, number in names.items() if number * 2 >= len(alike)}
        for pair in alike:
            yield from _missing(pair, wanted | _wired(pair.written, planned), planned)
    for pair in pairs:
        if not pair.written.slate and any(take.track_names for take in pair.on_disk):
            yield from _missing(pair, _wired(pair.written, planned), planned)


def _wired(line: WrittenTake, planned: PlannedDay) -> set[str]:
    speak = next((names for scene, names in planned.speak.items() if plain(scene) == plain(line.scene)), ())
    if line.kind in ("wild track", "room tone"):
        return set()
    known = {plain(each) for each in planned.track_names}
    return {plain(each) for each in (*speak, *line.worn) if plain(each) in known}


def _track_names(pair: Pair) -> set[str]:
    return {name for take in pair.on_disk for name in take.track_names}


def _missing(pair: Pair, wanted: set[str], planned: PlannedDay) -> Iterator[Finding]:
    there = _track_names(pair)
    # A misspelt name is told as such, and is not missing.
    near = {
        match
        for name in there - wanted
        for match in difflib.get_close_matches(name, sorted(wanted - there), 1, NEAR_NAME)
    }
    missing = sorted(wanted - there - near)
    # A name that stands twice is told as such: one of the two is likely to be what is missing.
    surplus = sum(each.named for take in pair.on_disk[:1] for each in take.tracks) - len(pair.on_disk[0].track_names)
    if len(missing) <= surplus:
        return
    spelt = {plain(each): each for each in planned.track_names}
    names = [spelt.get(each, each) for each in missing]
    isos = "iso" if len(names) == 1 else "isos"
    yield about_takes(
        Weight.WATCH,
        Area.MEDIA,
        "iso missing",
        pair.written.name,
        f"{begun(pair.written.name)} has no track of {several(names)}.",
        why="Other takes of the slate have it, or the character was wired.",
        remedy=f"Look for the {isos} in a second file, on the other recorder, or on the card in the pack.",
        lines=[pair.written],
        takes=pair.on_disk,
    )


def twice_named(take: TakeOnDisk) -> Iterator[Finding]:
    names = Counter(plain(each.name) for each in take.tracks if each.named)
    twice = [each.name for each in take.tracks if each.named and names[plain(each.name)] > 1]
    if twice:
        yield about_takes(
            Weight.WATCH,
            Area.MEDIA,
            "track name twice",
            take.name,
            f"{take.name} has {count(len(twice), 'track')} called {several(list(dict.fromkeys(twice)))}.",
            why="Post cannot tell which is whose.",
            remedy="Look who was on which, and name them apart.",
            takes=[take],
        )


def notes_of_no_track(pair: Pair) -> Iterator[Finding]:
    number = sum(len(take.tracks) for take in pair.on_disk[:1])
    for noted, text in pair.written.track_notes.items():
        is_number = noted.strip().isdecimal()
        there = 1 <= int(noted) <= number if is_number else plain(noted) in _track_names(pair)
        if not there and number and (is_number or _track_names(pair)):
            yield about_takes(
                Weight.WATCH,
                Area.MEDIA,
                "track noted",
                pair.written.name,
                f"{begun(pair.written.name)} has a note on track {noted} ('{text[:40]}'), and no such track.",
                remedy="Correct the note, or look for the track.",
                lines=[pair.written],
                takes=pair.on_disk,
            )
