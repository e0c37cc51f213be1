"""One sound that arrives twice: by two ways of a rig, or by two microphones that hear the same voice.

Two arrivals of one sound, a delay apart, cancel at odd multiples of half the delay's inverse: a comb. How deep its
notches are is told by the difference in level; where the second is well below the first, nobody hears it.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from rollsound.rig.levels import PathLevels, path_levels, unit_of
from rollsound.rig.levels_everywhere import Cases, Levels
from rollsound.rig.paths import SOUND_M_S
from rollsound.rig.reaching import MOST_PARTS, Chosen
from rollsound.rig.speech import SourceLevel, figure

_SPEECH_HZ = 8000.0
"""Up to here notches are told."""


@dataclass(frozen=True)
class Arrival:
    """One of the ways by which a sound arrives."""

    by: str
    """The source whose microphone hears it: its own, or one that stands near."""
    levels: PathLevels
    delay_s: float
    """From the mouth, through the air and the rig."""
    mean_db: float | None
    """Where it arrives; none where it is not known. Of a source of no written level only differences count."""


@dataclass(frozen=True)
class Double:
    """One sound that arrives twice at one place."""

    source: str
    target: str
    earlier: Arrival
    later: Arrival
    difference_db: float | None
    """How far the weaker is below the stronger; none where levels are not known."""
    combination: str
    """As `` with Boom 1: radio``; nothing where there is no choice."""

    @property
    def delay_s(self) -> float:
        """What the earlier must be delayed by for both to arrive together."""
        return self.later.delay_s - self.earlier.delay_s

    @property
    def notches_hz(self) -> tuple[float, ...]:
        """The notches up to where speech ends."""
        return notches_hz(self.delay_s)

    @property
    def heard(self) -> bool:
        """Whether the weaker is near enough to the stronger, and the delay within what is heard at all."""
        near = self.difference_db is None or self.difference_db < figure("comb-level")
        return near and self.delay_s > figure("comb-shortest")

    @property
    def echo(self) -> bool:
        """Whether it is late enough to be heard as an echo."""
        return self.delay_s > figure("comb-longest")


def notch_hz(delay_s: float, number: int = 0) -> float:
    """A notch of the comb that a delay makes, counted from 0: (2 k + 1) / (2 delay)."""
    return (2 * number + 1) / (2.0 * delay_s)


def notches_hz(delay_s: float, up_to_hz: float = _SPEECH_HZ) -> tuple[float, ...]:
    """All notches up to a frequency."""
    if delay_s <= 0.0:
        return ()
    return tuple(notch_hz(delay_s, number) for number in range(int(up_to_hz * delay_s + 0.5)))


def ripple_db(difference_db: float) -> tuple[float, float]:
    """What a comb lifts and takes at its peaks and notches, for a weaker arrival so far below the stronger."""
    ratio = 10.0 ** (-abs(difference_db) / 20.0)
    return 20.0 * math.log10(1.0 + ratio), 20.0 * math.log10(1.0 - ratio) if ratio < 1.0 else -math.inf


def doubles(levels: Levels, source: str, target: str) -> Iterator[Double]:
    """Every two arrivals of a source at one place, in every combination; each pair of ways and levels once.

    Microphones that hear it too are those of the sources it names under ``near``, at their distances.
    """
    ways = list(_ways(levels, source, target))
    told: set[tuple[object, ...]] = set()
    changeovers = tuple(
        each for each in levels.reaching.positions if any(each in cases.reach.changeovers for _, cases, _ in ways)
    )
    for chosen in itertools.islice(levels.reaching.parts(changeovers), MOST_PARTS):
        arrivals = list(_arrivals(levels, source, ways, dict(zip(changeovers, chosen, strict=True))))
        for one, other in itertools.combinations(arrivals, 2):
            if one.levels.path.end != other.levels.path.end:
                continue
            earlier, later = sorted((one, other), key=lambda each: each.delay_s)
            difference = _difference(earlier, later)
            key = (_through(earlier), _through(later), None if difference is None else round(difference, 1))
            if key not in told:
                told.add(key)
                where = levels.in_words(changeovers, chosen)
                yield Double(source, target, earlier, later, difference, where)


def _ways(levels: Levels, source: str, target: str) -> Iterator[tuple[str, Cases, float]]:
    """Its own microphone and those that hear it too, with the time that sound takes to each."""
    rig = levels.rig
    row = rig.source_rows[source]
    if levels.reaching.connected(source, target):
        yield source, levels.cases(source, target), float(row.distance_m or 0.0) / SOUND_M_S
    for other, distance in zip(row.near, row.near_distance_m, strict=False):
        if other in rig.sources and levels.reaching.connected(other, target):
            heard = levels.heard_by(source, other, target, float(distance))
            yield other, heard, float(distance) / SOUND_M_S


def _arrivals(
    levels: Levels, source: str, ways: Sequence[tuple[str, Cases, float]], chosen: dict[str, str]
) -> Iterator[Arrival]:
    for by, cases, air_s in ways:
        own = tuple(chosen[each] for each in cases.reach.changeovers)
        case = cases.at(own)
        for path in case.paths if case is not None else ():
            mean = path.end.mean_db if path.known else _nominal(levels, path, cases, own) if by == source else None
            yield Arrival(by, path, air_s + path.path.latency_s, mean)


def _nominal(levels: Levels, path: PathLevels, cases: Cases, chosen: Chosen) -> float | None:
    """Of a source that nobody wrote a level for: where it would arrive, for what its ways differ by."""
    if path.level is not None:
        return None
    unit = unit_of(levels.rig.port_at(path.path.start)) or "dBFS"
    whole = levels.reaching.whole(cases.reach.changeovers, chosen)
    tried = path_levels(levels.rig, whole, path.path, SourceLevel(0.0, 0.0, 0.0, unit))
    return tried.end.mean_db if tried.known else None


def _difference(one: Arrival, other: Arrival) -> float | None:
    if one.mean_db is None or other.mean_db is None:
        return None
    if one.by != other.by and (one.levels.level is None or other.levels.level is None):
        return None
    return abs(one.mean_db - other.mean_db)


def _through(arrival: Arrival) -> tuple[object, ...]:
    return arrival.by, tuple(hop.id for hop in arrival.levels.path.hops)
