"""The plan's text: mistakes with their lines, comments in their places, and what other readers would misread."""

from __future__ import annotations

import pytest

from rollsound.demo.example import example_plan_text
from rollsound.errors import InputError, MistakesError
from rollsound.show.reading import LARGEST_BYTES
from rollsound.show.text import parse_plan, read_text, write_text

TEN_UNITS = """\
show:
  title: Northbound Ferry
  sample_rate: 48 seconds
kit:
  items:
    - id: a
      name: A
      mass: 3 m
    - id: b
      name: B
      mass: 12
      draw: 4 Wh
radio:
  transmitters:
    - id: t
      name: T
      power: 50 mm
      tuning: 470 MHz
power:
  batteries:
    - id: p
      name: P
      voltage: 14.4 A
      capacity: lots
sites:
  - id: deck
    name: Deck
    temperature: -2 to 4 m
rig:
  feeds:
    - id: f
      listener: Director
      gain: 3 mW
"""


def test_ten_wrong_units_are_ten_mistakes_each_with_its_line() -> None:
    with pytest.raises(MistakesError) as caught:
        parse_plan(TEN_UNITS)
    assert [(mistake.line, mistake.place) for mistake in caught.value.mistakes] == [
        (3, "show, sample_rate"),
        (8, "kit, items a, mass"),
        (11, "kit, items b, mass"),
        (12, "kit, items b, draw"),
        (17, "radio, transmitters t, power"),
        (18, "radio, transmitters t, tuning"),
        (23, "power, batteries p, voltage"),
        (24, "power, batteries p, capacity"),
        (28, "sites deck, temperature"),
        (33, "rig, feeds f, gain"),
    ]
    assert all("write it as" in mistake.sentence for mistake in caught.value.mistakes)


@pytest.mark.parametrize(
    ("text", "line", "words"),
    [
        ("show:\n\ttitle: A\n", 2, "tab"),
        ("show:\n  title: A: B\n", 2, "in quotes"),
        ('show:\n  title: "A\nmore\n', 2, "quote"),
        ("show:\n  title: [A, B\nkit: {}\n", 3, "bracket"),
        ("show:\n    title: A\n  unit: B\n", 3, "line it up"),
        ("show:\n  title: *a\n", 2, "refers"),
        ("show:\n  title: &a x\n", 2, "gives a place a name"),
        ("show:\n  title: !!python/object:os.system x\n", 2, "gives a value a type"),
        ("show:\n  title: A\n---\nshow: {}\n", 3, "second document"),
        ("show:\n  title: A\n  unit: B\n  title: C\n", 4, "line 2 already"),
        ("- a\n", 1, "begin with 'show:'"),
        ("show:\n  title: \x07\n", 2, "U+0007"),
        ("show:\n  ? [a]\n  : b\n", 2, "as a name"),
    ],
)
def test_a_text_that_is_none_is_told_in_our_words_with_its_line(text: str, line: int, words: str) -> None:
    with pytest.raises(MistakesError) as caught:
        parse_plan(text)
    mistake = caught.value.mistakes[0]
    assert words in mistake.sentence
    assert mistake.line == line


def test_groups_in_groups_without_end_and_texts_without_end_are_refused() -> None:
    with pytest.raises(MistakesError, match="deeper than"):
        read_text("a: " + "[" * 500 + "]" * 500)
    with pytest.raises(InputError, match="larger than 1 MB"):
        read_text("#" * (LARGEST_BYTES + 1))


def test_ids_are_held_to_their_form_and_stand_once() -> None:
    text = "show: {title: A}\npeople:\n- id: Mina K\n  name: M\n- id: b\n  name: B\n- id: b\n  name: C\n- name: D\n"
    with pytest.raises(MistakesError) as caught:
        parse_plan(text)
    told = [(mistake.line, mistake.sentence) for mistake in caught.value.mistakes]
    assert [line for line, _ in told] == [3, 7, 9]
    assert "small letters" in told[0][1]
    assert "already" in told[1][1]
    assert "is missing" in told[2][1]


@pytest.mark.parametrize("word", ["007", "12e3", "07:30", "no", "2031-02-18", "1.10", "1_000", "0x1F", "28A"])
def test_words_of_the_trade_stay_as_they_are_written(word: str) -> None:
    read = read_text(f"show:\n  title: A\n  x: {word}\n")
    assert read.document["show"]["x"] == word
    assert parse_plan(f"show: {{title: A}}\nschedule:\n  days:\n    - id: d\n      scenes: [{word}]\n").schedule.days[
        0
    ].scenes == (word,)


def test_an_id_of_figures_is_text() -> None:
    assert parse_plan("show: {title: A}\npeople:\n- id: 7\n  name: B\n").people[0].id == "7"


COMMENTED = """\
# The whole show.

show:
  title: Ferry  # working title
  # how it is recorded
  frame_rate: "25"
  # end of the head

# Who
people:
  # the mixer
  - id: ines
    name: Ines  # channel 1
    # more about Ines
  - id: bo
    name: Bo
"""


def test_comments_stay_where_they_are_when_something_else_is_edited() -> None:
    read = read_text(COMMENTED)
    assert write_text(read.document, read.comments) == COMMENTED
    read.document["people"].insert(0, {"id": "ada", "name": "Ada"})
    read.document["show"]["unit"] = "Main"
    del read.document["people"][2]
    text = write_text(read.document, read.comments)
    assert text == COMMENTED.replace("  - id: bo\n    name: Bo\n", "").replace(
        "people:\n", "people:\n  - id: ada\n    name: Ada\n"
    ).replace("Ferry  # working title\n", "Ferry  # working title\n  unit: Main\n")


def test_comments_move_with_what_they_belong_to() -> None:
    read = read_text(COMMENTED)
    read.document["people"].reverse()
    text = write_text(read.document, read.comments)
    assert text.endswith("  # the mixer\n  - id: ines\n    name: Ines  # channel 1\n    # more about Ines\n")


def test_lines_of_other_systems_and_a_mark_at_the_beginning_are_read() -> None:
    text = "\ufeff" + COMMENTED.replace("\n", "\r\n")
    assert read_text(text).document == read_text(COMMENTED).document


def test_unknown_fields_come_last_and_stay() -> None:
    text = "zebra: 1\nshow:\n  later: [1, 2]\n  title: A\n"
    read = read_text(text)
    assert write_text(read.document, read.comments) == "show:\n  title: A\n  later: [1, 2]\nzebra: 1\n"
    assert parse_plan(text).show.unknown == {"later": [1, 2]}


def test_the_same_document_gives_the_same_text_whatever_the_order_it_came_in() -> None:
    read = read_text(example_plan_text())
    turned = {name: read.document[name] for name in reversed(read.document)}
    assert write_text(turned, read.comments) == example_plan_text()


def test_the_line_of_every_value_in_lists_is_known() -> None:
    read = read_text("a:\n  - x\n  # c - d\n  - y\n\n  - k: 1\n    l: [p,\n      q]\n  -\n    - z\n-b: 2\n")
    places = {("a", 0): 2, ("a", 1): 4, ("a", 2): 6, ("a", 2, "k"): 6, ("a", 2, "l", 1): 8, ("a", 3): 9}
    assert {place: read.lines[place] for place in places} == places
    assert read.line_of(("a", 2, "l", 7)) == 7
    assert read.line_of(("a", 3, 0)) == 10
    assert read.lines[("-b",)] == 11


def test_a_text_without_empty_lines_has_no_comments_once_it_was_written() -> None:
    tight = "version: 1\nshow:\n  title: A\npeople:\n  - id: b\n    name: B\n"
    assert read_text(tight).comments == {}
    assert read_text(write_text(read_text(tight).document, {})).comments == {}
