"""A screenplay broken down: who says and sings how much, where, how long, and what it sounds of."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rollsound.script.breakdown import breakdown, words_in
from rollsound.script.cues import built_in, find_cues, rules_of
from rollsound.script.fountain import read_fountain
from rollsound.script.headings import read_heading
from rollsound.script.lengths import eighths, eighths_text, page_form
from rollsound.script.model import Character, CueRule, Said, Scene, ScriptPart
from rollsound.script.names import alike, as_spoken, several, slug

SCRIPT = """Title: Northbound Ferry
Draft date: 1 February

INT. CAR DECK - NIGHT #28A#

= The ramp goes up.

A telephone rings. Rain on the steel.

RUNA
Where is *Idris*?

IDRIS (V.O.)
Below. Don't wait.

RUNA (CONT'D)
(whispering)
Then we sing.

RUNA AND IDRIS
~Northbound, northbound
~over the bar

~until the morning

They stop.

INT./EXT. WHEELHOUSE - CONTINUOUS #29#

BRAM
Quiet.

RUNA ^
No.
"""


def test_who_speaks_and_sings_how_much():
    first, second = breakdown(read_fountain(SCRIPT)).part.scenes
    assert first.speaks == (
        Said(character="runa", words=6, lines=2),
        Said(character="idris", words=3, lines=1, off="voice over"),
    )
    assert {each.character: (each.words, each.lines) for each in first.sings} == {"runa": (8, 3), "idris": (8, 3)}
    assert (first.number, first.id, first.interior, first.place, first.time) == (
        "28A",
        "scene-28a",
        "interior",
        "CAR DECK",
        "night",
    )
    assert first.synopsis == "The ramp goes up."
    assert first.sung
    assert (second.interior, second.time, second.dual, second.sung) == ("both", "night", True, False)


def test_a_telephone_that_is_talked_of_is_no_cue():
    def kinds(text: str) -> set[str]:
        return {cue.kind for scene in breakdown(read_fountain(text)).part.scenes for cue in scene.cues}

    assert kinds("INT. ROOM - DAY\n\nThe telephone rings.\n") == {"telephone"}
    assert kinds("INT. ROOM - DAY\n\nRUNA\nThe telephone rings.\n") == set()
    assert "quiet" in kinds("INT. ROOM - DAY\n\nRUNA\n(whispering)\nGo.\n")
    assert kinds("INT. ROOM - DAY\n\nRUNA (on the phone)\nGo.\n") == {"telephone"}


def test_cues_tell_their_line():
    cues = breakdown(read_fountain(SCRIPT)).part.scenes[0].cues
    lines = SCRIPT.splitlines()
    assert {"telephone", "rain", "quiet"} <= {cue.kind for cue in cues}
    for cue in cues:
        assert cue.text in lines[cue.line - 1]


def test_rules_are_the_mixers():
    text = [(7, "A car passes the bell.")]
    usual = {cue.kind for cue in find_cues(text, rules_of())}
    assert usual == {"vehicle", "bell or horn"}
    own = [CueRule(kind="vehicle", words=()), CueRule(kind="goat", words=("pass*",))]
    assert {cue.kind for cue in find_cues(text, rules_of(own))} == {"bell or horn", "goat"}
    assert find_cues([(1, "carpet"), (2, "scar")], rules_of()) == ()
    assert all(rule.words and rule.asks and rule.source for rule in built_in())


@pytest.mark.parametrize(
    ("heading", "interior", "place", "time"),
    [
        ("EXT. BRICK'S POOL - DAY", "exterior", "BRICK'S POOL", "day"),
        ("INT. HOUSE - DAY - FLASHBACK (1944)", "interior", "HOUSE", "day"),
        ("ext. quay - magic hour", "exterior", "quay", "magic hour"),
        ("I/E. CAR - MOMENTS LATER", "both", "CAR", "dusk"),
        ("INT. DAY NURSERY - NIGHT", "interior", "DAY NURSERY", "night"),
        ("SNIPER SCOPE POV", "", "SNIPER SCOPE POV", ""),
        ("INT. DAYROOM", "interior", "DAYROOM", ""),
    ],
)
def test_what_headings_say(heading, interior, place, time):
    told = read_heading(heading, "dusk")
    assert (told.interior, told.place, told.time, told.omitted) == (interior, place, time, False)


def test_omitted_scenes_keep_their_number_and_have_no_length():
    scene = breakdown(read_fountain(".OMITTED #12#\n\nINT. ROOM - DAY #13#\n\nX.\n")).part.scenes[0]
    assert (scene.number, scene.omitted, scene.eighths) == ("12", True, 0)


def test_the_plan_keeps_what_people_wrote():
    known = ScriptPart(
        characters=(Character(id="r", name="Runa", also=("RUNNA",), performer="T. L.", principal=True),),
        scenes=(Scene(id="old", number="28a", note="stove off", songs=("harbour",)),),
    )
    part = breakdown(read_fountain(SCRIPT.replace("RUNA ^", "RUNNA ^")), known).part
    assert part.scenes[0].id == "old"
    assert (part.scenes[0].note, part.scenes[0].songs) == ("stove off", ("harbour",))
    assert part.characters[0] == known.characters[0]
    assert [each.character for each in part.scenes[1].speaks] == ["bram", "r"]


def test_names_that_look_alike_are_offered_and_never_merged():
    text = "INT. A - DAY\n\n" + "".join(f"{name}\nYes.\n\n" for name in ("ANOUSH", "ANOUSCH", "ANOUSH", "BÉLA", "BELA"))
    found = breakdown(read_fountain(text))
    assert {(each.keep, each.other) for each in found.offers} == {("Anoush", "Anousch"), ("Béla", "Bela")}
    assert len(found.part.characters) == 4
    apart = found.part.model_copy(
        update={
            "characters": (
                found.part.characters[0].model_copy(update={"apart": ("Anousch",)}),
                *found.part.characters[1:],
            )
        }
    )
    assert {each.keep for each in breakdown(read_fountain(text), apart).offers} == {"Béla"}


@pytest.mark.parametrize(
    ("one", "other", "same"),
    [
        ("RUNA", "RUNA LIND", True),
        ("RUNA-LIND", "RUNA LIND", True),
        ("CAPTAIN", "CAPTIAN", True),
        ("WOMAN 1", "WOMAN 2", False),
        ("YOUNG RUNA", "RUNA", False),
        ("MAN", "WOMAN", False),
        ("IDA", "ADA", False),
        ("HARU", "HARI", True),
        ("BRAM", "RUNA", False),
    ],
)
def test_what_looks_alike(one, other, same):
    assert bool(alike(one, other)) is same
    assert alike(one, other) == alike(other, one)


def test_names_for_people_and_ids():
    assert [as_spoken(name) for name in ("RUNA", "McCLANE", "RUNA'S MOTHER", "O'KELLO")] == [
        "Runa",
        "McCLANE",
        "Runa's Mother",
        "O'Kello",
    ]
    assert slug("RUNA", {"runa"}) == "runa-2"
    assert slug("黒澤") == "character"
    assert several("RUNA & IDRIS", {"runa", "idris"}) == ("RUNA", "IDRIS")
    assert several("SALT AND PEPPER", {"salt"}) == ()


def test_scenes_without_numbers_are_counted_and_it_is_said():
    found = breakdown(read_fountain("INT. A - DAY\n\nX.\n\nEXT. B - NIGHT\n\nY.\n"))
    assert [each.number for each in found.part.scenes] == ["1", "2"]
    assert "counted" in found.remarks[0].sentence
    some = breakdown(read_fountain("INT. A - DAY #4#\n\nX.\n\nEXT. B - NIGHT\n\nY.\n"))
    assert [each.number for each in some.part.scenes] == ["4", ""]
    assert "EXT. B - NIGHT" in some.remarks[0].sentence


def test_what_is_wrong_is_told_with_its_line_and_the_rest_is_done():
    twice = breakdown(read_fountain("INT. A - DAY #4#\n\nX.\n\nINT. B - DAY #4#\n\nY.\n"))
    assert [(each.line, "line 1" in each.sentence) for each in twice.remarks] == [(5, True)]
    assert len({each.id for each in twice.part.scenes}) == 2
    nobody = breakdown(read_fountain("INT. A - DAY #4#\n\nThey begin.\n\n~la la la\n"))
    assert nobody.part.scenes[0].sung
    assert [each.line for each in nobody.remarks] == [5]
    assert "no scene" in breakdown(read_fountain("")).remarks[0].sentence


def test_words_are_counted_without_marks():
    assert words_in("Don't -- *wait*, _Mr. 7_ ...") == 4


@pytest.mark.parametrize(("lines", "told"), [(1, 1), (54, 8), (27, 4), (81, 12), (10, 1), (11, 2)])
def test_eighths_are_the_nearest(lines, told):
    assert page_form().lines == 54
    assert eighths(lines) == told


def test_eighths_as_they_are_written():
    assert [eighths_text(count) for count in (0, 1, 8, 19)] == ["0", "1/8", "1", "2 3/8"]


WORDS = [word for rule in built_in() for word in rule.words]


@given(
    st.lists(
        st.sampled_from([*(word.strip("*") for word in WORDS), "s", "ing", " ", " ", "-", "\n", "the", "É"]),
        max_size=12,
    )
)
def test_looking_at_first_words_misses_nothing(parts):
    """Whatever a rule's pattern finds is of a kind that is looked for."""
    text = "".join(parts)
    rules = rules_of()
    perhaps = rules.perhaps(text)
    assert [at for at, (_, pattern) in enumerate(rules.patterns) if pattern.search(text) and at not in perhaps] == []


def test_a_synopsis_under_a_section_tells_of_the_section() -> None:
    first = "INT. DECK - DAY #1#\n\n= The ramp goes up.\n\n"
    text = f"{first}# Skarvik\n\n= Nobody sings here.\n\nEXT. QUAY - DAY #2#\n\nSnow.\n"
    assert [scene.synopsis for scene in breakdown(read_fountain(text)).part.scenes] == ["The ramp goes up.", ""]
