"""Keep what is on the air, and move as few as can be: those that collide, and as many more as room for them needs."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

from rollsound.radio.carriers.answer import Hold, Limit
from rollsound.radio.carriers.audit import audit
from rollsound.radio.carriers.free import free
from rollsound.radio.carriers.raster import Item
from rollsound.radio.carriers.search import Freqs, place, widen
from rollsound.radio.carriers.task import Task

ON_AIR, OFF_AIR = 1_000, 10
"""What it costs to move one that is sending, and one that only has a carrier."""
SEARCHED = 20_000
"""Steps in the choice of whom to move; after them the best choice so far is taken."""
RELATIONS = 20_000
ALONE = (Limit.RANGE, Limit.STEP, Limit.OCCUPIED)


class Repair:
    """Carriers as they are, and the fewest that must leave theirs."""

    def __init__(self, task: Task, *, moving: bool) -> None:
        self.task = task
        self.moving = moving
        self.wanted = {each.id: each for each in task.wanted}
        self.now = {each.id: each.now_hz for each in task.wanted if each.now_hz is not None}
        self.broken: tuple[Hold, ...] = audit(task, self.now, listed=RELATIONS).broken
        """What is wrong with the carriers as they are."""

    def cost(self, id: str) -> int:
        """Of moving one: those on air last, then those with the smaller priority."""
        each = self.wanted[id]
        return (ON_AIR if each.on_air else OFF_AIR) + 10 - each.priority

    def must_move(self) -> set[str]:
        """The cheapest choice of those to move, so that what stays is clean."""
        leaving = {hold.hit for hold in self.broken if hold.limit in ALONE}
        for receiver in {each.within for each in self.task.wanted if each.within in self.task.windows_hz}:
            leaving |= self._out_of_window(receiver, leaving)
        while True:
            staying = {id: freq for id, freq in self.now.items() if id not in leaving}
            broken = audit(self.task, staying, listed=RELATIONS).broken
            sets = {
                frozenset(id for id in (hold.hit, *hold.sources) if not self.wanted[id].fixed)
                for hold in broken
                if hold.limit not in ALONE
            }
            if not sets:
                return leaving
            leaving |= cheapest_hit(sets, self.cost)

    def _out_of_window(self, receiver: str, leaving: set[str]) -> set[str]:
        """Those that lie too far from the rest of what one receiver hears."""
        heard = sorted(
            (self.now[id], each.width_hz, id)
            for id, each in self.wanted.items()
            if each.within == receiver and id in self.now and id not in leaving
        )
        best: tuple[int, set[str]] | None = None
        for first in range(len(heard)):
            low = heard[first][0] - -(-heard[first][1] // 2)
            inside = {
                id
                for freq, width, id in heard
                if freq - -(-width // 2) >= low and freq + -(-width // 2) <= low + self.task.windows_hz[receiver]
            }
            out = {id for _, _, id in heard if id not in inside}
            cost = sum(self.cost(id) + 10**9 * self.wanted[id].fixed for id in out)
            if best is None or cost < best[0]:
                best = cost, out
        return {id for id in best[1] if not self.wanted[id].fixed} if best else set()

    def run(
        self, seed: int, effort_moves: int, going: Callable[[Mapping[str, int], int], bool]
    ) -> tuple[dict[str, int], int]:
        """The carriers, and how many moves it took."""
        leaving = self.must_move() if self.moving else set()
        moves = 0
        best: dict[str, int] = {}
        share = max(effort_moves // 20, 400)
        while True:
            carriers, made = self._place(leaving, seed, min(share, effort_moves - moves), going)
            moves += made
            if len(carriers) > len(best):
                best = carriers
            missing = [id for id in self.wanted if id not in carriers]
            if not missing or not self.moving or moves >= effort_moves or not going(best, moves):
                break
            more = self._in_the_way(carriers, missing, leaving)
            if not more:
                break
            leaving = leaving | more
        back = self._back(best) if self.moving else best
        widened, made = self._widen(back, seed, min(effort_moves - moves, share * 2), going)
        return widened, moves + made

    def _frozen(self, leaving: set[str]) -> list[Item]:
        return [Item(e, frozen_hz=None if e.id in leaving else self.now.get(e.id)) for e in self.task.wanted]

    def _place(
        self, leaving: set[str], seed: int, effort: int, going: Callable[[Mapping[str, int], int], bool]
    ) -> tuple[dict[str, int], int]:
        items = self._frozen(leaving)
        freqs, moves = place(
            self.task,
            items,
            seed=seed,
            effort_moves=effort,
            enough=sum(item.worth for item in items),
            going=lambda freqs, made: going(_named(items, freqs), made),
        )
        return _named(items, freqs), moves

    def _in_the_way(self, carriers: Mapping[str, int], missing: Sequence[str], leaving: set[str]) -> set[str]:
        """One more to move, so that one of the missing has room: the cheapest of those that leave most."""
        candidates = sorted(
            (id for id in self.now if id in carriers and id not in leaving and not self.wanted[id].fixed),
            key=self.cost,
        )
        best: tuple[int, int, str] | None = None
        for id in candidates[:40]:
            without = {other: freq for other, freq in carriers.items() if other != id}
            room = free(self.task, without, self.wanted[missing[0]]).best(1)
            if room:
                again = free(self.task, {**without, missing[0]: room[0][0]}, self.wanted[id]).best(1)
                key = (self.cost(id) - 5_000 * bool(again), -room[0][1], id)
                best = min(best, key) if best else key
        if best:
            return {best[2]}
        # nobody alone is in the way: half as many again
        return set(candidates[: max(1, len(leaving) // 2)])

    def _back(self, carriers: dict[str, int]) -> dict[str, int]:
        """Put back whoever may keep what it had after all."""
        found = dict(carriers)
        for id in sorted(self.now, key=self.cost, reverse=True):
            if found.get(id, self.now[id]) != self.now[id]:
                tried = {**found, id: self.now[id]}
                if audit(self.task, tried, listed=1).clean:
                    found = tried
        return found

    def _widen(
        self, carriers: dict[str, int], seed: int, effort: int, going: Callable[[Mapping[str, int], int], bool]
    ) -> tuple[dict[str, int], int]:
        """Give those that are new to their carrier the largest margin, with all others as they are."""
        kept = {id for id, freq in carriers.items() if self.now.get(id) == freq}
        placed = [each for each in self.task.wanted if each.id in carriers]
        if len(kept) == len(placed) or effort <= 0 or not audit(self.task, carriers, listed=1).clean:
            return carriers, 0
        task = replace(self.task, wanted=tuple(replace(e, fixed=e.id in kept) for e in placed))
        new = [each for each in task.wanted if not each.fixed]
        if len(new) == 1:
            best = free(task, carriers, new[0]).best(1)
            return ({**carriers, new[0].id: best[0][0]} if best else carriers), 0
        items = [Item(each, frozen_hz=carriers[each.id] if each.fixed else None) for each in task.wanted]

        def margin_of(freqs: Freqs) -> int | None:
            checked = audit(task, _named(items, freqs), listed=1)
            return checked.margin_hz if checked.clean else None

        freqs, moves = widen(
            task,
            items,
            {n: carriers[item.wanted.id] for n, item in enumerate(items)},
            seed=seed,
            effort_moves=effort,
            going=lambda freqs, made: going(_named(items, freqs), made),
            margin_of=margin_of,
        )
        return _named(items, freqs), moves


def _named(items: Sequence[Item], freqs: Freqs) -> dict[str, int]:
    return {items[n].wanted.id: freq for n, freq in sorted(freqs.items())}


def cheapest_hit(sets: set[frozenset[str]], cost: Callable[[str], int]) -> set[str]:
    """The cheapest choice that has one of every set; the best found within a number of steps."""
    ordered = sorted((sorted(each) for each in sets if each), key=lambda each: (len(each), each))
    best: list[str] = []
    best_cost = 1 << 60
    steps = 0

    def choose(chosen: list[str], spent: int) -> None:
        nonlocal best, best_cost, steps
        steps += 1
        left = [each for each in ordered if not any(id in chosen for id in each)]
        if not left:
            if spent < best_cost:
                best, best_cost = list(chosen), spent
            return
        if steps > SEARCHED and best:
            return
        count: dict[str, int] = {}
        for each in left:
            for id in each:
                count[id] = count.get(id, 0) + 1
        for id in sorted(left[0], key=lambda id: (cost(id) / count[id], id)):
            if spent + cost(id) < best_cost:
                choose([*chosen, id], spent + cost(id))

    choose([], 0)
    return set(best)
