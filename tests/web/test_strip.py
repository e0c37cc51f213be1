"""The day at the head of every page."""

from __future__ import annotations

from datetime import date

import pytest

from rollsound.demo.example import example_plan_text, example_to_begin_with
from rollsound.show.text import parse_plan
from rollsound.web.strip import strip_of


@pytest.mark.parametrize(
    ("today", "title"),
    [
        (date(2031, 2, 18), "Day 4"),
        (date(2031, 2, 14), "Day 1"),
        (date(2031, 12, 1), "Day 12"),
        (date(2026, 1, 1), "Day 4"),
    ],
)
def test_the_day_that_matters_now(today: date, title: str) -> None:
    assert strip_of(parse_plan(example_plan_text()), today).lines[0].head == title


def test_before_the_first_day_with_nothing_recorded_the_first_is_told() -> None:
    assert strip_of(parse_plan(example_to_begin_with()), date(2026, 1, 1)).lines[0].head == "Day 1"
