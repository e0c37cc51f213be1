"""A request as one file: read whole, with every mistake told at once, and its answer."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rollsound.errors import InputError, MistakesError, RollsoundError
from rollsound.radio.carriers import instances
from rollsound.radio.carriers.task import Mode, Occupied, Product

DATA = Path(__file__).parents[2] / "reference" / "carriers"
NAMES = sorted(path.stem for path in DATA.glob("*.json"))


def request(**more: Any) -> dict[str, Any]:
    """A small request; a name with dots reaches inside, as in ``transmitters.0.step_khz``."""
    made: dict[str, Any] = {
        "name": "quay",
        "mode": "place_all",
        "rules": {"imd3_2tx": True, "imd3_3tx": True, "imd5_2tx": False},
        "kinds": {"mic": {"spacing_khz": 400, "guard_2tx3_khz": 100, "guard_3tx3_khz": 50, "guard_2tx5_khz": 25}},
        "exclusions": [{"lo_mhz": 478, "hi_mhz": 486, "guard_khz": 100, "why": "television"}],
        "transmitters": [
            {
                "id": f"m{n}",
                "kind": "mic",
                "lo_mhz": 470,
                "hi_mhz": 494,
                "step_khz": 25,
                "bandwidth_khz": 200,
                "zone": "A",
            }
            for n in range(2)
        ],
    }
    for name, value in more.items():
        *path, last = name.split("__")
        at: Any = made
        for step in path:
            at = at[int(step)] if step.isdigit() else at[step]
        at[last] = value
    return made


def sentences(document: Any) -> list[str]:
    """What is said of a request."""
    with pytest.raises(MistakesError) as caught:
        instances.read(json.dumps(document, indent=1), "quay.json")
    assert all(mistake.line > 0 for mistake in caught.value.mistakes)
    return [f"{mistake.place} {mistake.sentence}" for mistake in caught.value.mistakes]


@pytest.mark.parametrize("name", NAMES)
def test_every_instance_is_read_whole(name: str) -> None:
    text = (DATA / f"{name}.json").read_text("utf-8")
    document = json.loads(text)
    task, mode = instances.read(text, name)
    assert task.name == name
    assert mode == {"place_all": Mode.ALL, "max_number": Mode.MOST}[document["mode"]]
    assert [each.id for each in task.wanted] == [each["id"] for each in document["transmitters"]]
    for each, asked in zip(task.wanted, document["transmitters"], strict=True):
        assert (each.low_hz, each.high_hz) == (asked["lo_mhz"] * 10**6, asked["hi_mhz"] * 10**6)
        assert (each.step_hz, each.origin_hz, each.width_hz) == (25_000, each.low_hz, 200_000)
        assert (each.zone, each.priority) == (asked["zone"], asked.get("priority", 2))
    assert len(task.occupied) == len(document["exclusions"])
    on = document["rules"]
    assert task.guards["mic"].spacing_hz == 400_000
    assert task.guards["mic"].protection_hz[Product.TWO_THIRD] == 100_000
    assert task.guards["mic"].protection_hz[Product.THREE_THIRD] == (50_000 if on["imd3_3tx"] else 0)
    assert task.guards["mic"].protection_hz[Product.TWO_FIFTH] == 0


def test_figures_become_whole_hertz_exactly() -> None:
    document = request(
        transmitters__0__lo_mhz=470.1, transmitters__0__grid_origin_mhz=470.0125, transmitters__0__step_khz=12.5
    )
    document["transmitters"][0]["fixed_mhz"] = 471.262501
    document["rules"]["imd5_2tx"] = True
    task, _ = instances.read(json.dumps(document), "quay.json")
    first = task.wanted[0]
    assert (first.low_hz, first.origin_hz, first.step_hz) == (470_100_000, 470_012_500, 12_500)
    assert (first.now_hz, first.fixed, first.on_air) == (471_262_501, True, True)
    assert task.guards["mic"].protection_hz[Product.TWO_FIFTH] == 25_000
    assert task.occupied == (Occupied(478_000_000, 486_000_000, 100_000, "television"),)


def test_what_a_live_day_needs_is_read_too() -> None:
    document = request(mode="repair", transmitters__0__now_mhz=471.5, transmitters__0__on_air=True)
    document["receivers"] = [{"id": "r1", "window_mhz": 20}]
    document["transmitters"][0] |= {"receiver": "r1", "spares": 2, "priority": 1}
    task, mode = instances.read(json.dumps(document), "quay.json")
    first = task.wanted[0]
    assert mode is Mode.REPAIR
    assert (first.now_hz, first.on_air, first.fixed) == (471_500_000, True, False)
    assert (first.within, first.spares, first.priority) == ("r1", 2, 1)
    assert task.windows_hz == {"r1": 20_000_000}


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"mode": "best"}, "mode cannot be 'best'; write one of place_all, max_number, repair, add"),
        ({"transmitters__0__kind": "boom"}, "is of kind 'boom', which is not among the kinds"),
        ({"transmitters__1__id": "m0"}, "has the id 'm0', which another has"),
        ({"transmitters__0__lo_mhz": 500}, "tunes from 500 to 494 MHz; write the lower edge first"),
        ({"transmitters__0__lo_mhz": "470 MHz"}, "lo_mhz is '470 MHz'; write the number alone, in MHz"),
        ({"transmitters__0__lo_mhz": None}, "lo_mhz"),
        ({"transmitters__0__lo_mhz": 1e12}, "where no radio is"),
        ({"transmitters__0__lo_mhz": 470.00000001}, "finer than a whole hertz"),
        ({"transmitters__0__step_khz": 0}, "has a step of 0 kHz"),
        ({"transmitters__0__step_khz": -25}, "it must be 0 or more"),
        ({"transmitters__0__step_khz": True}, "should be a number, in kHz"),
        ({"transmitters__0__step_khz": 0.001}, "write a step of a kilohertz or more"),
        ({"transmitters__0__step_khz": 99_000, "transmitters__0__grid_origin_mhz": 400}, "has no step of 99000 kHz"),
        ({"transmitters__0__bandwidth_khz": 30_000}, "wider than its tuning range"),
        ({"transmitters__0__receiver": "r9"}, "is heard by 'r9', which is not among the receivers"),
        ({"transmitters__0__fixed_mhz": 471, "transmitters__0__now_mhz": 472}, "has both fixed_mhz and now_mhz"),
        ({"transmitters__0__setp_khz": 12}, "has 'setp_khz', which is not known"),
        ({"kinds__mic__guard_3tx3_khz": None}, "has no guard_3tx3_khz, but its rule is on"),
        ({"exclusions__0__lo_mhz": 490}, "runs from 490 to 486 MHz; write the lower edge first"),
        ({"transmitters": []}, "transmitters"),
        ({"kinds": {}}, "kinds"),
    ],
)
def test_every_mistake_has_its_sentence(change: dict[str, Any], sentence: str) -> None:
    document = request(**change)
    if "transmitters__0__setp_khz" in change:
        del document["transmitters"][0]["step_khz"]
    found = sentences(document)
    assert any(sentence in each for each in found), found
    assert len(found) == 1, found


def test_all_mistakes_are_told_at_once() -> None:
    document = request(mode="x", transmitters__0__kind="y", exclusions__0__lo_mhz=500)
    assert len(sentences(document)) == 3


def test_remarks_are_let_be() -> None:
    document = request()
    document["made_by"] = "somebody"
    document["transmitters"][0]["note"] = "new cable"
    document["transmitters"][0]["wearer"] = "Ane"
    assert len(instances.read(json.dumps(document), "quay.json")[0].wanted) == 2


@pytest.mark.parametrize("text", ["", "  ", "{", "[]", "null", "3", '{"kinds": 3}', '{"a": NaN}', "[" * 10_000])
def test_what_is_no_request_is_refused_in_a_sentence(text: str) -> None:
    with pytest.raises(InputError):
        instances.read(text, "quay.json")


@settings(max_examples=100, deadline=None)
@given(st.data())
def test_whatever_stands_in_a_place_is_read_or_refused(data: st.DataObject) -> None:
    values = st.one_of(
        st.none(), st.booleans(), st.integers(), st.floats(), st.text(max_size=5), st.lists(st.none(), max_size=2)
    )
    document = request()
    group = data.draw(
        st.sampled_from([document, document["rules"], document["kinds"]["mic"], document["transmitters"][0]])
    )
    group[data.draw(st.sampled_from(sorted(group)))] = data.draw(values)
    try:
        task, _ = instances.read(json.dumps(document), "quay.json")
    except RollsoundError as error:
        assert str(error)
    else:
        assert all(isinstance(each.low_hz, int) for each in task.wanted)
