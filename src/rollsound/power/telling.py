"""How proofs of the power part are told: findings with their place, times, hours and counts in words."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from rollsound.finding import Area, Finding, Ref, Weight
from rollsound.power.day import NIGHT, clock
from rollsound.wrong import pointer

SOURCE = "the plan, by energy balance"
COLD_SOURCE = "table of shares in the cold, planning figures; a pack's own data sheet goes before it"
WIRES_SOURCE = "IEC 60228 resistance at a warm conductor, load of constant power"
FUSE_SOURCE = "1.25 times a continuous load, and the smallest of the tables of what wires carry; your local code first"
CHARGING_SOURCE = "makers' pages that agree: no charging of lithium below 0 °C; charging figures of the plan"


def finding(
    weight: Weight,
    subject: str,
    kind: str,
    what: str,
    *,
    why: str = "",
    remedy: str = "",
    at: Sequence[str] = (),
    part: str = "power",
    source: str = SOURCE,
    numbers: Mapping[str, float] | None = None,
) -> Finding:
    """One finding.

    Parameters
    ----------
    at
        place in the power part (or another ``part``), by ids: ``supplies``, ``cart``
    numbers
        figures behind it, each with its unit at the end of its name
    """
    return Finding(
        area=Area.POWER,
        weight=weight,
        subject=subject,
        kind=kind,
        what=what,
        why=why,
        remedy=remedy,
        source=source,
        numbers=dict(numbers or {}),
        refs=(Ref(path=f"plan#{pointer((part, *at))}"),) if at else (),
    )


def time_of_day(minute: float) -> str:
    """A time of day; of the next one it says so."""
    return clock(minute) + (" of the next day" if minute >= NIGHT else "")


def hours(value_h: float) -> str:
    """Hours: ``8.4 h``; what never ends says so."""
    return "without end" if math.isinf(value_h) else f"{value_h:.1f} h"


def wh(energy_wh: float) -> str:
    """Energy, small ones with a decimal: ``7.4 Wh``, ``1236 Wh``."""
    return f"{energy_wh:.1f} Wh" if energy_wh < 20 else f"{energy_wh:.0f} Wh"


def several(names: Sequence[str], most: int = 4) -> str:
    """Names in a row, and how many more."""
    if len(names) <= 1:
        return names[0] if names else "none"
    if len(names) <= most:
        return f"{', '.join(names[:-1])} and {names[-1]}"
    return f"{', '.join(names[:most])} and {len(names) - most} more"
