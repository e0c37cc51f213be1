"""Where the plan's region lists spectrum for a use, and which television channel lies where."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from rollsound.radio.model import Band, RadioPart, Region, Use


def region_of(radio: RadioPart) -> Region | None:
    """The region that the plan names; None when it names none, or one that is not there."""
    return next((region for region in radio.regions if region.id == radio.region), None)


Stretch = tuple[int, int]


@dataclass(frozen=True)
class Legal:
    """What a region lists within a tuning range for one use."""

    stretches: tuple[Stretch, ...]
    """Low to high, those that touch as one."""
    listed: tuple[Stretch, ...]
    """What it lists for this use anywhere."""


def legal(radio: RadioPart, use: Use, power_mw: float | None, width_hz: float, tuning: Stretch) -> Legal | None:
    """What the plan's region lists for a use; None without a region.

    Bands that allow too little power or width count only where no band of the tuning range allows as much: power can be
    turned down, and the proofs tell.
    """
    region = region_of(radio)
    if region is None:
        return None
    for_use = [band for band in region.bands if not band.uses or use in band.uses]
    allowed = [band for band in for_use if band.licence != "not allowed"]
    closed = _joined(band for band in for_use if band.licence == "not allowed")
    enough = [
        band
        for band in allowed
        if (power_mw is None or band.power_mw >= power_mw) and (band.width_hz is None or band.width_hz >= width_hz)
    ]
    inside = _within(_without(_joined(enough), closed), tuning) or _within(_without(_joined(allowed), closed), tuning)
    return Legal(tuple(inside), tuple(_without(_joined(allowed), closed)))


def _joined(bands: Iterable[Band]) -> list[Stretch]:
    merged: list[Stretch] = []
    for low, high in sorted((round(band.range_hz.low), round(band.range_hz.high)) for band in bands):
        if merged and low <= merged[-1][1]:
            merged[-1] = (merged[-1][0], max(high, merged[-1][1]))
        else:
            merged.append((low, high))
    return merged


def _without(stretches: Iterable[Stretch], closed: Iterable[Stretch]) -> list[Stretch]:
    left = list(stretches)
    for begin, end in closed:
        left = [
            part for low, high in left for part in ((low, min(high, begin)), (max(low, end), high)) if part[0] < part[1]
        ]
    return left


def _within(stretches: Iterable[Stretch], tuning: Stretch) -> list[Stretch]:
    cut = [(max(low, tuning[0]), min(high, tuning[1])) for low, high in stretches]
    return [part for part in cut if part[0] < part[1]]


def television_range(radio: RadioPart, channel: int) -> tuple[int, int] | str:
    """The edges of a television channel of the region's raster; a sentence when there is none."""
    return f"names television channel {channel}, and no television raster is known; write its range in MHz"
