"""Reach over the drawing of a site: bands of margin with the line where sound holds, walls, antennas, where people go.

The map is drawn as runs of one band, row by row, and the line between them as short strokes, so that a picture of two
hundred by two hundred points stays small.

Longer than most files: one picture with many layers, each of them short.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from rollsound.report.charts import Chart

Array = NDArray[np.float64]
Places = tuple[tuple[float, float], ...]
EDGES_DB = (0.0, 6.0, 12.0, 20.0, 30.0)
BANDS = ("under 0", "0 to 6", "6 to 12", "12 to 20", "20 to 30", "over 30")
"""Margin over what the receiver needs, in dB."""
_WIDE_PX, _NARROW_PX = 720, 330
_MOST_ROWS = 120
_OVER_A_PICTURE = 0.62
"""How dense bands of margin are over a picture, so that both are seen."""


@dataclass(frozen=True)
class Marked:
    """A place with its name."""

    name: str
    at_m: tuple[float, float]
    bearing_deg: float | None = None
    """Where an antenna looks; none when it hears all round."""


@dataclass(frozen=True)
class Drawn:
    """A line or an outline with its name."""

    name: str
    points_m: Places


@dataclass(frozen=True)
class GroundDrawing:
    """What stands on a ground."""

    width_m: float
    depth_m: float
    walls: Sequence[Drawn] = ()
    antennas: Sequence[Marked] = ()
    areas: Sequence[Drawn] = ()
    lines: Sequence[Drawn] = ()
    stands: Sequence[Marked] = ()
    readings: Sequence[Marked] = field(default=())
    picture: str = ""
    """What lies under all of it, from edge to edge: a whole picture as an address; none when empty."""


@dataclass(frozen=True)
class Heat:
    """Margin and share of time at the middles of a grid's cells: arrays of shape (len(y_m), len(x_m))."""

    x_m: Array
    y_m: Array
    margin_db: Array
    share_of_time: Array


def ground_map(
    label: str, drawing: GroundDrawing, heat: Heat | None = None, *, wanted: float = 0.99, narrow: bool = False
) -> Chart:
    """A ground with what is heard from everywhere on it.

    Parameters
    ----------
    label
        whose reach it is, on which ground
    wanted
        share of time that the line is drawn for
    narrow
        for a phone
    """
    wide = _NARROW_PX if narrow else _WIDE_PX
    scale = min(wide / drawing.width_m, 900 / drawing.depth_m)
    x = {
        "type": "quantitative",
        "scale": {"domain": [0, drawing.width_m], "nice": False},
        "axis": {"title": "m", "grid": False, "tickCount": 5 if narrow else 10},
    }
    y = {
        "type": "quantitative",
        "scale": {"domain": [0, drawing.depth_m], "nice": False},
        "axis": {"title": None, "grid": False, "tickCount": 5},
    }
    layers: list[dict[str, Any]] = []
    if drawing.picture:
        layers.append(_picture(drawing, x, y, scale))
    if heat is not None:
        layers += _heat(heat, x, y, drawing)
        layers.append(_contour(heat, wanted, x, y))
    for part, style in (
        (drawing.areas, {"style": "ink", "strokeDash": [7, 4], "strokeWidth": 1.5, "filled": False}),
        (drawing.lines, {"style": "ink", "strokeDash": [2, 4], "strokeWidth": 2}),
        (drawing.walls, {"style": "ink", "strokeWidth": 3.5, "strokeCap": "round"}),
    ):
        if part:
            layers.append(_lines(part, style, x, y, closed=part is drawing.areas))
    for named in (drawing.areas, drawing.lines):
        if named and not narrow:
            layers.append(_words([Marked(each.name, _label_at(each)) for each in named], x, y, dy=-9))
    if drawing.readings:
        layers.append(_points(drawing.readings, "circle", 30, x, y))
    if drawing.stands:
        layers.append(_points(drawing.stands, "cross", 70, x, y))
        if not narrow:
            layers.append(_words(drawing.stands, x, y, dy=14))
    if drawing.antennas:
        layers.append(_looks(drawing.antennas, x, y, reach_m=24 / scale))
        layers.append(_points(drawing.antennas, "triangle-up", 170, x, y))
        low = [each for each in drawing.antennas if each.at_m[1] * scale < 30]
        layers.append(_words([each for each in drawing.antennas if each not in low], x, y, dy=18, weight=600))
        layers.append(_words(low, x, y, dy=-18, weight=600))
    main = {
        "width": round(drawing.width_m * scale),
        "height": round(drawing.depth_m * scale),
        "layer": layers or [_blank(x, y)],
    }
    spec: dict[str, Any] = {"vconcat": [main, _key(wanted, wide, narrow)], "spacing": 6} if heat is not None else main
    return Chart(spec, _alt(label, drawing, heat, wanted))


def _blank(x: dict[str, Any], y: dict[str, Any]) -> dict[str, Any]:
    return {
        "data": {"values": [{"x": 0, "y": 0}]},
        "mark": {"type": "point", "opacity": 0},
        "encoding": {"x": {**x, "field": "x"}, "y": {**y, "field": "y"}},
    }


def _picture(drawing: GroundDrawing, x: dict[str, Any], y: dict[str, Any], scale: float) -> dict[str, Any]:
    """A picture stretched to the ground, whatever its own form is."""
    return {
        "data": {"values": [{"x": drawing.width_m / 2, "y": drawing.depth_m / 2}]},
        "mark": {
            "type": "image",
            "url": drawing.picture,
            "width": round(drawing.width_m * scale),
            "height": round(drawing.depth_m * scale),
            "aspect": False,
        },
        "encoding": {"x": {**x, "field": "x"}, "y": {**y, "field": "y"}},
    }


def _heat(heat: Heat, x: dict[str, Any], y: dict[str, Any], drawing: GroundDrawing) -> list[dict[str, Any]]:
    rows = [
        # each row reaches under the next one, or a seam of paper would show between them; not where they let a picture
        # through, for what lies over each other would be twice as dense
        {
            "x": x1,
            "x2": x2,
            "y": y1,
            "y2": y2 if drawing.picture else min(2 * y2 - y1, drawing.depth_m),
            "band": BANDS[band],
        }
        for x1, x2, y1, y2, band in _runs(heat, drawing.width_m, drawing.depth_m)
    ]
    return [
        {
            "data": {"values": rows},
            "mark": {
                "type": "rect",
                "stroke": None,
                "strokeWidth": 0,
                "opacity": _OVER_A_PICTURE if drawing.picture else 1,
            },
            "encoding": {
                "x": {**x, "field": "x"},
                "x2": {"field": "x2"},
                "y": {**y, "field": "y"},
                "y2": {"field": "y2"},
                "color": {"field": "band", "type": "ordinal", "scale": {"domain": list(BANDS)}, "legend": None},
            },
        }
    ]


def _runs(heat: Heat, width_m: float, depth_m: float) -> Iterator[tuple[float, float, float, float, int]]:
    """Rectangles of one band: x from and to, y from and to, band. Of several rows drawn as one, the worst is told."""
    margin = heat.margin_db
    every = max(1, -(-margin.shape[0] // _MOST_ROWS))
    first = np.arange(0, margin.shape[0], every)
    margin = np.minimum.reduceat(margin, first, axis=0)
    xs, ys = _edges(heat.x_m, width_m), _edges(heat.y_m, depth_m)
    ys = np.append(ys[:-1][first], ys[-1])
    for at, row in enumerate(np.searchsorted(EDGES_DB, margin, side="right")):
        starts = np.flatnonzero(np.append(True, row[1:] != row[:-1]))
        ends = np.append(starts[1:], row.size)
        for start, end in zip(starts.tolist(), ends.tolist(), strict=True):
            yield (
                round(float(xs[start]), 3),
                round(float(xs[end]), 3),
                round(float(ys[at]), 3),
                round(float(ys[at + 1]), 3),
                int(row[start]),
            )


def _edges(middles: Array, length_m: float) -> Array:
    inner = (middles[1:] + middles[:-1]) / 2
    edges: Array = np.concatenate([[0.0], inner, [length_m]])
    return edges


def contour(values: Array, x: Array, y: Array, at: float) -> list[tuple[float, float, float, float]]:
    """Strokes where a grid of values crosses one: x and y of both ends, by cells of four neighbouring points.

    Source: marching squares; saddles are cut by the mean of the four corners.
    """
    over = values >= at
    code = (
        over[:-1, :-1].astype(np.int8) + 2 * over[:-1, 1:] + 4 * over[1:, 1:] + 8 * over[1:, :-1]
    )  # corners: lower left, lower right, upper right, upper left
    strokes: list[tuple[float, float, float, float]] = []
    for row, column in np.argwhere((code > 0) & (code < 15)).tolist():
        corners = (
            (x[column], y[row], values[row, column]),
            (x[column + 1], y[row], values[row, column + 1]),
            (x[column + 1], y[row + 1], values[row + 1, column + 1]),
            (x[column], y[row + 1], values[row + 1, column]),
        )
        crossings = [
            _between(corners[n], corners[(n + 1) % 4], at)
            for n in range(4)
            if (corners[n][2] >= at) != (corners[(n + 1) % 4][2] >= at)
        ]
        if len(crossings) == 4 and (sum(corner[2] for corner in corners) / 4 >= at) == (corners[0][2] >= at):
            crossings = [crossings[0], crossings[1], crossings[2], crossings[3]]
        elif len(crossings) == 4:
            crossings = [crossings[3], crossings[0], crossings[1], crossings[2]]
        strokes += [(*crossings[n], *crossings[n + 1]) for n in range(0, len(crossings), 2)]
    return strokes


def _between(one: tuple[float, float, float], other: tuple[float, float, float], at: float) -> tuple[float, float]:
    part = (at - one[2]) / (other[2] - one[2])
    part = part if np.isfinite(part) else 0.5
    return float(one[0] + part * (other[0] - one[0])), float(one[1] + part * (other[1] - one[1]))


def _contour(heat: Heat, wanted: float, x: dict[str, Any], y: dict[str, Any]) -> dict[str, Any]:
    # Over the logit, in which shares near all of the time are as far apart as they are to the ear.
    share = np.clip(heat.share_of_time, 1e-9, 1 - 1e-9)
    strokes = contour(np.log(share / (1 - share)), heat.x_m, heat.y_m, float(np.log(wanted / (1 - wanted))))
    rows = [dict(zip(("x", "y", "x2", "y2"), (round(each, 3) for each in stroke), strict=True)) for stroke in strokes]
    return {
        "data": {"values": rows},
        "mark": {"type": "rule", "style": "ink", "strokeWidth": 1.6, "strokeCap": "round"},
        "encoding": {
            "x": {**x, "field": "x"},
            "x2": {"field": "x2"},
            "y": {**y, "field": "y"},
            "y2": {"field": "y2"},
        },
    }


def _lines(
    parts: Sequence[Drawn], style: dict[str, Any], x: dict[str, Any], y: dict[str, Any], *, closed: bool
) -> dict[str, Any]:
    rows = [
        {"line": at, "order": order, "x": place[0], "y": place[1]}
        for at, part in enumerate(parts)
        for order, place in enumerate((*part.points_m, *(part.points_m[:1] if closed else ())))
    ]
    return {
        "data": {"values": rows},
        "mark": {"type": "line", **style},
        "encoding": {
            "x": {**x, "field": "x"},
            "y": {**y, "field": "y"},
            "detail": {"field": "line", "type": "nominal"},
            "order": {"field": "order", "type": "quantitative"},
        },
    }


def _points(parts: Sequence[Marked], shape: str, size: int, x: dict[str, Any], y: dict[str, Any]) -> dict[str, Any]:
    return {
        "data": {"values": [{"x": each.at_m[0], "y": each.at_m[1]} for each in parts]},
        "mark": {
            "type": "point",
            "shape": shape,
            "size": size,
            "filled": True,
            "opacity": 1,
            "style": "ink-filled",
        },
        "encoding": {"x": {**x, "field": "x"}, "y": {**y, "field": "y"}},
    }


def _looks(parts: Sequence[Marked], x: dict[str, Any], y: dict[str, Any], *, reach_m: float) -> dict[str, Any]:
    """A short stroke in the direction that an antenna looks."""
    rows = []
    for each in parts:
        if each.bearing_deg is not None:
            turn = np.deg2rad(each.bearing_deg)
            ends = (each.at_m[0] + reach_m * np.cos(turn), each.at_m[1] + reach_m * np.sin(turn))
            rows.append({"x": each.at_m[0], "y": each.at_m[1], "x2": float(ends[0]), "y2": float(ends[1])})
    return {
        "data": {"values": rows},
        "mark": {"type": "rule", "style": "ink", "strokeWidth": 2.5, "strokeCap": "round", "clip": True},
        "encoding": {
            "x": {**x, "field": "x"},
            "x2": {"field": "x2"},
            "y": {**y, "field": "y"},
            "y2": {"field": "y2"},
        },
    }


def _words(
    parts: Sequence[Marked], x: dict[str, Any], y: dict[str, Any], *, dy: int, weight: int = 400
) -> dict[str, Any]:
    """Names with paper around their letters, so that they are read over any band: the paper first, then the ink."""
    rows = [{"x": each.at_m[0], "y": each.at_m[1], "name": each.name} for each in parts]
    encoding = {"x": {**x, "field": "x"}, "y": {**y, "field": "y"}, "text": {"field": "name"}}
    place = {"type": "text", "align": "center", "baseline": "middle", "dy": dy, "fontWeight": weight, "fontSize": 13}
    return {
        "data": {"values": rows},
        "layer": [
            {"mark": {**place, "style": "halo"}, "encoding": encoding},
            {"mark": {**place, "style": "told", "fontSize": 13}, "encoding": encoding},
        ],
    }


def _label_at(part: Drawn) -> tuple[float, float]:
    """Over the middle of what a line or outline spans, at its upper edge."""
    xs, ys = [each[0] for each in part.points_m], [each[1] for each in part.points_m]
    return (min(xs) + max(xs)) / 2, max(ys)


def _key(wanted: float, wide: int, narrow: bool) -> dict[str, Any]:
    """The bands in words, and what the line is."""
    rows = [
        {"band": band, "order": at, "end": at + 1, "middle": at + 0.5, "told": f"{band} dB"}
        for at, band in enumerate(BANDS)
    ]
    across = {
        "field": "order",
        "type": "quantitative",
        "scale": {"domain": [0, len(BANDS)], "nice": False},
        "axis": None,
    }
    title = (
        f"margin; line: {100 * wanted:g} % of the time"
        if narrow
        else f"Margin over what the receiver needs. The thin line is where sound holds {100 * wanted:g} % of the time."
    )
    return {
        "width": wide,
        "height": 30,
        "title": {"text": title, "anchor": "start", "fontWeight": 400, "fontSize": 13, "offset": 4},
        "data": {"values": rows},
        "layer": [
            {
                "mark": {"type": "bar", "height": 12, "y": 6},
                "encoding": {
                    "x": across,
                    "x2": {"field": "end"},
                    "color": {"field": "band", "type": "ordinal", "scale": {"domain": list(BANDS)}, "legend": None},
                },
            },
            {
                "mark": {"type": "text", "y": 23, "style": "told-small", "fontSize": 11 if narrow else 12},
                "encoding": {
                    "x": {**across, "field": "middle"},
                    "text": {"field": "band" if narrow else "told"},
                },
            },
        ],
    }


def _alt(label: str, drawing: GroundDrawing, heat: Heat | None, wanted: float) -> str:
    size = f"{drawing.width_m:g} by {drawing.depth_m:g} m"
    stands = f"{len(drawing.walls)} walls, {len(drawing.antennas)} antennas"
    if heat is None:
        return f"{label}: a ground of {size} with {stands}."
    held = float(np.mean(heat.share_of_time >= wanted))
    under = float(np.mean(heat.margin_db < 0))
    return (
        f"Reach of {label} on a ground of {size} with {stands}: sound holds {100 * wanted:g} % of the time on "
        f"{100 * held:.0f} % of it; on {100 * under:.0f} % the margin is under 0 dB."
    )
