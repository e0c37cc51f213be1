"""How many carriers are found, with what margin and how soon, beside what is proved and a general constraint solver.

Run alone: ``python -m benchmarks.bench_carriers [INSTANCE …] [--seconds 10]``. Every plan is checked by the tests'
independent checker before it counts. The peer of the small instances is CP-SAT (OR-Tools) with the same time and one
worker, as our search has; that of the others is what is proved to be the most (``bounds``), and "best known" is what
earlier trials on two cores reached in ten minutes.
"""

from __future__ import annotations

import argparse
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from ortools.sat.python import cp_model

from benchmarks.row import Row
from rollsound.actions.radio_search import find_within
from rollsound.radio.carriers import exact, instances
from rollsound.radio.carriers.answer import CarrierPlan
from rollsound.radio.carriers.audit import audit
from rollsound.radio.carriers.bounds import bound, largest_margin_hz
from rollsound.radio.carriers.free import free
from rollsound.radio.carriers.live import Live
from rollsound.radio.carriers.places import places
from rollsound.radio.carriers.task import Guard, Mode, Product, Task, Wanted

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "radio" / "carriers"))
import brute

DATA = Path(__file__).parents[1] / "tests" / "reference" / "carriers"
SECONDS = 10.0


@dataclass(frozen=True)
class Goal:
    """What an instance is to reach."""

    placed: int
    best_known: int
    all_within_s: float | None = None
    margin_khz: float | None = None
    solver: bool = False


GOALS = {
    "S1": Goal(16, 16, all_within_s=0.1, margin_khz=100, solver=True),
    "S1b": Goal(19, 19, solver=True),
    "S1max": Goal(24, 24),
    "S2": Goal(34, 34),
    "S2m": Goal(31, 31),
    "S2mic": Goal(37, 37),
    "S3": Goal(57, 58),
    "S3m": Goal(46, 46),
    "S3z": Goal(76, 76, all_within_s=0.5),
    "S3no3": Goal(76, 76, all_within_s=0.5, margin_khz=100),
    "S4_6": Goal(10, 10, all_within_s=1.0, solver=True),
    "S4_8": Goal(12, 12, all_within_s=1.0, solver=True),
    "W24": Goal(20, 21, solver=True),
    "W138": Goal(45, 45),
    "W224": Goal(57, 58),
}


def read(name: str) -> tuple[Task, Mode]:
    """An instance."""
    return instances.read((DATA / f"{name}.json").read_text("utf-8"), name)


def search(task: Task, mode: Mode, seconds: float) -> tuple[CarrierPlan, float]:
    """Search for so long; the plan counts only when the independent checker finds nothing broken."""
    started = time.perf_counter()
    plan = find_within(task, mode, seed=1, seconds=seconds)
    took = time.perf_counter() - started
    broken = brute.broken(task, plan.carriers_hz)
    assert not broken, f"{task.name}: {broken[:3]}"
    return plan, took


def until(task: Task, mode: Mode, placed: int, seconds: float) -> float:
    """The whole time of the first search, each given twice as long as the one before, that places so many."""
    given = seconds / 4
    while given <= 16 * seconds:
        plan, took = search(task, mode, given)
        if len(plan.carriers_hz) >= placed:
            return took
        given *= 2
    return float("nan")


def instance_rows(name: str, seconds: float) -> list[Row]:
    """One instance against its goal, the best known, the bound, and the solver where it is small."""
    task, mode = read(name)
    goal = GOALS[name]
    total = len(task.wanted)
    plan, _ = search(task, mode, seconds)
    proof = bound(task)
    most = total if proof is None else proof.most
    placed = len(plan.carriers_hz)
    must = {each.id for each in task.wanted if each.priority == 1}
    assert mode is not Mode.MOST or must <= plan.carriers_hz.keys(), f"{name}: one that must be placed is not"
    peer, peer_value = "proved most", float(most)
    if goal.solver:
        peer, peer_value = f"CP-SAT in {seconds:g} s; proved most {most}", float(solver_count(task, seconds))
    known = f">= {goal.placed}, best known {goal.best_known}"
    rows = [Row(f"{name}: placed of {total} in {seconds:g} s", placed, "transmitters", peer, peer_value, known)]
    if goal.all_within_s is not None:
        what = f"{name}: until {goal.placed} are placed"
        rows.append(Row(what, until(task, mode, goal.placed, goal.all_within_s), "s", goal=f"<= {goal.all_within_s:g}"))
    if placed == total:
        margin = plan.margin_hz
        most_margin = largest_margin_hz(task)
        wanted = "" if goal.margin_khz is None else f">= {goal.margin_khz:g}"
        limit = None if most_margin is None else most_margin / 1e3
        rows.append(Row(f"{name}: worst margin", (margin or 0) / 1e3, "kHz", "proved most", limit, wanted))
    return rows


# --- the peer ---------------------------------------------------------------------------------------------------------


def solver_count(task: Task, seconds: float) -> int:
    """How many a constraint solver places of transmitters that are all alike and of one zone.

    The carriers are in order, those in use first. Every pair's distance is a variable; two pairs without a carrier in
    common differ by the protection from A+B-C or more, two that meet in the middle by that from 2A-B.
    """
    first = task.wanted[0]
    assert len({(w.guard, w.low_hz, w.high_hz, w.zone) for w in task.wanted}) == 1
    step = first.step_hz
    rule = task.guards[first.guard]
    spacing, two, three = (
        -(-value // step)
        for value in (rule.spacing_hz, rule.protection_hz[Product.TWO_THIRD], rule.protection_hz[Product.THREE_THIRD])
    )
    cells = ((places(first, task.occupied) - first.origin_hz) // step).tolist()
    model = cp_model.CpModel()
    count = len(task.wanted)
    domain = cp_model.Domain.from_values(cells)
    at = [model.new_int_var_from_domain(domain, f"x{n}") for n in range(count)]
    used = [model.new_bool_var(f"u{n}") for n in range(count)]
    for n in range(count - 1):
        model.add_implication(used[n + 1], used[n])
        model.add(at[n + 1] - at[n] >= spacing).only_enforce_if(used[n + 1])
    pairs = [(i, j) for i in range(count) for j in range(i + 1, count)]
    for n, (i, j) in enumerate(pairs):
        for k, l in pairs[n + 1 :]:
            if i == k or j == l:
                continue  # these differ by the distance of two carriers
            asked = two if j == k or i == l else three
            last = used[max(j, l)]
            larger = model.new_bool_var("")
            difference = (at[j] - at[i]) - (at[l] - at[k])
            model.add(difference >= asked).only_enforce_if([larger, last])
            model.add(difference <= -asked).only_enforce_if([larger.negated(), last])
    model.maximize(sum(used))
    solver = cp_model.CpSolver()
    solver.parameters.max_time_in_seconds = seconds
    solver.parameters.num_workers = 1
    status = solver.solve(model)
    return round(solver.objective_value) if status in (cp_model.OPTIMAL, cp_model.FEASIBLE) else 0


# --- rulers -----------------------------------------------------------------------------------------------------------

RULERS = {7: 25, 8: 34, 9: 44, 10: 55}


def ruler_rows(seconds: float) -> list[Row]:
    """Optimal Golomb rulers as a limit: in just their length, one more cannot be, and so many can."""
    rows = []
    for order, length in RULERS.items():
        cell = 25_000
        rule = Guard("ruler", cell, {Product.TWO_THIRD: cell, Product.THREE_THIRD: cell})
        wanted = tuple(
            Wanted(f"t{n}", "ruler", 470_000_000, 470_000_000 + length * cell, cell, 470_000_000, 0)
            for n in range(order + 1)
        )
        plan, _ = search(Task({"ruler": rule}, wanted, name=f"ruler {order}"), Mode.MOST, seconds)
        what = f"marks found in the length of the optimal ruler of {order}, in {seconds:g} s"
        rows.append(
            Row(
                what,
                len(plan.carriers_hz),
                "marks",
                "optimal Golomb ruler",
                order,
                f">= {order - 1}, at most {order}",
            )
        )
    return rows


# --- how fast ---------------------------------------------------------------------------------------------------------


def best_of(times: int, work: Callable[[], object]) -> float:
    """Milliseconds of the fastest of several runs."""
    found = []
    for _ in range(times):
        started = time.perf_counter()
        work()
        found.append(time.perf_counter() - started)
    return min(found) * 1e3


def hundred() -> tuple[Task, dict[str, int]]:
    """A hundred transmitters of three kinds in one zone over 224 MHz, every rule on, at random: nothing is kept."""
    everything = {
        "mic": (400, 100, 50, 50, 25),
        "monitor": (500, 150, 100, 100, 50),
        "link": (450, 125, 75, 50, 25),
    }
    guards = {
        name: Guard(name, spacing * 1_000, {p: v * 1_000 for p, v in zip(Product, (*rest, rest[-1]), strict=True)})
        for name, (spacing, *rest) in everything.items()
    }
    wanted = tuple(
        Wanted(
            f"t{n}",
            ("mic", "mic", "mic", "monitor", "link")[n % 5],
            470_000_000,
            694_000_000,
            25_000,
            470_000_000,
            200_000,
        )
        for n in range(100)
    )
    cells = np.random.default_rng(1).choice(8_900, size=100, replace=False) + 10
    return Task(guards, wanted), {f"t{n}": 470_000_000 + int(cell) * 25_000 for n, cell in enumerate(cells)}


def speed_rows() -> list[Row]:
    """Audit, audit after a move, map of free carriers, bounds."""
    task, carriers = hundred()
    audit(task, carriers)
    whole = best_of(5, lambda: audit(task, carriers))
    live = Live(task, carriers)
    cells = iter(range(20, 8_900, 7))
    live.move("t50", 480_000_000)
    again = best_of(15, lambda: live.move("t50", 470_000_000 + next(cells) * 25_000))
    one = replace(task.wanted[3], id="one more")
    free(task, carriers, one)
    room = best_of(5, lambda: free(task, carriers, one))
    rows = [
        Row("check 100 carriers, all rules", whole, "ms", goal="< 20"),
        Row("check again after one of 100 moved", again, "ms", goal="< 2"),
        Row("map of free carriers for one more beside 100", room, "ms", goal="< 10"),
    ]
    times = {}
    for name in GOALS:
        asked, _ = read(name)
        bound(asked)

        def proof(asked: Task = asked) -> None:
            exact.least_spans.cache_clear()
            bound(asked)

        times[name] = best_of(3, proof)
    slowest = max(times, key=lambda name: times[name])
    rows.append(Row(f"bound of the slowest instance, {slowest}", times[slowest], "ms", goal="< 100"))
    rows.append(Row("bound of 500 transmitters in 1 MHz", best_of(3, lambda: bound(_absurd())), "ms", goal="< 100"))
    return rows


def _absurd() -> Task:
    rule = Guard("mic", 400_000, {Product.TWO_THIRD: 100_000, Product.THREE_THIRD: 50_000})
    wanted = tuple(Wanted(f"t{n}", "mic", 470_000_000, 471_000_000, 25_000, 470_000_000, 200_000) for n in range(500))
    return Task({"mic": rule}, wanted)


def cold_rows() -> list[Row]:
    """The command from nothing, with kernels compiled in an earlier run."""
    command = [
        sys.executable,
        "-m",
        "rollsound",
        "radio",
        "plan",
        str(DATA / "S4_8.json"),
        "--seconds",
        "0.1",
        "--json",
    ]
    taken = []
    for _ in range(2):
        started = time.perf_counter()
        done = subprocess.run(command, capture_output=True, text=True, check=False)
        taken.append(time.perf_counter() - started)
        assert done.returncode in (0, 1), done.stderr
    return [Row("radio plan from a cold start, 0.1 s of search", min(taken), "s", goal="< 3")]


def run(seconds: float = SECONDS, names: list[str] | None = None) -> list[Row]:
    """Everything, or some instances."""
    for name in ("S4_8", "S3z", "S3no3"):  # compiled before anything is timed
        task, mode = read(name)
        find_within(task, mode, seed=1, seconds=0.2)
    rows = [row for name in GOALS if not names or name in names for row in instance_rows(name, seconds)]
    if not names:
        rows += [*ruler_rows(min(seconds, 5.0)), *speed_rows(), *cold_rows()]
    return rows


if __name__ == "__main__":
    parser = argparse.ArgumentParser()
    parser.add_argument("names", nargs="*")
    parser.add_argument("--seconds", type=float, default=SECONDS)
    given = parser.parse_args()
    for row in speed_rows() if given.names == ["speed"] else run(given.seconds, given.names):
        print(
            f"{row.what:60s} {row.ours:10.4g} {row.unit:12s} {row.peer} {row.peer_value or ''} goal {row.goal}",
            flush=True,
        )
