"""Live voices against their guide: how late each is along the take, its phrases, and the limit they are held to."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal

from rollsound.report.charts import Chart

MOST_VOICES = 12
_WIDE_PX, _NARROW_PX, _HIGH_PX = 720, 330, 130
_SURE = 0.25
_LEAST_REACH_MS = 20.0
_TIME = "format(floor(datum.value / 60), 'd') + ':' + format(datum.value % 60, '02d')"


@dataclass(frozen=True)
class PhraseBar:
    """A phrase as it is drawn: a line at its lateness."""

    start_s: float
    end_s: float
    late_ms: float
    verdict: Literal["in time", "early", "late", "unsure"]
    bar: str = ""


@dataclass(frozen=True)
class VoiceCourse:
    """One voice: ``points`` are (seconds, ms late, confidence)."""

    name: str
    points: tuple[tuple[float, float, float], ...]
    phrases: tuple[PhraseBar, ...]


def courses(label: str, voices: Sequence[VoiceCourse], *, limit_ms: float, narrow: bool = False) -> Chart:
    """The courses of voices, one under the other on one time.

    Parameters
    ----------
    label
        the show, or the two files
    """
    shown = voices[:MOST_VOICES]
    last = max([1.0, *(point[0] for voice in shown for point in voice.points)])
    sure = [abs(late) for voice in shown for _, late, confidence in voice.points if confidence >= _SURE]
    sure += [abs(each.late_ms) for voice in shown for each in voice.phrases]
    reach = 1.15 * max([_LEAST_REACH_MS, 1.3 * limit_ms, *sure])
    views = [_view(voice, last, reach, limit_ms, narrow) for voice in shown]
    spec: dict[str, Any] = (
        {"vconcat": views, "spacing": 14} if views else {"width": 300, "height": 40, "layer": [_none()]}
    )
    return Chart(spec, _alt(label, voices, limit_ms))


def _view(voice: VoiceCourse, last: float, reach: float, limit_ms: float, narrow: bool) -> dict[str, Any]:
    x: dict[str, Any] = {
        "type": "quantitative",
        "scale": {"domain": [0, last], "nice": False},
        "axis": {"title": None, "labelExpr": _TIME, "tickCount": 4 if narrow else 10, "grid": True},
    }
    y: dict[str, Any] = {
        "type": "quantitative",
        "scale": {"domain": [-reach, reach], "nice": False},
        "axis": {"title": "ms late", "tickCount": 5, "grid": False},
    }
    points = [
        {"at": at, "late": late, "sure": confidence}
        for at, late, confidence in voice.points
        if confidence >= _SURE and abs(late) <= reach
    ]
    phrases: list[dict[str, Any]] = [
        {
            "from": each.start_s,
            "to": each.end_s,
            "late": each.late_ms,
            "told": f"{each.late_ms:+.0f} ms" if each.verdict in ("early", "late") else "",
        }
        for each in voice.phrases
        if math.isfinite(each.late_ms)
    ]
    off = [row for row in phrases if row["told"]]
    band = {"values": [{"from": 0, "to": last, "low": -limit_ms, "high": limit_ms}]}
    layers: list[dict[str, Any]] = [
        {
            "data": band,
            "mark": {"type": "rect", "style": "ground", "opacity": 0.55},
            "encoding": {
                "x": {**x, "field": "from"},
                "x2": {"field": "to"},
                "y": {**y, "field": "low"},
                "y2": {"field": "high"},
            },
        },
        {
            "data": {"values": [{"late": 0}]},
            "mark": {"type": "rule", "style": "soft"},
            "encoding": {"y": {**y, "field": "late"}},
        },
        {
            "data": {"values": points},
            "mark": {"type": "point", "filled": True, "size": 14},
            "encoding": {
                "x": {**x, "field": "at"},
                "y": {**y, "field": "late"},
                "opacity": {"field": "sure", "type": "quantitative", "scale": {"domain": [0, 1], "range": [0.2, 0.9]}},
                "color": {"datum": "course", "type": "nominal", "legend": None},
            },
        },
        {
            "data": {"values": phrases},
            "mark": {"type": "rule", "style": "ink", "strokeWidth": 2.5},
            "encoding": {"x": {**x, "field": "from"}, "x2": {"field": "to"}, "y": {**y, "field": "late"}},
        },
    ]
    layers += [
        {
            "data": {"values": off},
            "mark": {"type": "text", "align": "left", "baseline": "bottom", "dy": -5, "style": style, "fontSize": 12},
            "encoding": {"x": {**x, "field": "from"}, "y": {**y, "field": "late"}, "text": {"field": "told"}},
        }
        for style in ("halo", "told-small")
    ]
    return {
        "width": _NARROW_PX if narrow else _WIDE_PX,
        "height": _HIGH_PX,
        "title": {"text": voice.name, "anchor": "start", "fontSize": 14, "fontWeight": 400, "offset": 4},
        "layer": [layer for layer in layers if layer["data"]["values"]],
    }


def _none() -> dict[str, Any]:
    words = "No voice could be followed along its guide."
    return {
        "data": {"values": [{"told": words}]},
        "mark": {"type": "text", "style": "told"},
        "encoding": {"text": {"field": "told"}},
    }


def _alt(label: str, voices: Sequence[VoiceCourse], limit_ms: float) -> str:
    if not voices:
        return f"Live voices of {label} against their guide: none could be followed."
    told = []
    for voice in voices[:MOST_VOICES]:
        off = [each for each in voice.phrases if each.verdict in ("early", "late")]
        words = ", ".join(f"{each.verdict} by {abs(each.late_ms):.0f} ms at {each.start_s:.0f} s" for each in off[:4])
        told.append(f"{voice.name}: {words or 'in time'}")
    return f"Live voices of {label} against their guide, limit {limit_ms:.0f} ms. {'; '.join(told)}."
