"""Proofs over the pack plan that was kept: is it still one, is everybody covered, and do sung scenes have playback."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from rollsound.finding import AboutPlan, Area, Finding, Weight
from rollsound.packs.check import faults
from rollsound.packs.explain import Given, explain
from rollsound.packs.task import HURRIED, Level, PackTask, Worn
from rollsound.quantities import count, several
from rollsound.wrong import Wrong

MOST_TOLD = 8
"""Of one kind, one by one; more are told together."""

finding = AboutPlan(Area.SIGNAL, "packs", "the plan, counted scene by scene")


@dataclass(frozen=True)
class SungScene:
    """A scene of the schedule in which somebody sings, and what the plan has for it."""

    day: str
    scene: str
    singers: tuple[str, ...]
    song: bool
    """Whether a song of the plan names it."""
    playback: bool
    """Whether the rig has playback."""
    feed: bool
    """Whether a feed brings it to somebody's ears."""


def proofs(
    task: PackTask | None,
    worn: Worn,
    days: Mapping[str, str],
    sung: Sequence[SungScene] = (),
    wrong: Sequence[Wrong] = (),
    *,
    day: str = "",
) -> list[Finding]:
    """Every proof over the kept plan, each with at least one finding; ``refs`` are ``plan#`` and a JSON Pointer.

    Parameters
    ----------
    task
        what is asked of the schedule as it is now; none when it cannot be asked
    worn
        the plan that was kept, of scenes that are still where they were; empty when none was
    days
        what days are called, by id
    wrong
        names that point at nothing
    day
        id of the one day whose scenes are told; all of them when empty
    """
    sung = [each for each in sung if day in ("", each.day)]
    found = [
        finding(
            Weight.STOP if each.at[0] == "packs" else Weight.WATCH,
            each.place,
            "pack plan",
            f"The pack plan, {each.place}: {each.sentence}."
            if each.at[0] == "packs"
            else f"The schedule, {each.place}: {each.sentence}; the pack plan leaves it out.",
            remedy="Correct it on the page Plan.",
            at=each.at[1:],
            part=each.at[0],
        )
        for each in wrong
    ]
    if task is None:
        return found
    if not worn:
        scenes = count(len(task.slots), "scene")
        return [
            *found,
            finding(
                Weight.WATCH,
                "the pack plan",
                "pack plan kept",
                f"No pack plan is kept for the {scenes} of the schedule.",
                remedy="Work one out with 'rollsound packs', and keep it with --save.",
            ),
            *_sung(sung, days),
        ]
    found += _standing(task, worn, days)
    told = [each for each in explain(task, worn, days) if day in ("", each.day)]
    found += _told(told, Level.UNCOVERED, Weight.STOP, "everybody covered", "Every voice has a pack or a boom.")
    found += _told(
        told, Level.BOOM_ALONE, Weight.WATCH, "pack wished", "Whoever should wear a pack does, in every scene."
    )
    hurried = [each for each in told if each.level is Level.RERIGS and each.amount >= HURRIED]
    found += _told(
        hurried,
        Level.RERIGS,
        Weight.WATCH,
        "re-rig between scenes",
        "No pack changes hands between two scenes without a break or a scene to do it in.",
    )
    found += _told(told, Level.PAIRS, Weight.FINE, "one pack through the show", "Everybody keeps one pack all through.")
    return [*found, *_sung(sung, days)]


def _standing(task: PackTask, worn: Worn, days: Mapping[str, str]) -> Iterator[Finding]:
    """Whether what was kept can be, and speaks of every scene and voice that is on the schedule now."""
    cannot = faults(task, worn)
    for each in cannot[:MOST_TOLD]:
        yield finding(
            Weight.STOP,
            "the pack plan",
            "pack plan kept",
            f"The pack plan that was kept cannot be: {each}.",
            remedy="Work it out anew, near to what it was, with 'rollsound packs --replan --save'.",
            at=("assigned",),
        )
    without: dict[str, list[str]] = {}
    for n, slot in enumerate(task.slots):
        if any((n, voice.character) not in worn for voice in slot.voices):
            without.setdefault(slot.day, []).append(slot.scene)
    for day, scenes in without.items():
        name = days.get(day, day)
        yield finding(
            Weight.WATCH,
            name,
            "pack plan kept",
            f"The pack plan that was kept does not know all voices of {several(scenes)} on {name}.",
            why="Script or schedule changed since, and whoever it does not name counts as not covered.",
            remedy="Work it out anew, near to what it was, with 'rollsound packs --replan --save'.",
            at=("assigned",),
            numbers={"scenes": float(len(scenes))},
        )
    if not cannot and not without:
        yield finding(
            Weight.FINE,
            "the pack plan",
            "pack plan kept",
            f"The pack plan knows every voice of {count(len(task.slots), 'scene')}, and no pack is in two places.",
        )


def _told(given: Sequence[Given], level: Level, weight: Weight, kind: str, holds: str) -> Iterator[Finding]:
    some = [each for each in given if each.level is level]
    if not some:
        yield finding(Weight.FINE, "the pack plan", kind, holds)
    for each in some[:MOST_TOLD]:
        subject = f"scene {each.scene}" if each.scene else each.sentence.split(" ")[0]
        yield finding(
            weight,
            subject,
            kind,
            each.sentence,
            why=each.why,
            remedy=each.cure,
            at=("assigned",),
            numbers={"counts": float(each.amount)},
        )
    if len(some) > MOST_TOLD:
        rest = some[MOST_TOLD:]
        yield finding(
            weight,
            "the pack plan",
            kind,
            f"The same of {count(len(rest), 'more place')}, from scene {rest[0].scene or '…'} on.",
            remedy="See all of them with 'rollsound packs'.",
            numbers={"places": float(len(rest))},
        )


def _sung(sung: Sequence[SungScene], days: Mapping[str, str]) -> Iterator[Finding]:
    """What a sung scene takes beside microphones: playback, and a feed of it to whoever sings."""
    lacking = False
    for each in sung:
        day = days.get(each.day, each.day)
        missing = [
            *(["a song"] if not each.song else []),
            *(["playback in the rig"] if not each.playback else []),
            *(["a monitor feed with playback"] if each.playback and not each.feed else []),
        ]
        if not missing:
            continue
        lacking = True
        yield finding(
            Weight.WATCH,
            f"scene {each.scene}",
            "sung scene ready",
            f"Scene {each.scene} on {day} is sung by {several(list(each.singers))}, and the plan lacks "
            f"{' and '.join(missing)} for it.",
            why="Whoever sings to playback has to hear it, and post lays the takes over its time code.",
            remedy="Name the scene at its song, and the playback source and a feed that has it in the rig.",
            part="songs",
            at=("songs",),
        )
    if sung and not lacking:
        yield finding(
            Weight.FINE,
            "sung scenes",
            "sung scene ready",
            f"{count(len(sung), 'sung scene')} on the schedule, each with its song, playback and a feed that has it.",
        )
