"""What the script and the schedule prove of each other, and names that may be one character."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from rollsound.finding import AboutPlan, Area, Finding, Weight
from rollsound.quantities import count, several
from rollsound.script.merging import offers_of
from rollsound.script.model import Scene, ScriptPart, plain_number
from rollsound.script.names import key_of

_finding = AboutPlan(Area.SIGNAL, "script", "script and schedule")
_MOST_NAMED = 8


@dataclass(frozen=True)
class DayOfScenes:
    """A day of the schedule: its id, what people call it, the numbers of its scenes, and its unit."""

    id: str
    name: str
    scenes: tuple[str, ...]
    unit: str = ""


def proofs(part: ScriptPart, days: Sequence[DayOfScenes], song_scenes: Iterable[str] = ()) -> list[Finding]:
    """Every proof of the script; nothing of one that is not there.

    Parameters
    ----------
    days
        of the schedule, in their order
    song_scenes
        numbers of the scenes that the songs of the plan name
    """
    if not part.scenes:
        return []
    return [
        *_unknown_scenes(part, days),
        *_never_scheduled(part, days),
        *_twice_on_days(days),
        *_numbers_twice(part),
        *_names(part),
        *_sung(part, song_scenes),
    ]


def _unknown_scenes(part: ScriptPart, days: Sequence[DayOfScenes]) -> list[Finding]:
    found = []
    for day in days:
        gone = [number for number in day.scenes if (scene := part.scene(number)) is not None and scene.omitted]
        unknown = [number for number in day.scenes if part.scene(number) is None]
        told = [f"scene {several(unknown, 8)}, not in the script"] if unknown else []
        told += [f"scene {several(gone, 8)}, taken out of the script"] if gone else []
        if not told:
            continue
        found.append(
            _finding(
                Weight.WATCH,
                day.name,
                "scene of the script",
                f"{day.name[:1].upper()}{day.name[1:]} has {' and '.join(told)}.",
                why="Nobody knows who speaks there, so nobody is wired for it.",
                remedy="Read the newest script, or correct the numbers in the schedule.",
                part="schedule",
                at=("days", day.id, "scenes"),
                numbers={"scenes_count": float(len(unknown) + len(gone))},
            )
        )
    if days and not found:
        scheduled = sum(len(day.scenes) for day in days)
        all_there = f"Every scene of the schedule, {scheduled}, is in the script."
        found.append(_finding(Weight.FINE, "schedule", "scene of the script", all_there))
    return found


def _never_scheduled(part: ScriptPart, days: Sequence[DayOfScenes]) -> list[Finding]:
    if not any(day.scenes for day in days):
        return []
    scheduled = {plain_number(number) for day in days for number in day.scenes}
    left = [each for each in part.scenes if not each.omitted and plain_number(each.number) not in scheduled]
    if not left:
        told = f"Every scene of the script, {len(part.scenes)}, is on a day."
        return [_finding(Weight.FINE, "script", "scene scheduled", told)]
    sung = [each for each in left if each.sung]
    return [
        _finding(
            Weight.WATCH,
            "script",
            "scene scheduled",
            f"On no day: {count(len(left), 'scene')} of the script, {_numbers(left)}.",
            why=f"{len(sung)} of them sung." if sung else "",
            remedy="Put them on a day of the schedule, or leave them to a later block.",
            at=("scenes",),
            numbers={"scenes_count": float(len(left))},
        )
    ]


def _numbers(scenes: Sequence[Scene]) -> str:
    told = ", ".join(each.number or each.heading or each.id for each in scenes[:_MOST_NAMED])
    return told + (f" and {len(scenes) - _MOST_NAMED} more" if len(scenes) > _MOST_NAMED else "")


def _twice_on_days(days: Sequence[DayOfScenes]) -> list[Finding]:
    """The same scene twice in one day, which is a slip; on two days it is work that goes on."""
    found = []
    for day in days:
        plain = [plain_number(number) for number in day.scenes]
        twice = [number for at, number in enumerate(day.scenes) if plain[at] in plain[:at]]
        if twice:
            found.append(
                _finding(
                    Weight.WATCH,
                    day.name,
                    "scene twice",
                    f"{day.name} has scene {several(twice)} twice.",
                    remedy="Take one of them out.",
                    part="schedule",
                    at=("days", day.id, "scenes"),
                )
            )
    return found


def _numbers_twice(part: ScriptPart) -> list[Finding]:
    seen: dict[str, Scene] = {}
    found = []
    for scene in part.scenes:
        if not scene.number:
            continue
        first = seen.setdefault(plain_number(scene.number), scene)
        if first is not scene:
            found.append(
                _finding(
                    Weight.WATCH,
                    f"scene {scene.number}",
                    "scene number twice",
                    f"Two scenes have the number {scene.number}: '{first.heading}' and '{scene.heading}'.",
                    why="Slates, takes and packs are kept by scene number.",
                    remedy="Number one of them otherwise, such as with a letter behind it.",
                    at=("scenes", scene.id, "number"),
                )
            )
    return found


def _names(part: ScriptPart) -> list[Finding]:
    ids = {each.name: each.id for each in part.characters}
    found = [
        _finding(
            Weight.WATCH,
            offer.other,
            "character twice",
            f"'{offer.other}' may be '{offer.keep}': {offer.why}.",
            why="One performer under two names would be given two packs and two tracks.",
            remedy=f"Merge them with --same '{offer.other}={offer.keep}', or keep them with "
            f"--apart '{offer.other}={offer.keep}'.",
            at=("characters", ids[offer.other]),
        )
        for offer in offers_of(part)
    ]
    owners: dict[str, str] = {}
    for character in part.characters:
        for spelling in character.spellings:
            owner = owners.setdefault(key_of(spelling), character.id)
            if owner != character.id:
                found.append(
                    _finding(
                        Weight.WATCH,
                        spelling,
                        "character twice",
                        f"'{spelling}' is a spelling of two, {owner} and {character.id}; it counts for the first.",
                        remedy="Take it out of one of them.",
                        at=("characters", character.id),
                    )
                )
    return found


def _sung(part: ScriptPart, song_scenes: Iterable[str]) -> list[Finding]:
    named = {plain_number(number) for number in song_scenes}
    sung = [each for each in part.scenes if each.sung and not each.omitted]
    if not sung:
        return []
    without = [each for each in sung if not each.songs and plain_number(each.number) not in named]
    if not without:
        return [_finding(Weight.FINE, "script", "song of a scene", f"Every sung scene, {len(sung)}, has its song.")]
    return [
        _finding(
            Weight.WATCH,
            "script",
            "song of a scene",
            f"{count(len(without), 'sung scene')} {'has' if len(without) == 1 else 'have'} no song in the plan: "
            f"{_numbers(without)}.",
            why="Without its song nothing tells which playback, click and time code it runs to.",
            remedy="Name the scenes at the songs of the plan.",
            at=("scenes", without[0].id),
        )
    ]
