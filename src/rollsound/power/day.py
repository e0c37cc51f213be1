"""The shooting day in minutes: when every supply is working, idle, asleep or off, and when batteries can be changed.

Minutes count from midnight of the day's date. A time well before the call belongs to the next morning, so a night's
wrap at 04:30 is minute 1710.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from rollsound.power.model import Phase, State, Supply

NIGHT = 24 * 60
_BEFORE_CALL = 4 * 60
_CALL, _WRAP = "07:00", "19:00"


@dataclass(frozen=True)
class Day:
    """A day's times, and where it is."""

    id: str = ""
    name: str = ""
    call_min: int = 7 * 60
    wrap_min: int = 19 * 60
    coldest_c: float | None = None
    """Of all its sites."""
    site_coldest_c: tuple[tuple[str, float], ...] = ()
    """By id of the site."""
    assumed: bool = False
    """Whether call and wrap are not written and were taken."""

    def coldest_at(self, site: str) -> float | None:
        """Coldest at one site; of the whole day when it is not known."""
        return dict(self.site_coldest_c).get(site, self.coldest_c)


@dataclass(frozen=True)
class Stretch:
    """A stretch of the day in one state."""

    start_min: int
    end_min: int
    state: State
    is_break: bool = False

    @property
    def hours(self) -> float:
        """Its length."""
        return (self.end_min - self.start_min) / 60


def minutes(clock: str) -> int:
    """Minutes since midnight of a written time, 07:30."""
    hours, _, rest = clock.strip().partition(":")
    return int(hours) * 60 + int(rest)


def clock(minute: float) -> str:
    """A time of day as people write it; whole minutes, never later than it is."""
    whole = int(minute + 1e-6)
    return f"{whole // 60 % 24:02d}:{whole % 60:02d}"


def day_of(
    id: str = "",
    name: str = "",
    call: str = "",
    wrap: str = "",
    *,
    coldest_c: float | None = None,
    site_coldest_c: tuple[tuple[str, float], ...] = (),
) -> Day:
    """A day from its written times; 07:00 to 19:00 where none is written, twelve hours where only the call is."""
    start = minutes(call or _CALL)
    end = minutes(wrap) if wrap else (minutes(_WRAP) if not call else start + 12 * 60)
    if end <= start:
        end += NIGHT
    return Day(id, name, start, end, coldest_c, site_coldest_c, assumed=not (call and wrap))


def span_of(day: Day, start: str, end: str) -> tuple[int, int]:
    """Minutes of a written span: what lies more than four hours before the call is of the next morning."""
    first = minutes(start)
    if first < day.call_min - _BEFORE_CALL:
        first += NIGHT
    last = minutes(end)
    while last <= first:
        last += NIGHT
    return first, last


def stretches(day: Day, phases: Iterable[Phase], supply: str = "") -> tuple[Stretch, ...]:
    """What a supply does from the first phase or the call to the last phase or the wrap.

    A phase that names the supply goes before one that does not, one of this day before one of every day, and the later
    written before the earlier. Between call and wrap, what no phase covers counts as working; outside, as off.
    """
    said: list[tuple[tuple[bool, bool, int], int, int, Phase]] = []
    for place, phase in enumerate(phases):
        if (phase.supplies and supply not in phase.supplies) or (phase.day and phase.day != day.id):
            continue
        first, last = span_of(day, phase.from_, phase.to)
        said.append(((bool(phase.supplies), bool(phase.day), place), first, last, phase))
    edges = sorted({day.call_min, day.wrap_min, *(each for _, first, last, _ in said for each in (first, last))})
    found: list[Stretch] = []
    for start, end in pairwise(edges):
        over = [(rank, phase) for rank, first, last, phase in said if first <= start and end <= last]
        # Somebody's break is one for everything, whatever state a more particular phase names.
        is_break = any(phase.break_ for _, phase in over)
        if over:
            state = max(over, key=lambda each: each[0])[1].state
        else:
            state = "working" if day.call_min <= start and end <= day.wrap_min else "off"
        found.append(Stretch(start, end, state, is_break))
    return joined(found)


def joined(parts: Sequence[Stretch]) -> tuple[Stretch, ...]:
    """Neighbours that are alike as one."""
    found: list[Stretch] = []
    for part in parts:
        last = found[-1] if found else None
        if last and (last.state, last.is_break, last.end_min) == (part.state, part.is_break, part.start_min):
            found[-1] = Stretch(last.start_min, part.end_min, part.state, part.is_break)
        else:
            found.append(part)
    return tuple(found)


def timetables(day: Day, phases: Sequence[Phase], supplies: Iterable[Supply]) -> dict[str, tuple[Stretch, ...]]:
    """Stretches by id of the supply."""
    return {supply.id: stretches(day, phases, supply.id) for supply in supplies}


def state_at(parts: Sequence[Stretch], minute: float) -> State:
    """The state at a time; off outside of the day."""
    return next((part.state for part in parts if part.start_min <= minute < part.end_min), "off")
