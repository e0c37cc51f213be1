"""Proofs over batteries in use: flat before wrap, spares, changes in the middle of work, cold."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from rollsound.finding import Finding, Weight
from rollsound.power.answer import PowerAnswer
from rollsound.power.chemistry import chemistry
from rollsound.power.cold import share_of
from rollsound.power.contents import contents_of
from rollsound.power.runs import Run, Stock
from rollsound.power.swaps import SwapPlan, swap_plan
from rollsound.power.telling import COLD_SOURCE, finding, hours, time_of_day, wh
from rollsound.quantities import count, true_minus

_SINGLE_CELL_V = 1.7


def run_proofs(answer: PowerAnswer) -> Iterator[Finding]:
    """Findings of every battery in use, and of every kind of battery."""
    for run in answer.runs:
        if run.day_wh > 0:
            yield from _lasts(answer, run)
            yield from _in_breaks(answer, run)
    for stock in answer.stock:
        yield from _spares(answer, stock)
    yield from _cold(answer)


def _at(run: Run) -> tuple[str, ...]:
    return ("supplies", run.supply.id)


def _place(run: Run) -> dict[str, object]:
    """Where a run stands in the plan: a thing with its battery inside is of the rig or the kit."""
    if run.inside and run.inside.at:
        return {"at": run.inside.at[1:], "part": run.inside.at[0]}
    return {"at": _at(run)}


def _lasts(answer: PowerAnswer, run: Run) -> Iterator[Finding]:
    numbers = {
        "load_w": run.working_w,
        "set_wh": run.usable_wh,
        "day_wh": run.day_wh,
        "hours_h": run.hours,
        "sets_needed": float(run.sets_needed),
        "sets_given": float(run.given),
        "temperature_c": run.temperature_c,
    }
    flat = run.flat_min
    if flat is not None and flat < run.end_min - 0.5:
        short_wh = run.day_wh - run.usable_wh * run.given
        if run.given == 0:
            what = (
                f"{run.name} {_verb(run, 'has', 'have')} no battery left to run on: all {run.battery.count} of "
                f"{run.battery.name} are in use elsewhere."
            )
        else:
            what = (
                f"{run.name} {_verb(run, 'is', 'are')} flat at {time_of_day(flat)}, {_length(run.end_min - flat)} too "
                f"early, with {_sets(run)}: {_verb(run, 'it', 'each')} takes {run.working_w:.1f} W, and "
                f"{wh(run.day_wh)} over the day."
            )
        yield finding(
            Weight.STOP,
            run.name,
            "flat before wrap",
            what,
            why=_why(run),
            remedy=_remedy(answer, run),
            numbers=numbers | {"short_wh": short_wh, "flat_min": flat},
            **_place(run),  # type: ignore[arg-type]
        )
        return
    if run.given < run.sets_needed or run.day_wh > run.planned_wh * run.given + 1e-6:
        yield finding(
            Weight.WATCH,
            run.name,
            "flat before wrap",
            f"{run.name} {_verb(run, 'lasts', 'last')} until {time_of_day(run.end_min)} only on the reserve of "
            f"{100 * run.reserve:.0f} % with {_sets(run)}.",
            why=_why(run),
            remedy=_remedy(answer, run),
            numbers=numbers,
            **_place(run),  # type: ignore[arg-type]
        )
        return
    swaps = count(len(run.plan.swaps), "change") if run.plan.swaps else "no change"
    yield finding(
        Weight.FINE,
        run.name,
        "flat before wrap",
        f"{run.name} {_verb(run, 'lasts', 'last')} the day at {run.working_w:.1f} W with {swaps}, and "
        f"{_verb(run, 'has', 'have')} {hours(run.left_h)} left at the end.",
        numbers=numbers | {"left_h": run.left_h},
        **_place(run),  # type: ignore[arg-type]
    )


def _sets(run: Run) -> str:
    if run.inside:
        return "its own battery"
    each = f" of {run.in_set}" if run.in_set > 1 else ""
    alike = " each" if run.many else f" for each of {run.alike}" if run.alike > 1 else ""
    return f"{count(run.given, 'set')}{each} of {run.battery.name}{alike}"


def _length(minutes: float) -> str:
    return f"{minutes / 60:.1f} h" if minutes >= 60 else f"{minutes:.0f} min"


def _why(run: Run) -> str:
    reserve = ", reserve included" if run.reserve else ""
    told = f"One set gives {wh(run.usable_wh)} of {wh(run.contents.nameplate_wh * run.in_set)} on the label{reserve}"
    shares = []
    if run.contents.depth < 1:
        shares.append(f"{100 * run.contents.depth:.0f} % is used")
    if run.contents.health < 1:
        shares.append(f"age leaves {100 * run.contents.health:.0f} %")
    if run.cold.share != 1:
        degrees = true_minus(f"{run.temperature_c:g}")
        shares.append(f"{100 * run.cold.share:.0f} % at {degrees} °C ({run.cold.status})")
    return told + (f": {', '.join(shares)}." if shares else ".")


def _remedy(answer: PowerAnswer, run: Run) -> str:
    """The cheapest that helps: less load in breaks, batteries that lie unused, then more batteries."""
    if run.inside and not run.inside.removable:
        missing = (run.day_wh - run.usable_wh) / max(run.working_w, 1e-9)
        return f"Charge it for a while in a break, or feed it from a supply: {missing:.1f} h of its load are missing."
    quiet = _quieter(run)
    if quiet is not None and quiet.sets_needed <= run.given:
        return (
            f"Let it idle or switch it off in breaks: that saves {wh(run.day_wh - quiet.day_wh)}, and the batteries "
            "that are there suffice."
        )
    idle = _unused(answer, run)
    if idle:
        return idle
    more = (run.sets_needed - run.given) * run.in_set * run.alike
    return (
        f"Bring {more} more of {run.battery.name}, or in place of each set batteries with "
        f"{wh(_label_wh(run, run.given))} or more on the label."
    )


def _quieter(run: Run) -> Run | None:
    """The same with nothing drawn in breaks; none where it has no breaks with a load."""
    if not any(step.is_break and step.power_w > 0 for step in run.steps):
        return None
    steps = tuple(replace(step, power_w=0.0) if step.is_break else step for step in run.steps)
    return replace(run, steps=steps, plan=swap_plan(steps, run.planned_wh, run.losing))


def _unused(answer: PowerAnswer, run: Run) -> str:
    """Batteries of another kind and the same voltage that nothing uses and that would carry it."""
    found = _others(answer, run)
    if not found:
        return ""
    other, number, free, _ = found[0]
    return f"Run {_verb(run, 'it', 'them')} on {number} of {other}, of which {free} lie unused."


def _others(answer: PowerAnswer, run: Run) -> list[tuple[str, int, int, SwapPlan]]:
    """Other batteries that lie unused and would carry it: name, how many it takes, how many are free, its changes."""
    found = []
    for stock in answer.stock:
        other = stock.battery
        free = stock.owned - stock.needed
        if other.id == run.battery.id or free < run.in_set * run.alike or run.inside:
            continue
        contents = contents_of(other)
        if not _fits(run.contents.voltage_v, contents.voltage_v):
            continue
        one = contents.usable_wh(share_of(other, run.temperature_c, answer.power).share) * run.in_set
        losing = contents.losing(max(1, run.in_set // run.supply.in_series))
        plan = swap_plan(run.steps, one * (1 - run.reserve), losing)
        number = (len(plan.swaps) + 1) * run.in_set * run.alike
        if plan.fits and number <= free:
            found.append((other.name, number, free, plan))
    return found


def _fits(here_v: float | None, there_v: float | None) -> bool:
    """Whether one battery can stand in for another: nearly the same voltage, or single cells, which are all alike."""
    if here_v is None or there_v is None:
        return False
    return abs(here_v - there_v) <= 0.15 * here_v or max(here_v, there_v) <= _SINGLE_CELL_V


def _longer(answer: PowerAnswer, run: Run) -> str:
    """What would spare a change in the middle of work."""
    for name, number, free, plan in _others(answer, run):
        if len(plan.outside) < len(run.plan.outside):
            left = "all changes in breaks" if not plan.outside else f"{len(plan.outside)} outside breaks"
            return f"run {_verb(run, 'it', 'them')} on {number} of {name}, of which {free} lie unused ({left})"
    if run.supply.each:
        label = _label_wh(run, len(run.plan.swaps)) / run.in_set
        return f"take batteries of {label:.3g} Wh or more, which need one change less"
    return "put a second battery in parallel"


def _verb(run: Run, one: str, many: str) -> str:
    return many if run.many else one


def _label_wh(run: Run, sets: int) -> float:
    """What a set must have on its label to carry the day in so many sets."""
    share = run.contents.depth * run.contents.health * run.cold.share * (1 - run.reserve)
    return run.day_wh / max(1, sets) / share


def _in_breaks(answer: PowerAnswer, run: Run) -> Iterator[Finding]:
    if not run.plan.swaps or run.inside:
        return
    outside = run.plan.outside
    where = ", ".join(swap.told for swap in run.plan.swaps)
    if not outside or run.supply.swappable_running:
        told = (
            f"are changed at {where}; its battery can be changed while it feeds"
            if outside
            else f"are changed in breaks, {where}"
        )
        yield finding(
            Weight.FINE,
            run.name,
            "change in a break",
            f"{run.name}: batteries {told}.",
            at=_at(run),
            numbers={"swaps": float(len(run.plan.swaps)), "outside": float(len(outside))},
        )
        return
    times = ", ".join(time_of_day(swap.at_min) for swap in outside)
    more = run.plan.all_in_breaks
    if more is not None:
        also = ", ".join(swap.told for swap in more)
        extra = len(more) - len(run.plan.swaps)
        remedy = (
            f"Change in breaks, {also}: {count(extra, 'set')} more, and no interruption."
            if extra
            else f"Change in breaks, {also}."
        )
    else:
        remedy = f"Plan a break by {time_of_day(outside[0].at_min)} of a minute or two, or {_longer(answer, run)}."
    yield finding(
        Weight.WATCH,
        run.name,
        "change in a break",
        f"{run.name} must change batteries by {times}, in the middle of work, and {_verb(run, 'is', 'are')} off while "
        "that is done.",
        why=f"One set lasts {hours(run.planned_wh / max(run.losing(run.working_w), 1e-9))} before its reserve.",
        remedy=remedy,
        at=_at(run),
        numbers={"swaps": float(len(run.plan.swaps)), "outside": float(len(outside))},
    )


def _spares(answer: PowerAnswer, stock: Stock) -> Iterator[Finding]:
    name = stock.battery.name
    if not stock.in_use:
        return
    numbers = {
        "needed": float(stock.needed),
        "in_use": float(stock.in_use),
        "owned": float(stock.owned),
        "spares_needed": float(stock.spares_needed),
    }
    told = f"The day takes {stock.needed} of {name} ({stock.in_use} in use and {count(stock.spares_needed, 'spare')})"
    at = ("batteries", stock.battery.id, "count")
    if not stock.missing:
        yield finding(Weight.FINE, name, "spares", f"{told}, and the plan has {stock.owned}.", at=at, numbers=numbers)
        return
    bought = not chemistry(stock.battery.chemistry).rechargeable
    yield finding(
        Weight.STOP if stock.least > stock.owned else Weight.WATCH,
        name,
        "spares",
        f"{told}, and the plan has {stock.owned}.",
        why="" if stock.least > stock.owned else "They carry the day only if every reserve is used up.",
        remedy=f"{'Buy' if bought else 'Bring or hire'} {stock.missing} more"
        + ("." if bought else ", or charge some of them during the day."),
        at=at,
        numbers=numbers | {"missing": float(stock.missing)},
    )


def _cold(answer: PowerAnswer) -> Iterator[Finding]:
    unknown = [run for run in answer.runs if not run.temperature_known]
    if unknown:
        yield finding(
            Weight.WATCH,
            "temperature",
            "temperature known",
            f"No temperature is written for {count(len(unknown), 'battery place')}; 20 °C was taken.",
            remedy="Write temperature: -8 to 2 °C at the sites of the day.",
            at=_at(unknown[0]),
            source=COLD_SOURCE,
        )
    told = set()
    for run in answer.runs:
        row = chemistry(run.battery.chemistry)
        key = (run.battery.id, run.temperature_c)
        below = run.temperature_c < row.discharge_least_c
        if key in told or not (run.cold.beyond or below):
            continue
        told.add(key)
        degrees = true_minus(f"{run.temperature_c:g}")
        yield finding(
            Weight.WATCH,
            run.battery.name,
            "temperature known",
            f"{run.battery.name} at {degrees} °C: "
            + (
                f"{row.name} is made to work down to {true_minus(f'{row.discharge_least_c:g}')} °C."
                if below
                else "no share in the cold is known there, the nearest was taken."
            ),
            remedy="Keep batteries warm until they are used, in a case with an insulated lining or worn under a coat.",
            at=("batteries", run.battery.id),
            source=COLD_SOURCE,
            numbers={"temperature_c": run.temperature_c, "share": run.cold.share},
        )
    if answer.runs and not unknown and not told:
        coldest = min(answer.runs, key=lambda run: run.temperature_c)
        yield finding(
            Weight.FINE,
            "temperature",
            "temperature known",
            f"Counted at the coldest that batteries get, {true_minus(f'{coldest.temperature_c:g}')} °C.",
            why="Shares in the cold are planning figures unless the plan has a data sheet's.",
            source=COLD_SOURCE,
            numbers={"temperature_c": coldest.temperature_c},
        )
