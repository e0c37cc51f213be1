"""Proofs over the document: each is shown to hold and to fail."""

from __future__ import annotations

import copy
from typing import Any

import pytest

from rollsound.demo.example import example_plan_text
from rollsound.errors import InputError
from rollsound.finding import Finding, Weight
from rollsound.show.model import VERSION, Plan
from rollsound.show.proofs import proofs_of
from rollsound.show.text import read_text
from rollsound.show.upgrade import upgraded

DOCUMENT = read_text(example_plan_text()).document


def findings(document: dict[str, Any]) -> dict[str, Finding]:
    return {each.kind: each for each in proofs_of(Plan.model_validate(document), document)}


def _day(document: dict[str, Any], number: int) -> dict[str, Any]:
    return next(day for day in document["schedule"]["days"] if day["number"] == number)


def no_mixer(document: dict[str, Any]) -> None:
    document["people"][0]["role"] = "crew"


def no_date(document: dict[str, Any]) -> None:
    del _day(document, 5)["date"]


def no_site(document: dict[str, Any]) -> None:
    del _day(document, 5)["site"], _day(document, 5)["moves"]


def other_site(document: dict[str, Any]) -> None:
    _day(document, 4)["moves"][1] = "chappel"


def same_number(document: dict[str, Any]) -> None:
    _day(document, 6)["number"] = 5


def same_date(document: dict[str, Any]) -> None:
    _day(document, 6)["date"] = "2031-02-19"


def media_of_no_day(document: dict[str, Any]) -> None:
    document["media"][0]["day"] = "day-19"


def one_track_twice(document: dict[str, Any]) -> None:
    document["rig"]["tracks"][7]["number"] = 3


def unknown(document: dict[str, Any]) -> None:
    document["kit"]["items"][2]["mas"] = "3 kg"


@pytest.mark.parametrize(
    ("spoil", "kind", "weight", "at"),
    [
        (no_mixer, "mixer", Weight.WATCH, "/people"),
        (no_date, "day date", Weight.WATCH, "/schedule/days/day-5"),
        (no_site, "day site", Weight.WATCH, "/schedule/days/day-5"),
        (other_site, "day site", Weight.STOP, "/schedule/days/day-4/moves"),
        (same_number, "day twice", Weight.WATCH, "/schedule/days/day-6/number"),
        (same_date, "day twice", Weight.WATCH, "/schedule/days/day-6/date"),
        (media_of_no_day, "media day", Weight.WATCH, "/media/day-4-main/day"),
        (one_track_twice, "track twice", Weight.STOP, "/rig/tracks/runa/number"),
        (unknown, "unknown field", Weight.WATCH, "/kit/items/fader-panel/mas"),
    ],
)
def test_each_proof_fails_where_the_plan_is_spoilt_and_only_there(
    spoil: Any, kind: str, weight: Weight, at: str
) -> None:
    document = copy.deepcopy(DOCUMENT)
    spoil(document)
    found = findings(document)
    assert (found[kind].weight, found[kind].refs[0].path) == (weight, f"plan#{at}")
    assert found[kind].why
    assert found[kind].remedy
    assert {each.weight for name, each in found.items() if name != kind} == {Weight.FINE}


def test_many_unknown_fields_are_counted_and_not_all_told() -> None:
    document = copy.deepcopy(DOCUMENT) | {f"x{n}": n for n in range(33)}
    plan = Plan.model_validate(document)
    told = [each for each in proofs_of(plan, document) if each.kind == "unknown field"]
    assert len(told) == 21
    assert told[-1].what.startswith("13 more fields")


def test_a_document_of_a_newer_version_is_not_touched() -> None:
    with pytest.raises(InputError, match="update the program"):
        upgraded({"version": VERSION + 1, "show": {}})


def test_the_ladder_climbs_every_step_and_leaves_what_it_was_given() -> None:
    old = {"version": 1, "a": 1}
    steps = {1: lambda d: {**d, "b": d["a"] + 1}, 2: lambda d: {**d, "c": d["b"] + 1}}
    assert upgraded(old, to=3, steps=steps) == {"version": 3, "a": 1, "b": 2, "c": 3}
    assert old == {"version": 1, "a": 1}
    with pytest.raises(InputError, match="no longer knows"):
        upgraded(old, to=3, steps={2: steps[2]})


def test_two_recorders_have_a_track_of_one_number_each() -> None:
    document = copy.deepcopy(DOCUMENT)
    document["rig"]["tracks"] += [{"id": "bag-l", "number": 1, "name": "Bag L", "recorder": "recorder-bag"}]
    assert findings(document)["track twice"].weight is Weight.FINE
