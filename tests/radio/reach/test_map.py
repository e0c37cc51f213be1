"""Maps, areas and lines: the same as one budget after another, and laws that hold whatever the ground."""

from __future__ import annotations

import itertools
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from rollsound.errors import InputError
from rollsound.radio.model import RadioPart
from rollsound.radio.reach.along import area, line
from rollsound.radio.reach.answer import ReachMap
from rollsound.radio.reach.budget import place
from rollsound.radio.reach.compare import with_power
from rollsound.radio.reach.reach_map import reach_map

Make = Callable[..., RadioPart]

ANTENNAS: list[dict[str, Any]] = [
    {"at": "10, 30 m", "model": "paddle", "bearing_deg": 20, "layouts": ["set"]},
    {"at": "50, 3 m", "polarisation": "slanted", "layouts": ["set", "cart"]},
    {"at": "90, 58 m", "model": "helix", "bearing_deg": -140, "amplifier_gain": "10 dB", "cable_length": "30 m"},
    {"at": "90, 2 m", "layouts": ["cart"], "split_ways": 4},
    {"at": "33.3, 30 m", "height": "0.5 m"},
]
WALLS: list[dict[str, Any]] = [
    {"line": "20, 10; 20, 50; 60, 50 m", "material": "concrete"},
    {"line": "40, 0; 40, 25 m", "material": "glass-coated"},
    {"line": "70, 20; 80, 20; 80, 30; 70, 30; 70, 20 m", "material": "metal"},
    {"line": "5, 5; 30, 2 m", "loss": "4.5 dB"},
    {"line": "55, 30; 95, 45 m", "loss": "7 dB"},
]
LED = {"id": "led", "at": "60, 40 m", "rise": "15 dB"}
CLOSE_DB = 1e-9


@pytest.mark.parametrize(
    "ground",
    [
        {"surroundings": "multi-wall"},
        {"surroundings": "free space", "noise": "city", "noise_sources": [LED]},
        {"surroundings": "two-ray", "fading": "rician"},
        {"surroundings": "indoor"},
        {"surroundings": "street"},
        {"exponent": 2.8, "body_loss": "16 dB"},
    ],
    ids=lambda ground: str(next(iter(ground.values()))),
)
def test_a_map_is_one_budget_after_another(make: Make, ground: dict[str, Any]) -> None:
    sends: list[dict[str, Any]] = [{}, {"frequency": "510.25 MHz", "kind": "boom"}, {"power": "9 mW", "worn": "hair"}]
    # each hears best elsewhere
    receivers = [
        {"id": "left", "name": "Left", "hears": ["t1"], "antennas": ["a1", "a2", "a3", "a5"]},
        {"id": "right", "name": "Right", "hears": ["t2"], "antennas": ["a4"]},
    ]
    radio = make(antennas=ANTENNAS, walls=WALLS, transmitters=sends, more={"receivers": receivers}, **ground)
    found = reach_map(radio, "deck", points=(7, 5), height_m=1.6)
    worsts = set()
    for (j, y), (i, x) in itertools.product(enumerate(found.y_m), enumerate(found.x_m)):
        each = [place(radio, "deck", f"t{n}", (x, y), height_m=1.6) for n in (1, 2, 3)]
        worst = min(range(3), key=lambda n: (each[n].share_of_time, each[n].margin_db))
        one = each[found.worst[j, i]]
        assert one.share_of_time == pytest.approx(each[worst].share_of_time, abs=1e-12)
        assert found.level_dbm[j, i] == pytest.approx(one.level_dbm, abs=CLOSE_DB)
        assert found.margin_db[j, i] == pytest.approx(one.margin_db, abs=CLOSE_DB)
        assert found.share_of_time[j, i] == pytest.approx(one.share_of_time, abs=1e-12)
        worsts.add(int(found.worst[j, i]))
    assert found.transmitters == ("t1", "t2", "t3")
    assert len(worsts) > 1, "a map of the worst where it is always the same one tests little"


@pytest.mark.parametrize("needed", ["-150 dB", "300 dB"])
def test_where_all_hold_or_none_does_the_least_margin_is_the_worst(make: Make, needed: str) -> None:
    kinds = {"receiver_kinds": [{"id": "odd", "needed": needed}]}
    sends = [{"power": "50 mW"}, {"power": "5 mW"}, {"power": "20 mW"}]
    radio = make(transmitters=sends, receiver={"model": "odd"}, more=kinds)
    found = reach_map(radio, "deck", points=(5, 4))
    assert len(np.unique(found.share_of_time)) == 1, "the shares are all 0 or all 1"
    assert (found.worst == 1).all()
    assert found.margin_db == pytest.approx(reach_map(radio, "deck", ["t2"], points=(5, 4)).margin_db)


@pytest.mark.parametrize("kind", ["line", "area"])
def test_lines_and_areas_are_one_budget_after_another(make: Make, kind: str) -> None:
    drawn = {
        "lines": [{"id": "way", "line": "5, 5; 60, 20; 90, 55 m", "height": "1.7 m"}],
        "areas": [{"id": "stage", "outline": "30, 10; 60, 10; 45, 40 m", "height": "1.7 m"}],
    }
    radio = make(antennas=ANTENNAS, walls=WALLS, **drawn)
    found = line(radio, "deck", "way", step_m=7) if kind == "line" else area(radio, "deck", "stage", places=25)
    assert len(found.at_m) > 10
    for n, (x, y) in enumerate(found.at_m):
        one = place(radio, "deck", "t1", (float(x), float(y)), height_m=1.7)
        assert found.margin_db[n] == pytest.approx(one.margin_db, abs=CLOSE_DB)
        assert found.share_of_time[n] == pytest.approx(one.share_of_time, abs=1e-12)
    assert found.weakest_share == found.share_of_time.min()
    assert 0 <= found.held(0.5) <= 1


def test_a_layout_is_its_antennas_and_those_of_all_layouts(make: Make) -> None:
    radio = make(antennas=ANTENNAS)
    assert reach_map(radio, "deck", layout="set", points=(3, 3)).antennas == ("a1", "a2", "a3", "a5")
    assert reach_map(radio, "deck", layout="cart", points=(3, 3)).antennas == ("a2", "a3", "a4", "a5")
    assert reach_map(radio, "deck", points=(3, 3)).antennas == ("a1", "a2", "a3", "a4", "a5")


def test_a_receiver_hears_with_its_own_antennas(make: Make) -> None:
    radio = make(antennas=ANTENNAS, receiver={"antennas": ["a4", "a2", "of-another-ground"]})
    assert reach_map(radio, "deck", points=(3, 3)).antennas == ("a2", "a4")


def test_monitors_and_what_stands_still_are_not_carried_about(make: Make) -> None:
    sends: list[dict[str, Any]] = [{}, {"kind": "monitor"}, {"kind": "plant", "stand": "table"}, {"sites": ["quay"]}]
    radio = make(transmitters=sends)
    assert reach_map(radio, "deck", points=(2, 2)).transmitters == ("t1",)
    assert reach_map(radio, "deck", ["t2", "t1"], points=(2, 2)).transmitters == ("t2", "t1")


def test_nothing_that_sends_is_told(make: Make) -> None:
    with pytest.raises(InputError, match="no transmitter sends on the ground 'deck'"):
        reach_map(make(transmitters=[{"sites": ["quay"]}]), "deck")
    with pytest.raises(InputError, match="no walking line of the ground 'deck' is called 'x'; there are: none yet"):
        line(make(), "deck", "x")
    with pytest.raises(InputError, match="no acting area of the ground 'deck' is called 'x'; there are: none yet"):
        area(make(), "deck", "x")


def test_a_map_of_one_point_and_of_one_row(make: Make) -> None:
    for points in ((1, 1), (1, 5), (5, 1)):
        found = reach_map(make(walls=WALLS), "deck", points=points)
        assert found.margin_db.shape == (points[1], points[0])
        assert np.isfinite(found.margin_db).all()


def test_a_transmitter_at_the_antenna_itself_is_finite(make: Make) -> None:
    for surroundings in ("free space", "two-ray", "multi-wall", "indoor", "street"):
        radio = make(antennas=[{"at": "10, 30 m", "height": "1.2 m"}], surroundings=surroundings)
        found = place(radio, "deck", "t1", (10.0, 30.0))
        assert np.isfinite(found.margin_db), surroundings


# Laws. The ground is small, the walls are drawn by chance.

SLACK_DB = 1e-9
coordinate = st.integers(0, 400).map(lambda tenths: tenths / 10)
wall = st.fixed_dictionaries(
    {
        "line": st.lists(st.tuples(coordinate, coordinate), min_size=2, max_size=4, unique=True).map(
            lambda corners: "; ".join(f"{x}, {y}" for x, y in corners) + " m"
        ),
        "material": st.sampled_from(["concrete", "glass", "wood", "metal"]),
    }
)
law = settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
surroundings = st.sampled_from(["free space", "two-ray", "multi-wall", "indoor", "street"])


def mapped(radio: RadioPart) -> ReachMap:
    return reach_map(radio, "deck", points=(12, 8))


@given(walls=st.lists(wall, max_size=5), more=wall, where=surroundings)
@law
def test_a_wall_never_adds(make: Make, walls: list[Any], more: Any, where: str) -> None:
    without = mapped(make(antennas=ANTENNAS, walls=walls, surroundings=where))
    behind = mapped(make(antennas=ANTENNAS, walls=[*walls, more], surroundings=where))
    assert (behind.level_dbm <= without.level_dbm + SLACK_DB).all()
    assert (behind.share_of_time <= without.share_of_time + 1e-12).all()


@given(walls=st.lists(wall, max_size=4), power_mw=st.floats(0.01, 250), more=st.floats(1.001, 20), where=surroundings)
@law
def test_more_power_never_reaches_less(make: Make, walls: list[Any], power_mw: float, more: float, where: str) -> None:
    radio = make(antennas=ANTENNAS, walls=walls, surroundings=where)
    low, high = (mapped(with_power(radio, "t1", power)) for power in (power_mw, power_mw * more))
    np.testing.assert_allclose(high.level_dbm - low.level_dbm, 10 * np.log10(more), atol=1e-9)
    assert (high.share_of_time >= low.share_of_time).all()


@given(order=st.permutations(range(5)), walls=st.lists(wall, max_size=4))
@law
def test_the_order_of_antennas_with_a_branch_each_does_not_matter(
    make: Make, order: list[int], walls: list[Any]
) -> None:
    kinds = {"receiver_kinds": [{"id": "many", "branches": 5}]}
    shuffled = [ANTENNAS[n] for n in order]
    one = mapped(make(antennas=ANTENNAS, walls=walls, receiver={"model": "many"}, more=kinds))
    other = mapped(make(antennas=shuffled, walls=walls, receiver={"model": "many"}, more=kinds))
    np.testing.assert_allclose(other.margin_db, one.margin_db, atol=1e-9)
    np.testing.assert_allclose(other.share_of_time, one.share_of_time, atol=1e-12)


@given(count=st.integers(1, 4), walls=st.lists(wall, max_size=4))
@law
def test_one_antenna_more_on_a_branch_of_its_own_never_reaches_less(make: Make, count: int, walls: list[Any]) -> None:
    kinds = {"receiver_kinds": [{"id": "many", "branches": 5}]}
    few = mapped(make(antennas=ANTENNAS[:count], walls=walls, receiver={"model": "many"}, more=kinds))
    more = mapped(make(antennas=ANTENNAS[: count + 1], walls=walls, receiver={"model": "many"}, more=kinds))
    assert (more.share_of_time >= few.share_of_time - 1e-15).all()
    assert (more.margin_db >= few.margin_db).all()
