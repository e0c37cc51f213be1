"""What the script and the schedule prove of each other."""

from __future__ import annotations

import pytest

from rollsound.finding import Weight
from rollsound.script.model import Character, Said, Scene, ScriptPart
from rollsound.script.proofs import DayOfScenes, proofs

PART = ScriptPart(
    characters=(Character(id="runa", name="Runa"), Character(id="idris", name="Idris")),
    scenes=(
        Scene(id="scene-1", number="1", speaks=(Said(character="runa", words=3, lines=1),)),
        Scene(id="scene-2a", number="2A", sings=(Said(character="idris", words=3, lines=1),)),
    ),
)
DAYS = (DayOfScenes("day-1", "day 1", ("1", "2a")),)


def told(part=PART, days=DAYS, songs=("2A",)):
    return {each.kind: each for each in proofs(part, days, songs) if each.weight is not Weight.FINE}


def test_a_script_and_schedule_that_agree():
    found = proofs(PART, DAYS, ("2A",))
    assert {each.weight for each in found} == {Weight.FINE}
    assert {each.kind for each in found} == {"scene of the script", "scene scheduled", "song of a scene"}
    assert proofs(ScriptPart(), DAYS) == []


def with_scene(**fields):
    return PART.model_copy(update={"scenes": (*PART.scenes, Scene(**fields))})


def with_character(**fields):
    return PART.model_copy(update={"characters": (*PART.characters, Character(**fields))})


@pytest.mark.parametrize(
    ("kind", "part", "days", "songs", "says"),
    [
        ("scene of the script", PART, (DayOfScenes("d", "day 1", ("1", "2A", "7")),), ("2A",), "scene 7, not in"),
        (
            "scene of the script",
            with_scene(id="x", number="9", omitted=True),
            (DayOfScenes("d", "day 1", ("1", "2A", "9")),),
            ("2A",),
            "taken out",
        ),
        ("scene scheduled", PART, (DayOfScenes("d", "day 1", ("1",)),), ("2A",), "2A"),
        ("scene twice", PART, (DayOfScenes("d", "day 1", ("1", "2A", "2a")),), ("2A",), "2a twice"),
        ("scene number twice", with_scene(id="x", number="1", heading="INT. B"), DAYS, ("2A",), "INT. B"),
        ("character twice", with_character(id="runna", name="Runna"), DAYS, ("2A",), "Runna"),
        ("character twice", with_character(id="b", name="Bo", also=("RUNA",)), DAYS, ("2A",), "two"),
        ("song of a scene", PART, DAYS, (), "2A"),
    ],
)
def test_what_does_not_agree_is_told(kind, part, days, songs, says):
    found = told(part, days, songs)
    assert list(found) == [kind]
    assert says in found[kind].what
    assert found[kind].remedy


def test_two_that_are_apart_are_not_told():
    two = with_character(id="runna", name="Runna", apart=("Runa",))
    assert told(two) == {}


def test_one_scene_on_two_days_goes_on():
    assert told(days=(DayOfScenes("a", "day 1", ("1", "2A")), DayOfScenes("b", "day 2", ("2A",)))) == {}
