"""Tell how the kit travels: what it weighs case by case, which batteries may fly, and what customs are given."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence

from rollsound.actions.kit_model import BatteryRow, CustomsList, CustomsRow, KitResult, LoadRow
from rollsound.actions.plan_read import PlanRead, read_plan
from rollsound.errors import InputError
from rollsound.facts import cautions
from rollsound.kit import air_rules, carnet, kinds, lifting, wind
from rollsound.kit.air_proofs import Travelling, travelling
from rollsound.kit.carnet import GeneralList, begun, general_list
from rollsound.kit.kinds import kinds_of
from rollsound.kit.model import BatteryContent, Kind, KitPart
from rollsound.kit.naming import names_wrong
from rollsound.kit.proofs import proofs
from rollsound.kit.totals import Load, totals
from rollsound.power.contents import contents_of
from rollsound.power.model import Battery


def kit(read: PlanRead, *, date: dt.date | None = None, listed: bool = False) -> KitResult:
    """The kit of a plan as it travels.

    Parameters
    ----------
    date
        of the flight: its rules hold, and what does not say how it travels is taken as baggage
    listed
        whether the list for customs is asked for; without, it is made when the kit says anything for it

    Raises
    ------
    MistakesError
        for names that are not there, each with its line
    InputError
        when the plan has no kit
    """
    part = read.plan.kit
    if not part.items:
        raise InputError(f"{read.path} has no kit; write items under 'kit', each with an id and a name")
    read.refuse(names_wrong(part))
    known = kinds_of(part)
    sums = totals(part, known)
    further = batteries_of_power(read.plan.power.batteries, part)
    flying = [*travelling(part, known), *further]
    made = general_list(part, known) if listed or begun(part) else None
    told = _notes(part, known, flying, made)
    return KitResult(
        path=str(read.path),
        name=read.name,
        travel_date=date,
        travellers=part.travellers,
        whole=_load(sums.whole),
        loads=tuple(_load(each) for each in sums.loads),
        currency=part.currency,
        batteries=tuple(_battery(each, date) for each in flying),
        customs=None if made is None else _customs(made),
        findings=tuple(proofs(part, date=date, batteries=further, listed=made is not None)),
        notes=tuple(each[0] for each in told),
        further_notes=tuple(note for each in told for note in each[1:]),
        cautions=_cautions(part, flying),
    )


def batteries_of_power(batteries: Iterable[Battery], part: KitPart) -> list[Travelling]:
    """The batteries that the day runs on, as they travel; those that the kit has under the same id stand there."""
    there = {item.id for item in part.items}
    found = []
    for each in batteries:
        if each.id in there or not each.count:
            continue
        try:
            held = contents_of(each)
        except InputError:  # what it holds cannot be known, which the power part tells
            continue
        content = BatteryContent.model_construct(
            chemistry=each.chemistry,
            voltage_v=held.voltage_v or 0.0,
            capacity_wh=held.nameplate_wh,
            loose=True,
            power_bank=each.power_bank,
            charged=each.charged,
        )
        at = ("power", "batteries", each.id)
        found.append(Travelling(each.name, at, content, each.count, each.travels_by, each.mass_kg))
    return found


def travel_date(text: str) -> dt.date | None:
    """The date of a flight as it was given; none when nothing was.

    Raises
    ------
    InputError
        when it is no date
    """
    if not text:
        return None
    try:
        return dt.date.fromisoformat(text.strip())
    except ValueError as error:
        raise InputError(f"the travel date '{text[:40]}' is no date; write it as 2026-03-27") from error


def _load(load: Load) -> LoadRow:
    return LoadRow(
        name=load.name,
        items=len(load.items),
        pieces=load.pieces,
        mass_kg=load.mass_kg,
        rack_units=load.rack_units,
        value=load.value,
        battery_wh=load.battery_wh,
        without_mass=load.without_mass,
        without_value=load.without_value,
    )


def _battery(each: Travelling, date: dt.date | None) -> BatteryRow:
    said = air_rules.ruling(each.content, date)
    cargo = air_rules.cargo(each.content, date) if each.by == "air cargo" else None
    baggage, rule = said.baggage.value, said.sentence
    if not each.flies:
        baggage, rule = "", "by road or sea: ask the carrier" if each.by == "road or sea" else "stays where it is"
    elif each.by == "air cargo":
        only = ", cargo aircraft only" if cargo is not None and cargo.cargo_aircraft_only else ""
        baggage = ""
        rule = f"{cargo.number}, {cargo.packing}{only}" if cargo is not None else "as cargo: ask the carrier"
    return BatteryRow(
        name=each.name,
        id=each.at[-1],
        chemistry=each.content.chemistry,
        capacity_wh=each.content.capacity_wh,
        pieces=each.pieces,
        loose=each.content.loose,
        travels_by=each.by or "",
        baggage=baggage,
        rule=rule,
    )


def _customs(made: GeneralList) -> CustomsList:
    return CustomsList(
        lines=tuple(
            CustomsRow(
                number=line.number,
                description=line.description,
                pieces=line.pieces,
                mass_kg=line.mass_kg,
                value=line.value,
                origin=line.origin,
                items=line.items,
            )
            for line in made.lines
        ),
        pieces=made.pieces,
        mass_kg=made.mass_kg,
        value=made.value,
        currency=made.currency,
        left_out=made.left_out,
    )


def _notes(
    part: KitPart, known: Mapping[str, Kind], flying: Sequence[Travelling], made: GeneralList | None
) -> list[tuple[str, ...]]:
    """What the reader must be told of the tables that were used, the most needful of each first."""
    of_table = any(item.model and known[item.model].status != "own" for item in part.items)
    used = [
        kinds.notes() if of_table else (),
        lifting.notes(),
        air_rules.notes() if flying else (),
        wind.notes() if part.raised else (),
        carnet.notes() if made is not None else (),
    ]
    return [each for each in used if each]


def _cautions(part: KitPart, flying: Sequence[Travelling]) -> tuple[str, ...]:
    topics = ["handling", *(["air-travel", "lithium"] if flying else []), *(["wind"] if part.raised else [])]
    return tuple(each.text for each in cautions(*topics))


__all__ = ["batteries_of_power", "kit", "read_plan", "travel_date"]
