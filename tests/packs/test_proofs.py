"""Proofs over a pack plan that was kept: what changed since, who is not covered, and what sung scenes lack."""

from __future__ import annotations

from dataclasses import replace

from tests.packs.pack_parts import booms, packs, person, slot

from rollsound.finding import Finding, Weight
from rollsound.packs.proofs import MOST_TOLD, SungScene, proofs
from rollsound.packs.task import Cover, PackTask
from rollsound.wrong import Wrong

DAYS = {"day-1": "day 1", "day-2": "day 2"}
TASK = PackTask(
    packs(2),
    booms(1),
    (person("Bram"), person("Runa")),
    (slot(1, "4", "day", "Bram", "Runa"), slot(1, "5", "scene", "Runa"), slot(2, "9", "day", "Bram")),
)
WORN = {
    (0, "bram"): Cover(("pack-01",)),
    (0, "runa"): Cover(("pack-02",)),
    (1, "runa"): Cover(("pack-02",)),
    (2, "bram"): Cover(("pack-01",)),
}


def _not_fine(found: list[Finding]) -> list[tuple[Weight, str, str]]:
    return [(each.weight, each.kind, each.what) for each in found if each.weight is not Weight.FINE]


def test_a_plan_that_holds_is_fine_in_every_proof() -> None:
    found = proofs(TASK, WORN, DAYS, [SungScene("day-1", "5", ("Runa",), True, True, True)])
    assert _not_fine(found) == []
    assert {each.kind for each in found} == {
        "pack plan kept",
        "everybody covered",
        "pack wished",
        "re-rig between scenes",
        "one pack through the show",
        "sung scene ready",
    }


def test_a_schedule_without_a_kept_plan_says_how_to_get_one() -> None:
    (told,) = proofs(TASK, {}, DAYS)
    assert (told.weight, told.what) == (
        Weight.WATCH,
        "No pack plan is kept for the 3 scenes of the schedule.",
    )


def test_a_voice_that_came_later_is_told_and_counts_as_not_covered() -> None:
    worn = {key: cover for key, cover in WORN.items() if key != (1, "runa")}
    assert _not_fine(proofs(TASK, worn, DAYS)) == [
        (Weight.WATCH, "pack plan kept", "The pack plan that was kept does not know all voices of 5 on day 1."),
        (Weight.STOP, "everybody covered", "Day 1, scene 5: nothing covers Runa (20 words)."),
    ]


def test_a_pack_that_is_gone_since_is_told() -> None:
    gone = replace(TASK, packs=(replace(TASK.packs[0], out=frozenset({"day-2"})), TASK.packs[1]))
    assert _not_fine(proofs(gone, WORN, DAYS)) == [
        (
            Weight.STOP,
            "pack plan kept",
            "The pack plan that was kept cannot be: day day-2, scene 9: pack pack-01 is not there.",
        )
    ]


def test_a_hurried_rerig_is_watched_and_one_in_a_break_is_not() -> None:
    people = (person("Bram"), person("Runa"))
    worn = {(0, "bram"): Cover(("pack-01",)), (1, "runa"): Cover(("pack-01",))}
    hurried = PackTask(packs(1), (), people, (slot(1, "4", "day", "Bram"), slot(1, "5", "scene", "Runa")))
    in_break = replace(hurried, slots=(hurried.slots[0], replace(hurried.slots[1], gap="break")))
    assert [kind for _, kind, _ in _not_fine(proofs(hurried, worn, DAYS))] == ["re-rig between scenes"]
    assert _not_fine(proofs(in_break, worn, DAYS)) == []


def test_a_sung_scene_without_song_or_feed_is_watched() -> None:
    bare = [
        SungScene("day-1", "4", ("Bram",), False, False, False),
        SungScene("day-1", "5", ("Runa",), True, True, False),
    ]
    told = [each.what for each in proofs(TASK, WORN, DAYS, bare) if each.kind == "sung scene ready"]
    assert told == [
        "Scene 4 on day 1 is sung by Bram, and the plan lacks a song and playback in the rig for it.",
        "Scene 5 on day 1 is sung by Runa, and the plan lacks a monitor feed with playback for it.",
    ]


def test_one_day_tells_of_its_own_scenes_alone() -> None:
    nobody = {key: Cover() for key in WORN}
    told = [each.what for each in proofs(TASK, nobody, DAYS, day="day-2") if each.kind == "everybody covered"]
    assert told == ["Day 2, scene 9: nothing covers Bram (20 words)."]


def test_many_of_one_kind_are_told_together() -> None:
    slots = tuple(slot(1, str(n), "scene" if n else "day", "Bram") for n in range(MOST_TOLD + 3))
    nobody = replace(TASK, slots=slots)
    worn = {(n, "bram"): Cover() for n in range(len(slots))}
    told = [each for each in proofs(nobody, worn, DAYS) if each.kind == "everybody covered"]
    assert len(told) == MOST_TOLD + 1
    assert told[-1].what == f"The same of 3 more places, from scene {MOST_TOLD} on."


def test_a_name_that_is_not_there_is_told_though_nothing_can_be_asked() -> None:
    wrong = [Wrong(("packs", "wishes", "brm"), "names the character 'brm', which is not there")]
    (told,) = proofs(None, {}, DAYS, wrong=wrong)
    assert told.weight is Weight.STOP
    assert told.refs[0].path == "plan#/packs/wishes/brm"
