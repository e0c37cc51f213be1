"""How proofs of the power part are told: findings with their place, times, hours and counts in words."""

from __future__ import annotations

import math

from rollsound.finding import AboutPlan, Area
from rollsound.power.day import NIGHT, clock

SOURCE = "the plan, by energy balance"
COLD_SOURCE = "table of shares in the cold, planning figures; a pack's own data sheet goes before it"
WIRES_SOURCE = "IEC 60228 resistance at a warm conductor, load of constant power"
FUSE_SOURCE = "1.25 times a continuous load, and the smallest of the tables of what wires carry; your local code first"
CHARGING_SOURCE = "makers' pages that agree: no charging of lithium below 0 °C; charging figures of the plan"


finding = AboutPlan(Area.POWER, "power", SOURCE)


def time_of_day(minute: float) -> str:
    """A time of day; of the next one it says so."""
    return clock(minute) + (" of the next day" if minute >= NIGHT else "")


def hours(value_h: float) -> str:
    """Hours: ``8.4 h``; what never ends says so."""
    return "without end" if math.isinf(value_h) else f"{value_h:.1f} h"


def wh(energy_wh: float) -> str:
    """Energy, small ones with a decimal: ``7.4 Wh``, ``1236 Wh``."""
    return f"{energy_wh:.1f} Wh" if energy_wh < 20 else f"{energy_wh:.0f} Wh"
