"""Breakdowns as sheets: any headings, any separators, and rows that cannot be used."""

from __future__ import annotations

import pytest

from rollsound.errors import InputError
from rollsound.script.from_sheet import breakdown_of_sheet
from rollsound.script.model import Character, Said, Scene, ScriptPart
from rollsound.script.sheet import SheetVoice, read_breakdown

SHEET = """Northbound Ferry;;;;;;;
;;;;;;;
Sc.;Int/Ext;Set;D/N;Pgs;Cast;Singers;Remarks
4;INT;Car deck;Night;2 3/8;Runa (42), Signý: 12, Deckhand 2;;
28A;EXT.;Quay;Dawn;5/8;R2D2;Runa, Ásta;rain
19;I/E;Chapel;day;1,5;;;
;INT;Nowhere;;;;;
19;INT;Chapel;;;;;
20;inside out;Bridge;;a page;Haru;;
21;;OMITTED;;;;;
"""


def test_a_sheet_with_its_own_headings() -> None:
    read = read_breakdown(SHEET, "breakdown.csv")
    first, second, third, bridge, omitted = read.scenes
    assert (first.line, first.number, first.interior, first.heading, first.time) == (
        4,
        "4",
        "interior",
        "Car deck",
        "night",
    )
    assert first.speaks == (SheetVoice("Runa", 42), SheetVoice("Signý", 12), SheetVoice("Deckhand 2"))
    assert [scene.eighths for scene in (first, second, third)] == [19, 5, 12]
    assert (second.number, second.interior) == ("28A", "exterior")
    assert second.speaks == (SheetVoice("R2D2"),)
    assert [voice.name for voice in second.sings] == ["Runa", "Ásta"]
    assert third.interior == "both"
    assert (bridge.interior, bridge.eighths) == ("", 0)
    assert omitted.omitted
    assert read.used["number"] == "Sc."


def test_rows_that_cannot_be_used_are_told_with_their_line() -> None:
    troubles = read_breakdown(SHEET, "breakdown.csv").troubles
    assert [each.line for each in troubles] == [7, 8, 9, 9]
    assert "no scene number" in troubles[0].sentence
    assert "line 6 already" in troubles[1].sentence
    assert "neither interior nor exterior" in troubles[2].sentence
    assert "2 3/8" in troubles[3].sentence


def test_columns_can_be_mapped() -> None:
    text = 'Szene,Wer spricht,Achtel\n7,"Runa; Jón, the cook",5\n'
    read = read_breakdown(text, "x.csv", {"number": "szene", "speaks": "Wer spricht", "eighths": "Achtel"})
    assert read.scenes[0].speaks == (SheetVoice("Runa"), SheetVoice("Jón, the cook"))
    assert read.scenes[0].eighths == 5
    with pytest.raises(
        InputError, match=r"x\.csv has no column for 'number'; its columns are: Szene, Wer spricht, Achtel"
    ):
        read_breakdown(text, "x.csv")
    with pytest.raises(InputError, match="has no column 'Bild'"):
        read_breakdown(text, "x.csv", {"number": "Bild"})
    with pytest.raises(InputError, match="'colour' is no field"):
        read_breakdown(text, "x.csv", {"colour": "Szene"})


def test_what_is_no_sheet() -> None:
    with pytest.raises(InputError, match="has no column for 'number'"):
        read_breakdown("", "x.csv")
    assert "no scenes" in read_breakdown("scene\n", "x.csv").troubles[0].sentence
    with pytest.raises(InputError, match="cannot be read as CSV"):
        read_breakdown('scene\n"' + "x" * 200_000, "x.csv")


def test_a_sheet_in_the_plans_form() -> None:
    known = ScriptPart(
        characters=(Character(id="runa", name="Runa", also=("RUNA ODDSDOTTIR",), principal=True),),
        scenes=(Scene(id="s4", number="4", synopsis="The cars are lashed.", note="Boom from the ladder"),),
    )
    text = (
        "scene,heading,speaks,sings,sound,pages\n"
        '4,INT. CAR DECK - NIGHT,"Runa Oddsdottir (8), SIGNÝ",,"Telephone rings; a strange hum",7/8\n'
        '5,EXT. QUAY - DAWN,"Signy, Runa (3)",All,,1\n'
    )
    found = breakdown_of_sheet(read_breakdown(text, "b.csv"), known)
    first, second = found.part.scenes
    assert (first.id, first.synopsis, first.note, first.eighths) == (
        "s4", "The cars are lashed.", "Boom from the ladder", 7,
    )  # fmt: skip
    assert (first.interior, first.place, first.time) == ("interior", "CAR DECK", "night")
    assert first.speaks == (Said(character="runa", words=8), Said(character="signy"))
    assert [(cue.text, cue.line) for cue in first.cues][:2] == [("Telephone rings", 2), ("a strange hum", 2)]
    assert second.sings[0].character == "all"
    assert found.part.character("all").kind == "group"  # type: ignore[union-attr]
    assert [(offer.keep, offer.other) for offer in found.offers] == [("Signý", "Signy")]
    assert found.part.characters[0].principal


def test_a_sheet_without_names_leaves_who_was_known() -> None:
    known = ScriptPart(
        characters=(Character(id="runa", name="Runa"),),
        scenes=(Scene(id="s4", number="4", speaks=(Said(character="runa", words=8),)),),
    )
    found = breakdown_of_sheet(read_breakdown("scene,pages\n4,2/8\n", "b.csv"), known)
    assert found.part.scenes[0].speaks == (Said(character="runa", words=8),)
    assert "no column tells who speaks" in found.remarks[-1].sentence
