"""Carriers as pictures: what is in the spectrum, gathered for the charts."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from rollsound.actions.radio_model import CarrierRow
from rollsound.actions.radio_read import Asked
from rollsound.report.radio_charts import CarrierMark, Level, Stretch, Weighed, spectrum
from rollsound.report.radio_margins_chart import MarginBar, margins

if TYPE_CHECKING:
    from rollsound.report.charts import Chart

MOST_SOURCES = 100
"""Products of more carriers than these fill every picture from edge to edge."""
_BINS = 430
_SCAN_POINTS = 1500
_USUAL_MW = 25.0
"""Of a transmitter whose power is not written."""
_THREE_DB = 6.02
"""How much stronger a product of three is than one of two of the same levels: its coefficient is 3/2, not 3/4."""


def spectrum_chart(asked: Asked, rows: Sequence[CarrierRow], *, narrow: bool = False) -> Chart:
    """The spectrum of a plan: television, what is in use, the scan, carriers, products by weight."""
    widths = {each.id: each.width_hz / 1e6 for each in asked.task.wanted}
    marks = [
        CarrierMark(
            row.wearer or row.name,
            row.mhz,
            row.use,
            widths.get(row.id, 0.2),
            broken=row.margin_khz is not None and row.margin_khz < 0,
        )
        for row in rows
        if row.mhz is not None
    ]
    shown = _shown(asked, marks)
    levels, threshold = _scan(asked)
    return spectrum(
        asked.name,
        marks,
        television=_television(asked, shown),
        excluded=[Stretch(each.low_hz / 1e6, each.high_hz / 1e6, each.why) for each in asked.task.occupied],
        scan=levels,
        threshold_dbm=threshold,
        products=weigh(rows, shown),
        range_mhz=shown,
        narrow=narrow,
    )


def margins_chart(name: str, rows: Sequence[CarrierRow], *, narrow: bool = False) -> Chart:
    """The margin of every carrier, and what sets it."""
    bars = [MarginBar(row.name, row.margin_khz, row.set_by) for row in rows if row.mhz is not None]
    return margins(name, bars, narrow=narrow)


def _shown(asked: Asked, marks: Sequence[CarrierMark]) -> tuple[float, float]:
    ends = [each.mhz for each in marks]
    if not ends:
        lows, highs = ([w.low_hz for w in asked.task.wanted], [w.high_hz for w in asked.task.wanted])
        return (min(lows) / 1e6, max(highs) / 1e6) if lows else (470.0, 694.0)
    room = max((max(ends) - min(ends)) * 0.02, 1.0)
    return min(ends) - room, max(ends) + room


def _television(asked: Asked, shown: tuple[float, float]) -> list[Stretch]:
    """The channels of the region's raster, where it has one."""
    from rollsound.radio.regions import region
    from rollsound.radio.television import raster

    where = region(asked.radio) if asked.radio.region else None
    if where is None or not where.television:
        return []
    channels = raster(where.television)
    low, high = shown
    return [
        Stretch(edges[0] / 1e6, edges[1] / 1e6, channels.channel_name(channel))
        for channel in channels.channels_touched(low * 1e6, high * 1e6)
        for edges in [channels.channel_range(channel)]
    ]


def _scan(asked: Asked) -> tuple[list[Level], float | None]:
    if not asked.scans:
        return [], None
    from rollsound.radio.scan import merge

    levels = merge(list(asked.scans.values())).thinned(_SCAN_POINTS)
    used = [each.threshold_dbm for each in asked.radio.scans if each.id in asked.scans]
    points = [
        Level(int(freq) / 1e6, round(float(dbm), 1)) for freq, dbm in zip(levels.freq_hz, levels.level_dbm, strict=True)
    ]
    return points, float(min(used, default=-90.0))


def weigh(rows: Sequence[CarrierRow], shown: tuple[float, float]) -> list[Weighed]:
    """Third-order products by stretch of the picture: their powers together, in dB under the strongest stretch.

    As if all stood equally far from one receiver: ``2·A − B`` weighs A²·B of their powers, ``A + B − C`` four times
    A·B·C. It ranks where products crowd; what a product would do at a receiver is told by the findings.

    Source: cubic term of two and three tones (coefficients 3/4 and 3/2).
    """
    low, high = shown
    bins = np.zeros((2, _BINS))
    for freqs, powers in _zones(rows).values():
        for at, (where, weight) in enumerate(_products(freqs, powers)):
            index = np.floor((where - low) / (high - low) * _BINS).astype(np.int64)
            inside = (index >= 0) & (index < _BINS)
            np.add.at(bins[at], index[inside], weight[inside])
    total = bins.sum(axis=0)
    if not total.max() > 0:
        return []
    edges = np.linspace(low, high, _BINS + 1)
    with np.errstate(divide="ignore"):
        db = 10 * np.log10(total / total.max())
    return [
        Weighed(round(float(edges[n]), 4), round(float(edges[n + 1]), 4), round(float(db[n]), 2), 3 if three else 2)
        for n, three in enumerate((bins[1] > bins[0]).tolist())
        if np.isfinite(db[n])
    ]


Floats = NDArray[np.float64]


def _zones(rows: Sequence[CarrierRow]) -> Mapping[str, tuple[Floats, Floats]]:
    zones: dict[str, list[tuple[float, float]]] = {}
    for row in rows:
        if row.mhz is not None:
            zones.setdefault(row.zone, []).append((row.mhz, row.power_mw or _USUAL_MW))
    return {
        zone: (np.array([f for f, _ in some[:MOST_SOURCES]]), np.array([p for _, p in some[:MOST_SOURCES]]))
        for zone, some in zones.items()
    }


def _products(freqs: Floats, powers: Floats) -> tuple[tuple[Floats, Floats], tuple[Floats, Floats]]:
    """Where products of two and of three fall, and their weights."""
    apart = ~np.eye(freqs.size, dtype=bool)
    two = (2 * freqs[:, None] - freqs[None, :])[apart], (powers[:, None] ** 2 * powers[None, :])[apart]
    first, second = np.triu_indices(freqs.size, 1)
    third = np.arange(freqs.size)[None, :]
    other = (third != first[:, None]) & (third != second[:, None])
    where = (freqs[first] + freqs[second])[:, None] - freqs[None, :]
    weight = (powers[first] * powers[second])[:, None] * powers[None, :] * 10 ** (_THREE_DB / 10)
    return two, (where[other], weight[other])
