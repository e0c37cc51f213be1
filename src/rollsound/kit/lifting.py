"""Lifting, pushing and pulling against published guidance. Below a figure no closer look is asked for; none is a limit.

Stairs lie outside all of it: what somebody takes over steps is a capability that is stated and tried, never reckoned.
"""

from __future__ import annotations

import math
import re
from collections.abc import Collection
from dataclasses import dataclass
from typing import Any, cast, get_args

from rollsound.errors import InputError
from rollsound.facts import table
from rollsound.facts.rows import notes_of
from rollsound.kit.model import Surface, Zone

_TABLE = "kit_lifting"
ZONES: tuple[Zone, ...] = get_args(Zone)
_SLOPE = re.compile(r"\s*(\d+(?:[.,]\d+)?)\s*:\s*(\d+(?:[.,]\d+)?)\s*")


def filter_kg(
    zones: Collection[Zone],
    *,
    women: bool = False,
    arms_length: bool = False,
    per_minute: float = 0.0,
    twist_deg: float = 0.0,
) -> float:
    """The mass below which a lift by one person needs no closer look.

    Parameters
    ----------
    zones
        all that the hands pass through: the smallest of their figures holds
    per_minute
        how often; up to one in two minutes takes nothing off
    twist_deg
        of the trunk

    Raises
    ------
    InputError
        when there is no zone

    Source: HSE INDG143 and L23, lifting filter.
    """
    if not zones:
        raise InputError(f"a lift passes through one zone at least; there are: {', '.join(ZONES)}")
    filter_ = table(_TABLE)["filter"]
    figure = f"{'women' if women else 'men'}_{'far' if arms_length else 'close'}_kg"
    least = min(float(row[figure]) for row in filter_["zone"] if row["id"] in zones)
    rate = next((row["share"] for row in filter_["rate"] if per_minute <= row["up_to_per_minute"]), 0.0)
    twist = next((row["share"] for row in filter_["twist"] if twist_deg > row["beyond_deg"]), 1.0)
    return least * float(rate) * float(twist)


def through(lowest: Zone, highest: Zone) -> tuple[Zone, ...]:
    """All zones from one to another, both ends in it."""
    first, last = sorted((ZONES.index(lowest), ZONES.index(highest)))
    return ZONES[first : last + 1]


def together_kg(one_kg: float, people: int) -> float:
    """What several people may lift together: less than the sum, as they hinder each other.

    Source: HSE L23, from memory: two about two thirds of the sum, three about half; more than three count as three.
    """
    team = table(_TABLE)["team"]
    if people <= 1:
        return one_kg
    share = float(team["two_share"] if people == 2 else team["three_share"])
    return one_kg * min(people, 3) * share


def recommended_kg(
    reach_cm: float,
    height_cm: float,
    travel_cm: float,
    turn_deg: float = 0.0,
    frequency: float = 1.0,
    grip: float = 1.0,
) -> float:
    """Recommended weight limit of one lift; 0 where the lift lies outside the equation.

    Parameters
    ----------
    reach_cm
        from the ankles to the hands; nearer than 25 cm counts as 25 cm
    height_cm
        of the hands over the floor where the lift begins
    travel_cm
        up or down; less than 25 cm counts as 25 cm
    turn_deg
        how far to the side
    frequency, grip
        multipliers of the equation's own tables, 1 at best

    Raises
    ------
    InputError
        when a figure is negative or no number, or a multiplier over 1

    Source: NIOSH 94-110; multipliers from memory.
    """
    figures = (reach_cm, height_cm, travel_cm, turn_deg, frequency, grip)
    if not all(math.isfinite(each) and each >= 0 for each in figures) or max(frequency, grip) > 1:
        raise InputError("a lift is told in centimetres and degrees from 0 up, and multipliers from 0 to 1")
    if reach_cm > 63 or height_cm > 175 or travel_cm > 175 or turn_deg > 135:
        return 0.0
    horizontal = 25 / max(reach_cm, 25)
    vertical = 1 - 0.003 * abs(height_cm - 75)
    distance = 0.82 + 4.5 / max(travel_cm, 25)
    aside = 1 - 0.0032 * turn_deg
    constant = float(table(_TABLE)["equation"]["constant_kg"])
    return constant * horizontal * vertical * distance * aside * frequency * grip


@dataclass(frozen=True)
class Push:
    """What a rolling load asks of one pusher, and the figures to hold it against."""

    rolling_n: float
    start_guide_n: float
    rolling_guide_n: float

    @property
    def holds(self) -> bool:
        """Whether it lies within the figure for keeping it rolling."""
        return self.rolling_n <= self.rolling_guide_n


def push(
    mass_kg: float, surface: Surface = "good", slope: float = 0.0, *, people: int = 1, women: bool = False
) -> Push:
    """The force that keeps a load rolling, shared by all who push; the figure is that of the weakest of them.

    Parameters
    ----------
    slope
        rise over run: 1:12 is 1/12

    Source: hse.gov.uk, pushing and pulling; force on a ramp m·g·(sin a + c·cos a).
    """
    rows = _push()
    who = "women" if women else "men"
    return Push(
        rolling_n(mass_kg, float(rows[f"{surface}_share"]), slope) / max(people, 1),
        float(rows[f"{who}_start_n"]),
        float(rows[f"{who}_rolling_n"]),
    )


def rolling_n(mass_kg: float, share: float, slope: float = 0.0) -> float:
    """Force that keeps a load rolling up a slope; ``share`` of its weight is lost on the surface."""
    angle = math.atan(slope)
    return mass_kg * float(_push()["gravity_m_s2"]) * (math.sin(angle) + share * math.cos(angle))


def most_kg(force_n: float, share: float, slope: float = 0.0) -> float:
    """The mass that a force keeps rolling."""
    return force_n / rolling_n(1.0, share, slope)


def slope_of(text: str) -> float | None:
    """Rise over run of a ramp written as 1:12; none when it is written otherwise."""
    match = _SLOPE.fullmatch(text)
    if match is None:
        return None
    rise, run = (float(each.replace(",", ".")) for each in match.groups())
    return rise / run if run > 0 else None


def filter_source() -> str:
    """Where the lifting filter comes from."""
    return _told("filter")


def push_source() -> str:
    """Where figures for pushing come from."""
    return _told("push")


def notes() -> tuple[str, ...]:
    """What the reader of these figures must be told."""
    return notes_of(_TABLE)


def _told(name: str) -> str:
    row = table(_TABLE)[name]
    return f"{row['source']} ({row['status']})"


def _push() -> dict[str, Any]:
    return cast(dict[str, Any], table(_TABLE)["push"])
