"""What is chosen from the figures: the least power, and one layout, cable or amplifier against another."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from rollsound.errors import InputError
from rollsound.radio.model import RadioPart
from rollsound.radio.reach.along import area
from rollsound.radio.reach.answer import Draw, Side
from rollsound.radio.reach.budget import budget
from rollsound.radio.reach.compare import compare, layouts, moved, with_amplifier, with_cable, with_power
from rollsound.radio.reach.least_power import least_power, least_powers

Make = Callable[..., RadioPart]
STAGE = [{"id": "stage", "name": "Stage", "outline": "40, 20; 60, 20; 60, 40; 40, 40 m"}]
PACK = {"id": "pack", "powers": ["50 mW", "2 mW", "10 mW", "250 mW"], "draws": ["0.9 W", "0.5 W", "0.6 W", "2.0 W"]}


@pytest.fixture
def stage(make: Make) -> Make:
    """A ground with one acting area and a pack of four powers, heard so badly that its power is in question."""

    def made(noise_figure: str = "22 dB", **more: Any) -> RadioPart:
        kinds = {
            "transmitter_kinds": [{**PACK, "battery": "4.5 Wh"}],
            "receiver_kinds": [{"id": "deaf", "noise_figure": noise_figure}],
        }
        given: dict[str, Any] = {
            "areas": STAGE, "transmitters": [{"model": "pack"}], "receiver": {"model": "deaf"},
            "antennas": ["10, 30 m", "90, 30 m"], "more": kinds,
        }  # fmt: skip
        return make(**(given | more))

    return made


def test_the_least_power_holds_and_the_next_smaller_does_not(stage: Make) -> None:
    radio = stage()
    found = least_power(radio, "deck", "t1", "stage")
    assert [one.power_mw for one in found.tried] == [2, 10, 50, 250]
    assert found.least_mw == 10
    for one in found.tried:
        again = area(with_power(radio, "t1", one.power_mw), "deck", "stage", ["t1"])
        assert one.share_of_time == pytest.approx(again.weakest_share, abs=1e-12)
        assert (again.weakest_share >= 0.99) == (one.power_mw >= 10)
    assert found.missing_db < 0, "there is some to spare at 250 mW"
    enough = area(with_power(radio, "t1", 250 * 10 ** (found.missing_db / 10)), "deck", "stage", ["t1"])
    assert enough.weakest_share == pytest.approx(0.99, abs=1e-9)


def test_what_it_buys_in_battery_hours(stage: Make) -> None:
    found = least_power(stage(), "deck", "t1", "stage")
    assert [one.battery_hours for one in found.tried] == pytest.approx([9.0, 7.5, 5.0, 2.25])
    assert found.hours_gained == pytest.approx(2.5)
    assert "10 mW is enough on Stage" in found.sentence
    assert "the battery lasts 2.5 h longer than at 50 mW" in found.sentence
    own = least_power(stage(), "deck", "t1", "stage", draw=Draw({10.0: 1.0, 50.0: 2.0}, 6.0))
    assert own.hours_gained == pytest.approx(3.0)
    assert [one.battery_hours for one in own.tried] == [None, 6.0, 3.0, None]


def test_where_no_power_holds_it_says_how_much_is_missing(stage: Make) -> None:
    radio = stage(noise_figure="48 dB")
    found = least_power(radio, "deck", "t1", "stage")
    assert found.least_mw is None
    assert found.hours_gained is None
    assert found.missing_db > 0
    assert f"{found.missing_db:.1f} dB are missing" in found.sentence
    better = stage(noise_figure=f"{48 - found.missing_db - 0.05} dB")
    assert least_power(better, "deck", "t1", "stage").least_mw == 250


def test_every_transmitter_on_every_area(stage: Make) -> None:
    areas = [*STAGE, {"id": "wing", "outline": "70, 5; 80, 5; 80, 15 m"}]
    radio = stage(transmitters=[{"model": "pack"}, {"model": "pack", "worn": "hair"}], areas=areas)
    found = least_powers(radio, "deck")
    assert [(one.transmitter, one.area) for one in found] == [
        ("t1", "stage"), ("t1", "wing"), ("t2", "stage"), ("t2", "wing"),
    ]  # fmt: skip
    assert found[0] == least_power(radio, "deck", "t1", "stage")
    with pytest.raises(InputError, match="the ground 'deck' has no acting area; draw where the actors go"):
        least_powers(stage(areas=[]), "deck")
    with pytest.raises(InputError, match="no acting area of the ground 'deck' is called 'pit'; there are: stage"):
        least_power(radio, "deck", "t1", "pit")


@pytest.mark.parametrize("wanted", [0.0, 1.0, -1.0, 99.0, float("nan")])
def test_a_share_that_cannot_be_held_is_refused(stage: Make, wanted: float) -> None:
    with pytest.raises(InputError, match="ask for more than 0 and less than 1"):
        least_power(stage(), "deck", "t1", "stage", wanted=wanted)


SET_AND_CART: list[dict[str, Any]] = [
    {"at": "50, 42 m", "layouts": ["set"], "cable_length": "30 m"},
    {"at": "35, 30 m", "layouts": ["set"], "cable_length": "30 m"},
    {"at": "95, 5 m", "layouts": ["cart"]},
    {"at": "97, 5 m", "layouts": ["cart"]},
]


def test_antennas_on_the_set_against_antennas_at_the_cart(stage: Make) -> None:
    lines = [{"id": "way", "name": "Gangway", "line": "40, 20; 60, 40 m"}]
    radio = stage(antennas=SET_AND_CART, lines=lines, walls=[{"line": "70, 0; 70, 60 m", "loss": "12 dB"}])
    found = layouts(radio, "deck", "cart", "set")
    assert [(one.kind, one.id) for one in found.differences] == [("area", "stage"), ("line", "way"), ("ground", "deck")]
    first = found.differences[0]
    by_hand = [area(radio, "deck", "stage", layout=name) for name in ("cart", "set")]
    assert first.gain_db == pytest.approx(float(np.median(by_hand[1].margin_db - by_hand[0].margin_db)))
    assert first.gain_db > 10, "nearer by four, and the wall is gone: that is worth more than 26 m of cable"
    assert first.weakest_second == pytest.approx(by_hand[1].weakest_share)
    assert first.weakest_second > first.weakest_first
    assert f"set gives +{first.gain_db:.1f} dB over cart" in first.sentence
    assert found.maps[0].antennas == ("a3", "a4")
    turned = layouts(radio, "deck", "set", "cart")
    assert turned.differences[0].gain_db == pytest.approx(-first.gain_db)


def test_a_thinner_cable_costs_what_it_loses_where_the_receiver_makes_the_noise(stage: Make) -> None:
    thick = stage()
    thin = with_cable(thick, "deck", "a1", cable="rg-58", length_m=20)
    one, other = (budget(radio, "deck", "t1", "a1", (50.0, 30.0)) for radio in (thick, thin))
    cost = one.margin_db - other.margin_db
    assert cost == pytest.approx(9.18 - 0.80, abs=0.02), "20 m of the thin one against 4 m of low loss, at 600 MHz"
    sides = [
        Side("thick", thick, "deck"),
        Side("thin", with_cable(thin, "deck", "a2", cable="rg-58", length_m=20), "deck"),
    ]
    assert compare(sides[0], sides[1]).differences[0].gain_db == pytest.approx(-cost, abs=1e-9)


def test_an_amplifier_gives_back_at_most_what_the_cable_spoils(make: Make) -> None:
    """Where the place is quiet it brings the noise figure near its own; where it is loud, it gives next to nothing."""
    gains = {}
    for noise in ("none", "city"):
        passive = make(antennas=[{"at": "10, 30 m", "cable": "rg-58", "cable_length": "20 m"}], noise=noise)
        powered = with_amplifier(passive, "deck", "a1", gain_db=12, noise_db=2)
        one, other = (budget(radio, "deck", "t1", "a1", (50.0, 30.0)) for radio in (passive, powered))
        gains[noise] = other.margin_db - one.margin_db
        assert other.level_dbm - one.level_dbm == pytest.approx(12)
        back = with_amplifier(powered, "deck", "a1", gain_db=0)
        assert budget(back, "deck", "t1", "a1", (50.0, 30.0)).margin_db == pytest.approx(one.margin_db)
    before, after = (
        budget(radio, "deck", "t1", "a1", (50.0, 30.0)).term("system")
        for radio in (passive, with_amplifier(passive, "deck", "a1", gain_db=12, noise_db=2))
    )
    assert before is not None
    assert after is not None
    assert gains["none"] == pytest.approx(before.db - after.db)
    assert 0 < gains["city"] < gains["none"] < 12


def test_a_moved_antenna(stage: Make) -> None:
    radio = stage()
    near = moved(radio, "deck", "a1", (48.0, 30.0))
    assert budget(near, "deck", "t1", "a1", (50.0, 30.0)).distance_m < 2.5
    assert radio.grounds[0].antennas[0].at_m.points_m == ((10.0, 30.0),)
    again = RadioPart.model_validate(near.model_dump(by_alias=True, exclude_unset=True))
    assert again.grounds[0].antennas[0].at_m.points_m == ((48.0, 30.0),)


def test_a_change_that_cannot_be_is_told(stage: Make) -> None:
    radio = stage(antennas=SET_AND_CART)
    other = stage(width="50 m")
    for call, sentence in (
        (lambda: with_cable(radio, "deck", "a9", length_m=3), "no antenna of the ground 'deck' is called 'a9'"),
        (lambda: with_cable(radio, "deck", "a1", length_m=float("nan")), "a cable of nan m cannot be used"),
        (lambda: with_amplifier(radio, "deck", "a1", gain_db=float("inf")), "a gain of inf dB cannot be used"),
        (lambda: with_power(radio, "t1", float("nan")), "a power of nan mW cannot be used"),
        (lambda: with_power(radio, "t9", 10), "no transmitter is called 't9'"),
        (lambda: moved(radio, "deck", "a1", (500, 1)), "antenna 'a1' lies at 500, 1 m, outside the ground 'deck'"),
        (lambda: layouts(radio, "deck", "set", "roof"), "no layout of the ground 'deck' is called 'roof'"),
        (lambda: compare(Side("a", radio, "deck"), Side("b", other, "deck")), "are grounds of different sizes"),
    ):
        with pytest.raises(InputError, match=re.escape(sentence)):
            call()
