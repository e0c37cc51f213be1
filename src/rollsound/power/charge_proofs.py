"""Proofs over charging: full by the next call, within the sockets' power, above freezing, with somebody there."""

from __future__ import annotations

from collections.abc import Iterator

from rollsound.finding import Finding, Weight
from rollsound.power.answer import PowerAnswer
from rollsound.power.charging import Charge
from rollsound.power.chemistry import chemistry
from rollsound.power.telling import CHARGING_SOURCE, finding, time_of_day
from rollsound.quantities import several, true_minus


def charge_proofs(answer: PowerAnswer) -> Iterator[Finding]:
    """Findings of the night."""
    plan = answer.charging
    if not plan.charges:
        return
    if not plan.places:
        yield finding(
            Weight.WATCH,
            "charging",
            "charged by call",
            f"{_batteries(len(plan.charges))} must be charged overnight, and the plan names no place to charge.",
            remedy="Write the sockets under 'power, sockets', with their power and hours.",
            at=("sockets",),
            source=CHARGING_SOURCE,
        )
        return
    yield from _late(answer)
    yield from _freezing(answer)
    yield from _alone(answer)
    guessed = sorted({each.job.battery.name for each in plan.charges if not each.job.charge_w_known})
    if guessed:
        yield finding(
            Weight.WATCH,
            "charging",
            "charger known",
            f"No charge_power is written for {several(guessed)}; a usual rate of its chemistry was taken.",
            remedy="Write what its charger takes, for example charge_power: 60 W.",
            at=("batteries",),
            source=CHARGING_SOURCE,
        )


def _late(answer: PowerAnswer) -> Iterator[Finding]:
    plan = answer.charging
    if not plan.late:
        assert plan.done_min is not None
        yield finding(
            Weight.FINE,
            "charging",
            "charged by call",
            f"All {_batteries(len(plan.charges))} are full by {time_of_day(plan.done_min)}.",
            source=CHARGING_SOURCE,
            numbers={"batteries": float(len(plan.charges)), "done_min": plan.done_min},
        )
        return
    nowhere = [each for each in plan.late if each.socket is None]
    if nowhere:
        names = sorted({each.job.battery.name for each in nowhere})
        most = max(place.socket.most_w for place in plan.places)
        yield finding(
            Weight.STOP,
            several(names),
            "charged by call",
            f"{several(names)} cannot be charged anywhere: its charger takes more than any socket may give "
            f"({most:g} W), or no socket has a place.",
            remedy="Find a stronger socket, or a slower charger.",
            at=("sockets",),
            source=CHARGING_SOURCE,
            numbers={"most_w": most},
        )
    late = [each for each in plan.late if each.socket is not None]
    if late:
        last = max(late, key=lambda each: each.end_min)
        first_sets = [each for each in late if each.job.number == 0]
        yield finding(
            Weight.STOP,
            "charging",
            "charged by call",
            f"{_batteries(len(late))} of {len(plan.charges)} are not full in the hours of their sockets by "
            f"the call at {time_of_day(plan.call_min)}; the last would be at {time_of_day(last.end_min)}.",
            why="First sets are charged first: "
            + ("even of those some are late." if first_sets else "only spares for later in the day are late."),
            remedy=_faster(answer, late),
            at=("sockets", last.socket.id if last.socket else ""),
            source=CHARGING_SOURCE,
            numbers={"late": float(len(late)), "done_min": last.end_min},
        )


def _batteries(number: int) -> str:
    return "1 battery" if number == 1 else f"{number} batteries"


def _faster(answer: PowerAnswer, late: list[Charge]) -> str:
    """Power that would do it: what all must take in, spread over the hours that there are."""
    plan = answer.charging
    energy = sum(each.job.charge_w * each.job.hours for each in plan.charges)
    spans = [max(0.0, min(p.end_min, plan.call_min) - p.start_min) / 60 for p in plan.places]
    longest_h = max((each.job.hours for each in late), default=0.0)
    hours = max(spans, default=0.0)
    if longest_h > hours:
        slow = max(late, key=lambda each: each.job.hours)
        return (
            f"{slow.job.battery.name} alone takes {longest_h:.1f} h and has {hours:.1f} h: take a stronger charger, or "
            "begin earlier."
        )
    have = sum(place.socket.most_w for place in plan.places)
    needed = energy / hours if hours else float("inf")
    if needed <= have:
        return "There is power enough over the night: add places or chargers, so that more are charged at one time."
    return f"The sockets give {have:.0f} W and {needed:.0f} W are needed: find another socket, or begin earlier."


def _freezing(answer: PowerAnswer) -> Iterator[Finding]:
    plan = answer.charging
    cold: dict[str, list[Charge]] = {}
    for each in plan.charges:
        place = next((p for p in plan.places if each.socket is not None and p.socket.id == each.socket.id), None)
        least = chemistry(each.job.battery.chemistry).charge_least_c
        if place is not None and place.coldest_c is not None and least is not None and place.coldest_c < least:
            cold.setdefault(place.socket.id, []).append(each)
    for id, charges in cold.items():
        place = next(p for p in plan.places if p.socket.id == id)
        assert place.coldest_c is not None
        degrees = true_minus(f"{place.coldest_c:g}")
        name = place.socket.name or id
        row = chemistry(charges[0].job.battery.chemistry)
        yield finding(
            Weight.STOP,
            name,
            "charging in the cold",
            f"{name}: {_batteries(len(charges))} would be charged at {degrees} °C; {row.name} is never "
            f"charged below {true_minus(f'{row.charge_least_c or 0:g}')} °C.",
            why="It is damaged inside for good; lithium can burn later.",
            remedy=_warm_place(answer) or "Charge in a heated room, and let batteries warm up first.",
            at=("sockets", id),
            source=CHARGING_SOURCE,
            numbers={"temperature_c": place.coldest_c, "batteries": float(len(charges))},
        )
    unknown = [place for place in plan.places if place.coldest_c is None]
    if unknown:
        yield finding(
            Weight.WATCH,
            unknown[0].socket.name or unknown[0].socket.id,
            "charging in the cold",
            "No temperature is written for the place of charging "
            f"{several([place.socket.name or place.socket.id for place in unknown])}.",
            remedy="Write temperature: 15 to 20 °C at the socket; lithium is never charged below 0 °C.",
            at=("sockets", unknown[0].socket.id),
            source=CHARGING_SOURCE,
        )
    elif not cold:
        yield finding(
            Weight.FINE, "charging", "charging in the cold", "All are charged above freezing.", source=CHARGING_SOURCE
        )


def _warm_place(answer: PowerAnswer) -> str:
    warm = [p for p in answer.charging.places if p.coldest_c is not None and p.coldest_c >= 0]
    return f"Charge them at {warm[0].socket.name or warm[0].socket.id}, which is warm enough." if warm else ""


def _alone(answer: PowerAnswer) -> Iterator[Finding]:
    used = {
        each.socket.id
        for each in answer.charging.charges
        if each.socket is not None and chemistry(each.job.battery.chemistry).lithium
    }
    for place in answer.charging.places:
        socket = place.socket
        if socket.id not in used or socket.attended:
            continue
        yield finding(
            Weight.STOP if socket.attended is False else Weight.WATCH,
            socket.name or socket.id,
            "charging with somebody there",
            f"{socket.name or socket.id}: lithium batteries would be charged with nobody there."
            if socket.attended is False
            else f"The plan does not say whether somebody is at {socket.name or socket.id} while it charges.",
            why="A battery that fails burns within minutes.",
            remedy="Charge where somebody is, and write attended: true.",
            at=("sockets", socket.id),
            source="common practice, no source",
        )
