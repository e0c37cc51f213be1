"""The spectrum as a picture: carriers over what was measured and what is in use by others, and their products.

Kinds of transmitters are told by colour and by their names; a carrier that is not kept has a filled square.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from rollsound.report.charts import Chart

_WIDE_PX, _NARROW_PX = 860, 330
_LABEL_PX = 14.0
"""Between the names of two carriers that stand upright side by side."""
USES = ("body pack", "boom", "plant", "monitor", "talkback")
PRODUCTS_FLOOR_DB = -40.0


@dataclass(frozen=True)
class Stretch:
    """A part of the spectrum: a television channel, or what others use."""

    low_mhz: float
    high_mhz: float
    name: str = ""


@dataclass(frozen=True)
class CarrierMark:
    """One carrier and the width that it occupies; ``broken`` when it does not keep what is asked."""

    name: str
    mhz: float
    use: str = "body pack"
    width_mhz: float = 0.2
    broken: bool = False


@dataclass(frozen=True)
class Level:
    """One point of a scan."""

    mhz: float
    dbm: float


@dataclass(frozen=True)
class Weighed:
    """Products that fall within one stretch, by their strength together: dB under the strongest stretch.

    ``of`` is how many transmitters make the strongest of them: two or three.
    """

    low_mhz: float
    high_mhz: float
    db: float
    of: int


def spectrum(
    label: str,
    carriers: Sequence[CarrierMark],
    *,
    television: Sequence[Stretch] = (),
    excluded: Sequence[Stretch] = (),
    scan: Sequence[Level] = (),
    threshold_dbm: float | None = None,
    products: Sequence[Weighed] = (),
    range_mhz: tuple[float, float] | None = None,
    narrow: bool = False,
) -> Chart:
    """The spectrum: carriers over what was measured and what is in use by others, and products under it.

    Parameters
    ----------
    label
        what the plan is called
    television
        channels of the raster, in use or not; ``excluded`` is what is in use
    scan
        points from low to high; more than some two thousand only make the picture slow
    range_mhz
        what is shown; all carriers and what is excluded around them when None
    narrow
        for a phone: carriers without their names
    """
    low, high = range_mhz or _range(carriers, scan, excluded)
    wide = _NARROW_PX if narrow else _WIDE_PX
    across = {"type": "quantitative", "scale": {"domain": [low, high], "nice": False, "zero": False}}
    air = _air(carriers, television, excluded, scan, threshold_dbm, across, (low, high), wide)
    parts = [] if narrow else [_names(carriers, across, (low, high), wide)]
    parts.append(air)
    if products:
        parts.append(_products(products, across, (low, high), wide))
    bottom = parts[-1]["layer"][0]["encoding"]["x"]
    bottom["axis"] = {"title": "MHz", "grid": False, "format": ".6~g", "tickCount": 5 if narrow else 12}
    return Chart({"vconcat": parts, "spacing": 0}, _spectrum_alt(label, carriers, excluded, scan, threshold_dbm))


def _range(carriers: Sequence[CarrierMark], scan: Sequence[Level], excluded: Sequence[Stretch]) -> tuple[float, float]:
    ends = [each.mhz for each in carriers] or [each.mhz for each in scan] or [each.low_mhz for each in excluded]
    if not ends:
        return 470.0, 694.0
    room = max((max(ends) - min(ends)) * 0.03, 1.0)
    return min(ends) - room, max(ends) + room


def _inside(stretches: Iterable[Stretch], shown: tuple[float, float]) -> list[dict[str, Any]]:
    low, high = shown
    return [
        {
            "from": max(each.low_mhz, low),
            "to": min(each.high_mhz, high),
            "middle": (max(each.low_mhz, low) + min(each.high_mhz, high)) / 2,
            "name": each.name,
        }
        for each in stretches
        if each.high_mhz > low and each.low_mhz < high
    ]


def _names(
    carriers: Sequence[CarrierMark], across: dict[str, Any], shown: tuple[float, float], wide: int
) -> dict[str, Any]:
    """Upright names over the carriers, moved apart where carriers are close, each with a line to its own."""
    low, high = shown
    marks = sorted((each for each in carriers if low <= each.mhz <= high), key=lambda each: each.mhz)
    most = int(wide / _LABEL_PX)
    told = marks if len(marks) <= most else []
    step = _LABEL_PX / wide * (high - low)
    places = _apart([each.mhz for each in told], step, low + step / 2, high - step / 2)
    rows = [
        {"mhz": each.mhz, "place": place, "name": each.name[:22], "use": each.use}
        for each, place in zip(told, places, strict=True)
    ]
    tall = 16 + max((len(str(row["name"])) for row in rows), default=0) * 7.2
    y = {"type": "quantitative", "scale": {"domain": [0, tall], "nice": False}, "axis": None}
    return {
        "width": wide,
        "height": tall if rows else 8,
        "data": {"values": rows},
        "layer": [
            {
                "mark": {"type": "rule", "strokeWidth": 1, "opacity": 0.7},
                "encoding": {
                    "x": {**across, "field": "place", "axis": None},
                    "x2": {"field": "mhz"},
                    "y": {**y, "datum": 14},
                    "y2": {"datum": 0},
                    "color": _by_use(),
                },
            },
            {
                "mark": {"type": "text", "angle": 270, "align": "left", "baseline": "middle", "style": "told-small"},
                "encoding": {
                    "x": {**across, "field": "place", "axis": None},
                    "y": {**y, "datum": 17},
                    "text": {"field": "name"},
                    "color": _by_use(),
                },
            },
        ],
    }


def _apart(wanted: Sequence[float], step: float, low: float, high: float) -> list[float]:
    """Places as near to the wanted ones as can be, in their order and ``step`` apart."""
    # Groups that touch are centred on what their members want.
    groups: list[list[float]] = []  # [sum of (wanted - own offset), count, start]
    for each in wanted:
        groups.append([each, 1, each])
        while True:
            total, count, _ = groups[-1]
            start = min(max(total / count, low), max(low, high - (count - 1) * step))
            groups[-1][2] = start
            if len(groups) < 2 or groups[-2][2] + groups[-2][1] * step <= start:
                break
            total_before, count_before, _ = groups[-2]
            groups[-2:] = [[total_before + total - count * count_before * step, count_before + count, 0.0]]
    return [start + n * step for _, count, start in groups for n in range(int(count))]


def _by_use() -> dict[str, Any]:
    return {"field": "use", "type": "nominal", "scale": {"domain": list(USES)}, "legend": None}


def _air(
    carriers: Sequence[CarrierMark],
    television: Sequence[Stretch],
    excluded: Sequence[Stretch],
    scan: Sequence[Level],
    threshold_dbm: float | None,
    across: dict[str, Any],
    shown: tuple[float, float],
    wide: int,
) -> dict[str, Any]:
    low, high = shown
    floor, top = _levels(scan, threshold_dbm)
    y = {"type": "quantitative", "scale": {"domain": [floor, top], "nice": False, "zero": False}}
    axis = {"title": "dBm", "grid": False, "tickCount": 5} if scan else None
    blocks = [{**row, "bottom": floor, "top": top} for row in _inside(excluded, shown)]
    span_px = wide / (high - low)
    raster = [
        {**row, "bottom": floor, "top": top}
        for row in _inside(television, shown)
        if (row["to"] - row["from"]) * span_px >= 14
    ]
    marks = [
        {
            "from": each.mhz - each.width_mhz / 2,
            "to": each.mhz + each.width_mhz / 2,
            "mhz": each.mhz,
            "use": each.use,
            "name": each.name,
            "bottom": floor,
            "top": top,
        }
        for each in carriers
        if low <= each.mhz <= high
    ]
    layers: list[dict[str, Any]] = [
        {
            "data": {"values": blocks},
            "mark": {"type": "rect", "style": "ground"},
            "encoding": {
                "x": {**across, "field": "from", "axis": None},
                "x2": {"field": "to"},
                "y": {**y, "field": "bottom", "axis": axis},
                "y2": {"field": "top"},
            },
        },
        {
            "data": {"values": raster},
            "mark": {"type": "text", "baseline": "bottom", "dy": -3, "style": "told-soft", "fontSize": 12},
            "encoding": {
                "x": {**across, "field": "middle", "axis": None},
                "y": {**y, "field": "bottom", "axis": axis},
                "text": {"field": "name"},
            },
        },
        {
            "data": {"values": [{"mhz": row["from"], "bottom": floor, "top": top} for row in raster]},
            "mark": {"type": "rule", "style": "soft", "strokeWidth": 0.5, "strokeDash": [2, 3]},
            "encoding": {
                "x": {**across, "field": "mhz", "axis": None},
                "y": {**y, "field": "bottom", "axis": axis},
                "y2": {"field": "top"},
            },
        },
    ]
    if scan:
        points = [{"mhz": each.mhz, "dbm": max(each.dbm, floor)} for each in scan if low <= each.mhz <= high]
        layers.append(
            {
                "data": {"values": points},
                "mark": {
                    "type": "line",
                    "style": "soft",
                    "strokeWidth": 1 if wide == _WIDE_PX else 0.6,
                    "interpolate": "step",
                },
                "encoding": {
                    "x": {**across, "field": "mhz", "axis": None},
                    "y": {**y, "field": "dbm", "axis": axis},
                },
            }
        )
    if scan and threshold_dbm is not None:
        layers.append(
            {
                "data": {"values": [{"dbm": threshold_dbm}]},
                "mark": {"type": "rule", "style": "ink", "strokeDash": [6, 4], "strokeWidth": 1},
                "encoding": {"y": {**y, "field": "dbm", "axis": axis}},
            }
        )
    layers += [
        {
            "data": {"values": marks},
            "mark": {"type": "rect", "opacity": 0.35},
            "encoding": {
                "x": {**across, "field": "from", "axis": None},
                "x2": {"field": "to"},
                "y": {**y, "field": "bottom", "axis": axis},
                "y2": {"field": "top"},
                "color": _by_use(),
            },
        },
        {
            "data": {"values": marks},
            "mark": {"type": "rule", "strokeWidth": 1.5},
            "encoding": {
                "x": {**across, "field": "mhz", "axis": None},
                "y": {**y, "field": "bottom", "axis": axis},
                "y2": {"field": "top"},
                "color": _by_use(),
            },
        },
        {
            "data": {"values": [row for row, each in zip(marks, _shown(carriers, shown), strict=True) if each.broken]},
            "mark": {
                "type": "point",
                "shape": "square",
                "filled": True,
                "size": 80,
                "opacity": 1,
                "style": "ink-filled",
            },
            "encoding": {"x": {**across, "field": "mhz", "axis": None}, "y": {**y, "field": "top", "axis": axis}},
        },
    ]
    return {"width": wide, "height": 190, "layer": layers}


def _shown(carriers: Sequence[CarrierMark], shown: tuple[float, float]) -> list[CarrierMark]:
    return [each for each in carriers if shown[0] <= each.mhz <= shown[1]]


def _levels(scan: Sequence[Level], threshold_dbm: float | None) -> tuple[float, float]:
    """The lowest and highest level drawn, on tens."""
    levels = sorted(each.dbm for each in scan)
    if not levels:
        return -120.0, -20.0
    floor = levels[len(levels) // 50] // 10 * 10 - 10
    highest = max(levels[-1], threshold_dbm if threshold_dbm is not None else levels[-1])
    return floor, max(highest // 10 * 10 + 10, floor + 40)


def _products(
    products: Sequence[Weighed], across: dict[str, Any], shown: tuple[float, float], wide: int
) -> dict[str, Any]:
    low, high = shown
    rows = [
        {
            "from": max(each.low_mhz, low),
            "to": min(each.high_mhz, high),
            "db": max(each.db, PRODUCTS_FLOOR_DB),
            "floor": PRODUCTS_FLOOR_DB,
            "of": "three" if each.of > 2 else "two",
        }
        for each in products
        if each.high_mhz > low and each.low_mhz < high and each.db > PRODUCTS_FLOOR_DB
    ]
    y = {
        "type": "quantitative",
        "scale": {"domain": [PRODUCTS_FLOOR_DB, 12], "nice": False, "zero": False},
        "axis": {"title": "products, dB", "grid": False, "values": [-40, -20, 0]},
    }
    colour = {"field": "of", "type": "nominal", "scale": {"domain": ["three", "-", "--", "---", "two"]}, "legend": None}
    key = [
        {"of": "three", "told": "strongest of three transmitters"},
        {"of": "two", "told": "of two"},
    ]
    layers: list[dict[str, Any]] = [
        {
            "data": {"values": rows},
            "mark": {"type": "rect", "stroke": None, "opacity": 0.9},
            "encoding": {
                "x": {**across, "field": "from", "axis": None},
                "x2": {"field": "to"},
                "y": {**y, "field": "db"},
                "y2": {"field": "floor"},
                "color": colour,
            },
        }
    ]
    for at, row in enumerate(key):
        for mark in (
            {"type": "point", "shape": "square", "filled": True, "opacity": 1, "size": 60, "x": 10 + 210 * at, "y": 9},
            {"type": "text", "align": "left", "baseline": "middle", "x": 19 + 210 * at, "y": 9, "style": "told-small"},
        ):
            told = {"text": {"field": "told"}} if mark["type"] == "text" else {}
            layers.append({"data": {"values": [row]}, "mark": mark, "encoding": {**told, "color": colour}})
    return {"width": wide, "height": 100, "layer": layers}


def _spectrum_alt(
    label: str,
    carriers: Sequence[CarrierMark],
    excluded: Sequence[Stretch],
    scan: Sequence[Level],
    threshold_dbm: float | None,
) -> str:
    if not carriers:
        told = "no carrier yet"
    else:
        ends = sorted(each.mhz for each in carriers)
        told = f"{len(carriers)} carriers from {ends[0]:.3f} to {ends[-1]:.3f} MHz"
    broken = [each.name for each in carriers if each.broken]
    parts = [f"Spectrum of {label}: {told}, {len(excluded)} stretches in use by others."]
    if broken:
        parts.append(f"Not kept: {', '.join(broken)}.")
    if scan and threshold_dbm is not None:
        over = sum(each.dbm > threshold_dbm for each in scan)
        parts.append(f"{over} of {len(scan)} points of the scan lie above {threshold_dbm:.0f} dBm.".replace("-", "−"))
    return " ".join(parts)
