"""A day's batteries as lanes: every set from its start to its change, breaks behind them, and where one goes flat."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from rollsound.report.charts import Chart
from rollsound.report.lane_words import lane_words

_WIDE_PX, _NARROW_PX = 720, 330
_ROW_PX = 52
_HOUR = "format(floor(datum.value / 60) % 24, '02d') + ':' + format(datum.value % 60, '02d')"


@dataclass(frozen=True)
class LaneSet:
    """One set of batteries, from when it is put in to when it is taken out."""

    number: int
    start_min: float
    end_min: float
    owned: bool = True
    """Whether there are batteries for it."""


@dataclass(frozen=True)
class Lane:
    """One place where batteries are in use."""

    name: str
    sets: tuple[LaneSet, ...]
    told: str = ""
    flat_min: float | None = None
    """When it goes flat with what is owned; none when it lasts."""
    interrupting_min: tuple[float, ...] = ()
    """Changes in the middle of work."""


def power_lanes(
    label: str,
    lanes: Sequence[Lane],
    *,
    call_min: float,
    wrap_min: float,
    breaks: Sequence[tuple[float, float]] = (),
    narrow: bool = False,
) -> Chart:
    """The lanes of a day. Minutes count from midnight of its date.

    Parameters
    ----------
    label
        the show and the day
    breaks
        start and end of times when batteries can be changed
    narrow
        for a phone
    """
    first = min([call_min, *(part.start_min for lane in lanes for part in lane.sets)])
    last = max([wrap_min, *(part.end_min for lane in lanes for part in lane.sets)])
    first, last = first // 60 * 60, -(-last // 60) * 60
    x: dict[str, Any] = {
        "type": "quantitative",
        "scale": {"domain": [first, last], "nice": False},
        "axis": {
            "title": None,
            "grid": True,
            "labelExpr": _HOUR,
            "labelFlush": False,
            "values": list(range(int(first), int(last) + 1, 180 if narrow else 60)),
        },
    }
    names = [lane.name for lane in lanes]
    y: dict[str, Any] = {"field": "lane", "type": "ordinal", "sort": names, "axis": None}
    layers = [_breaks(breaks, x), _bars(lanes, x, y, owned=True), _bars(lanes, x, y, owned=False)]
    layers += [
        *_numbers(lanes, x, y, narrow),
        *_names(lanes, first, x, y, narrow),
        *_flats(lanes, (first + 3 * last) / 4, x, y),
    ]
    layers += [_changes(lanes, x, y), _edges(call_min, wrap_min, x)]
    spec = {
        "width": _NARROW_PX if narrow else _WIDE_PX,
        "height": {"step": _ROW_PX} if lanes else 60,
        "layer": [layer for layer in layers if layer is not None],
    }
    return Chart(spec, _alt(label, lanes))


def _breaks(breaks: Sequence[tuple[float, float]], x: dict[str, Any]) -> dict[str, Any] | None:
    if not breaks:
        return None
    return {
        "data": {"values": [{"from": start, "to": end} for start, end in breaks]},
        "mark": {"type": "rect", "style": "ground", "opacity": 0.55},
        "encoding": {"x": {**x, "field": "from"}, "x2": {"field": "to"}},
    }


def _bars(lanes: Sequence[Lane], x: dict[str, Any], y: dict[str, Any], *, owned: bool) -> dict[str, Any] | None:
    """Sets that there are batteries for are filled, those that are missing an outline."""
    rows = [
        {"lane": lane.name, "from": part.start_min, "to": part.end_min, "parity": part.number % 2}
        for lane in lanes
        for part in lane.sets
        if part.owned is owned
    ]
    if not rows:
        return None
    mark: dict[str, Any] = {"type": "bar", "height": 16, "yOffset": 9, "cornerRadius": 2}
    encoding: dict[str, Any] = {"y": y, "x": {**x, "field": "from"}, "x2": {"field": "to"}}
    if owned:
        encoding["opacity"] = {
            "field": "parity",
            "type": "nominal",
            "scale": {"domain": [1, 0], "range": [1, 0.6]},
            "legend": None,
        }
        encoding["color"] = {"datum": "there", "type": "nominal", "legend": None}
    else:
        mark |= {"fill": None, "filled": False, "strokeWidth": 1.5, "strokeDash": [4, 3], "style": "ink"}
    return {"data": {"values": rows}, "mark": mark, "encoding": encoding}


def _numbers(lanes: Sequence[Lane], x: dict[str, Any], y: dict[str, Any], narrow: bool) -> list[dict[str, Any]]:
    """The number of each set, where it was put in; the first goes without saying where it is alone."""
    rows = [
        {"lane": lane.name, "at": part.start_min, "told": f"set {part.number}" if part.owned else "missing"}
        for lane in lanes
        for part in lane.sets
        if len(lane.sets) > 1
        and part.end_min - part.start_min > 45
        and not _begins_flat(lane, part)
        and (part.owned or not narrow)
    ]
    return lane_words(rows, {"align": "left", "dx": 6, "dy": 9}, "told-small", y, {**x, "field": "at"})


def _begins_flat(lane: Lane, part: LaneSet) -> bool:
    """Whether what is written about being flat would lie on its word."""
    return lane.flat_min is not None and not part.owned and part.start_min - 1 <= lane.flat_min < part.end_min


def _names(
    lanes: Sequence[Lane], first: float, x: dict[str, Any], y: dict[str, Any], narrow: bool
) -> list[dict[str, Any]]:
    told = {lane.name: f"{lane.name}: {lane.told}" if lane.told and not narrow else lane.name for lane in lanes}
    rows = [{"lane": lane.name, "told": told[lane.name]} for lane in lanes]
    place = {"align": "left", "dx": 3, "dy": -13, "limit": _NARROW_PX if narrow else _WIDE_PX}
    return lane_words(rows, place, "told", y, {**x, "datum": first})


def _flats(lanes: Sequence[Lane], late: float, x: dict[str, Any], y: dict[str, Any]) -> list[dict[str, Any]]:
    """A square with its time: after it, or before it where the day has little left."""
    rows: list[dict[str, Any]] = [
        {"lane": lane.name, "at": lane.flat_min, "told": f"flat {_clock(lane.flat_min)}"}
        for lane in lanes
        if lane.flat_min is not None
    ]
    if not rows:
        return []
    mark = {"type": "point", "shape": "square", "filled": True, "size": 110, "opacity": 1, "yOffset": 9}
    at = {**x, "field": "at"}
    square = {"data": {"values": rows}, "mark": {**mark, "style": "ink-filled"}, "encoding": {"y": y, "x": at}}
    after = [row for row in rows if row["at"] <= late]
    before = [row for row in rows if row["at"] > late]
    return [
        square,
        *lane_words(after, {"align": "left", "dx": 10, "dy": 9}, "told-small", y, at),
        *lane_words(before, {"align": "right", "dx": -10, "dy": 9}, "told-small", y, at),
    ]


def _changes(lanes: Sequence[Lane], x: dict[str, Any], y: dict[str, Any]) -> dict[str, Any] | None:
    """Changes in the middle of work: a triangle under the line between two sets."""
    rows = [{"lane": lane.name, "at": at} for lane in lanes for at in lane.interrupting_min]
    if not rows:
        return None
    mark = {"type": "point", "shape": "triangle-up", "filled": False, "size": 90, "opacity": 1, "strokeWidth": 2}
    return {
        "data": {"values": rows},
        "mark": {**mark, "style": "ink", "yOffset": 22},
        "encoding": {"y": y, "x": {**x, "field": "at"}},
    }


def _edges(call_min: float, wrap_min: float, x: dict[str, Any]) -> dict[str, Any]:
    return {
        "data": {"values": [{"at": call_min}, {"at": wrap_min}]},
        "mark": {"type": "rule", "style": "ink", "strokeWidth": 1.2},
        "encoding": {"x": {**x, "field": "at"}},
    }


def _clock(minute: float) -> str:
    return f"{int(minute) // 60 % 24:02d}:{int(minute) % 60:02d}"


def _alt(label: str, lanes: Sequence[Lane]) -> str:
    if not lanes:
        return f"Batteries over {label}: none is in use."
    changes = sum(len({part.number for part in lane.sets}) - 1 for lane in lanes)
    flat = [f"{lane.name} at {_clock(lane.flat_min)}" for lane in lanes if lane.flat_min is not None]
    told = f" Flat before the end: {', '.join(flat)}." if flat else " All last the day."
    return (
        f"Batteries over {label}: {len(lanes)} {'place' if len(lanes) == 1 else 'places'}, "
        f"{changes} {'change' if changes == 1 else 'changes'}.{told} A square marks flat, a triangle a change in the "
        "middle of work, grey a break."
    )
