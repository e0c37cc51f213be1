"""Levels of every source at every track and listener, in every combination, each worked out once."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

from rollsound.rig.combining import in_words
from rollsound.rig.levels import PathLevels, path_levels
from rollsound.rig.reaching import Chosen, Reach, Reaching
from rollsound.rig.speech import NotKnown, SourceLevel, source_level

MOST_LEVELS = 512
"""Part-combinations of one pair whose levels are worked out; beyond, the rest is said not to be covered."""
MOST_PATH_LEVELS = 4096
"""Paths of one pair, over all its part-combinations."""


@dataclass(frozen=True)
class Case:
    """One part-combination of a pair, with the levels along every path of its source."""

    chosen: Chosen
    paths: tuple[PathLevels, ...]
    complete: bool
    """Whether all paths are there."""


@dataclass(frozen=True)
class Cases:
    """A pair over all part-combinations in which its source arrives."""

    reach: Reach
    cases: tuple[Case, ...]
    covered: bool
    """Whether every combination and every path in it was looked at."""

    def __iter__(self) -> Iterator[Case]:
        return iter(self.cases)

    def at(self, chosen: Chosen) -> Case | None:
        """The case of a part-combination; none where the source does not arrive or was not looked at."""
        return self._by_chosen.get(chosen)

    @cached_property
    def _by_chosen(self) -> dict[Chosen, Case]:
        return {each.chosen: each for each in self.cases}


class Levels:
    """Answers about levels in every combination of a rig."""

    def __init__(self, reaching: Reaching) -> None:
        self.reaching, self.rig = reaching, reaching.rig
        self._cases: dict[tuple[str, str, float | None], Cases] = {}

    def level(self, source: str, distance_m: float | None = None) -> SourceLevel | NotKnown:
        """How loud a source is where it enters."""
        return source_level(self.rig.source_rows[source], distance_m)

    def cases(self, source: str, target: str) -> Cases:
        """The levels of a source at a track or listener, in every combination of what matters to them."""
        return self._of(source, target, source, None)

    def heard_by(self, source: str, other: str, target: str, distance_m: float) -> Cases:
        """As ``cases``, of a source that the microphone of another one hears too, at a distance from it."""
        return self._of(source, target, other, distance_m)

    def _of(self, source: str, target: str, enters_at: str, distance_m: float | None) -> Cases:
        key = (f"{source} at {enters_at}", target, distance_m)
        if key not in self._cases:
            reach = self.reaching.with_gains(enters_at, target)
            level = self.level(source, distance_m)
            self._cases[key] = self._worked_out(reach, level)
        return self._cases[key]

    def _worked_out(self, reach: Reach, level: SourceLevel | NotKnown) -> Cases:
        cases: list[Case] = []
        looked_at = found = 0
        for chosen in self.reaching.parts(reach.changeovers):
            if looked_at >= MOST_LEVELS or found >= MOST_PATH_LEVELS:
                break
            looked_at += 1
            if chosen in reach.arrives:
                cases.append(self._case(reach, chosen, level))
                found += len(cases[-1].paths)
        covered = looked_at == reach.there_are and all(each.complete for each in cases)
        return Cases(reach, tuple(cases), covered)

    def _case(self, reach: Reach, chosen: Chosen, level: SourceLevel | NotKnown) -> Case:
        found = self.reaching.paths_in(reach, chosen)
        whole = self.reaching.whole(reach.changeovers, chosen)
        return Case(chosen, tuple(path_levels(self.rig, whole, each, level) for each in found.paths), found.complete)

    def in_words(self, changeovers: Sequence[str], chosen: Chosen) -> str:
        """A part-combination for people, told only where there is a choice: `` with Boom 1: radio``."""
        own = dict(zip(changeovers, chosen, strict=True))
        told = in_words(own, [each for each in self.rig.part.changeovers if each.id in own])
        return f" with {told}" if told else ""
