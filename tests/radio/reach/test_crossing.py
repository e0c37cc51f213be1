"""Walls crossed, beside an exact second way: where two stretches meet, in fractions."""

from __future__ import annotations

import itertools
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rollsound.radio.model import Wall
from rollsound.radio.reach.crossing import crossed, crossings, stretches

Corner = tuple[float, float]


def wall(*corners: Corner, id: str = "w") -> Wall:
    return Wall.model_validate({"id": id, "line": "; ".join(f"{x:.6f}, {y:.6f}" for x, y in corners) + " m"})


def meets(a: Corner, p: Corner, first: Corner, last: Corner) -> bool | None:
    """Whether two stretches cross, exactly; None where one only touches the other or they lie in one line."""
    ax, ay, px, py, x1, y1, x2, y2 = (Fraction(number) for number in (*a, *p, *first, *last))
    across = (px - ax) * (y2 - y1) - (py - ay) * (x2 - x1)
    if across == 0:
        return None
    path = ((x1 - ax) * (y2 - y1) - (y1 - ay) * (x2 - x1)) / across
    stretch = ((x1 - ax) * (py - ay) - (y1 - ay) * (px - ax)) / across
    if 0 < path < 1 and 0 < stretch < 1:
        return True
    return False if not (0 <= path <= 1 and 0 <= stretch <= 1) else None


corner = st.tuples(st.integers(0, 12), st.integers(0, 12))


@given(antenna=corner, place=corner, corners=st.lists(corner, min_size=2, max_size=6, unique=True))
@settings(max_examples=100, deadline=None)
def test_as_exact_arithmetic_says(antenna: Corner, place: Corner, corners: list[Corner]) -> None:
    exact = [meets(antenna, place, *ends) for ends in itertools.pairwise(corners)]
    lines = stretches([wall(*corners)])
    found = crossed(lines, antenna, np.array([place], float), np.arange(len(exact)), np.ones(len(exact)))[:, 0]
    for ours, theirs in zip(found, exact, strict=True):
        assert theirs is None or bool(ours) == theirs


def test_blocks_of_places_as_each_alone() -> None:
    """Places come in blocks that whole walls may be left out of; one place at a time has no such block."""
    chance = np.random.default_rng(3)
    lines = stretches([wall(*chance.uniform(0, 40, (4, 2)).tolist(), id=f"w{n}") for n in range(30)])
    at_m = np.stack(np.meshgrid(np.linspace(0.5, 39.5, 37), np.linspace(0.5, 39.5, 23)), axis=-1).reshape(-1, 2)
    channel, weight = np.arange(len(lines.wall)) % 3, chance.uniform(1, 9, len(lines.wall))
    for antenna in ((3.0, 4.0), (20.0, 20.0), (-5.0, 60.0)):
        together = crossed(lines, antenna, at_m, channel, weight)
        alone = [crossed(lines, antenna, at_m[n : n + 1], channel, weight) for n in range(len(at_m))]
        np.testing.assert_allclose(together, np.hstack(alone), atol=1e-12)
        assert together.any()


@pytest.mark.parametrize("shift", [0.0, 1 / 3, 1e-9])
def test_through_the_corner_of_a_wall_is_once(shift: float) -> None:
    bent = stretches([wall((0.0, 2.0), (2.0 + shift, 2.0), (4.0, 3.0))])
    channel = np.zeros(2, np.int64)
    through = crossed(bent, (2.0 + shift, 0.0), np.array([[2.0 + shift, 5.0]]), channel, np.ones(2))
    assert through[0, 0] == 1


def test_right_through_a_container_is_two_walls() -> None:
    box = [wall((4, 4), (6, 4), (6, 6), (4, 6), (4, 4), id="container"), wall((8, 0), (8, 10), id="hull")]
    assert crossings(stretches(box), (0.0, 5.1), (10.0, 5.1)) == [0, 0, 1]
    assert crossings(stretches(box), (0.0, 5.1), (5.0, 5.0)) == [0]
    assert crossings(stretches(box), (0.0, 5.1), (3.0, 9.0)) == []


def test_no_walls_no_crossings() -> None:
    none = stretches([])
    assert crossings(none, (0.0, 0.0), (1.0, 1.0)) == []
    assert crossed(none, (0.0, 0.0), np.ones((5, 2)), np.zeros(0, np.int64), np.zeros(0)).tolist() == [[0.0] * 5]
