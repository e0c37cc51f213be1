"""A pack plan in words, and that what is said to mend it does."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import given, settings
from tests.packs.pack_parts import booms, packs, person, slot, small_tasks

from rollsound.packs.counting import cost, rerigs
from rollsound.packs.explain import Given, Names, explain, missing, packs_short, rerig_sentence
from rollsound.packs.find import find
from rollsound.packs.task import Cover, Level, PackTask

DAYS = {"day-1": "day 1", "day-2": "day 2"}


def _of(level: Level, found: tuple[Given, ...]) -> list[Given]:
    return [each for each in found if each.level is level]


def test_who_is_not_covered_is_told_with_day_scene_words_and_what_is_missing() -> None:
    task = PackTask(
        packs(1), booms(1), tuple(map(person, ("Bram", "Runa", "Haru", "Signy"))),
        (slot(1, "28A", "day", "Bram", "Runa", "Haru", "Signy", words=(90, 30, 8, 1)),), boom_covers=1,
    )  # fmt: skip
    worn = {(0, "bram"): Cover(("pack-01",)), (0, "runa"): Cover((), True)}
    (told,) = _of(Level.UNCOVERED, explain(task, worn, DAYS))
    assert told.sentence == "Day 1, scene 28A: nothing covers Haru (8 words) and Signy (1 word)."
    assert told.why == "4 are heard; 1 pack and 1 boom, which covers 1, are there."
    assert told.cure == "Bring 2 more packs on day 1, or 2 more booms."
    assert told.amount == 9
    (alone,) = _of(Level.BOOM_ALONE, explain(task, worn, DAYS))
    assert alone.sentence == "Day 1, scene 28A: only a boom covers Runa (30 words)."
    assert alone.cure == "Bring 3 more packs on day 1."


def test_a_rerig_is_told_with_its_place_and_whom_it_touches() -> None:
    task = PackTask(
        packs(1), (), (person("Bram"), person("Haru"), person("Runa")),
        (
            slot(1, "4", "day", "Bram"),
            replace(slot(1, "5", "break", "Haru"), gap_name="lunch"),
            slot(1, "6", "scene", "Runa"),
        ),
    )  # fmt: skip
    worn = {(n, who): Cover(("pack-01",)) for n, who in enumerate(("bram", "haru", "runa"))}
    names = Names(task, DAYS)
    told = [rerig_sentence(task, each, names) for each in rerigs(task, "day-1", worn)]
    assert told == [
        "Day 1, in lunch before scene 5: Pack 1 goes from Bram to Haru.",
        "Day 1, between scenes 5 and 6: Pack 1 goes from Haru to Runa.",
    ]
    assert packs_short(task, worn, "day-1") == 2
    cures = {each.cure for each in _of(Level.RERIGS, explain(task, worn, DAYS))}
    assert cures == {"Bring 2 more packs on day 1, and nobody hands one on."}


def test_changes_wishes_spares_and_moves_are_told() -> None:
    has = packs(3, spare={3: True})
    people = (person("Bram", pack="pack-01", dual=True), person("Haru"))
    task = PackTask(
        has, (), people, (slot(1, "4", "day", "Bram", "Haru"), slot(2, "9", "day", "Haru")),
        kept={(1, "haru"): Cover((), True)},
    )  # fmt: skip
    worn = {(0, "bram"): Cover(("pack-02",)), (0, "haru"): Cover(("pack-01",)), (1, "haru"): Cover(("pack-03",))}
    sentences = {each.level: each.sentence for each in explain(task, worn, DAYS)}
    assert sentences == {
        Level.SPARES: "Day 2: Pack 3, a spare, is worn by Haru.",
        Level.MOVED: "Day 2, scene 9: Haru has Pack 3 in place of a boom.",
        Level.WISHES: "Day 1, scene 4: Bram has Pack 2, and wished is Pack 1, two packs.",
        Level.PAIRS: "Haru changes packs over the show: Pack 1 (track 6) on day 1; Pack 3 (track 8) on day 2.",
    }


def _fewest_bare(may: list[bool], packs: int, places: int) -> int:
    """The fewest in one scene whom nothing covers, every way tried."""
    if not may:
        return 0
    rest = may[1:]
    ways = [1 + _fewest_bare(rest, packs, places)]
    if may[0] and packs:
        ways.append(_fewest_bare(rest, packs - 1, places))
    if places:
        ways.append(_fewest_bare(rest, packs, places - 1))
    return min(ways)


@settings(max_examples=100, deadline=None)
@given(small_tasks())
def test_what_is_said_to_be_missing_is_just_enough(task: PackTask) -> None:
    for n, scene in enumerate(task.slots):
        more, left = missing(task, n)
        may = [task.may_wear(who, n) for who in task.voices(n)]
        there, places = len(task.packs_on(scene.day)), task.boom_places(scene.day)
        assert _fewest_bare(may, there + more, places + left) == 0
        if more:
            assert _fewest_bare(may, there + more - 1, places + left) == 1
        if left:
            assert _fewest_bare(may, there + more, places + left - 1) == 1


@settings(max_examples=100, deadline=None)
@given(small_tasks(kept=True))
def test_what_is_told_adds_up_to_what_the_plan_costs(task: PackTask) -> None:
    worn = find(task, moves=0).worn
    whole = cost(task, worn)
    found = explain(task, worn)
    for level in (level for level in Level if level is not Level.PAIRS):
        assert sum(each.amount for each in _of(level, found)) == whole[level], level
