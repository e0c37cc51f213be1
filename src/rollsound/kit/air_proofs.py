"""May every battery fly as it is to travel, and are there no more of one sort than the travellers may have along."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from rollsound.finding import Area, Finding, Weight
from rollsound.kit.air_rules import Baggage, Ruling, cargo, known, remark, ruling
from rollsound.kit.kinds import resolved
from rollsound.kit.model import BatteryContent, Kind, KitPart, TravelsBy
from rollsound.kit.telling import finding, kilograms, several, watt_hours

_ON_GROUND = ("road or sea", "stays")
_GROUP_NAMES = {
    "power banks": "power bank",
    "spares over 100 Wh": "spare battery over 100 Wh",
    "spares up to 100 Wh": "spare lithium battery",
    "equipment": "device with a battery",
    "lead spares": "spare lead battery",
}


@dataclass(frozen=True)
class Travelling:
    """Batteries of one sort on their way: loose ones, or those inside equipment."""

    name: str
    at: tuple[str, ...]
    """Place in the plan."""
    content: BatteryContent
    count: int
    by: TravelsBy | None = None
    mass_kg: float | None = None
    """Of one battery, where it is known."""

    @property
    def pieces(self) -> int:
        """Batteries in all."""
        return self.count * self.content.count

    @property
    def flies(self) -> bool:
        """Whether it goes by air, as far as the plan says."""
        return self.by not in _ON_GROUND


def travelling(kit: KitPart, kinds: Mapping[str, Kind]) -> list[Travelling]:
    """The batteries of the kit's items."""
    found = []
    for item in kit.items:
        made = resolved(item, kinds)
        if made.battery is None or not item.count:
            continue
        mass = made.mass_kg if made.battery.loose else made.battery.mass_kg
        at = ("kit", "items", item.id)
        found.append(Travelling(item.name, at, made.battery, item.count, item.travels_by, mass))
    return found


def air_proofs(batteries: Sequence[Travelling], travellers: int = 1, date: dt.date | None = None) -> Iterator[Finding]:
    """Battery by battery, then how many there are of each group.

    Parameters
    ----------
    travellers
        people whose baggage they are spread over
    date
        of the flight; with one, what does not say how it travels is taken as baggage. Without, it is only warned of.
    """
    if not batteries:
        return
    if not known(date):
        yield finding(
            Weight.WATCH,
            "batteries by air",
            "rules of the day",
            f"The rules known here are those of 2025 and 2026; for {date} the nearest of them were taken.",
            remedy="Ask the operator for the edition that holds on the day.",
            area=Area.POWER,
        )
    found = [*_each(batteries, date), *_together(batteries, travellers, date)]
    yield from found
    flying = [each for each in batteries if each.flies]
    if flying and not found:
        pieces = sum(each.pieces for each in flying)
        yield finding(
            Weight.FINE,
            "batteries by air",
            "battery by air",
            f"{several(pieces, 'battery')} may fly, those that are loose in the cabin and each protected.",
            remedy=remark(),
            area=Area.POWER,
            source=ruling(flying[0].content, date).source,
            numbers={"batteries": float(pieces), "travellers": float(travellers)},
        )
    if not flying:
        yield finding(
            Weight.FINE,
            "batteries by air",
            "battery by air",
            "No battery goes by air; by road the rules for dangerous goods still hold above small amounts.",
            remedy="Ask the carrier; check your local rules.",
            area=Area.POWER,
            source="ADR 1.1.3 and special provision 188 (from memory)",
        )


def _each(batteries: Iterable[Travelling], date: dt.date | None) -> Iterator[Finding]:
    for each in batteries:
        if not each.flies:
            continue
        if each.by == "air cargo":
            yield from _as_cargo(each, date)
            continue
        said = ruling(each.content, date)
        told = f"{each.name}, {watt_hours(each.content.capacity_wh)}"
        sure = each.by is not None or date is not None
        if said.baggage is Baggage.FORBIDDEN:
            cheapest = "Send it by road or sea, hire one there, or take packs of 100 Wh or less"
            yield _one(
                each,
                Weight.STOP if sure else Weight.WATCH,
                f"{told}: {said.sentence}.",
                f"{cheapest}; write which under 'travels_by'.",
                said,
            )
        elif each.by == "hold" and not said.hold:
            yield _one(
                each, Weight.STOP, f"{told} is to go in the hold: {said.sentence}.", "Take it into the cabin.", said
            )
        elif said.baggage is Baggage.APPROVAL:
            yield _one(
                each, Weight.WATCH, f"{told}: {said.sentence}.", "Have the approval in writing before the day.", said
            )
        elif each.by == "hold":
            yield _one(each, Weight.WATCH, f"{told}: {said.sentence}.", "Better take it into the cabin.", said)


def _one(each: Travelling, weight: Weight, what: str, remedy: str, said: Ruling) -> Finding:
    return finding(
        weight,
        each.name,
        "battery by air",
        what,
        remedy=f"{remedy} {remark()}",
        at=each.at,
        area=Area.POWER,
        source=said.source,
        numbers={"capacity_wh": each.content.capacity_wh, "pieces": float(each.pieces)},
    )


def _as_cargo(each: Travelling, date: dt.date | None) -> Iterator[Finding]:
    rules = cargo(each.content, date)
    if rules is None:
        return
    told = f"{each.name}, {watt_hours(each.content.capacity_wh)}, as cargo: {rules.number}, {rules.packing}"
    aircraft = ", on cargo aircraft only" if rules.cargo_aircraft_only else ""
    charged = each.content.charged
    weight, more, remedy = (
        Weight.WATCH,
        "",
        "Leave packing, labels and declaration to somebody trained for it, with its UN 38.3 test summary.",
    )
    if charged is not None and not rules.charged_allowed(charged):
        weight = Weight.STOP
        more = f"; charged to {100 * charged:.0f} %, where {100 * (rules.most_charged or 0):.0f} % are the most"
        remedy = f"Run it down to {100 * (rules.most_charged or 0):.0f} % and note it on its label."
    elif charged is None and rules.most_charged is not None:
        content = watt_hours(rules.most_charged * each.content.capacity_wh)
        more = f"; charged to {100 * rules.most_charged:.0f} % at most, {content}"
        remedy = f"Write under 'charged' what is in it. {remedy}"
    if each.mass_kg is not None and each.mass_kg > rules.most_kg:
        weight = Weight.STOP
        more += f"; {kilograms(each.mass_kg)} in one, where a package holds {rules.most_kg:g} kg"
    yield finding(
        weight,
        each.name,
        "battery as cargo",
        f"{told}{aircraft}{more}.",
        remedy=f"{remedy} {remark()}",
        at=each.at,
        area=Area.POWER,
        source=rules.source,
        numbers={"capacity_wh": each.content.capacity_wh, "pieces": float(each.pieces)},
    )


def _together(batteries: Iterable[Travelling], travellers: int, date: dt.date | None) -> Iterator[Finding]:
    groups: dict[str, list[tuple[Travelling, Ruling]]] = {}
    for each in batteries:
        if each.flies and each.by != "air cargo":
            said = ruling(each.content, date)
            if said.most:
                groups.setdefault(said.group, []).append((each, said))
    for group, members in groups.items():
        # A device counts once, whatever number of batteries is inside it.
        number = sum(each.count if group == "equipment" else each.pieces for each, _ in members)
        most = (members[0][1].most or 0) * travellers
        if number <= most:
            continue
        askable = group in ("equipment", "spares up to 100 Wh")
        sure = date is not None or any(each.by is not None for each, _ in members)
        told = several(number, _GROUP_NAMES[group])
        over_told = "one" if number - most == 1 else f"{number - most:,}"
        people = "one traveller" if travellers == 1 else f"{travellers} travellers"
        yield finding(
            Weight.STOP if sure and not askable else Weight.WATCH,
            told.partition(" ")[2],
            "batteries a person",
            f"{told} for {people}, who may have {most} along: {over_told} too many.",
            why="The operator may approve more." if askable else "",
            remedy=f"Leave some, spread them over more people ('travellers'), or send them another way. {remark()}",
            at=members[0][0].at,
            area=Area.POWER,
            source=members[0][1].source,
            numbers={"pieces": float(number), "most": float(most), "travellers": float(travellers)},
        )
