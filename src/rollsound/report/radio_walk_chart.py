"""A walk test as a picture: what was read over what is computed, before the fit and after, by distance."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from rollsound.report.charts import Chart

_WIDE_PX, _NARROW_PX = 680, 330


@dataclass(frozen=True)
class WalkPoint:
    """One reading: how far from the antenna, and read minus computed, before and after."""

    name: str
    distance_m: float
    before_db: float
    after_db: float
    outlier: bool = False


def walk_residuals(label: str, points: Sequence[WalkPoint], *, narrow: bool = False) -> Chart:
    """Residuals of a walk test: a ring before, a dot after; outliers are squares with their names.

    Parameters
    ----------
    label
        the ground
    narrow
        for a phone
    """
    rows = [
        {
            "name": point.name,
            "distance": point.distance_m,
            "before": round(point.before_db, 2),
            "after": round(point.after_db, 2),
            "outlier": point.outlier,
        }
        for point in points
    ]
    most = max([10.0, *(abs(value) for point in points for value in (point.before_db, point.after_db))])
    most = math.ceil(most / 5) * 5
    furthest = max([1.0, *(point.distance_m for point in points)])
    x = {
        "field": "distance",
        "type": "quantitative",
        "scale": {"domain": [0, furthest * 1.08], "nice": False},
        "axis": {"title": "m from the antenna", "grid": False, "tickCount": 6},
    }
    y = {"type": "quantitative", "scale": {"domain": [-most, most], "nice": False}}
    axis = {"title": "read over computed, dB", "grid": True, "tickCount": 5}
    kept, strange = [row for row in rows if not row["outlier"]], [row for row in rows if row["outlier"]]
    before, after = {**y, "field": "before", "axis": axis}, {**y, "field": "after", "axis": axis}
    layers: list[dict[str, Any]] = [
        {
            "data": {"values": [{"zero": 0}]},
            "mark": {"type": "rule", "style": "ink", "strokeWidth": 1},
            "encoding": {"y": {**y, "field": "zero", "axis": axis}},
        },
        {
            "data": {"values": rows},
            "mark": {"type": "rule", "style": "soft", "strokeWidth": 0.7, "opacity": 0.7},
            "encoding": {"x": x, "y": before, "y2": {"field": "after"}},
        },
        {
            "data": {"values": rows},
            "mark": {"type": "point", "shape": "circle", "size": 46, "filled": False, "style": "soft", "opacity": 1},
            "encoding": {"x": x, "y": before},
        },
        {
            "data": {"values": [{**row, "series": "after"} for row in kept]},
            "mark": {"type": "point", "shape": "circle", "size": 62, "filled": True, "opacity": 1},
            "encoding": {"x": x, "y": after, "color": {"field": "series", "type": "nominal", "legend": None}},
        },
        {
            "data": {"values": strange},
            "mark": {
                "type": "point",
                "shape": "square",
                "size": 90,
                "filled": True,
                "opacity": 1,
                "style": "ink-filled",
            },
            "encoding": {"x": x, "y": after},
        },
        {
            "data": {"values": strange},
            "mark": {"type": "text", "align": "left", "dx": 9, "baseline": "middle", "style": "told-small"},
            "encoding": {"x": x, "y": after, "text": {"field": "name"}},
        },
    ]
    main = {"width": _NARROW_PX if narrow else _WIDE_PX, "height": 260, "layer": layers}
    return Chart({"vconcat": [_key(narrow), main], "spacing": 4}, _alt(label, points))


def _key(narrow: bool) -> dict[str, Any]:
    """What ring, dot and square mean: the signs themselves with their words."""
    wide = _NARROW_PX if narrow else _WIDE_PX
    signs: tuple[tuple[float, str, dict[str, Any]], ...] = (
        (8, "before", {"shape": "circle", "filled": False, "style": "soft", "size": 46}),
        (90, "after", {"shape": "circle", "filled": True, "size": 62}),
        (160, "does not fit the rest", {"shape": "square", "filled": True, "style": "ink-filled", "size": 90}),
    )
    layers: list[dict[str, Any]] = []
    for at, told, sign in signs:
        row = {"values": [{"told": told, "series": "after"}]}
        encoding = {"color": {"field": "series", "type": "nominal", "legend": None}} if told == "after" else {}
        layers.append(
            {"data": row, "mark": {"type": "point", "opacity": 1, "x": at, "y": 10, **sign}, "encoding": encoding}
        )
        word = {"type": "text", "x": at + 10, "y": 10, "align": "left", "baseline": "middle", "style": "told-small"}
        layers.append({"data": row, "mark": word, "encoding": {"text": {"field": "told"}}})
    return {"width": wide, "height": 20, "layer": layers}


def _alt(label: str, points: Sequence[WalkPoint]) -> str:
    fitted = [point for point in points if not point.outlier]
    if not fitted:
        return f"Walk test on {label}: no reading could be fitted."
    before, after = (
        math.sqrt(sum(value**2 for value in values) / len(fitted))
        for values in ([p.before_db for p in fitted], [p.after_db for p in fitted])
    )
    strange = [point.name for point in points if point.outlier]
    told = f" Not fitting: {', '.join(strange)}." if strange else ""
    return (
        f"Walk test on {label}: {len(points)} readings; what is computed misses them by {before:.1f} dB before the fit "
        f"and {after:.1f} dB after.{told}"
    )
