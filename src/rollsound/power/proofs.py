"""Proofs over the power part: what it names, who feeds whom, and whether every battery carries its day."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rollsound.finding import Finding, Weight
from rollsound.power.answer import PowerAnswer
from rollsound.power.charge_proofs import charge_proofs
from rollsound.power.load import Load
from rollsound.power.model import Feeding
from rollsound.power.run_proofs import run_proofs
from rollsound.power.telling import finding
from rollsound.power.wire_proofs import wire_proofs
from rollsound.quantities import count, several
from rollsound.wrong import Wrong

MOST_UNFED = 6
"""Told one by one; more are told together."""


def proofs(answer: PowerAnswer, wrong: Sequence[Wrong] = ()) -> list[Finding]:
    """Every proof over a day's power, each with at least one finding; ``refs`` are ``plan#`` and a JSON Pointer.

    Parameters
    ----------
    answer
        of the power part, without what is wrong in it
    wrong
        what is wrong beyond its form
    """
    power = answer.power
    if not (power.batteries or power.supplies or wrong or answer.runs or answer.unfed):
        return []
    result = [
        finding(
            Weight.STOP,
            each.place,
            "power plan",
            f"The power part, {each.place}: {each.sentence}.",
            remedy="Correct it on the page Plan.",
            at=each.at[1:],
        )
        for each in wrong
    ] or [finding(Weight.FINE, "the power part", "power plan", "All that the power part names is there and can be.")]
    if power.supplies:
        result += [*_loop(answer), *_no_battery(answer), *_unfed(answer), *_overload(answer)]
    elif not wrong:
        result = list(_no_supplies(answer))
    return [*result, *run_proofs(answer), *wire_proofs(answer), *charge_proofs(answer)]


def _no_supplies(answer: PowerAnswer) -> Iterator[Finding]:
    """A plan that does not say yet what runs on what: told once, not for every piece."""
    total = sum(each.draw_w for each in answer.unfed)
    takes = f"{count(len(answer.unfed), 'piece')} of the rig {'takes' if len(answer.unfed) == 1 else 'take'} power"
    yield finding(
        Weight.WATCH,
        "supplies",
        "power plan",
        "The plan names no supplies, so nothing is known of what runs on which battery"
        + (f"; {takes} ({total:.0f} W together)." if answer.unfed else "."),
        remedy="Write supplies under 'power': the batteries of each, and what it feeds.",
        at=("supplies",),
        numbers={"power_w": total, "pieces": float(len(answer.unfed))},
    )


def _loop(answer: PowerAnswer) -> Iterator[Finding]:
    tree = answer.day_runs.tree
    if not tree.rings:
        yield finding(Weight.FINE, "supplies", "loop of supplies", "No supply feeds itself, not even by a way round.")
    for ring in tree.rings:
        names = [tree.supplies[id].name or id for id in ring]
        yield finding(
            Weight.STOP,
            names[0],
            "loop of supplies",
            f"Supplies feed each other in a ring: {' feeds '.join([*names, names[0]])}; power enters nowhere.",
            why="They and what they feed are left out of all other sums.",
            remedy=f"Take from_supply out of one of them, and name its battery or the mains: {several(names)}.",
            at=("supplies", ring[0], "from_supply"),
        )


def _no_battery(answer: PowerAnswer) -> Iterator[Finding]:
    without = [
        supply
        for supply in answer.power.supplies
        if not (supply.battery or supply.from_supply or supply.mains) and supply.id not in answer.day_runs.tree.loop
    ]
    for supply in without:
        load = answer.day_runs.tree.input_w(supply.id, {})
        kinds = [battery.name for battery in answer.power.batteries]
        yield finding(
            Weight.STOP,
            supply.name or supply.id,
            "battery named",
            f"{supply.name or supply.id} gives {load:.1f} W, and the plan names no battery, supply or mains for it.",
            remedy=f"Write its battery ({several(kinds)}), from_supply, or mains: true."
            if kinds
            else "List its batteries under 'power, batteries', and name them here.",
            at=("supplies", supply.id),
            numbers={"power_w": load},
        )
    if not without and answer.power.supplies:
        yield finding(Weight.FINE, "supplies", "battery named", "Every supply has a battery, a supply or the mains.")


def _unfed(answer: PowerAnswer) -> Iterator[Finding]:
    one_by_one = answer.unfed if len(answer.unfed) <= MOST_UNFED else ()
    for each in one_by_one:
        yield finding(
            Weight.STOP,
            each.name,
            "fed by something",
            f"{each.name} takes {each.draw_w:.1f} W, and no supply feeds it.",
            remedy=_spare_power(answer, each.draw_w),
            at=each.at[1:],
            part=each.at[0],
            numbers={"power_w": each.draw_w},
        )
    if answer.unfed and not one_by_one:
        total = sum(each.draw_w for each in answer.unfed)
        first = answer.unfed[0]
        yield finding(
            Weight.STOP,
            first.name,
            "fed by something",
            f"{several([each.name for each in answer.unfed])} take {total:.0f} W, and no supply feeds them.",
            remedy="Name each under 'feeds' of the supply that it hangs on.",
            at=first.at[1:],
            part=first.at[0],
            numbers={"power_w": total, "pieces": float(len(answer.unfed))},
        )
    if not answer.unfed:
        yield finding(Weight.FINE, "the rig", "fed by something", "All that takes power is fed by a supply.")
    tree = answer.day_runs.tree
    for supply in answer.power.supplies:
        silent = [load.name for _, load in tree.fed(supply.id) if load.working_w is None]
        if silent:
            yield finding(
                Weight.WATCH,
                supply.name or supply.id,
                "draw known",
                f"{supply.name or supply.id} feeds {several(silent)}, and the plan has no draw for it: counted as 0 W.",
                remedy="Measure it, and write draw: 12 W at the item or where it is fed.",
                at=("supplies", supply.id, "feeds"),
                numbers={"without_draw": float(len(silent))},
            )


def _spare_power(answer: PowerAnswer, draw_w: float) -> str:
    """The supply with the longest battery that could feed it as well, or that there is none."""
    tree = answer.day_runs.tree
    able = [
        run
        for run in answer.runs
        if not run.supply.each
        and not run.inside
        and (run.supply.most_w is None or tree.output_w(run.supply.id, {}) + draw_w <= run.supply.most_w)
    ]
    if not able:
        return "Name it under 'feeds' of the supply that it hangs on."
    best = max(able, key=lambda run: run.left_h * run.working_w)
    with_it = best.usable_wh / (best.losing(best.working_w) + draw_w / best.supply.efficiency)
    return (
        f"Name it under 'feeds' of the supply that it hangs on; {best.name} has most to spare, and one set there would "
        f"last {with_it:.1f} h in place of {best.hours:.1f} h."
    )


def _overload(answer: PowerAnswer) -> Iterator[Finding]:
    tree = answer.day_runs.tree
    limited = [supply for supply in answer.power.supplies if supply.most_w is not None and supply.id not in tree.loop]
    over = False
    for supply in limited:
        assert supply.most_w is not None
        fed = tree.fed(supply.id)
        each_one = max((load.most_w / load.count for _, load in fed if load.count), default=0.0)
        load_w = each_one if supply.each else tree.output_w(supply.id, {})
        if load_w <= supply.most_w:
            continue
        over = True
        lightest = _lightest_to_move(fed, load_w - supply.most_w)
        yield finding(
            Weight.STOP,
            supply.name or supply.id,
            "supply overloaded",
            f"{supply.name or supply.id} is to give {load_w:.1f} W and can give {supply.most_w:g} W.",
            why="It switches off, or its fuse blows, when everything works at once.",
            remedy=f"Feed {lightest} from another supply."
            if lightest
            else f"Take one that gives {load_w:.0f} W or more, or divide what it feeds.",
            at=("supplies", supply.id, "most"),
            numbers={"load_w": load_w, "most_w": supply.most_w},
        )
    if limited and not over:
        yield finding(Weight.FINE, "supplies", "supply overloaded", "No supply is to give more than it can.")


def _lightest_to_move(fed: Sequence[tuple[Feeding, Load]], excess_w: float) -> str:
    """The smallest single thing whose leaving is enough."""
    loads = sorted(((load.most_w, load.name) for _, load in fed), key=lambda each: each[0])
    return next((f"{name} ({watts:.1f} W)" for watts, name in loads if watts >= excess_w), "")
