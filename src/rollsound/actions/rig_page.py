"""What the page *Rig* shows: the rig in any combination, one source's path, one failure, and what the proofs found.

A rig is put together once for each state of the plan and kept; what one question learned serves the next. Proofs take
some seconds and are kept apart, so that flips and paths are answered meanwhile.
"""

from __future__ import annotations

import itertools
import threading
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, TypeVar

from rollsound.errors import InputError

if TYPE_CHECKING:
    import pathlib

    from rollsound.finding import Finding
    from rollsound.rig.built import Rig
    from rollsound.rig.changeovers import Change
    from rollsound.rig.combining import Combination
    from rollsound.rig.fallout import Fallout, Loss
    from rollsound.rig.levels import PathLevels
    from rollsound.rig.levels_everywhere import Levels
    from rollsound.rig.paths import Path
    from rollsound.rig.reaching import Reaching
    from rollsound.show.folder import Show
    from rollsound.show.model import Plan

_KEPT = 3
_ANSWERS = 96
T = TypeVar("T")


@dataclass(frozen=True)
class Asked:
    """What is shown: a combination, and one path or one failure in it."""

    combination: Combination
    source: str = ""
    failed: str = ""


@dataclass(eq=False)
class State:
    """A rig as the plan had it, and every answer about it that was asked for so far."""

    folder: pathlib.Path
    """Of the show."""
    plan: Plan
    rig: Rig
    _locks: dict[str, threading.Lock] = field(default_factory=dict)
    _made: dict[str, object] = field(default_factory=dict)
    _answers: OrderedDict[tuple[object, ...], object] = field(default_factory=OrderedDict)
    _guard: threading.Lock = field(default_factory=threading.Lock)

    def _once(self, name: str, make: Callable[[], T]) -> T:
        with self._guard:
            lock = self._locks.setdefault(name, threading.Lock())
        with lock:
            if name not in self._made:
                self._made[name] = make()
            made: T = self._made[name]  # type: ignore[assignment]
            return made

    def remembered(self, key: tuple[object, ...], make: Callable[[], T]) -> T:
        """An answer of one combination; the last few are kept."""
        with self._guard:
            if key in self._answers:
                self._answers.move_to_end(key)
                kept: T = self._answers[key]  # type: ignore[assignment]
                return kept
        made = make()
        with self._guard:
            self._answers[key] = made
            while len(self._answers) > _ANSWERS:
                self._answers.popitem(last=False)
        return made

    @property
    def proven(self) -> bool:
        """Whether the proofs have run."""
        return "findings" in self._made

    def prove(self) -> None:
        """Work out what every flip and failure asks for, then the proofs."""
        for row in self.rig.part.changeovers:
            for one, other in itertools.permutations(row.positions, 2):
                self.change(row.id, one.id, other.id)
        for source, target in self.reaching.pairs():
            self.reaching.reach(source, target)
        _ = self.losses, self.changes, self.findings

    @cached_property
    def reaching(self) -> Reaching:
        """What arrives where, in every combination."""
        from rollsound.rig.reaching import Reaching

        return Reaching(self.rig)

    @cached_property
    def levels(self) -> Levels:
        """How loud, everywhere."""
        from rollsound.rig.levels_everywhere import Levels

        return Levels(self.reaching)

    @property
    def findings(self) -> tuple[Finding, ...]:
        """Every proof over all combinations; where Ready has asked for them, they are there."""
        from rollsound.actions.ready_fields import rig_findings

        return self._once("findings", lambda: tuple(rig_findings(self.folder, self.plan, self.rig)))

    @property
    def changes(self) -> tuple[Change, ...]:
        """What every changeover asks of hands, from each position to each later one."""
        from rollsound.rig.changeovers import changes

        return self._once("changes", lambda: changes(self.reaching))

    @property
    def failing(self) -> Fallout:
        """What failures cost."""
        from rollsound.actions.rig import supplies_of
        from rollsound.rig.fallout import Fallout

        return self._once("failing", lambda: Fallout(self.reaching, supplies_of(self.plan)))

    @property
    def losses(self) -> tuple[Loss, ...]:
        """What every single failure costs, dearest first."""
        failing = self.failing
        return self._once("losses", lambda: tuple(failing.single()))

    def change(self, changeover: str, before: str, after: str) -> Change:
        """One changeover from one position to another, either way.

        Raises
        ------
        InputError
            when the rig has no such changeover or positions
        """
        row = next((each for each in self.rig.part.changeovers if each.id == changeover), None)
        there = [each.id for each in row.positions] if row is not None else []
        if row is None or before not in there or after not in there or before == after:
            raise InputError(f"the rig has no changeover '{changeover}' from '{before}' to '{after}'; look at it again")
        from rollsound.rig.changeovers import changes

        if there.index(before) < there.index(after):
            found = self._once(f"change {changeover}", lambda: changes(self.reaching, row))
        else:
            turned = row.model_copy(update={"positions": tuple(reversed(row.positions))})
            found = self._once(f"back {changeover}", lambda: changes(self.reaching, turned))
        return next(each for each in found if (each.before, each.after) == (before, after))

    def loss(self, element: str) -> Loss:
        """What goes when one thing fails.

        Raises
        ------
        InputError
            when nothing of the rig is called so
        """
        known = next((each for each in self.losses if each.failed == (element,)), None)
        if known is not None:
            return known
        if not self.is_there(element):
            raise InputError(f"nothing of the rig is '{element[:80]}'; choose from the list")
        return self.failing.of(element)

    def is_there(self, element: str) -> bool:
        """Whether this names something that can fail."""
        kind, _, id = element.partition(":")
        listed = {"piece": self.rig.pieces, "link": self.rig.link_rows, "stream": self.rig.stream_rows}
        return id in listed.get(kind, ()) or (kind == "supply" and id in self.failing.supplies)

    def paths(self, source: str, combination: Combination) -> list[Path]:
        """Every path of a source in a combination, tracks first."""
        from rollsound.rig.paths import targets

        return [path for target in targets(self.rig) for path in self.paths_to(source, target, combination)]

    def paths_to(self, source: str, target: str, combination: Combination) -> tuple[Path, ...]:
        """The paths of a source to one target in a combination, quickest first."""
        if not self.reaching.connected(source, target):
            return ()
        reach = self.reaching.reach(source, target)
        if not reach.at(combination):
            return ()
        return self.reaching.paths_in(reach, tuple(combination[each] for each in reach.changeovers)).paths

    def levels_along(self, path: Path, combination: Combination) -> PathLevels:
        """How loud it is at every stage of a path."""
        from rollsound.rig.levels import path_levels

        return path_levels(self.rig, combination, path, self.levels.level(path.source))

    def drawing(self, asked: Asked) -> str:
        """The wiring as SVG, with a path lit or a failure struck out."""
        from rollsound.actions.rig_drawing import drawing

        key = ("drawing", *asked.combination.values(), asked.source, asked.failed)
        return self.remembered(
            key,
            lambda: drawing(
                self.rig,
                self.plan.show.title,
                asked.combination,
                source=asked.source,
                failed=asked.failed,
                ways=self.paths(asked.source, asked.combination) if asked.source else None,
                loss=self.loss(asked.failed) if asked.failed else None,
            ),
        )


_states: OrderedDict[str, tuple[tuple[object, ...], State]] = OrderedDict()
_one = threading.Lock()


def state_of(show: Show) -> State:
    """The rig as the plan has it now; kept until what it rests on changes.

    Raises
    ------
    MistakesError, InputError
        when the plan cannot be read
    """
    from rollsound.actions.rig import rig_of

    plan = show.plan()
    rests_on = _rests_on(plan)
    with _one:
        kept = _states.get(str(show.folder))
        if kept is None or not _same(kept[0], rests_on):
            kept = _states[str(show.folder)] = (rests_on, State(show.folder, plan, rig_of(plan)))
        _states.move_to_end(str(show.folder))
        while len(_states) > _KEPT:
            _states.popitem(last=False)
        return kept[1]


def kept_state(show: Show) -> State | None:
    """The same where it is there already; nothing is worked out."""
    kept = _states.get(str(show.folder))
    return kept[1] if kept is not None and _same(kept[0], _rests_on(show.plan())) else None


def _rests_on(plan: Plan) -> tuple[object, ...]:
    return plan.rig, plan.kit, plan.power, plan.show


def _same(one: tuple[object, ...], other: tuple[object, ...]) -> bool:
    return all(a is b or a == b for a, b in zip(one, other, strict=True))
