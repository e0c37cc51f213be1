"""What the kit comes to: mass, room in racks, value and what its batteries hold; in all, and case by case."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from rollsound.kit.kinds import kinds_of, resolved
from rollsound.kit.model import Kind, KitItem, KitPart


@dataclass(frozen=True)
class Load:
    """Items that go together: one case, one trolley, or everything.

    ``without_mass`` and ``without_value`` are ids of items that say none: the sums are short of theirs.
    """

    name: str
    items: tuple[str, ...]
    pieces: int
    mass_kg: float
    rack_units: float
    value: float
    battery_wh: float
    without_mass: tuple[str, ...] = ()
    without_value: tuple[str, ...] = ()


@dataclass(frozen=True)
class Totals:
    """The whole kit, and each case or trolley that items name; what names none is in the last, which has no name."""

    whole: Load
    loads: tuple[Load, ...]

    def load(self, name: str) -> Load | None:
        """The case or trolley of a name, whatever its capitals."""
        return next((each for each in self.loads if each.name and each.name.casefold() == name.casefold()), None)


def totals(kit: KitPart, kinds: Mapping[str, Kind] | None = None) -> Totals:
    """Add up the kit; an item whose count is 0 does not travel."""
    known = kinds_of(kit) if kinds is None else kinds
    there = [(item, resolved(item, known)) for item in kit.items if item.count]
    names: dict[str, str] = {}
    for item, _ in there:
        names.setdefault(item.travels_in.casefold(), item.travels_in)
    loads = [
        _load(name, [each for each in there if each[0].travels_in.casefold() == key])
        for key, name in sorted(names.items(), key=lambda each: not each[0])
    ]
    return Totals(_load("", there), tuple(loads))


def _load(name: str, there: list[tuple[KitItem, Kind]]) -> Load:
    return Load(
        name=name,
        items=tuple(item.id for item, _ in there),
        pieces=sum(item.count for item, _ in there),
        mass_kg=sum(item.count * (made.mass_kg or 0.0) for item, made in there),
        rack_units=sum(item.count * (made.rack_units or 0.0) for item, made in there),
        value=sum(item.count * (item.value or 0.0) for item, _ in there),
        battery_wh=sum(
            item.count * made.battery.count * made.battery.capacity_wh for item, made in there if made.battery
        ),
        without_mass=tuple(item.id for item, made in there if made.mass_kg is None),
        without_value=tuple(item.id for item, _ in there if item.value is None and not item.consumable),
    )
