"""Copper conductors: resistance by section or gauge and temperature, and rough limits of what they carry."""

from __future__ import annotations

import functools
from dataclasses import dataclass

from rollsound.errors import InputError
from rollsound.facts import table
from rollsound.facts.rows import notes_of
from rollsound.power.model import Wire

FEET_M = 0.3048
_COPPER_OHM_MM2_KM = 17.241


@dataclass(frozen=True)
class Conductor:
    """A size of wire."""

    name: str
    mm2: float
    ohm_km: float
    """At 20 °C."""
    carries_a: float | None
    """The smallest of the tables; none where no table has it."""


@functools.cache
def sections() -> dict[float, dict[str, float | list[float]]]:
    """Rows by section in mm²."""
    return {float(row["mm2"]): row for row in table("power_conductors")["section"]}


@functools.cache
def gauges() -> dict[int, dict[str, float]]:
    """Rows by gauge number."""
    return {int(row["number"]): row for row in table("power_conductors")["awg"]}


def of_section(mm2: float, *, kind: str = "flexible") -> Conductor:
    """Conductor of a standard section.

    Parameters
    ----------
    kind
        ``flexible``, ``tinned`` (both class 5 and 6) or ``stranded`` (class 1 and 2)

    Raises
    ------
    InputError
        when the standard has no such section or kind
    """
    row = next((row for size, row in sections().items() if abs(size - mm2) < 1e-9), None)
    ohm_km = row.get(kind) if row else None
    if row is None or not isinstance(ohm_km, int | float):
        known = ", ".join(f"{size:g}" for size, each in sections().items() if kind in each)
        raise InputError(f"{mm2:g} mm² is no standard section of {kind} wire; there are: {known} mm²")
    carried = row.get("carries_a")
    return Conductor(f"{mm2:g} mm²", mm2, float(ohm_km), float(min(carried)) if isinstance(carried, list) else None)


def of_gauge(number: int) -> Conductor:
    """Conductor of an American gauge: the published resistance, or the formula where the table has none.

    Source: ASTM B258 (d = 0.127 · 92^((36−n)/39) mm).
    """
    mm2 = gauge_mm2(number)
    row = gauges().get(number)
    ohm_km = row["ohm_1000ft"] / FEET_M if row else _COPPER_OHM_MM2_KM / mm2
    carried = row.get("carries_a") if row else None
    return Conductor(f"{number} AWG", mm2, ohm_km, float(carried) if carried is not None else None)


def gauge_diameter_mm(number: int) -> float:
    """Diameter of a solid conductor of a gauge."""
    return float(0.127 * 92 ** ((36 - number) / 39))


def gauge_mm2(number: int) -> float:
    """Section of a solid conductor of a gauge."""
    return 3.141592653589793 / 4 * gauge_diameter_mm(number) ** 2


def gauge_ohm_km(number: int) -> float:
    """Resistance of a solid conductor of a gauge at 20 °C, by the formula alone."""
    return _COPPER_OHM_MM2_KM / gauge_mm2(number)


def at_temperature(ohm_km: float, temperature_c: float) -> float:
    """Resistance at a conductor's temperature from that at 20 °C.

    Source: IEC 60228, R(t) = R20 (230 + t) / 250.
    """
    return ohm_km * (230 + temperature_c) / 250


def of_wire(wire: Wire) -> Conductor:
    """The conductor of a wire of the plan; its own limit goes before the tables'.

    Raises
    ------
    InputError
        when neither a section nor a gauge is written, or the section is not standard
    """
    if wire.section_mm2 is not None:
        found = of_section(wire.section_mm2, kind="tinned" if wire.tinned else "flexible")
    elif wire.awg is not None:
        found = of_gauge(wire.awg)
    else:
        raise InputError("has a wire without a size; write its section, for example 2.5 mm², or its awg")
    if wire.carries_a is not None:
        return Conductor(found.name, found.mm2, found.ohm_km, wire.carries_a)
    return found


def loop_ohm(wire: Wire, temperature_c: float | None = None) -> float:
    """Resistance of both cores of a wire, at the conductor temperature that the table assumes when none is named."""
    warm = table("power_conductors")["warm_c"] if temperature_c is None else temperature_c
    return at_temperature(of_wire(wire).ohm_km, warm) / 1000 * 2 * wire.length_m


def notes() -> tuple[str, ...]:
    """Where sources are at odds, and what nobody here has verified."""
    return notes_of("power_conductors")
