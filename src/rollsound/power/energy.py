"""What a battery holds and how long that lasts: energy, runtime at constant power, converter current, age."""

from __future__ import annotations

import math

from rollsound.errors import InputError


def _share(value: float, what: str) -> float:
    if not 0 < value <= 1:
        raise InputError(f"{what} of {value:g} is no share; write more than 0 and at most 1, for example 0.9")
    return value


def _above_zero(value: float, what: str) -> float:
    if not (value > 0 and math.isfinite(value)):
        raise InputError(f"{what} of {value:g} cannot be; write more than 0")
    return value


def energy_wh(voltage_v: float, capacity_ah: float) -> float:
    """Energy on the label: nominal voltage times ampere-hours."""
    return _above_zero(voltage_v, "a voltage") * _above_zero(capacity_ah, "a capacity")


def usable_wh(nameplate_wh: float, *, depth: float = 1.0, health: float = 1.0, cold: float = 1.0) -> float:
    """Energy that may be taken out.

    Parameters
    ----------
    depth, health, cold
        shares: how far it is emptied, what age has left, what the cold leaves (which may be over 1 in the heat)
    """
    return nameplate_wh * _share(depth, "a depth") * _share(health, "a health") * _above_zero(cold, "a cold factor")


def runtime_h(
    nameplate_wh: float,
    load_w: float,
    *,
    depth: float = 1.0,
    health: float = 1.0,
    cold: float = 1.0,
    efficiency: float = 1.0,
) -> float:
    """Hours at a constant power behind a converter: E · depth · health · cold · efficiency / load; infinite at no load.

    Source: energy balance.
    """
    if load_w < 0 or not math.isfinite(load_w):
        raise InputError(f"a load of {load_w:g} W cannot be; write 0 W or more")
    if load_w == 0:
        return math.inf
    return usable_wh(nameplate_wh, depth=depth, health=health, cold=cold) * _share(efficiency, "an efficiency") / load_w


def needed_wh(
    load_w: float,
    hours: float,
    *,
    depth: float = 1.0,
    health: float = 1.0,
    cold: float = 1.0,
    efficiency: float = 1.0,
) -> float:
    """Energy on the label that carries a load for so many hours: ``runtime_h`` turned round."""
    whole = usable_wh(1.0, depth=depth, health=health, cold=cold) * _share(efficiency, "an efficiency")
    return load_w * hours / whole


def input_current_a(output_w: float, voltage_v: float, efficiency: float = 1.0) -> float:
    """Current into a converter: it rises as the battery's voltage falls."""
    return output_w / (_share(efficiency, "an efficiency") * _above_zero(voltage_v, "a voltage"))


def c_rate(current_a: float, capacity_ah: float) -> float:
    """Current as a multiple of the capacity, per hour."""
    return current_a / _above_zero(capacity_ah, "a capacity")


def health_after(cycles: float, cycles_to_80: float) -> float:
    """Share of the content when new that is left after so many cycles: a straight line through 80 %, never under 0.

    Source: engineering judgement.
    """
    return max(0.0, 1 - 0.2 * cycles / _above_zero(cycles_to_80, "a number of cycles"))
