"""What the cold leaves of a battery: a table by chemistry that the show may replace, and a curve for lead-acid."""

from __future__ import annotations

import functools
import math
from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise

from rollsound.errors import InputError
from rollsound.facts import table
from rollsound.facts.rows import notes_of, read_rows, row_of, with_own
from rollsound.power.model import Battery, Cold, PowerPart


@dataclass(frozen=True)
class ColdShare:
    """What is left at a temperature, and how much that figure can be trusted."""

    share: float
    temperature_c: float
    source: str
    status: str
    beyond: bool
    """Colder or warmer than any row: the nearest row is used."""


@functools.cache
def _table() -> dict[str, Cold]:
    return read_rows("power_cold", "cold", Cold)


def cold_rows(power: PowerPart | None = None) -> dict[str, Cold]:
    """All rows by chemistry; one of the show goes before the table's."""
    return with_own(_table(), power.cold if power else ())


def cold_share(
    chemistry: str, temperature_c: float, power: PowerPart | None = None, own: Mapping[str, float] | None = None
) -> ColdShare:
    """Share of its content that a battery gives at a temperature.

    Parameters
    ----------
    own
        shares by temperature of the battery's own data sheet; before the table's when there are any

    Raises
    ------
    InputError
        when the chemistry has no row, or a temperature in it is no number
    """
    row = row_of(cold_rows(power), chemistry, "chemistry with a row of shares in the cold")
    shares = points_of(own or row.share)
    if temperature_c <= shares[0][0]:
        share = shares[0][1]
    elif temperature_c >= shares[-1][0]:
        share = shares[-1][1]
    else:
        share = next(
            low + (high - low) * (temperature_c - low_c) / (high_c - low_c)
            for (low_c, low), (high_c, high) in pairwise(shares)
            if low_c <= temperature_c <= high_c
        )
    source, status = ("its own data sheet, as written in the plan", "own") if own else (row.source, row.status)
    beyond = temperature_c < shares[0][0] or (temperature_c > shares[-1][0] and shares[-1][0] < 20)
    return ColdShare(share, temperature_c, source or "the plan", status, beyond)


def share_of(battery: Battery, temperature_c: float, power: PowerPart | None = None) -> ColdShare:
    """Share of a battery of the plan at a temperature."""
    return cold_share(battery.chemistry, temperature_c, power, battery.cold_factor or None)


def points_of(shares: Mapping[str, float]) -> list[tuple[float, float]]:
    """Temperature and share, coldest first.

    Raises
    ------
    InputError
        when a temperature is no number, or a share is not above 0 and at most 1.2
    """
    found = []
    for written, share in shares.items():
        try:
            degrees = float(written.replace("−", "-").replace("°C", "").strip())
            if not math.isfinite(degrees):
                raise ValueError(written)
        except ValueError:
            raise InputError(
                f"has a share in the cold at '{written[:40]}', which is no temperature; write for example '-10': 0.7"
            ) from None
        if not 0 < share <= 1.2:
            raise InputError(f"has a share in the cold of {share:g}; write more than 0 and at most 1.2")
        found.append((degrees, float(share)))
    if not found:
        raise InputError("has no share in the cold; write for example '-10': 0.7")
    return sorted(found)


def lead_acid_multiplier(temperature_c: float) -> float:
    """How much larger a lead-acid battery must be at a temperature; its capacity is one over this.

    Source: vendor's curve through IEEE Std 485 table 1, from -3.9 to 51.7 °C.
    """
    a, b, c, d = table("power_cold")["lead_acid_curve"]
    x = temperature_c / 100
    return float(a * x**3 + b * x**2 + c * x + d)


def notes() -> tuple[str, ...]:
    """Where sources are at odds, and what nobody here has verified."""
    return notes_of("power_cold")
