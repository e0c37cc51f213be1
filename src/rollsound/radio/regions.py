"""What a region lets be used, by use and power: read from ``facts/radio_regions.toml`` and from the show's own rows.

A band listed is never permission: check your licence and local rules.
"""

from __future__ import annotations

import functools
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from rollsound.facts.rows import notes_of, read_rows, row_of, with_own
from rollsound.radio.model import Band, RadioPart, Region, Unit, Use
from rollsound.radio.units import dbm_of_mw, in_unit_dbm, mw_of_dbm

CAUTION = "check your licence and local rules"
_MISSING_HZ = 0.5
_MISSING_DB = 0.01
"""Powers are written in round figures: 16.4 mW for 10 mW e.r.p."""


class Verdict(StrEnum):
    """What the tables say of a signal. ``LISTED`` is no permission."""

    LISTED = "listed"
    TOO_STRONG = "too strong"
    TOO_WIDE = "too wide"
    NOT_LISTED = "not listed"
    NOT_ALLOWED = "not allowed"


@dataclass(frozen=True)
class Said:
    """One thing that a region says of a signal."""

    verdict: Verdict
    sentence: str
    band: Band | None = None
    limit_mw: float | None = None
    """In the band's unit."""


@functools.cache
def _table() -> dict[str, Region]:
    return read_rows("radio_regions", "region", Region)


def regions(radio: RadioPart | None = None) -> dict[str, Region]:
    """All regions by id; a region written in the show goes before one of the tables with its id, whole."""
    return with_own(_table(), radio.regions if radio else ())


def region(radio: RadioPart) -> Region | None:
    """The region of a plan; None when it names none.

    Raises
    ------
    InputError
        when it names one that is not there
    """
    return row_of(regions(radio), radio.region, "region") if radio.region else None


def notes() -> tuple[str, ...]:
    """Where sources are at odds, and what nobody has verified: to be told wherever the tables are used."""
    return notes_of("radio_regions")


def bands_for(region: Region, use: Use) -> tuple[Band, ...]:
    """The bands that hold for a use, low to high; those that forbid are among them."""
    return tuple(
        sorted(
            (b for b in region.bands if not b.uses or use in b.uses), key=lambda b: (b.range_hz.low, b.range_hz.high)
        )
    )


def verdict(
    region: Region,
    low_hz: float,
    high_hz: float,
    power_mw: float | None = None,
    unit: Unit = "e.i.r.p.",
    use: Use = "body pack",
    gain_dbi: float = 0.0,
) -> list[Said]:
    """What a region says of a signal from ``low_hz`` to ``high_hz``: one ``LISTED`` when there is nothing against it.

    Parameters
    ----------
    low_hz, high_hz
        the signal's own edges: carrier ± half its width
    power_mw, unit
        what it sends with, and how that is counted; no power is looked at when None
    gain_dbi
        of the transmitter's antenna, between conducted and radiated power
    """
    bands = bands_for(region, use)
    where = f"{_mhz(low_hz)} to {_mhz(high_hz)} MHz"
    refused = [b for b in bands if b.licence == "not allowed" and b.range_hz.low < high_hz and b.range_hz.high > low_hz]
    allowed = [b for b in bands if b.licence != "not allowed"]
    said = [
        Said(
            Verdict.NOT_ALLOWED,
            f"{where} reaches into {_range(b)}, which {region.name} does not let microphones use"
            f"{'. ' + b.note.rstrip('.') if b.note else ''}; choose another frequency.",
            b,
        )
        for b in refused
    ]
    within = _covering(allowed, low_hz, high_hz)
    if within is None:
        if not said:
            near = _nearest(allowed, (low_hz + high_hz) / 2)
            hint = f"; the nearest listed is {_range(near)}" if near is not None else ""
            said.append(
                Said(Verdict.NOT_LISTED, f"{where} is not listed whole for a {use} in {region.name}{hint}; {CAUTION}.")
            )
        return said
    for band in within:
        said += _too_much(band, high_hz - low_hz, power_mw, unit, gain_dbi)
    if not said:
        weakest = min(within, key=lambda b: b.power_mw)
        known = "" if weakest.status in ("opened", "own") else f" (this figure is {weakest.status})"
        said.append(
            Said(
                Verdict.LISTED,
                f"{where} is listed for a {use} in {region.name}, up to {weakest.power_mw:g} mW {weakest.unit}{known}; "
                f"a listing is no permission: {CAUTION}.",
                weakest,
                weakest.power_mw,
            )
        )
    return said


def _covering(bands: Sequence[Band], low_hz: float, high_hz: float) -> list[Band] | None:
    """The strongest bands that cover a signal whole, from its lower edge on; None when something stays uncovered."""
    chosen: list[Band] = []
    at = low_hz
    while at < high_hz - _MISSING_HZ or not chosen:
        here = [b for b in bands if b.range_hz.low <= at + _MISSING_HZ and b.range_hz.high > at + _MISSING_HZ]
        if not here:
            return None
        best = max(here, key=lambda b: (b.range_hz.high >= high_hz - _MISSING_HZ, b.power_mw, b.range_hz.high))
        chosen.append(best)
        at = best.range_hz.high
    return chosen


def _too_much(band: Band, width_hz: float, power_mw: float | None, unit: Unit, gain_dbi: float) -> list[Said]:
    said = []
    if power_mw is not None and power_mw > 0:
        sends = in_unit_dbm(dbm_of_mw(power_mw), unit, band.unit, gain_dbi)
        if sends > _limit_dbm(band) + _MISSING_DB:
            most = mw_of_dbm(in_unit_dbm(_limit_dbm(band), band.unit, unit, gain_dbi))
            said.append(
                Said(
                    Verdict.TOO_STRONG,
                    f"{power_mw:g} mW {unit} is more than the {band.power_mw:g} mW {band.unit} listed for "
                    f"{_range(band)}; go down to {most:.3g} mW {unit} or less, and {CAUTION}.",
                    band,
                    band.power_mw,
                )
            )
    if band.width_hz is not None and width_hz > band.width_hz + _MISSING_HZ:
        said.append(
            Said(
                Verdict.TOO_WIDE,
                f"A signal {width_hz / 1e3:g} kHz wide is more than the {band.width_hz / 1e3:g} kHz listed for "
                f"{_range(band)}; {CAUTION}.",
                band,
            )
        )
    return said


def _limit_dbm(band: Band) -> float:
    return dbm_of_mw(band.power_mw) if band.power_mw > 0 else -300.0


def _nearest(bands: Sequence[Band], freq_hz: float) -> Band | None:
    return min(bands, key=lambda b: max(b.range_hz.low - freq_hz, freq_hz - b.range_hz.high), default=None)


def _range(band: Band) -> str:
    return f"{_mhz(band.range_hz.low)} to {_mhz(band.range_hz.high)} MHz"


def _mhz(freq_hz: float) -> str:
    return f"{freq_hz / 1e6:.4f}".rstrip("0").rstrip(".")
