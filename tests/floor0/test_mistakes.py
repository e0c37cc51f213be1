"""What a model finds wrong, in our words: no sentence is pydantic's, every place counts from 1."""

from __future__ import annotations

import datetime
from collections.abc import Callable
from enum import StrEnum
from pathlib import Path
from typing import Annotated, Literal

import pytest
from pydantic import BaseModel, ConfigDict, Field, ValidationError, field_validator

from rollsound.errors import Mistake
from rollsound.mistakes import SeveralMistakes, mistakes_of, place_in_words


class Shape(StrEnum):
    ROUND = "round"
    FLAT = "flat"


class Inner(BaseModel):
    model_config = ConfigDict(extra="forbid", allow_inf_nan=False)
    level_db: Annotated[float, Field(ge=-10, lt=10)] = 0.0
    count: Annotated[int, Field(gt=0, le=9)] = 1
    name: Annotated[str, Field(min_length=1, max_length=5)] = "a"
    shape: Shape = Shape.ROUND
    side: Literal["left", "right"] = "left"
    on: bool = False
    day: datetime.date | None = None
    path: Path = Path()
    knots: tuple[int, ...] = Field(default=(1, 2), min_length=2)

    @field_validator("name")
    @classmethod
    def _no_z(cls, value: str) -> str:
        if value == "z":
            raise ValueError("is the last letter; take another")
        if value == "yz":
            raise SeveralMistakes(["has a y", "has a z"])
        return value


class Outer(BaseModel):
    needed: int
    parts: list[Inner] = []


def found(value: object, line_of: Callable[[tuple[int | str, ...]], int] | None = None) -> list[Mistake]:
    with pytest.raises(ValidationError) as caught:
        Outer.model_validate(value)
    return mistakes_of(caught.value, line_of)


@pytest.mark.parametrize(
    ("part", "place", "sentence"),
    [
        ({"level_db": "loud"}, "level_db", "should be a number, not 'loud'"),
        ({"level_db": None}, "level_db", "should be a number, not nothing"),
        ({"level_db": float("nan")}, "level_db", "should be a number, not nan"),
        ({"level_db": -11}, "level_db", "is -11; it must be -10.0 or more"),
        ({"level_db": 10}, "level_db", "is 10; it must be less than 10.0"),
        ({"count": 1.5}, "count", "should be a whole number, not 1.5"),
        ({"count": []}, "count", "should be a whole number, not a list"),
        ({"count": 0}, "count", "is 0; it must be more than 0"),
        ({"count": 10**60}, "count", "is a number far too large; it must be 9 or less"),
        ({"name": ""}, "name", "is empty"),
        ({"name": "abcdef"}, "name", "is too long; it may have 5 letters"),
        ({"name": 7}, "name", "should be text, not 7"),
        ({"name": "z"}, "name", "is the last letter; take another"),
        ({"shape": "square"}, "shape", "cannot be 'square'; write 'round' or 'flat'"),
        ({"side": {}}, "side", "cannot be a group of named values; write 'left' or 'right'"),
        ({"on": "perhaps"}, "on", "should be true or false, not 'perhaps'"),
        ({"day": "someday"}, "day", "should be a date such as 2026-02-03, not 'someday'"),
        ({"path": 3}, "path", "should be the name of a file, not 3"),
        ({"knots": 3}, "knots", "should be a list, not 3"),
        ({"knots": [1]}, "knots", "has 1; 2 or more are needed"),
        ({"colour": 1}, "colour", "is not known here; correct its name or take it out"),
    ],
)
def test_every_kind_of_mistake_has_words(part: dict[str, object], place: str, sentence: str) -> None:
    assert found({"needed": 1, "parts": [{}, part]}) == [Mistake(f"parts 2, {place}", 0, sentence)]


def test_what_is_missing_and_what_is_no_group() -> None:
    assert found({}) == [Mistake("needed", 0, "is missing; write it in")]
    assert found([]) == [Mistake("the document", 0, "should be a group of named values, not a list")]
    assert found({"needed": 1, "parts": [True]}) == [
        Mistake("parts 1", 0, "should be a group of named values, not true")
    ]


def test_several_mistakes_of_one_validator_are_several() -> None:
    mistakes = found({"needed": 1, "parts": [{"name": "yz"}]})
    assert [each.sentence for each in mistakes] == ["has a y", "has a z"]


def test_a_list_with_a_bad_entry_is_not_called_too_short_as_well() -> None:
    (only,) = found({"needed": 1, "parts": [{"knots": [1, "x"]}]})
    assert only.place == "parts 1, knots 2"


def test_lines_are_asked_for_by_place() -> None:
    asked: list[tuple[int | str, ...]] = []

    def line_of(place: tuple[int | str, ...]) -> int:
        asked.append(place)
        return 12

    (only,) = found({"needed": 1, "parts": [{"count": "x"}]}, line_of)
    assert (only.line, asked) == (12, [("parts", 0, "count")])


def test_long_and_odd_texts_are_quoted_short_and_printable() -> None:
    (only,) = found({"needed": "x\x1b[31m" + "y" * 200})
    assert len(only.sentence) < 80
    assert only.sentence.isprintable()


def test_places_count_from_one() -> None:
    assert place_in_words(("takes", 0, "tracks", 2, "gain_db")) == "takes 1, tracks 3, gain_db"
    assert place_in_words((0, "file")) == "entry 1, file"
    assert place_in_words(()) == "the document"
