"""A place as a picture: its octaves against the NC curves, and how its decays fall.

Curves and lines are told by words at their ends, never by colour alone.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from rollsound.report.charts import Chart

_WIDE_PX, _NARROW_PX = 620, 320
_HEIGHT_PX = 300
_DOWN_DB = 60.0


@dataclass(frozen=True)
class NoiseBar:
    """The level in one octave; not a number where it was not reached."""

    octave: str
    level_db: float


@dataclass(frozen=True)
class DecayCurve:
    """A decay in one octave: levels from 0 dB down, ``step_s`` apart; ``time_s`` is what holds of it."""

    octave: str
    levels_db: tuple[float, ...]
    step_s: float
    time_s: float
    holds: str


def place_chart(
    label: str,
    noise: Sequence[NoiseBar],
    decays: Sequence[DecayCurve],
    *,
    curves: Mapping[int, Sequence[float]] | None = None,
    calibrated: bool = True,
    nc: str = "",
    narrow: bool = False,
) -> Chart:
    """Both pictures under one another, or the one there is something for.

    Parameters
    ----------
    curves
        levels of the NC curves to draw behind the octaves, by their number
    calibrated
        whether levels are sound pressure; without, no curves are drawn
    """
    parts, alts = [], []
    if noise:
        parts.append(_noise(noise, curves or {} if calibrated else {}, calibrated, narrow))
        alts.append(_noise_alt(label, noise, calibrated, nc))
    if decays:
        parts.append(_decays(decays, narrow))
        alts.append(_decays_alt(label, decays))
    return Chart({"vconcat": parts, "spacing": 24}, " ".join(alts))


def _noise(
    noise: Sequence[NoiseBar], curves: Mapping[int, Sequence[float]], calibrated: bool, narrow: bool
) -> dict[str, Any]:
    known = [bar for bar in noise if math.isfinite(bar.level_db)]
    names = [bar.octave for bar in noise]
    low = min(bar.level_db for bar in known)
    high = max(bar.level_db for bar in known)
    near = {
        number: levels for number, levels in curves.items() if any(low - 12 <= level <= high + 12 for level in levels)
    }
    shown = [bar.level_db for bar in known] + [level for levels in near.values() for level in levels]
    domain = [5 * math.floor(min(shown) / 5) - 5, 5 * math.ceil(max(shown) / 5) + 5]
    unit = "dB SPL" if calibrated else "dB against full scale"
    x = {
        "field": "octave",
        "type": "ordinal",
        "sort": names,
        "scale": {"domain": names},
        "axis": {"title": "octave", "labelAngle": -90 if narrow else 0, "grid": False},
    }
    y = {"type": "quantitative", "scale": {"domain": domain, "nice": False}}
    axis = {"title": unit, "grid": True, "tickCount": 6}
    lines = [
        {"octave": name, "level": level, "curve": f"NC-{number}"}
        for number, levels in near.items()
        for name, level in zip(names, levels, strict=True)
    ]
    ends = [row for row in lines if row["octave"] == names[-1]]
    rows = [{"octave": bar.octave, "level": round(bar.level_db, 1), "told": f"{bar.level_db:.0f}"} for bar in known]
    layers: list[dict[str, Any]] = [
        {
            "data": {"values": lines},
            "mark": {"type": "line", "style": "soft", "strokeWidth": 1},
            "encoding": {"x": x, "y": {**y, "field": "level", "axis": axis}, "detail": {"field": "curve"}},
        },
        {
            "data": {"values": ends},
            "mark": {"type": "text", "align": "left", "dx": 8, "baseline": "middle", "style": "told-small"},
            "encoding": {"x": x, "y": {**y, "field": "level"}, "text": {"field": "curve"}},
        },
        {
            "data": {"values": rows},
            "mark": {"type": "line", "style": "ink", "strokeWidth": 2},
            "encoding": {"x": x, "y": {**y, "field": "level", "axis": axis}},
        },
        {
            "data": {"values": rows},
            "mark": {"type": "point", "style": "ink-filled", "size": 70, "filled": True, "opacity": 1},
            "encoding": {"x": x, "y": {**y, "field": "level", "axis": axis}},
        },
        {
            "data": {"values": rows},
            "mark": {"type": "text", "dy": -12, "style": "halo"},
            "encoding": {"x": x, "y": {**y, "field": "level"}, "text": {"field": "told"}},
        },
        {
            "data": {"values": rows},
            "mark": {"type": "text", "dy": -12, "style": "told-small"},
            "encoding": {"x": x, "y": {**y, "field": "level"}, "text": {"field": "told"}},
        },
    ]
    return {"width": _NARROW_PX if narrow else _WIDE_PX, "height": _HEIGHT_PX, "layer": layers}


def _decays(decays: Sequence[DecayCurve], narrow: bool) -> dict[str, Any]:
    rows: list[dict[str, Any]] = []
    ends: list[dict[str, Any]] = []
    for at, curve in enumerate(decays):
        kept = [(n * curve.step_s, level) for n, level in enumerate(curve.levels_db) if level >= -_DOWN_DB]
        rows += [{"octave": curve.octave, "time": round(t, 3), "level": round(level, 2)} for t, level in kept]
        if kept:
            # names stand on steps of the fall, so that they do not lie on one another
            wanted = -12.0 - 42.0 * at / max(1, len(decays) - 1)
            place = next((each for each in kept if each[1] <= wanted), kept[-1])
            ends.append({"time": place[0], "level": place[1], "told": _told(curve)})
    longest = max((row["time"] for row in rows), default=1.0)
    x = {
        "field": "time",
        "type": "quantitative",
        "scale": {"domain": [0, longest * 1.15], "nice": False},
        "axis": {"title": "s", "grid": False, "tickCount": 6},
    }
    y = {
        "field": "level",
        "type": "quantitative",
        "scale": {"domain": [-_DOWN_DB, 0], "nice": False},
        "axis": {"title": "decay, dB", "grid": True, "tickCount": 6},
    }
    layers: list[dict[str, Any]] = [
        {
            "data": {"values": rows},
            "mark": {"type": "line", "style": "ink", "strokeWidth": 1.4},
            "encoding": {"x": x, "y": y, "detail": {"field": "octave"}},
        },
        {
            "data": {"values": ends},
            "mark": {"type": "text", "align": "left", "dx": 5, "baseline": "bottom", "style": "halo"},
            "encoding": {"x": x, "y": y, "text": {"field": "told"}},
        },
        {
            "data": {"values": ends},
            "mark": {"type": "text", "align": "left", "dx": 5, "baseline": "bottom", "style": "told-small"},
            "encoding": {"x": x, "y": y, "text": {"field": "told"}},
        },
    ]
    return {"width": _NARROW_PX if narrow else _WIDE_PX, "height": _HEIGHT_PX, "layer": layers}


def _told(curve: DecayCurve) -> str:
    return f"{curve.octave}: {curve.time_s:.2f} s" if curve.holds else f"{curve.octave}: does not hold"


def _noise_alt(label: str, noise: Sequence[NoiseBar], calibrated: bool, nc: str) -> str:
    rows = ", ".join(f"{bar.octave} {bar.level_db:.0f}" for bar in noise if math.isfinite(bar.level_db))
    unit = "dB SPL" if calibrated else "dB, relative"
    return f"Noise of {label} by octaves in {unit}: {rows}.{f' Rated {nc}.' if nc else ''}"


def _decays_alt(label: str, decays: Sequence[DecayCurve]) -> str:
    rows = "; ".join(_told(curve) for curve in decays)
    return f"Decays of {label} by octaves: {rows}."
