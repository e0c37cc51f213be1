"""Fountain: the examples of its own syntax page, round trips, and text that breaks off."""

from __future__ import annotations

import string
import time
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rollsound.script.elements import (
    Action,
    Centred,
    Character,
    Dialogue,
    Element,
    Lyric,
    PageBreak,
    Parenthetical,
    SceneHeading,
    Script,
    Section,
    Synopsis,
    Transition,
    plain,
)
from rollsound.script.fountain import read_fountain
from rollsound.script.writing import write_fountain

PAGE = "Fountain syntax, fountain.io/syntax"


def kinds(text: str) -> list[tuple[str, str]]:
    """Every element's kind and text."""
    return [
        (type(each).__name__, each.name if isinstance(each, Character) else getattr(each, "text", ""))
        for each in read_fountain(text).elements
    ]


@pytest.mark.source(f"{PAGE}, section Scene Heading", kind="published")
def test_scene_headings() -> None:
    text = (
        "EXT. BRICK'S POOL - DAY\n\nSteel, in the middle of a heated phone call:\n\nSTEEL\n"
        "They're coming out of the woodwork!\n(pause)\nNo, everybody we've put away!\n(pause)\nPoint Blank Sniper?\n\n"
        ".SNIPER SCOPE POV\n\nFrom what seems like only INCHES AWAY.\n"
    )
    assert kinds(text) == [
        ("SceneHeading", "EXT. BRICK'S POOL - DAY"),
        ("Action", "Steel, in the middle of a heated phone call:"),
        ("Character", "STEEL"),
        ("Dialogue", "They're coming out of the woodwork!"),
        ("Parenthetical", "pause"),
        ("Dialogue", "No, everybody we've put away!"),
        ("Parenthetical", "pause"),
        ("Dialogue", "Point Blank Sniper?"),
        ("SceneHeading", "SNIPER SCOPE POV"),
        ("Action", "From what seems like only INCHES AWAY."),
    ]
    assert kinds("EXT. OLYMPIA CIRCUS - NIGHT\n\n...where the second-rate carnival is parked.")[1][0] == "Action"
    assert kinds("ext. brick's pool - day\n") == [("SceneHeading", "ext. brick's pool - day")]


@pytest.mark.source(f"{PAGE}, section Scene Heading: known prefixes, followed by a dot or a space", kind="published")
@pytest.mark.parametrize("prefix", ["INT", "EXT", "EST", "INT./EXT", "INT/EXT", "I/E"])
def test_every_known_prefix(prefix: str) -> None:
    for written in (f"{prefix}. HOUSE", f"{prefix} HOUSE", f"{prefix.lower()} house"):
        assert kinds(f"Before.\n\n{written}\n\nAfter.")[1] == ("SceneHeading", written)
    assert kinds(f"Before.\n\n!{prefix}. HOUSE\n\nAfter.") == [("Action", f"Before.\n\n{prefix}. HOUSE\n\nAfter.")]
    assert kinds(f"Before.\n\n{prefix}ERIOR HOUSE\n\nAfter.")[0][0] == "Action"


@pytest.mark.source(f"{PAGE}, section Scene Heading: scene numbers", kind="published")
@pytest.mark.parametrize("number", ["1", "1A", "1a", "A1", "I-1-A", "1.", "110A"])
def test_scene_numbers(number: str) -> None:
    heading = read_fountain(f"INT. HOUSE - DAY - FLASHBACK (1944) #{number}#").elements[0]
    assert heading == SceneHeading(1, "INT. HOUSE - DAY - FLASHBACK (1944)", number)


@pytest.mark.source(f"{PAGE}, section Action", kind="published")
def test_action_keeps_its_lines_and_spaces() -> None:
    text = (
        "They drink long and well from the beers.\n\nAnd then there's a long beat.\nLonger than is funny.\n"
        "Long enough to be depressing.\n\nThe men look at each other."
    )
    assert kinds(text) == [("Action", text)]
    card = "inside of which is hand written:\n\n          Scott --\n\n\tJacob Billups\n          1:00 pm tomorrow"
    assert kinds("\n" + card) == [("Action", card.replace("\t", "    "))]


@pytest.mark.source(f"{PAGE}, section Line Breaks", kind="published")
def test_capitals_before_a_line_are_a_character_unless_forced() -> None:
    text = (
        "INT. CASINO - NIGHT\n\nTHE DEALER eyes the new player warily.\n\n"
        "{}SCANNING THE AISLES...\nWhere is that pit boss?\n\nNo luck."
    )
    assert kinds(text.format(""))[2:4] == [
        ("Character", "SCANNING THE AISLES..."),
        ("Dialogue", "Where is that pit boss?"),
    ]
    assert [kind for kind, _ in kinds(text.format("!"))] == ["SceneHeading", "Action"]
    dealer = "DEALER\nTen.\nFour.\nDealer gets a seven.\n{}\nHit or stand sir?\n\nMONKEY\nDude, I'm a monkey.\n"
    assert kinds(dealer.format("  ")) == [
        ("Character", "DEALER"),
        ("Dialogue", "Ten.\nFour.\nDealer gets a seven.\n\nHit or stand sir?"),
        ("Character", "MONKEY"),
        ("Dialogue", "Dude, I'm a monkey."),
    ]
    assert kinds(dealer.format(""))[2] == ("Action", "Hit or stand sir?")


@pytest.mark.source(f"{PAGE}, sections Character, Dialogue, Parenthetical, Dual Dialogue", kind="published")
def test_characters() -> None:
    found = read_fountain(
        "MOM (O. S.)\nLuke! Come down for supper!\n\nHANS (on the radio)\nWhat was it you said?\n\n"
        "@McCLANE\nYippie ki-yay! I got my lower-case C back!\n\n"
        "BRICK\nScrew retirement.\n\nSTEEL ^\nScrew retirement.\n\nR2D2\nBeep.\n\n23\nBeep.\n"
    ).elements
    assert [each for each in found if isinstance(each, Character)] == [
        Character(1, "MOM", "O. S."),
        Character(4, "HANS", "on the radio"),
        Character(7, "McCLANE"),
        Character(10, "BRICK"),
        Character(13, "STEEL", dual=True),
        Character(16, "R2D2"),
    ]
    assert found[-1] == Action(19, "23\nBeep.")
    assert kinds("STEEL\n(starting the engine)\nSo much for retirement!")[1] == ("Parenthetical", "starting the engine")
    assert kinds("DAN\nThen let's retire them.\n_Permanently_.") == [
        ("Character", "DAN"),
        ("Dialogue", "Then let's retire them.\n_Permanently_."),
    ]


@pytest.mark.source(f"{PAGE}, section Lyrics", kind="published")
def test_lyrics_alone_and_under_a_name() -> None:
    song = "~Willy Wonka! Willy Wonka! The amazing chocolatier!\n~Willy Wonka! Willy Wonka! Everybody give a cheer!"
    assert kinds(song) == [("Lyric", song.replace("~", ""))]
    assert kinds(f"ALL\nReady?\n{song}\nOnce more.") == [
        ("Character", "ALL"),
        ("Dialogue", "Ready?"),
        ("Lyric", song.replace("~", "")),
        ("Dialogue", "Once more."),
    ]


@pytest.mark.source(f"{PAGE}, sections Transition, Centered Text, Page Breaks", kind="published")
def test_transitions_centred_text_and_page_breaks() -> None:
    text = "Jack begins to argue vociferously, But mercifully we...\n\nCUT TO:{}\n\nEXT. BRICK'S POOL - DAY"
    assert kinds(text.format(""))[1] == ("Transition", "CUT TO:")
    assert kinds(text.format("  "))[0][1].endswith("\n\nCUT TO:")
    assert kinds("A job well done.\n\n> Burn to White.")[1] == ("Transition", "Burn to White.")
    assert kinds("A.\n\n.CUT TO:\n\nB.")[1] == ("SceneHeading", "CUT TO:")
    assert kinds(">THE END<") == kinds("> THE END <") == [("Centred", "THE END")]
    assert [kind for kind, _ in kinds(">**End of Act One**<\n\n===\n\n>**Act Two**<")] == [
        "Centred",
        "PageBreak",
        "Centred",
    ]


@pytest.mark.source(f"{PAGE}, section Emphasis", kind="published")
@pytest.mark.parametrize(
    ("written", "shown"),
    [
        ("*italics* **bold** ***bold italics*** _underline_", "italics bold bold italics underline"),
        ("_Steel's face FILLS the *scope*_.", "Steel's face FILLS the scope."),
        (r"Steel enters the code on the keypad: **\*9765\***", "Steel enters the code on the keypad: *9765*"),
        ("He dialed *69 and then *23, and then hung up.", "He dialed *69 and then *23, and then hung up."),
        ("He dialed *69 and then 23*, and then hung up.", "He dialed 69 and then 23, and then hung up."),
        (r"He dialed *69 and then 23\*, and then hung up.", "He dialed *69 and then 23*, and then hung up."),
        ("Brick and Steel *share a look.\n\nThis is going to be BAD.*",) * 2,
    ],
)
def test_emphasis(written: str, shown: str) -> None:
    assert plain(written) == shown


@pytest.mark.source(f"{PAGE}, section Title Page", kind="published")
def test_title_page() -> None:
    found = read_fountain(
        "Title:\n    _**BRICK & STEEL**_\n    _**FULL RETIRED**_\nCredit: Written by\nAuthor: Stu Maschwitz\n"
        "Source: Story by KTM\nDraft date: 1/20/2012\nContact:\n\tNext Level Productions\n\t1588 Mission Dr.\n\n"
        "EXT. BRICK'S PATIO - DAY\n"
    )
    assert [name for name, _ in found.title] == ["Title", "Credit", "Author", "Source", "Draft date", "Contact"]
    assert found.titled("contact") == "Next Level Productions 1588 Mission Dr."
    assert found.elements == (SceneHeading(12, "EXT. BRICK'S PATIO - DAY"),)
    assert read_fountain("Draft date: 6/23/2012").titled("Draft date") == "6/23/2012"
    assert read_fountain("FADE IN:\n\nA RIVER.").title == ()  # holds nothing, so it is no title page


@pytest.mark.source(f"{PAGE}, section Indenting", kind="published")
def test_indents_are_ignored_outside_of_action() -> None:
    text = (
        "\t\t\t\tCUT TO:\n\nINT. GARAGE - DAY\n\nBRICK and STEEL get into the car.\n\n"
        "\t\t\tBRICK\n\tThis is everybody we've ever put away.\n\n\t\t\tSTEEL\n\t\t(starting the engine)\n"
        "\tSo much for retirement!\n\nThey speed off.  To destiny!"
    )
    assert [kind for kind, _ in kinds(text)] == [
        "Transition", "SceneHeading", "Action", "Character", "Dialogue", "Character", "Parenthetical", "Dialogue",
        "Action",
    ]  # fmt: skip
    assert kinds(text)[4] == ("Dialogue", "This is everybody we've ever put away.")


@pytest.mark.source(f"{PAGE}, section Notes", kind="published")
def test_notes() -> None:
    found = read_fountain(
        "INT. TRAILER HOME - DAY\n\n"
        "This is the home of DAN and JACK[[Or did we think of actual names for these guys?]].  "
        "They too are drinking beer.\n\n[[It was supposed to be Vietnamese, right?]]\n\nJACK\n"
        "(in Vietnamese, subtitled)\n*Did you know Brick and Steel are retired?*\n"
    )
    assert found.elements[1] == Action(3, "This is the home of DAN and JACK.  They too are drinking beer.")
    assert found.elements[2] == Character(7, "JACK")
    assert [note.line for note in found.notes] == [3, 5]
    found = read_fountain(
        "Scott pauses for a moment.[[This section needs work.\nEither that, or I need coffee.\n  \nDefinitely coffee.]]"
        " He looks around.  Phone ringing.\n\nSCOTT\nYes?\n"
    )
    assert found.elements[0] == Action(1, "Scott pauses for a moment. He looks around.  Phone ringing.")
    assert found.notes[0].text == "This section needs work.\nEither that, or I need coffee.\n\nDefinitely coffee."
    assert found.elements[1] == Character(6, "SCOTT")


@pytest.mark.source(f"{PAGE}, section Boneyard", kind="published")
def test_the_boneyard_is_ignored_over_many_lines() -> None:
    text = (
        "COGNITO\nEveryone's coming after you mate!\n\nThis is going to be BAD.\n\nCUT TO:\n/*\nINT. GARAGE - DAY\n\n"
        "BRICK\nThis is everybody we've ever put away.\n\nThey speed off.  To destiny!\n\nCUT TO:\n*/\n"
        "EXT. PALATIAL MANSION - DAY\n\nAn EXTREMELY HANDSOME MAN drinks a beer.\n"
    )
    assert kinds(text) == [
        ("Character", "COGNITO"),
        ("Dialogue", "Everyone's coming after you mate!"),
        ("Action", "This is going to be BAD."),
        ("Transition", "CUT TO:"),
        ("SceneHeading", "EXT. PALATIAL MANSION - DAY"),
        ("Action", "An EXTREMELY HANDSOME MAN drinks a beer."),
    ]
    assert read_fountain(text).elements[4].line == 17


@pytest.mark.source(f"{PAGE}, sections Sections and Synopses", kind="published")
def test_sections_and_synopses() -> None:
    assert kinds("CUT TO:\n\n# This is a Section\n\nINT. PALACE HALLWAY - NIGHT\n\n")[1] == (
        "Section",
        "This is a Section",
    )
    levels = read_fountain("# Act\n\n## Sequence\n\n### Scene\n\n## Another Sequence\n\n# Another Act").elements
    assert [each.level for each in levels if isinstance(each, Section)] == [1, 2, 3, 2, 1]
    assert kinds("# ACT I\n\n= Set up the characters and the story.\n\nEXT. BRICK'S PATIO - DAY")[1] == (
        "Synopsis",
        "Set up the characters and the story.",
    )


def test_what_is_never_closed_is_told_and_the_rest_still_read() -> None:
    found = read_fountain("INT. BRIDGE - NIGHT\n\n/* Cut this\n\nRUNA\nHello [[louder\n\nSIGNY\nStop.")
    assert [
        (each.line, "never closed" in each.sentence or "not closed" in each.sentence) for each in found.troubles
    ] == [
        (3, True),
        (6, True),
    ]
    assert [each.name for each in found.elements if isinstance(each, Character)] == ["RUNA", "SIGNY"]
    assert "no line under" in read_fountain("A.\n\n@Runa").troubles[0].sentence


_WORD = st.text(string.ascii_letters + string.digits + "äøß'-,.?…é日", min_size=1, max_size=9)
_SENTENCE = st.lists(_WORD, min_size=1, max_size=6).map(" ".join)
_ANY = st.text(string.ascii_letters + string.digits + " .!@~>#=()<:;,?-&äß日", min_size=1, max_size=30).map(str.strip)
_ANY = _ANY.filter(bool)
_NUMBERS = st.from_regex(r"[0-9]{1,3}[A-Z]?", fullmatch=True) | st.just("")
_LINES = st.lists(_ANY, min_size=1, max_size=3).map("\n".join)


def _spoken(line: str) -> bool:
    return not line.startswith("~") and not (line.startswith("(") and line.endswith(")"))


_SPEECH_LINES = st.lists(_ANY.filter(_spoken), min_size=1, max_size=3).map("\n".join)
_NAME = st.from_regex(r"[A-Z][A-Za-z0-9' .-]{0,11}", fullmatch=True).map(str.strip)
_DIALOGUE = _SPEECH_LINES.map(lambda text: Dialogue(0, text))
_PAREN = st.builds(Parenthetical, st.just(0), _SENTENCE)
_SONG = _LINES.map(lambda text: Lyric(0, text))
_SPEECH: st.SearchStrategy[list[Element]] = st.tuples(
    st.builds(Character, st.just(0), _NAME, st.sampled_from(["", "V.O.", "on the radio"]), st.booleans()),
    st.lists(_DIALOGUE | _PAREN | _SONG, min_size=1, max_size=3),
).map(lambda each: [each[0], *each[1]])
_HEADING = st.builds(
    lambda prefix, rest, number: SceneHeading(0, f"{prefix} {rest}", number),
    st.sampled_from(["INT.", "ext.", "I/E", "INT./EXT.", "est", "Flashback", "7 below"]),
    _SENTENCE,
    _NUMBERS,
)
_ALONE: st.SearchStrategy[list[Element]] = st.one_of(
    _HEADING,
    st.builds(Centred, st.just(0), _SENTENCE),
    st.builds(Transition, st.just(0), _SENTENCE.filter(lambda text: not text.endswith("<")) | st.just("CUT TO:")),
    st.builds(Section, st.just(0), st.integers(1, 4), _SENTENCE),
    st.builds(Synopsis, st.just(0), _SENTENCE),
    st.just(PageBreak(0)),
    st.lists(_ANY | st.just(""), min_size=1, max_size=4)
    .map(lambda lines: "\n".join(lines).strip("\n"))
    .filter(bool)
    .map(lambda text: Action(0, text)),
).map(lambda each: [each])


def _merged(blocks: list[list[Element]]) -> tuple[Element, ...]:
    """As they are read: actions that follow each other are one, and so are speeches' lines."""
    out: list[Element] = []
    for element in (each for block in blocks for each in block):
        last = out[-1] if out else None
        if isinstance(element, Action) and isinstance(last, Action):
            out[-1] = Action(0, f"{last.text}\n\n{element.text}")
        elif isinstance(element, Dialogue) and isinstance(last, Dialogue):
            out[-1] = Dialogue(0, f"{last.text}\n{element.text}")
        elif isinstance(element, Lyric) and isinstance(last, Lyric):
            out[-1] = Lyric(0, f"{last.text}\n{element.text}")
        else:
            out.append(element)
    return tuple(out)


_TITLES = st.lists(
    st.tuples(st.sampled_from(["Title", "Draft date", "Contact"]), st.lists(_WORD, min_size=1, max_size=3).map(tuple)),
    max_size=3,
).map(tuple)


@settings(max_examples=150, deadline=None)
@given(_TITLES, st.lists(_ALONE | _SPEECH, max_size=8).map(_merged))
def test_round_trips(title: tuple[tuple[str, tuple[str, ...]], ...], elements: tuple[Element, ...]) -> None:
    script = Script(title, elements)
    again = read_fountain(write_fountain(script))
    assert again.title == title
    assert tuple(replace(each, line=0) for each in again.elements) == elements
    assert not again.troubles


@settings(max_examples=150, deadline=None)
@given(st.text(st.sampled_from("AB a.!@~>#=()[]/*^<:\n \t1é"), max_size=120))
def test_any_text_is_read_and_what_was_read_stays(text: str) -> None:
    first = read_fountain(text)
    assert all(a.line <= b.line for a, b in zip(first.elements, first.elements[1:], strict=False))
    written = write_fountain(first)
    again = read_fountain(written)
    assert [type(each) for each in again.elements] == [type(each) for each in first.elements]
    assert write_fountain(again) == written


def test_a_script_of_120_pages_is_read_within_its_time() -> None:
    """Process time, as other tests run beside this one; a page is 55 lines."""
    scene = (
        "INT. CAR DECK - NIGHT #{n}#\n\nRain on the steel, and a horn far out. [[louder]]\n\n"
        + "RUNA\n(quietly)\nHold the rope where it was, and do not look down until I say so.\n\n" * 8
        + "SIGNY ^\n~Come home by the light,\n~come home by the bell in the snow.\n\nShe goes. /* cut */\n\n"
    )
    text = "".join(scene.replace("{n}", str(n)) for n in range(1, 180))
    assert text.count("\n") > 120 * 55
    start = time.process_time()
    script = read_fountain(text)
    assert time.process_time() - start < 0.3
    assert sum(isinstance(each, SceneHeading) for each in script.elements) == 179
    assert sum(isinstance(each, Character) for each in script.elements) == 179 * 9
