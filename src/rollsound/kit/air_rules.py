"""Batteries on aircraft: what may go as baggage, how many of it, and what only as cargo; each rule from its date.

A date before or after the years that the table knows is answered with the nearest rules, and said to be so.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Any, cast

from rollsound.facts import table
from rollsound.facts.rows import notes_of
from rollsound.kit.model import BatteryContent, Chemistry

_TABLE = "kit_air"
RECHARGED: tuple[Chemistry, ...] = ("li-ion", "lifepo4")
"""Chemistries that the rules call lithium-ion."""
DRY: tuple[Chemistry, ...] = ("nimh", "alkaline", "zinc-carbon")


class Baggage(StrEnum):
    """How a battery may go with a passenger."""

    ALLOWED = "allowed"
    APPROVAL = "with the operator's approval"
    FORBIDDEN = "not as baggage"


@dataclass(frozen=True)
class Ruling:
    """What holds for one battery on one date.

    ``hold`` is whether it may be in checked baggage; ``most`` is how many of its group one person may have along, none
    where no number is given; ``group`` names those that are counted together.
    """

    baggage: Baggage
    hold: bool
    group: str
    most: int | None
    sentence: str
    source: str


@dataclass(frozen=True)
class Cargo:
    """What holds for one battery as air cargo."""

    number: str
    """UN number with its name."""
    packing: str
    cargo_aircraft_only: bool
    most_charged: float | None
    """Share of its content, none where the rules ask for none."""
    most_kg: float
    """Of batteries in one package."""
    source: str

    def charged_allowed(self, charged: float) -> bool:
        """Whether it may go with so much in it."""
        return self.most_charged is None or charged <= self.most_charged


def ruling(battery: BatteryContent, date: dt.date | None = None, *, loose: bool | None = None) -> Ruling:
    """What holds for one battery as baggage.

    Parameters
    ----------
    date
        of the flight; the newest rules when None
    loose
        whether it travels as a battery, not inside equipment; as it is written when None
    """
    spare = battery.loose if loose is None else loose
    if battery.power_bank and (date is None or date >= _date("power_banks", "from")):
        banks = _row("power_banks")
        most = int(banks["most"])
        told = f"carry-on only, {most} a person, each protected, not charged and better not used on board"
        return _limited(battery, Ruling(Baggage.ALLOWED, False, "power banks", most, told, _source("power_banks")))
    if battery.chemistry in RECHARGED:
        return _lithium_ion(battery, spare or battery.power_bank)
    if battery.chemistry == "lithium":
        return _lithium_metal(battery, spare)
    if battery.chemistry == "lead-acid":
        return _lead(battery, spare)
    told = "allowed, terminals protected; better in the cabin"
    return Ruling(Baggage.ALLOWED, True, "dry cells", None, told, _source("dry"))


def _limited(battery: BatteryContent, answer: Ruling) -> Ruling:
    """A power bank keeps the limits of content that all lithium batteries have."""
    held = _lithium_ion(battery, True)
    if held.baggage is Baggage.ALLOWED:
        return answer
    if held.baggage is Baggage.FORBIDDEN:
        return held
    told = f"{held.sentence}; a power bank, so {answer.sentence}"
    return Ruling(Baggage.APPROVAL, False, answer.group, answer.most, told, answer.source)


def _lithium_ion(battery: BatteryContent, spare: bool) -> Ruling:
    rows = _row("lithium_ion")
    source = _source("lithium_ion")
    small, large = float(rows["small_wh"]), float(rows["large_wh"])
    content = battery.capacity_wh
    if content > large:
        told = (
            f"over {large:g} Wh, so not as baggage, with or without approval; as cargo, by road or sea, or hired there"
        )
        return Ruling(Baggage.FORBIDDEN, False, "over 160 Wh", 0, told, _source("over_large"))
    if content > small:
        if spare:
            most = int(rows["large_spares"])
            told = f"over {small:g} Wh, so with the operator's approval; carry-on only, {most} spares a person"
            return Ruling(Baggage.APPROVAL, False, "spares over 100 Wh", most, told, source)
        told = f"over {small:g} Wh, so with the operator's approval; in the hold only switched off and protected"
        return Ruling(Baggage.APPROVAL, True, "equipment", _devices(), told, source)
    if spare:
        most = int(_row("small_spares")["most"])
        told = f"carry-on only, terminals protected each, {most} a person without approval"
        return Ruling(Baggage.ALLOWED, False, "spares up to 100 Wh", most, told, f"{source}; {_source('small_spares')}")
    told = "better in the cabin; in the hold only switched off and protected from damage"
    return Ruling(Baggage.ALLOWED, True, "equipment", _devices(), told, source)


def _lithium_metal(battery: BatteryContent, spare: bool) -> Ruling:
    rows = _row("lithium_metal")
    source = _source("lithium_metal")
    most_g = float(rows["most_g"])
    if battery.lithium_g is not None and battery.lithium_g > most_g:
        told = f"over {most_g:g} g of lithium, so not as baggage"
        return Ruling(Baggage.FORBIDDEN, False, "lithium metal", 0, told, source)
    unknown = "" if battery.lithium_g is not None else f"; up to {most_g:g} g of lithium each, which its maker tells"
    if not spare:
        return Ruling(Baggage.ALLOWED, True, "equipment", _devices(), f"allowed in equipment{unknown}", source)
    most = int(_row("small_spares")["most"])
    told = f"carry-on only, terminals protected each, {most} spares a person without approval{unknown}"
    return Ruling(Baggage.ALLOWED, False, "spares up to 100 Wh", most, told, source)


def _lead(battery: BatteryContent, spare: bool) -> Ruling:
    rows = _row("lead")
    source = _source("lead")
    most_v, most_wh, most = float(rows["most_v"]), float(rows["most_wh"]), int(rows["most"])
    if not battery.sealed:
        return Ruling(Baggage.FORBIDDEN, False, "lead", 0, "can spill, so not as baggage", source)
    if battery.voltage_v > most_v or battery.capacity_wh > most_wh:
        told = f"over {most_v:g} V or {most_wh:g} Wh, so not as baggage"
        return Ruling(Baggage.FORBIDDEN, False, "lead", 0, told, source)
    told = f"allowed, as it is sealed; {most} spares a person, terminals protected"
    return Ruling(Baggage.ALLOWED, True, "lead spares" if spare else "equipment", most if spare else None, told, source)


def cargo(
    battery: BatteryContent, date: dt.date | None = None, *, loose: bool | None = None, packed_with: bool = False
) -> Cargo | None:
    """What holds for one lithium-ion battery as air cargo; none for other chemistries, which the table does not know.

    Parameters
    ----------
    packed_with
        beside its equipment in one package, not inside it
    """
    if battery.chemistry not in RECHARGED:
        return None
    rows, packing = _row("cargo"), _row("packing")
    source = f"{_source('cargo')}; {_source('packing')}"
    spare = battery.loose if loose is None else loose
    large = battery.capacity_wh > float(_row("lithium_ion")["small_wh"])
    limit = float(rows["most_charged"])
    if packed_with:
        asked = battery.capacity_wh > float(rows["packed_over_wh"]) and _from(date, rows["packed_from"])
        most_kg = float(packing["contained_package_kg"])
        return Cargo("UN3481, packed with equipment", "PI 966", False, limit if asked else None, most_kg, source)
    if spare:
        section = "PI 965 Section IA" if large else "PI 965 Section IB"
        most_kg = float(packing["large_package_kg"] if large else packing["small_package_kg"])
        asked = _from(date, rows["alone_from"])
        return Cargo("UN3480, batteries alone", section, True, limit if asked else None, most_kg, source)
    mass = battery.mass_kg if battery.mass_kg is not None else 0.0
    only = mass * battery.count > float(packing["contained_passenger_kg"])
    most_kg = float(packing["contained_package_kg"])
    section = "PI 967 Section I" if large else "PI 967 Section II"
    return Cargo("UN3481, contained in equipment", section, only, None, most_kg, source)


def known(date: dt.date | None) -> bool:
    """Whether the table knows the rules of this date."""
    about = table(_TABLE)["about"]
    return date is None or about["known_from"] <= date <= about["known_to"]


def remark() -> str:
    """What stands at every answer: the operator and local rules come first."""
    return str(table(_TABLE)["about"]["remark"])


def notes() -> tuple[str, ...]:
    """What the reader of these rules must be told."""
    return notes_of(_TABLE)


def _devices() -> int:
    return int(_row("devices")["most"])


def _from(date: dt.date | None, begins: dt.date) -> bool:
    return date is None or date >= begins


def _date(row: str, name: str) -> dt.date:
    return cast(dt.date, _row(row)[name])


def _row(name: str) -> Mapping[str, Any]:
    return cast(Mapping[str, Any], table(_TABLE)[name])


def _source(name: str) -> str:
    row = _row(name)
    return f"{row['source']} ({row['status']})"
