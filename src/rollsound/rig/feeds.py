"""What each listener hears in every combination: wanted or not, their own voice, how late, and how loud at the ear."""

from __future__ import annotations

import functools
import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Literal, TypeAlias

from rollsound.facts.rows import read_rows
from rollsound.rig.built import Edge, Way
from rollsound.rig.hearing import TABLE, Day, day
from rollsound.rig.levels import PathLevels
from rollsound.rig.levels_everywhere import Levels
from rollsound.rig.model import Feed, Source
from rollsound.rig.paths import SOUND_M_S, Path
from rollsound.rig.reaching import Chosen, Reach, Reaching
from rollsound.rig.volts import summed_db
from rollsound.written import Part, Seconds

Role: TypeAlias = Literal["wanted", "forbidden", "own", "other"]
_TURNS = ("voice", "talkback")
"""Kinds that take turns; all others sound together."""


class _Longest(Part):
    id: str
    longest: Seconds
    source: str
    status: str


@dataclass(frozen=True)
class Heard:
    """One source that reaches a listener, in some combination or in all."""

    source: str
    role: Role
    reach: Reach
    latest_s: float
    """Longest of its earliest arrivals, from the mouth, over all combinations."""
    latest_in: Chosen
    path: Path
    """By which it arrives latest."""
    mean_db: float | None
    """At the ear, of its loudest, at most; none where it is not known."""
    quiet_db: float | None
    through_air: bool
    """Whether it comes by a loudspeaker and an open microphone on some way."""


@dataclass(frozen=True)
class Listening:
    """What one listener hears, and what it does to their ears."""

    feed: str
    heard: tuple[Heard, ...]
    missing: tuple[str, ...]
    """Wanted sources that do not arrive in some combination."""
    level_dba: float | None
    """At the ear over a day, voices in turn half of the time at their loudest, half at their quietest."""
    greatest_db: float | None
    """What the last amplifier can put out at its most, at the ear."""
    day: Day | None
    unknown: str
    """Why no level is known, where none is."""

    def of(self, role: Role) -> tuple[Heard, ...]:
        """Those of one role."""
        return tuple(each for each in self.heard if each.role == role)


@dataclass(frozen=True)
class Loop:
    """A loudspeaker that an open microphone hears, which leads back to it."""

    link: str
    loudspeaker: str
    microphone: str
    combination: Mapping[str, str]
    changeovers: tuple[str, ...]


@functools.cache
def _delays() -> Mapping[str, _Longest]:
    return read_rows(TABLE, "delay", _Longest)


def longest_s(feed: Feed, source: Source) -> tuple[float, str] | None:
    """How late a source may reach a listener and where that comes from; none where nothing is asked."""
    if feed.longest_s is not None:
        return float(feed.longest_s), "the plan"
    if source.id in feed.own:
        row = _delays()["own voice"]
    elif source.kind in ("voice", "song", "instrument", "room"):
        row = _delays()["scene"]
    else:
        return None
    return float(row.longest), row.source


def listening(levels: Levels, feed: str) -> Listening:
    """What one listener hears in every combination."""
    rig = levels.rig
    row = rig.feed_rows[feed]
    found = [
        heard
        for source in rig.sources
        if levels.reaching.connected(source, f"feed:{feed}") and (heard := _heard(levels, source, row)) is not None
    ]
    arrives = {each.source for each in found if each.reach.in_all}
    level, unknown = _at_ear(levels, row, [each for each in found if each.mean_db is not None])
    return Listening(
        feed=feed,
        heard=tuple(found),
        missing=tuple(each for each in row.sources if each in rig.sources and each not in arrives),
        level_dba=level,
        greatest_db=_greatest(levels, feed, found),
        day=day([(row.hours, level)]) if row.hours and level is not None else None,
        unknown=unknown,
    )


def _role(source: str, feed: Feed) -> Role:
    if source in feed.without:
        return "forbidden"
    if source in feed.sources:
        return "wanted"
    return "own" if source in feed.own else "other"


def _heard(levels: Levels, source: str, feed: Feed) -> Heard | None:
    cases = levels.cases(source, f"feed:{feed.id}")
    if not cases.cases:
        return None
    air_s = float(levels.rig.source_rows[source].distance_m or 0.0) / SOUND_M_S
    latest = max(cases, key=lambda case: case.paths[0].path.latency_s)
    known = [path for case in cases for path in case.paths if path.known]
    return Heard(
        source=source,
        role=_role(source, feed),
        reach=cases.reach,
        latest_s=latest.paths[0].path.latency_s + air_s,
        latest_in=latest.chosen,
        path=latest.paths[0].path,
        mean_db=max((path.end.mean_db for path in known), default=None),
        quiet_db=max((path.end.quiet_db for path in known), default=None),
        through_air=any(through_air(levels.reaching, path.path) for case in cases for path in case.paths),
    )


def through_air(reaching: Reaching, path: Path) -> bool:
    """Whether a path goes through the air from one piece to another."""
    for hop in path.hops:
        port = reaching.rig.port_at(hop.start)
        if hop.way is Way.LINK and port is not None and port.medium == "air":
            return True
    return False


def _at_ear(levels: Levels, feed: Feed, known: list[Heard]) -> tuple[float | None, str]:
    """Everyday level at the ear: the loudest voice with all that sounds together, in the louder ear."""
    if feed.level_dba is not None:
        return float(feed.level_dba), ""
    by_ear: dict[object, tuple[list[float], list[float]]] = {}
    for each in known:
        kind = levels.rig.source_rows[each.source].kind
        for ear, level in _everyday(levels, each.source, feed).items():
            turns, together = by_ear.setdefault(ear, ([], []))
            (turns if kind in _TURNS else together).append(level)
    if not by_ear:
        why = next((path.unknown for path in _paths(levels, feed) if path.unknown), "nothing that arrives has a level")
        return None, why
    heard = (summed_db([*together, *([max(turns)] if turns else [])]) for turns, together in by_ear.values())
    return max(heard) + float(feed.gain_db or 0.0), ""


def _everyday(levels: Levels, source: str, feed: Feed) -> dict[object, float]:
    """By ear, half the time at the loudest and half at the quietest, in the combination that gives most."""
    found: dict[object, float] = {}
    for case in levels.cases(source, f"feed:{feed.id}"):
        ears: dict[object, list[float]] = {}
        for path in case.paths:
            if path.known:
                half = summed_db((path.end.mean_db, path.end.quiet_db)) - 10.0 * math.log10(2.0)
                ears.setdefault(path.path.end, []).append(half)
        for ear, arriving in ears.items():
            found[ear] = max(found.get(ear, -math.inf), summed_db(arriving))
    return found


def _paths(levels: Levels, feed: Feed) -> Iterator[PathLevels]:
    for source in levels.rig.sources:
        if levels.reaching.connected(source, f"feed:{feed.id}"):
            for case in levels.cases(source, f"feed:{feed.id}"):
                yield from case.paths


def _greatest(levels: Levels, feed: str, found: list[Heard]) -> float | None:
    """What the last stage with a limit can give at the ear, at most."""
    most: float | None = None
    for each in found:
        for case in levels.cases(each.source, f"feed:{feed}"):
            for path in case.paths:
                limited = [at for at, stage in enumerate(path.stages) if stage.limit_db < math.inf]
                if path.known and limited and path.end.unit == "dB SPL":
                    at = limited[-1]
                    gives = path.stages[at].limit_db + path.end.mean_db - path.stages[at].mean_db
                    most = gives if most is None else max(most, gives)
    return most


def loops(reaching: Reaching) -> Iterator[Loop]:
    """Every way through the air from a loudspeaker to a microphone that leads back to it, in its first combination."""
    rig = reaching.rig
    told: set[str] = set()
    for edge in rig.edges:
        if _in_air(reaching, edge) and edge.id not in told:
            found = _loop(reaching, edge)
            if found is not None:
                told.add(edge.id)
                yield found


def _in_air(reaching: Reaching, edge: Edge) -> bool:
    port = reaching.rig.port_at(reaching.rig.spots[edge.start])
    return edge.way is Way.LINK and port is not None and port.medium == "air"


def _loop(reaching: Reaching, edge: Edge) -> Loop | None:
    rig = reaching.rig
    cone = reaching.after([edge.end]) & reaching.before([edge.start])
    if edge.start not in cone:
        return None
    own = {each for each, _ in edge.condition} | set(reaching.touching(cone))
    changeovers = tuple(each for each in reaching.positions if each in own)
    for chosen in reaching.parts(changeovers):
        state = reaching.state(changeovers, chosen)
        if rig.edge_holds(edge, state.combination) and edge.start in state.reached_from([edge.end]):
            spots = rig.spots
            return Loop(
                edge.id, rig.name_of(spots[edge.start].piece), rig.name_of(spots[edge.end].piece),
                state.combination, changeovers,
            )  # fmt: skip
    return None
