"""The search for carriers: what is asked becomes items to place, and what is found is checked before it leaves.

It works at all times with a clean plan, so it may be stopped at any. Effort is counted in moves, never in seconds; who
wants to cut it short by the clock does so with ``stop``.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from rollsound.errors import InputError
from rollsound.radio.carriers.answer import Audit, Bound, CarrierPlan, Limit, Unplaced
from rollsound.radio.carriers.audit import audit
from rollsound.radio.carriers.free import free
from rollsound.radio.carriers.raster import Item
from rollsound.radio.carriers.repair import Repair
from rollsound.radio.carriers.search import Freqs, place, widen
from rollsound.radio.carriers.spares import spares
from rollsound.radio.carriers.task import Mode, Task

EFFORT_MOVES = 60_000
"""Where nobody says how many: some seconds, with a hundred transmitters."""
ENDLESS_MOVES = 10**12
"""For a search that only ``stop`` ends, or that it is through."""
SPARES_SHARE = 0.2
"""Of the moves that are left, those for spares."""


@dataclass(frozen=True)
class Found:
    """How far a search is."""

    placed: int
    of: int
    margin_hz: int | None
    moves: int
    effort_moves: int
    carriers_hz: dict[str, int]
    """The best so far; clean."""


def find(
    task: Task,
    mode: Mode = Mode.ALL,
    *,
    seed: int = 0,
    effort_moves: int | None = None,
    progress: Callable[[Found], None] | None = None,
    stop: Callable[[], bool] | None = None,
) -> CarrierPlan:
    """Look for carriers.

    Parameters
    ----------
    task
        what is asked
    mode
        what is looked for
    seed
        the same seed and the same moves give the same plan
    effort_moves
        how many moves are made at most; 60,000 when None
    progress
        called with the best so far, some times a second
    stop
        asked as often whether to stop; what a search that was stopped gives depends on the moment

    Returns
    -------
    CarrierPlan
        clean by a full audit

    Raises
    ------
    InputError
        when one is to be added to carriers that collide already
    """
    from rollsound.radio.carriers import bounds, relax

    run = _Run(task, EFFORT_MOVES if effort_moves is None else effort_moves, progress, stop)
    bound = bounds.bound(task)
    carriers, most = run.search(mode, seed, bound)
    _put_left(task, carriers, bound)
    checked = audit(task, carriers)
    while not checked.clean:
        # what the search believes is proved wrong here: better one fewer than one that collides
        carriers.pop(_weakest(task, checked))
        checked = audit(task, carriers)
    spares_hz = run.spares(carriers, seed)
    left = [each.id for each in task.wanted if each.id not in carriers]
    unplaced: tuple[Unplaced, ...] = tuple(relax.reasons(task, carriers, left)) if left else ()
    return CarrierPlan(
        carriers,
        checked,
        unplaced,
        spares_hz,
        moved=tuple(e.id for e in task.wanted if e.now_hz is not None and carriers.get(e.id, e.now_hz) != e.now_hz),
        bound=bound,
        proved=mode in (Mode.ALL, Mode.MOST)
        and not any(each.priority == 1 and each.id not in carriers for each in task.wanted)
        and (
            len(carriers) >= _most(bound) if bound is not None else not left and most == checked.margin_hz is not None
        ),
        moves=run.moves,
        stopped=run.stopped,
    )


_ALONE = {
    Limit.RANGE: "outside of its range",
    Limit.STEP: "off its steps",
    Limit.OCCUPIED: "in occupied spectrum, or nearer to it than its guard",
}


def _put_left(task: Task, carriers: dict[str, int], bound: Bound | None) -> None:
    """Whoever the search left out is put where the rules leave a place: the cells of a search keep more apart."""
    hopeless: set[tuple[object, ...]] = set()
    for each in sorted(task.wanted, key=lambda each: each.priority):
        if each.id in carriers or each.fixed or (bound is not None and len(carriers) >= bound.most):
            continue
        alike = each.own_range, each.step_hz, each.origin_hz, each.guard, each.zone, each.within
        if alike in hopeless:  # every carrier that is added leaves less
            continue
        best = free(task, carriers, each).best()
        if best:
            carriers[each.id] = best[0][0]
        else:
            hopeless.add(alike)


class _Run:
    """One search: how much effort is left, and who is told."""

    def __init__(
        self,
        task: Task,
        effort_moves: int,
        progress: Callable[[Found], None] | None,
        stop: Callable[[], bool] | None,
    ) -> None:
        self.task = task
        self.effort = effort_moves
        self.progress = progress
        self.stop = stop
        self.moves = 0
        self.stopped = False
        self._told: tuple[Mapping[str, int], int | None] = ({}, None)

    def going(self, carriers: Mapping[str, int], moves: int) -> bool:
        """Tell the best so far, and whether to go on."""
        if self.progress is not None:
            if carriers != self._told[0]:
                self._told = (dict(carriers), audit(self.task, carriers).margin_hz)
            here, margin = dict(carriers), self._told[1]
            self.progress(Found(len(here), len(self.task.wanted), margin, self.moves + moves, self.effort, here))
        self.stopped = self.stopped or (self.stop is not None and self.stop())
        return not self.stopped

    def search(self, mode: Mode, seed: int, bound: Bound | None) -> tuple[dict[str, int], int | None]:
        """The carriers, and the largest margin that is possible where it is known."""
        if mode in (Mode.REPAIR, Mode.ADD):
            repair = Repair(self.task, moving=mode is Mode.REPAIR)
            if mode is Mode.ADD and repair.broken:
                hold = repair.broken[0]
                several = dict.fromkeys([hold.hit, *hold.sources])
                if len(several) == 1:
                    told = f"{hold.hit} cannot stay where it is ({_ALONE.get(hold.limit, hold.limit.value)})"
                else:
                    told = f"{' and '.join(several)} do not go together as they are ({hold.limit})"
                raise InputError(f"{told}; repair the plan, then add to it")
            carriers, moves = repair.run(seed, self.effort, self.going)
            self.moves += moves
            return carriers, None
        return self._all(seed, bound)

    def _all(self, seed: int, bound: Bound | None) -> tuple[dict[str, int], int | None]:
        from rollsound.radio.carriers import bounds

        task = self.task
        items = [Item(each, frozen_hz=each.now_hz if each.fixed else None) for each in task.wanted]
        worths = sorted((item.worth for item in items), reverse=True)
        enough = sum(worths[: _most(bound)] if bound is not None else worths)

        def going(freqs: Freqs, moves: int) -> bool:
            return self.going({items[n].wanted.id: freq for n, freq in freqs.items()}, moves)

        freqs, moves = place(task, items, seed=seed, effort_moves=self.effort, enough=enough, going=going)
        self.moves += moves
        most: int | None = None
        if len(freqs) == len(items) > 1 and not self.stopped:

            def largest() -> int | None:
                nonlocal most
                most = bounds.largest_margin_hz(task)
                return most

            def margin_of(freqs: Freqs) -> int | None:
                checked = audit(task, {items[n].wanted.id: freq for n, freq in freqs.items()})
                return checked.margin_hz if checked.clean else None

            left = int((self.effort - self.moves) * (1 - SPARES_SHARE * any(e.spares for e in task.wanted)))
            freqs, moves = widen(
                task, items, freqs, seed=seed, effort_moves=left, going=going, margin_of=margin_of, most_hz=largest
            )
            self.moves += moves
        return {items[n].wanted.id: freq for n, freq in sorted(freqs.items())}, most

    def spares(self, carriers: dict[str, int], seed: int) -> dict[str, tuple[int, ...]]:
        """Spares for those that want some, beside carriers that stay."""
        if self.stopped and not any(each.spares for each in self.task.wanted):
            return {}
        effort = max(int((self.effort - self.moves) * SPARES_SHARE), 2_000) if self.effort < ENDLESS_MOVES else 20_000
        found, moves = spares(
            self.task, carriers, seed=seed, effort_moves=effort, going=lambda moves: self.going(carriers, moves)
        )
        self.moves += moves
        return found


def _most(bound: Bound) -> int:
    """How many can be placed, with all of those that must be."""
    return bound.most if bound.with_musts is None else bound.with_musts


def _weakest(task: Task, checked: Audit) -> str:
    """Of those in the worst broken relation, the one that is worth least and may go."""
    hold = checked.broken[0]
    involved = {hold.hit, *hold.sources}
    free = [each for each in task.wanted if each.id in involved and not each.fixed]
    return min(free, key=lambda each: (Item(each).worth, each.id)).id
