"""Songs as lines, under each the takes that cover it: right, off speed, backwards; what no take has is left open."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal

from rollsound.report.charts import Chart
from rollsound.report.lane_words import lane_words

_WIDE_PX, _NARROW_PX = 720, 330
_ROW_PX, _LABEL_PX = 26, 150
_TIME = (
    "(datum.value < 0 ? '−' : '') + format(floor(abs(datum.value) / 60), 'd')"
    " + ':' + format(abs(datum.value) % 60, '02d')"
)
State = Literal["right", "off speed", "backwards"]


@dataclass(frozen=True)
class TakeBar:
    """What one pass of a take covers, in seconds of the song."""

    name: str
    start_s: float
    end_s: float
    state: State


@dataclass(frozen=True)
class SongLane:
    """A song with its takes; ``missing`` are stretches that are on none."""

    name: str
    length_s: float
    told: str
    missing: tuple[tuple[float, float], ...]
    takes: tuple[TakeBar, ...]
    parts: tuple[tuple[float, str], ...] = ()


def songs(label: str, lanes: Sequence[SongLane], *, narrow: bool = False) -> Chart:
    """The coverage of songs over takes.

    Parameters
    ----------
    label
        the show
    narrow
        for a phone: takes are named inside their bars' line
    """
    first = min([0.0, *(take.start_s for lane in lanes for take in lane.takes)])
    last = max([1.0, *(lane.length_s for lane in lanes), *(take.end_s for lane in lanes for take in lane.takes)])
    x: dict[str, Any] = {
        "type": "quantitative",
        "scale": {"domain": [first, last], "nice": False},
        "axis": {"title": None, "grid": True, "labelExpr": _TIME, "tickCount": 4 if narrow else 10},
    }
    rows = _rows(lanes)
    y: dict[str, Any] = {"field": "row", "type": "ordinal", "sort": rows, "axis": None}
    layers = [
        _song_bars(lanes, x, y),
        _missing(lanes, x, y),
        *_take_bars(lanes, x, y),
        *_words(
            [{"row": f"{n} song", "told": f"{each.name}: {each.told}"} for n, each in enumerate(lanes)], first, x, y
        ),
        *_part_marks(lanes, x, y),
        *_names(lanes, x, y, (first + last) / 2),
    ]
    spec = {
        "width": _NARROW_PX if narrow else _WIDE_PX,
        "height": {"step": _ROW_PX} if rows else 60,
        "layer": [layer for layer in layers if layer is not None],
    }
    return Chart(spec, _alt(label, lanes))


def _rows(lanes: Sequence[SongLane]) -> list[str]:
    rows = []
    for n, lane in enumerate(lanes):
        rows += [f"{n} song", f"{n} bars", *(f"{n} take {name}" for name in dict.fromkeys(t.name for t in lane.takes))]
        rows.append(f"{n} end")
    return rows[:-1]


def _song_bars(lanes: Sequence[SongLane], x: dict[str, Any], y: dict[str, Any]) -> dict[str, Any]:
    rows = [{"row": f"{n} bars", "from": 0.0, "to": lane.length_s} for n, lane in enumerate(lanes)]
    return {
        "data": {"values": rows},
        "mark": {"type": "bar", "height": 10, "style": "ground"},
        "encoding": {"y": y, "x": {**x, "field": "from"}, "x2": {"field": "to"}},
    }


def _missing(lanes: Sequence[SongLane], x: dict[str, Any], y: dict[str, Any]) -> dict[str, Any] | None:
    rows = [
        {"row": f"{n} bars", "from": start, "to": end} for n, lane in enumerate(lanes) for start, end in lane.missing
    ]
    if not rows:
        return None
    mark = {"type": "bar", "height": 10, "fill": None, "filled": False, "strokeWidth": 1.5, "strokeDash": [4, 3]}
    return {
        "data": {"values": rows},
        "mark": {**mark, "style": "ink"},
        "encoding": {"y": y, "x": {**x, "field": "from"}, "x2": {"field": "to"}},
    }


def _take_bars(lanes: Sequence[SongLane], x: dict[str, Any], y: dict[str, Any]) -> list[dict[str, Any]]:
    """Fit for use filled; else an outline, with its state in words beside it."""
    layers = []
    for right in (True, False):
        rows = [
            {"row": f"{n} take {take.name}", "from": take.start_s, "to": take.end_s}
            for n, lane in enumerate(lanes)
            for take in lane.takes
            if (take.state == "right") is right
        ]
        if not rows:
            continue
        mark: dict[str, Any] = {"type": "bar", "height": 14, "cornerRadius": 2}
        encoding: dict[str, Any] = {"y": y, "x": {**x, "field": "from"}, "x2": {"field": "to"}}
        if right:
            encoding["color"] = {"datum": "right", "type": "nominal", "legend": None}
        else:
            mark |= {"fill": None, "filled": False, "strokeWidth": 1.5, "style": "ink"}
        layers.append({"data": {"values": rows}, "mark": mark, "encoding": encoding})
    return layers


def _names(lanes: Sequence[SongLane], x: dict[str, Any], y: dict[str, Any], middle_s: float) -> list[dict[str, Any]]:
    """The take's name before its bar's beginning, inside of it where there is no room."""
    rows = [
        {
            "row": f"{n} take {take.name}",
            "at": max(take.start_s, 0.0),
            "told": take.name if take.state == "right" else f"{take.name}, {take.state}",
        }
        for n, lane in enumerate(lanes)
        for take in lane.takes
    ]
    early = [row for row in rows if float(str(row["at"])) <= middle_s]
    late = [row for row in rows if float(str(row["at"])) > middle_s]
    at = {**x, "field": "at"}
    return [
        *lane_words(early, {"align": "left", "dx": 6}, "told-small", y, at),
        *lane_words(late, {"align": "right", "dx": -6}, "told-small", y, at),
    ]


def _part_marks(lanes: Sequence[SongLane], x: dict[str, Any], y: dict[str, Any]) -> list[dict[str, Any]]:
    rows = [{"row": f"{n} bars", "at": at, "told": name} for n, lane in enumerate(lanes) for at, name in lane.parts]
    if not rows:
        return []
    at = {**x, "field": "at"}
    tick = {
        "data": {"values": rows},
        "mark": {"type": "tick", "style": "ink", "size": 16},
        "encoding": {"y": y, "x": at},
    }
    return [tick, *lane_words(rows, {"align": "left", "dx": 4}, "told-small", y, at)]


def _words(rows: list[dict[str, Any]], first: float, x: dict[str, Any], y: dict[str, Any]) -> list[dict[str, Any]]:
    return lane_words(rows, {"align": "left", "dx": 2, "limit": _WIDE_PX}, "told", y, {**x, "datum": first})


def _alt(label: str, lanes: Sequence[SongLane]) -> str:
    if not lanes:
        return f"Songs of {label}: none."
    told = "; ".join(f"{lane.name} {lane.told}" for lane in lanes)
    return f"Songs of {label} over takes: {told}. Filled bars are fit for use, outlines are not; dashed is on no take."
