"""Where the plan's region lists spectrum for a use, and which television channel lies where."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from rollsound.errors import InputError
from rollsound.radio.kinds import TransmitterResolved
from rollsound.radio.model import Band, RadioPart, Region, Use
from rollsound.radio.regions import bands_for, regions
from rollsound.radio.television import raster
from rollsound.radio.units import dbm_of_mw, in_unit_dbm


def region_of(radio: RadioPart) -> Region | None:
    """The region that the plan names, its own before those of the tables; None when there is none of this name."""
    return regions(radio).get(radio.region) if radio.region else None


Stretch = tuple[int, int]


@dataclass(frozen=True)
class Legal:
    """What a region lists within a tuning range for one use."""

    stretches: tuple[Stretch, ...]
    """Low to high, those that touch as one."""
    listed: tuple[Stretch, ...]
    """What it lists for this use anywhere."""


def legal(radio: RadioPart, use: Use, made: TransmitterResolved, tuning: Stretch) -> Legal | None:
    """What the plan's region lists for a transmitter of a use; None without a region.

    Bands that allow too little power or width count only where no band of the tuning range allows as much: power can be
    turned down, and the proofs tell.
    """
    region = region_of(radio)
    if region is None:
        return None
    for_use = bands_for(region, use)
    allowed = [band for band in for_use if band.licence != "not allowed"]
    closed = _joined(band for band in for_use if band.licence == "not allowed")
    enough = [band for band in allowed if _allows(band, made)]
    inside = _within(_without(_joined(enough), closed), tuning) or _within(_without(_joined(allowed), closed), tuning)
    return Legal(tuple(inside), tuple(_without(_joined(allowed), closed)))


def _allows(band: Band, made: TransmitterResolved) -> bool:
    if band.width_hz is not None and band.width_hz < made.width_hz:
        return False
    if made.power_mw <= 0 or band.power_mw <= 0:
        return made.power_mw <= 0
    return (
        in_unit_dbm(dbm_of_mw(made.power_mw), "conducted", band.unit, made.gain_dbi) <= dbm_of_mw(band.power_mw) + 0.01
    )


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
    region = region_of(radio)
    if region is None or not region.television:
        return f"names television channel {channel}, and no region with a raster is named; write its range in MHz"
    try:
        return raster(region.television).channel_range(channel)
    except InputError as error:
        return f"cannot be: {error.sentence}"
