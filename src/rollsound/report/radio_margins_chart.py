"""The margin that every carrier keeps, as bars; what is broken is told by its word beside the bar."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from rollsound.report.charts import Chart

_WIDE_PX, _NARROW_PX = 620, 330
_ROW_PX, _NARROW_ROW_PX = 26, 60
MARGIN_MOST_KHZ = 400.0


@dataclass(frozen=True)
class MarginBar:
    """One carrier's margin, and what sets it; no margin where nothing is near."""

    name: str
    margin_khz: float | None
    set_by: str = ""


def margins(label: str, bars: Sequence[MarginBar], *, narrow: bool = False) -> Chart:
    """The margin of every carrier as a bar, with what sets it in words.

    Parameters
    ----------
    narrow
        for a phone: words stand above each bar instead of beside it
    """
    rows: list[dict[str, Any]] = []
    for at, bar in enumerate(bars):
        khz = MARGIN_MOST_KHZ if bar.margin_khz is None else bar.margin_khz
        rows.append(
            {
                "name": bar.name,
                "row": f"{at:04d}",
                "from": 0,
                "to": min(max(khz, -MARGIN_MOST_KHZ), MARGIN_MOST_KHZ),
                "state": "broken" if khz < 0 else "kept",
                "told": _margin_told(bar),
                "start": max(min(khz, MARGIN_MOST_KHZ), 0.0),
                "short": _khz_told(bar),
                "set_by": bar.set_by,
            }
        )
    worst = min([0.0, *(row["to"] for row in rows)])
    most = max([50.0, *(row["to"] for row in rows)])
    room = 1.35 if narrow else 2.6
    across = {"type": "quantitative", "scale": {"domain": [worst, worst + (most - worst) * room], "nice": False}}
    place: dict[str, Any] = {"field": "row", "type": "ordinal", "sort": None}
    names = {row["row"]: row["name"] for row in rows}
    axis = {
        "title": None,
        "ticks": False,
        "domain": False,
        "labelPadding": 8,
        "labelExpr": _lookup(names),
    }
    y = {**place, "axis": None if narrow else axis}
    x = {**across, "field": "from", "axis": None}
    layers: list[dict[str, Any]] = [
        {
            "mark": {"type": "bar", "height": 8 if narrow else 12},
            "encoding": {
                "y": y,
                "x": x,
                "x2": {"field": "to"},
                "color": {"field": "state", "type": "nominal", "scale": {"domain": ["kept", "broken"]}},
            },
        },
        _zero(y, across, narrow),
    ]
    if narrow:
        end = worst + (most - worst) * room
        layers.append(_said(y, {**across, "datum": worst, "axis": None}, "name", "told", "left", -15))
        layers.append(_said(y, {**across, "datum": end, "axis": None}, "short", "told", "right", -15))
        layers.append(_said(y, {**across, "datum": worst, "axis": None}, "set_by", "told-soft", "left", 14))
    else:
        layers.append(_said(y, {**across, "field": "start", "axis": None}, "told", "told", "left", 0))
    spec = {
        "width": _NARROW_PX if narrow else _WIDE_PX,
        "height": {"step": _NARROW_ROW_PX if narrow else _ROW_PX},
        "data": {"values": rows},
        "layer": layers,
    }
    return Chart(spec, _margins_alt(label, bars))


def _zero(y: dict[str, Any], across: dict[str, Any], narrow: bool) -> dict[str, Any]:
    """Where nothing is left: a line, or on a phone a stroke at each bar, as words stand over and under it there."""
    if narrow:
        mark = {"type": "tick", "style": "ink", "orient": "vertical", "size": 16, "thickness": 1.5}
        return {"mark": mark, "encoding": {"y": y, "x": {**across, "field": "from", "axis": None}}}
    return {
        "data": {"values": [{"at": 0}]},
        "mark": {"type": "rule", "style": "ink", "strokeWidth": 1},
        "encoding": {"x": {**across, "field": "at", "axis": None}},
    }


def _said(y: dict[str, Any], x: dict[str, Any], field: str, style: str, align: str, dy: int) -> dict[str, Any]:
    mark = {"type": "text", "align": align, "baseline": "middle", "dx": 8 if dy == 0 else 0, "dy": dy, "style": style}
    return {"mark": mark, "encoding": {"y": y, "x": x, "text": {"field": field}}}


def _lookup(names: dict[str, str]) -> str:
    """An expression of the specification language that turns a row into its name."""
    return f"{json.dumps(names, ensure_ascii=True)}[datum.label]"


def _khz_told(bar: MarginBar) -> str:
    if bar.margin_khz is None:
        return "nothing near"
    khz = f"{bar.margin_khz:,.3f}".rstrip("0").rstrip(".").replace("-", "−")
    return f"{'broken, ' if bar.margin_khz < 0 else ''}{khz} kHz"


def _margin_told(bar: MarginBar) -> str:
    return f"{_khz_told(bar)}{f': {bar.set_by}' if bar.set_by else ''}"


def _margins_alt(label: str, bars: Sequence[MarginBar]) -> str:
    known = [bar for bar in bars if bar.margin_khz is not None]
    if not known:
        return f"Margins of {label}: nothing sets one."
    worst = min(known, key=lambda bar: bar.margin_khz or 0.0)
    broken = [bar.name for bar in known if (bar.margin_khz or 0.0) < 0]
    told = f" Broken: {', '.join(broken)}." if broken else ""
    return (
        f"Margins of {len(bars)} carriers of {label}; the least is that of {worst.name}, {_margin_told(worst)}.{told}"
    )
