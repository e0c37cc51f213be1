"""The drawing as numbers: grids, areas, lines, and what is refused."""

from __future__ import annotations

import math

import numpy as np
import pytest

from rollsound.errors import InputError
from rollsound.radio.model import ActingArea, Ground, RadioPart, WalkingLine
from rollsound.radio.points import Points
from rollsound.radio.reach.ground import along, check_place, grid, ground_of, inside, places_of

DECK = Ground.model_validate({"id": "deck", "width": "40 m", "depth": "20 m"})


def area(text: str) -> ActingArea:
    return ActingArea.model_validate({"id": "a", "outline": text})


def test_a_grid_is_the_middles_of_its_cells() -> None:
    x, y = grid(DECK, (4, 2))
    assert x.tolist() == [5, 15, 25, 35]
    assert y.tolist() == [5, 15]


@pytest.mark.parametrize("points", [(0, 5), (5, -1), (2000, 2000)])
def test_a_grid_of_nothing_or_of_too_much_is_refused(points: tuple[int, int]) -> None:
    with pytest.raises(InputError, match=r"cannot be made; ask for 1 to 1,000,000 points"):
        grid(DECK, points)


def test_inside_an_outline_with_a_bay() -> None:
    bay = Points(((0, 0), (10, 0), (10, 10), (6, 10), (6, 4), (4, 4), (4, 10), (0, 10)))
    at = np.array([[2, 8], [5, 8], [8, 8], [5, 2], [-1, 2], [11, 2]], float)
    assert inside(bay, at).tolist() == [True, False, True, True, False, False]


def test_places_of_an_area_fill_it_and_its_outline() -> None:
    square = area("2, 2; 8, 2; 8, 8; 2, 8 m")
    places = places_of(square, 400)
    assert 300 <= len(places) <= 700
    on_edge = np.isclose(places, 2).any(axis=1) | np.isclose(places, 8).any(axis=1)
    assert inside(square.outline_m, places[~on_edge]).all()
    for corner in ((2, 2), (8, 2), (8, 8), (2, 8)):
        assert (np.hypot(*(places - corner).T) < 1e-12).any(), corner
    # nowhere in the area is further from a place than the diagonal of a step
    probes = np.stack(np.meshgrid(np.linspace(2, 8, 61), np.linspace(2, 8, 61)), -1).reshape(-1, 2)
    gaps = np.hypot(*(probes[:, None] - places[None]).transpose(2, 0, 1)).min(axis=1)
    assert gaps.max() < 0.3


@pytest.mark.parametrize("text", ["2, 2; 30, 2; 30, 2.001 m", "5, 5; 5, 5; 5, 5 m", "1, 1; 9, 1; 4, 1 m"])
def test_an_area_without_room_is_its_outline(text: str) -> None:
    places = places_of(area(text))
    assert 1 <= len(places) < 5_000
    assert np.isfinite(places).all()


def test_a_line_keeps_its_corners_and_its_step() -> None:
    walked = WalkingLine.model_validate({"id": "l", "line": "0, 0; 3, 4; 3, 10 m"})
    at, way = along(walked, 0.4)
    assert way[-1] == pytest.approx(11)
    assert (np.hypot(*(at - (3, 4)).T) < 1e-12).sum() == 1
    assert np.hypot(*np.diff(at, axis=0).T).max() <= 0.4 + 1e-9
    np.testing.assert_allclose(np.cumsum(np.hypot(*np.diff(at, axis=0).T)), way[1:])


@pytest.mark.parametrize("step", [0.0, -1.0, math.nan, 1e-9])
def test_a_step_of_nothing_is_refused(step: float) -> None:
    walked = WalkingLine.model_validate({"id": "l", "line": "0, 0; 3, 4 m"})
    with pytest.raises(InputError, match=r"0\.25 m is usual"):
        along(walked, step)


def test_an_unknown_ground_names_those_there_are() -> None:
    with pytest.raises(InputError, match=r"no ground is called 'sea'; there are: deck"):
        ground_of(RadioPart(grounds=(DECK,)), "sea")
    with pytest.raises(InputError, match="there are: none yet"):
        ground_of(RadioPart(), "sea")


def test_a_ground_without_size_is_refused() -> None:
    flat = Ground.model_validate({"id": "deck", "width": "0 m", "depth": "20 m"})
    with pytest.raises(InputError, match="has no size"):
        ground_of(RadioPart(grounds=(flat,)), "deck")


@pytest.mark.parametrize("at", [(-1.0, 3.0), (3.0, 21.0), (math.nan, 3.0)])
def test_a_place_off_the_drawing_is_refused(at: tuple[float, float]) -> None:
    with pytest.raises(InputError, match="outside the ground 'deck', which is 40 m wide and 20 m deep"):
        check_place(DECK, at, "reading r1")
