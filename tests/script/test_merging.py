"""Two spellings made one character, or kept as two."""

from __future__ import annotations

import pytest

from rollsound.errors import InputError
from rollsound.script.merging import kept_apart, merged, offers_of
from rollsound.script.model import Character, Said, Scene, ScriptPart

PART = ScriptPart(
    characters=(
        Character(id="runa", name="Runa"),
        Character(id="runna", name="Runna", also=("RUNAA",), performer="T. L."),
    ),
    scenes=(
        Scene(
            id="scene-1",
            number="1",
            speaks=(
                Said(character="runa", words=3, lines=1),
                Said(character="runna", words=4, lines=2, off="off screen"),
            ),
            sings=(Said(character="runna", words=5, lines=1),),
        ),
        Scene(id="scene-2", number="2", speaks=(Said(character="runna", words=6, lines=1, off="voice over"),)),
    ),
)


def test_what_both_say_is_put_together():
    one = merged(PART, "RUNNA", "Runa")
    (runa,) = one.characters
    assert (runa.also, runa.performer) == (("Runna", "RUNAA"), "T. L.")
    assert one.scenes[0].speaks == (Said(character="runa", words=7, lines=3),)
    assert one.scenes[0].sings == (Said(character="runa", words=5, lines=1),)
    assert one.scenes[1].speaks == (Said(character="runa", words=6, lines=1, off="voice over"),)
    assert sum(scene.words for scene in one.scenes) == sum(scene.words for scene in PART.scenes)
    assert offers_of(one) == ()
    assert merged(one, "Runna", "Runa") == one


def test_two_that_are_two_are_not_offered_again():
    assert len(offers_of(PART)) == 1
    two = kept_apart(PART, "Runna", "Runa")
    assert offers_of(two) == ()
    assert kept_apart(two, "Runna", "Runa") == two


def test_nobody_of_that_name():
    with pytest.raises(InputError, match="no character is called 'Bram'; there are: Runa, Runna"):
        merged(PART, "Bram", "Runa")
