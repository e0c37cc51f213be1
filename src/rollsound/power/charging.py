"""Charging overnight: what the day took out goes back in, by need, within what the sockets give and their hours."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from rollsound.power.chemistry import chemistry
from rollsound.power.contents import contents_of
from rollsound.power.day import NIGHT, Day, minutes
from rollsound.power.model import Battery, PowerPart, Socket
from rollsound.power.runs import Run


@dataclass(frozen=True)
class Job:
    """One battery to be charged."""

    battery: Battery
    run: Run
    number: int
    """Which set of its supply it was, the first 0."""
    taken_wh: float
    charge_w: float
    charge_w_known: bool
    hours: float


@dataclass(frozen=True)
class Charge:
    """When and where a battery is charged; no socket where it never gets its turn."""

    job: Job
    socket: Socket | None
    start_min: float
    end_min: float


@dataclass(frozen=True)
class Place:
    """A socket on a night."""

    socket: Socket
    start_min: float
    end_min: float
    coldest_c: float | None


@dataclass(frozen=True)
class ChargePlan:
    """The night."""

    charges: tuple[Charge, ...]
    places: tuple[Place, ...]
    call_min: float
    """The next call."""

    @property
    def late(self) -> tuple[Charge, ...]:
        """Those that are not full in the hours of their socket, by the next call, or have none."""
        ends = {place.socket.id: min(place.end_min, self.call_min) for place in self.places}
        return tuple(each for each in self.charges if each.socket is None or each.end_min > ends[each.socket.id] + 1e-6)

    @property
    def done_min(self) -> float | None:
        """When the last is full; none when nothing is charged."""
        return max((each.end_min for each in self.charges if each.socket is not None), default=None)


def jobs_of(runs: Sequence[Run]) -> tuple[Job, ...]:
    """Every battery that the day took something out of and that can be charged, in the order of need.

    The first sets of all supplies come first, for nothing runs without them; among equals the longest.
    """
    found = []
    for run in runs:
        if run.inside or not chemistry(run.battery.chemistry).rechargeable:
            continue
        for number, taken in enumerate(run.set_wh[: run.given]):
            if taken > 0:
                one = min(taken, run.usable_wh) / run.in_set
                found += [_job(run, number, one)] * (run.in_set * run.alike)
    return tuple(sorted(found, key=lambda job: (job.number, -job.hours)))


def _job(run: Run, number: int, taken_wh: float) -> Job:
    row = chemistry(run.battery.chemistry)
    known = run.battery.charge_w is not None and run.battery.charge_w > 0
    charge_w = (
        float(run.battery.charge_w or 0.0) if known else contents_of(run.battery).nameplate_wh * row.charge_c_rate
    )
    hours = charge_hours(taken_wh, charge_w, row.charge_efficiency, row.slow_end_factor)
    return Job(run.battery, run, number, taken_wh, charge_w, known, hours)


def charge_hours(taken_wh: float, charge_w: float, efficiency: float = 1.0, slow_end: float = 1.0) -> float:
    """Hours to put energy back in.

    Parameters
    ----------
    charge_w
        taken at the socket
    efficiency
        share of it that stays in the battery
    slow_end
        how much longer it takes because the last part goes slowly
    """
    return math.inf if charge_w <= 0 else taken_wh / efficiency / charge_w * slow_end


def charge_plan(power: PowerPart, runs: Sequence[Run], day: Day, next_call_min: float | None = None) -> ChargePlan:
    """Who is charged where and when: the one that is needed most, as soon as a socket has the power for it.

    Parameters
    ----------
    next_call_min
        counted from midnight of this day; the same time of the next day when None
    """
    call = next_call_min if next_call_min is not None else day.call_min + NIGHT
    places = tuple(_place(socket, day) for socket in power.sockets)
    taken: dict[str, list[_Taken]] = {place.socket.id: [] for place in places}
    since: dict[tuple[str, tuple[float, float]], float] = {}  # where the last one that was alike has begun
    charges = []
    for job in jobs_of(runs):
        alike = (job.charge_w, job.hours)
        turns = [
            (_turn(place, taken[place.socket.id], job, since.get((place.socket.id, alike), 0.0)), place)
            for place in places
        ]
        start, place = min(turns, key=lambda each: each[0], default=(math.inf, None))
        if place is None or math.isinf(start) or math.isinf(job.hours):
            charges.append(Charge(job, None, math.nan, math.nan))
            continue
        since[place.socket.id, alike] = start
        end = start + job.hours * 60
        taken[place.socket.id].append(_Taken(start, end, job.charge_w))
        charges.append(Charge(job, place.socket, start, end))
    return ChargePlan(tuple(charges), places, call)


@dataclass(frozen=True)
class _Taken:
    start_min: float
    end_min: float
    power_w: float


def _turn(place: Place, taken: Sequence[_Taken], job: Job, since: float) -> float:
    """The earliest time from ``since`` at which a socket has power and a place for a job; infinite if it never has."""
    if job.charge_w > place.socket.most_w or place.socket.places == 0:
        return math.inf
    length = job.hours * 60
    for start in sorted({place.start_min, *(each.end_min for each in taken)}):
        if start < since:
            continue
        beside = [each for each in taken if each.start_min < start + length - 1e-9 and each.end_min > start + 1e-9]
        edges = [start, *(each.start_min for each in beside if each.start_min > start)]
        if all(_fits(place, [each for each in beside if each.start_min <= at < each.end_min], job) for at in edges):
            return start
    raise AssertionError("after the last has ended there is room")


def _fits(place: Place, beside: Sequence[_Taken], job: Job) -> bool:
    most = place.socket.places
    power = sum(each.power_w for each in beside) + job.charge_w
    return power <= place.socket.most_w + 1e-9 and (most is None or len(beside) < most)


def _place(socket: Socket, day: Day) -> Place:
    start, end = minutes(socket.from_), minutes(socket.to)
    while end <= start:
        end += NIGHT
    while end <= day.wrap_min:
        start, end = start + NIGHT, end + NIGHT
    coldest = day.coldest_at(socket.site) if socket.site else None
    if socket.temperature_c is not None:
        coldest = socket.temperature_c.low
    return Place(socket, max(start, day.wrap_min), end, coldest)
