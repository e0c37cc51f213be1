"""Where the plan's region lists spectrum for a use, and which television channel lies where."""

from __future__ import annotations

from rollsound.radio.model import RadioPart, Region, Use


def region_of(radio: RadioPart) -> Region | None:
    """The region that the plan names; None when it names none, or one that is not there."""
    return next((region for region in radio.regions if region.id == radio.region), None)


def legal_stretches(
    radio: RadioPart, use: Use, power_mw: float | None, width_hz: float
) -> list[tuple[int, int]] | None:
    """What is listed for a use, low to high; None without a region.

    Bands that allow less power count only where no band allows as much: the power can be turned down.
    """
    region = region_of(radio)
    if region is None:
        return None
    for_use = [b for b in region.bands if (not b.uses or use in b.uses) and b.licence != "not allowed"]
    for_use = [b for b in for_use if b.width_hz is None or b.width_hz >= width_hz] or for_use
    strong = [b for b in for_use if power_mw is None or b.power_mw >= power_mw]
    merged: list[tuple[int, int]] = []
    for low, high in sorted((round(b.range_hz.low), round(b.range_hz.high)) for b in strong or for_use):
        if merged and low <= merged[-1][1]:
            merged[-1] = (merged[-1][0], max(high, merged[-1][1]))
        else:
            merged.append((low, high))
    return merged


def television_range(radio: RadioPart, channel: int) -> tuple[int, int] | str:
    """The edges of a television channel of the region's raster; a sentence when there is none."""
    return f"names television channel {channel}, and no television raster is known; write its range in MHz"
