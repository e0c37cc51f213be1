"""When batteries are changed over a day: as few changes as can be, and of those plans the one with most in breaks.

A battery is a sum of energy; time is measured along what has been taken. From a change at some point of that measure
the next one lies at the latest a whole battery further. Among plans with equally many changes, one that has got further
with as many of them in breaks is never the worse; so for every number of breaks only the furthest is kept.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from rollsound.power.day import clock
from rollsound.power.telling import time_of_day
from rollsound.power.tree import Step

MOST_SWAPS = 60
_TINY = 1e-6


@dataclass(frozen=True)
class Swap:
    """One change of batteries."""

    at_min: float
    """The latest time."""
    in_break: bool
    """In a break, or while nothing is drawn."""
    from_min: float | None = None
    """In a break, the earliest time in it at which the next set still gets as far; none outside of breaks."""

    @property
    def told(self) -> str:
        """When, in words: the span of a break that serves, or the time by which."""
        by = time_of_day(self.at_min)
        if self.from_min is None or self.at_min - self.from_min < 1:
            return by
        return f"{clock(self.from_min)} to {by}"


@dataclass(frozen=True)
class SwapPlan:
    """The changes of one supply over a day."""

    swaps: tuple[Swap, ...]
    fits: bool
    """False when no sensible number of changes carries the day."""
    all_in_breaks: tuple[Swap, ...] | None
    """More changes than needed, but every one in a break; none when that does not go, or the plan has that already."""

    @property
    def outside(self) -> tuple[Swap, ...]:
        """Changes in the middle of work."""
        return tuple(swap for swap in self.swaps if not swap.in_break)


def drained(steps: Sequence[Step], per_hour: Callable[[float], float] = lambda power_w: power_w) -> float:
    """Energy that a day takes, in Wh.

    Parameters
    ----------
    per_hour
        what a battery loses an hour at a power, in W: more than the power where it gives less at greater currents
    """
    return sum(per_hour(step.power_w) * (step.end_min - step.start_min) / 60 for step in steps)


def time_at(steps: Sequence[Step], taken_wh: float, per_hour: Callable[[float], float] = lambda w: w) -> float | None:
    """The latest minute at which no more than this has been taken; none when the day takes no more."""
    taken = 0.0
    for step in steps:
        rate = per_hour(step.power_w)
        whole = rate * (step.end_min - step.start_min) / 60
        if taken + whole > taken_wh + _TINY:
            return step.start_min + max(0.0, taken_wh - taken) / rate * 60
        taken += whole
    return None


@dataclass(frozen=True)
class _Point:
    taken: float
    minute: float
    in_break: bool


def swap_plan(
    steps: Sequence[Step], battery_wh: float, per_hour: Callable[[float], float] = lambda power_w: power_w
) -> SwapPlan:
    """The changes of a day.

    Parameters
    ----------
    battery_wh
        that one set of batteries gives before it is changed
    """
    total = drained(steps, per_hour)
    if battery_wh <= 0:
        return SwapPlan((), total <= _TINY, None)
    if total / battery_wh > MOST_SWAPS + 1:
        return SwapPlan((), False, None)
    least = max(0, math.ceil((total - _TINY) / battery_wh) - 1)
    if least == 0:
        return SwapPlan((), True, None)
    breaks = _breaks(steps, per_hour)
    best: dict[int, tuple[float, tuple[_Point, ...]]] = {0: (0.0, ())}
    for _ in range(least):
        further: dict[int, tuple[float, tuple[_Point, ...]]] = {}
        for count, (at, way) in best.items():
            for point in _next(steps, breaks, at, battery_wh, total, per_hour):
                key = count + point.in_break
                if key not in further or point.taken > further[key][0]:
                    further[key] = (point.taken, (*way, point))
        best = further
    enough = {key: way for key, (at, way) in best.items() if total - at <= battery_wh + _TINY}
    if not enough:
        return SwapPlan((), False, None)
    points = [Swap(point.minute, point.in_break) for point in enough[max(enough)]]
    chosen = _with_earliest(points, steps, breaks, battery_wh, per_hour)
    plan = SwapPlan(chosen, True, None)
    if not plan.outside:
        return plan
    more = _in_breaks(breaks, battery_wh, total)
    return SwapPlan(chosen, True, None if more is None else _with_earliest(more, steps, breaks, battery_wh, per_hour))


def _with_earliest(
    swaps: Sequence[Swap],
    steps: Sequence[Step],
    breaks: Sequence[tuple[float, float, float, float]],
    battery_wh: float,
    per_hour: Callable[[float], float],
) -> tuple[Swap, ...]:
    """The changes with the span of their break that serves: a set lasts from its earliest to the next one's latest."""
    found = []
    for swap, then in pairwise([*swaps, None]):
        assert swap is not None
        if swap.in_break:
            until = then.at_min if then else math.inf
            taken = drained([replace(s, end_min=min(s.end_min, until)) for s in steps if s.start_min < until], per_hour)
            lasts_from = time_at(steps, max(0.0, taken - battery_wh), per_hour)
            begins = _begins(breaks, swap.at_min)
            earliest = begins if lasts_from is None else max(begins, lasts_from)
            swap = replace(swap, from_min=min(earliest, swap.at_min))
        found.append(swap)
    return tuple(found)


def _begins(breaks: Sequence[tuple[float, float, float, float]], minute: float) -> float:
    """When the break begins that a minute lies in; breaks that follow on each other are one."""
    begins = minute
    for start, end, _, _ in reversed(breaks):
        if start < begins <= end + _TINY:
            begins = start
    return begins


def _next(
    steps: Sequence[Step],
    breaks: Sequence[tuple[float, float, float, float]],
    at: float,
    battery_wh: float,
    total: float,
    per_hour: Callable[[float], float],
) -> list[_Point]:
    """Where the next change may lie: as late as can be, and as late as can be in a break."""
    reach = min(at + battery_wh, total)
    found = []
    minute = time_at(steps, reach, per_hour)
    if minute is not None:
        found.append(_Point(reach, minute, _within(breaks, minute)))
    inside = _latest_in_break(breaks, at, reach)
    if inside is not None:
        found.append(inside)
    return found


def _breaks(steps: Sequence[Step], per_hour: Callable[[float], float]) -> list[tuple[float, float, float, float]]:
    """Start, end, taken by the start, taken by the end, of every time when a change disturbs nobody."""
    found = []
    taken = 0.0
    for step in steps:
        whole = per_hour(step.power_w) * (step.end_min - step.start_min) / 60
        if step.is_break or step.power_w == 0:
            found.append((step.start_min, step.end_min, taken, taken + whole))
        taken += whole
    return found


def _within(breaks: Sequence[tuple[float, float, float, float]], minute: float) -> bool:
    return any(start - _TINY <= minute <= end + _TINY for start, end, _, _ in breaks)


def _latest_in_break(breaks: Sequence[tuple[float, float, float, float]], after: float, reach: float) -> _Point | None:
    """The latest moment in a break that a battery put in at ``after`` gets to."""
    for start, end, first, last in reversed(breaks):
        if first > reach + _TINY or last <= after + _TINY:
            continue
        if last - first <= _TINY:
            return _Point(first, start, True)
        taken = min(last, reach)
        share = (taken - first) / (last - first)
        return _Point(taken, start + share * (end - start), True)
    return None


def _in_breaks(
    breaks: Sequence[tuple[float, float, float, float]], battery_wh: float, total: float
) -> tuple[Swap, ...] | None:
    """The fewest changes that all lie in breaks; none when two breaks are too far apart."""
    found: list[Swap] = []
    at = 0.0
    while total - at > battery_wh + _TINY:
        point = _latest_in_break(breaks, at, at + battery_wh)
        if point is None or point.taken <= at + _TINY:
            return None
        found.append(Swap(point.minute, True))
        at = point.taken
    return tuple(found)
