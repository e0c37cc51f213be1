"""The drawing of a site as numbers: the grid over it, the places of an acting area, the places along a line."""

from __future__ import annotations

import itertools
import math

import numpy as np

from rollsound.errors import InputError
from rollsound.radio.model import ActingArea, Ground, RadioPart, WalkingLine
from rollsound.radio.points import Points
from rollsound.radio.reach.answer import Array, Place

MOST_POINTS = 1_000_000


def ground_of(radio: RadioPart, ground: str) -> Ground:
    """The ground of this id.

    Raises
    ------
    InputError
        when there is none, or it has no size
    """
    found = next((item for item in radio.grounds if item.id == ground), None)
    if found is None:
        there = ", ".join(item.id for item in radio.grounds) or "none yet"
        raise InputError(f"no ground is called '{ground}'; there are: {there}")
    if not (found.width_m > 0 and found.depth_m > 0):
        raise InputError(f"the ground '{ground}' has no size; write how wide and how deep its drawing is, in metres")
    return found


def grid(ground: Ground, points: tuple[int, int]) -> tuple[Array, Array]:
    """The middles of the cells of a grid over the ground: x to the right, y up.

    Raises
    ------
    InputError
        when no points, or more than a million, are asked for
    """
    columns, rows = points
    if not (columns >= 1 and rows >= 1 and columns * rows <= MOST_POINTS):
        raise InputError(f"a map of {columns} by {rows} points cannot be made; ask for 1 to {MOST_POINTS:,} points")
    x_m = (np.arange(columns, dtype=np.float64) + 0.5) * (float(ground.width_m) / columns)
    y_m = (np.arange(rows, dtype=np.float64) + 0.5) * (float(ground.depth_m) / rows)
    return x_m, y_m


def inside(outline: Points, at_m: Array) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    """Which of the places, of shape (places, 2), lie within a closed outline."""
    corners = np.array(outline.points_m)
    x, y = at_m[:, 0], at_m[:, 1]
    odd = np.zeros(len(at_m), bool)
    for (x1, y1), (x2, y2) in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        if y1 == y2:
            continue
        odd ^= ((y1 > y) != (y2 > y)) & (x < x1 + (y - y1) * (x2 - x1) / (y2 - y1))
    return odd


def places_of(area: ActingArea, places: int = 900) -> Array:
    """About so many places of an area, its outline among them, where the worst often lies: shape (places, 2)."""
    corners = np.array(area.outline_m.points_m)
    low, high = corners.min(axis=0), corners.max(axis=0)
    width, depth = np.maximum(high - low, 1e-6)
    closed = np.vstack([corners, corners[:1]])
    step = max(math.sqrt(width * depth / max(places, 1)), _length(closed) / max(places, 1), 1e-6)
    columns, rows = max(1, math.ceil(width / step)), max(1, math.ceil(depth / step))
    x = low[0] + (np.arange(columns) + 0.5) * width / columns
    y = low[1] + (np.arange(rows) + 0.5) * depth / rows
    middles = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
    edge, _ = _walk(closed, step)
    return np.vstack([edge[:-1], middles[inside(area.outline_m, middles)]])


def along(line: WalkingLine, step_m: float = 0.25) -> tuple[Array, Array]:
    """Places along a line no further apart than ``step_m``, its corners among them, and the way to each in metres.

    Raises
    ------
    InputError
        when the step is none, or would make more than a million places
    """
    corners = np.array(line.line_m.points_m)
    if not step_m > 0 or _length(corners) / step_m > MOST_POINTS:
        raise InputError(f"a step of {step_m:g} m along a line cannot be used; 0.25 m is usual")
    return _walk(corners, step_m)


def within(ground: Ground, at_m: Place) -> bool:
    """Whether a place lies on the drawing."""
    return 0 <= at_m[0] <= ground.width_m and 0 <= at_m[1] <= ground.depth_m


def check_place(ground: Ground, at_m: Place, what: str) -> None:
    """Refuse a place that is no place, or lies outside the drawing.

    Raises
    ------
    InputError
        naming ``what`` lies there
    """
    if not within(ground, at_m):
        raise InputError(
            f"{what} lies at {at_m[0]:g}, {at_m[1]:g} m, outside the ground '{ground.id}', which is "
            f"{ground.width_m:g} m wide and {ground.depth_m:g} m deep; correct the place or the drawing"
        )


def _length(corners: Array) -> float:
    return float(np.hypot(*np.diff(corners, axis=0).T).sum())


def _walk(corners: Array, step: float) -> tuple[Array, Array]:
    at, way, gone = [corners[:1]], [np.zeros(1)], 0.0
    for start, end in itertools.pairwise(corners):
        length = math.hypot(*(end - start))
        part = np.arange(1, max(1, math.ceil(length / step)) + 1) / max(1, math.ceil(length / step))
        at.append(start + part[:, None] * (end - start))
        way.append(gone + part * length)
        gone += length
    return np.vstack(at), np.concatenate(way)
