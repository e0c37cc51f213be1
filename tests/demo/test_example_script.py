"""The demo's script, its plan and its day agree: read again, the script says what the plan has kept of it."""

from __future__ import annotations

import pytest

from rollsound.demo.day_four import DAY_FOUR
from rollsound.demo.example import example_plan_text, example_script_text
from rollsound.demo.scenario import PEOPLE
from rollsound.script.breakdown import breakdown
from rollsound.script.fountain import read_fountain
from rollsound.show.model import Plan
from rollsound.show.text import parse_plan


@pytest.fixture(scope="module")
def plan() -> Plan:
    return parse_plan(example_plan_text())


def test_the_plan_holds_what_its_script_says(plan: Plan) -> None:
    read = breakdown(read_fountain(example_script_text()), plan.script)
    assert not read.remarks
    assert not read.offers  # 'Signý' is Signy, as the plan says
    assert read.part == plan.script


def test_every_scene_is_shot_once_over_twelve_days(plan: Plan) -> None:
    assert [day.number for day in plan.schedule.days] == list(range(1, 13))
    shot = [scene for day in plan.schedule.days for scene in day.scenes]
    written = [scene.number for scene in plan.script.scenes if not scene.omitted]
    assert len(written) == 26
    assert sorted(shot) == sorted(written)
    assert [scene.number for scene in plan.script.scenes if scene.omitted] == ["30"]


def test_four_scenes_are_sung_and_songs_know_their_scenes(plan: Plan) -> None:
    assert [scene.number for scene in plan.script.scenes if scene.sung] == ["20", "36", "38", "40"]
    for song in plan.songs.songs:
        for number in song.scenes:
            scene = plan.script.scene(number)
            assert scene is not None
            assert song.id in scene.songs


def test_the_eleven_of_the_script_are_those_who_are_wired(plan: Plan) -> None:
    people = {person.name: person.performer for person in PEOPLE}
    assert {each.name: each.performer for each in plan.script.characters} == people
    wearers = {each.wearer for each in plan.radio.transmitters if each.wearer in people}
    assert wearers == set(people)


def test_who_speaks_on_day_four_wore_a_pack_there(plan: Plan) -> None:
    """The recordings of day 4 and its scenes in the script tell of the same people."""
    people = {person.name for person in PEOPLE}
    scenes = {take.scene for take in DAY_FOUR.takes}
    assert scenes == {"31", "32", "36"}
    for number in scenes:
        scene = plan.script.scene(number)
        assert scene is not None
        wired = {
            who for take in DAY_FOUR.takes if take.scene == number for who in DAY_FOUR.block_of(take).radios
        } & people
        assert {plan.script.character(who).name for who in scene.characters} == wired  # type: ignore[union-attr]
