"""Schedules as sheets: a row a day, a row a scene, and what cannot be read."""

from __future__ import annotations

import datetime as dt

import pytest

from rollsound.errors import InputError
from rollsound.script.schedule_sheet import read_schedule


def test_a_row_for_each_day() -> None:
    text = (
        "Day,Date,Scenes,Location,Call,Wrap,Lunch,Unit\n"
        '1,2031-02-14,"4, 5, 11",Car deck,7.30,18:30,13:00-13:45,\n'
        "Day 2,15.02.2031,19 20-22 28A,Chapel,08:00:00,19h00,13:00 to 13:45; 16:00-16:10,Second\n"
    )
    first, second = read_schedule(text, "s.csv").days
    assert (first.number, first.date, first.scenes) == (1, dt.date(2031, 2, 14), ("4", "5", "11"))
    assert (first.site, first.call, first.wrap, first.breaks) == ("Car deck", "07:30", "18:30", (("13:00", "13:45"),))
    assert (second.number, second.date) == (2, dt.date(2031, 2, 15))
    assert second.scenes == ("19", "20", "21", "22", "28A")
    assert (second.call, second.wrap, second.unit, len(second.breaks)) == ("08:00", "19:00", "Second", 2)


def test_a_row_for_each_scene_with_its_day_above() -> None:
    text = "Shoot day\tScene\tLocation\n1\t4\tCar deck\n\t5\tCar deck\n\t27\tQuay\n2\t19\tChapel\n1\t11\tCar deck\n"
    first, second = read_schedule(text, "s.csv").days
    assert first.scenes == ("4", "5", "27", "11")
    assert (first.site, first.moves) == ("Car deck", ("Quay",))
    assert second.scenes == ("19",)


def test_what_cannot_be_read_is_told_and_the_rest_still_read() -> None:
    text = (
        "day;date;scenes;call;breaks\n;;9;;\n1;;4, the ferry, 5;noon;lunch\nsome;;6;;\n2;31.2.2031;7;;\n"
        "3;04/05/2031;7;;\n"
    )
    read = read_schedule(text, "s.csv")
    assert [(day.number, day.scenes) for day in read.days] == [(1, ("4", "5")), (2, ("7",)), (3, ("7",))]
    told = [(each.line, each.sentence) for each in read.troubles]
    expected = {
        2: "neither day nor date",
        3: "'the' is no scene number",
        4: "'some' is no day",
        5: "'31.2.2031' is no date",
        6: "scene 7 is on day 2 already",
    }
    for line, words in expected.items():
        assert any(at == line and words in sentence for at, sentence in told), (line, told)
    assert any("'noon' is no time of day" in sentence for _, sentence in told)
    assert any("'lunch' is no break" in sentence for _, sentence in told)
    assert any("2031-05-04, day first" in sentence for _, sentence in told)


def test_units_that_work_apart_are_days_of_their_own() -> None:
    read = read_schedule("day,unit,scenes\n1,main,4\n1,second,9\n1,main,5\n", "s.csv")
    assert [(day.unit, day.scenes) for day in read.days] == [("main", ("4", "5")), ("second", ("9",))]


def test_columns_can_be_mapped() -> None:
    text = "Tag,Bilder\n3,4 5\n"
    assert read_schedule(text, "s.csv", {"day": "Tag", "scenes": "Bilder"}).days[0].number == 3
    with pytest.raises(InputError, match="no column for 'scenes'; its columns are: Tag, Bilder"):
        read_schedule(text, "s.csv")


def test_a_date_may_stand_where_the_day_is() -> None:
    days = read_schedule("day,scenes\n2031-02-14,4\n15.02.2031,5\n123456,6\n", "s.csv")
    assert [(day.number, day.date and day.date.day) for day in days.days] == [(None, 14), (None, 15)]
    assert "'123456' is no day" in days.troubles[0].sentence
