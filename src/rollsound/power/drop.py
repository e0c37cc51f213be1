"""Voltage drop in a two-core cable: at a current, at a constant power, where it collapses, and the wire that serves."""

from __future__ import annotations

import math
from dataclasses import dataclass

from rollsound.errors import InputError
from rollsound.power.conductors import Conductor, at_temperature, of_section, sections


def drop_v(length_m: float, current_a: float, ohm_km: float) -> float:
    """Volts lost on the way there and back at a current."""
    return 2 * length_m * current_a * ohm_km / 1000


def most_ohm_km(length_m: float, current_a: float, most_drop_v: float) -> float:
    """The most resistance that keeps a drop; infinite without length or current."""
    across = 2 * length_m * current_a
    return math.inf if across == 0 else 1000 * most_drop_v / across


@dataclass(frozen=True)
class FarEnd:
    """A load of constant power at the end of a cable."""

    voltage_v: float
    current_a: float
    most_w: float
    """Above this power there is no voltage at which it could run: the load collapses. Infinite without resistance."""
    collapses: bool


def far_end(source_v: float, loop_ohm: float, load_w: float) -> FarEnd:
    """Voltage and current at the far end: V = (V₀ + √(V₀² − 4·R·P)) / 2.

    Where it collapses, voltage and current are not a number.

    Source: Ohm's law with P = V·I.
    """
    if source_v <= 0 or loop_ohm < 0 or load_w < 0:
        raise InputError("a far end needs a voltage above 0, and a resistance and a power of 0 or more")
    most = math.inf if loop_ohm == 0 else source_v**2 / (4 * loop_ohm)
    inside = source_v**2 - 4 * loop_ohm * load_w
    if inside < 0:
        return FarEnd(math.nan, math.nan, most, True)
    voltage = (source_v + math.sqrt(inside)) / 2
    return FarEnd(voltage, load_w / voltage, most, False)


def least_source_v(far_v: float, loop_ohm: float, load_w: float) -> float:
    """Voltage that the source must keep so that a load has ``far_v`` at the far end."""
    return far_v + loop_ohm * load_w / far_v


def smallest_section(
    length_m: float,
    load_w: float,
    source_v: float,
    least_far_v: float,
    *,
    least_carries_a: float = 0.0,
    temperature_c: float = 20.0,
    kind: str = "flexible",
) -> Conductor | None:
    """The smallest standard section at which a constant power has its voltage at the far end; none if none does.

    Parameters
    ----------
    least_carries_a
        what the wire must carry; sections without a known limit over 4 mm² are taken to carry more than those under it
    """
    known = 0.0
    for size, row in sorted(sections().items()):
        if kind not in row:
            continue
        wire = of_section(size, kind=kind)
        known = max(known, wire.carries_a or 0.0)
        end = far_end(source_v, at_temperature(wire.ohm_km, temperature_c) / 1000 * 2 * length_m, load_w)
        carries = (wire.carries_a or (known if size > 4 else 0.0)) >= least_carries_a
        if not end.collapses and end.voltage_v >= least_far_v and carries:
            return wire
    return None


def smallest_for_drop(
    length_m: float, current_a: float, most_drop_v: float, *, temperature_c: float = 20.0
) -> Conductor | None:
    """The smallest standard flexible section that keeps a drop at a current."""
    most = most_ohm_km(length_m, current_a, most_drop_v)
    for size, row in sorted(sections().items()):
        if "flexible" in row and at_temperature(of_section(size).ohm_km, temperature_c) <= most:
            return of_section(size)
    return None


def short_circuit_a(voltage_v: float, loop_ohm: float) -> float:
    """Prospective current of a short circuit: what a fuse must be able to interrupt."""
    return math.inf if loop_ohm == 0 else voltage_v / loop_ohm


@dataclass(frozen=True)
class Inrush:
    """What rushes in when a discharged input capacitor is plugged in."""

    peak_a: float
    energy_j: float
    time_constant_s: float
    i2t_a2s: float


def inrush(voltage_v: float, capacitance_f: float, loop_ohm: float) -> Inrush:
    """Inrush into a capacitor through a resistance.

    Source: RC charging: V/R, ½CV², RC, V²C/2R.
    """
    if loop_ohm <= 0:
        raise InputError("inrush needs the resistance of the loop; write length and section of the wire")
    return Inrush(
        voltage_v / loop_ohm,
        0.5 * capacitance_f * voltage_v**2,
        loop_ohm * capacitance_f,
        voltage_v**2 * capacitance_f / (2 * loop_ohm),
    )
