"""The general list of a carnet: one line for items that are alike, sums that hold, and what customs would refuse."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, cast

from rollsound.facts import table
from rollsound.facts.rows import notes_of
from rollsound.finding import Weight
from rollsound.kit.kinds import kinds_of, resolved
from rollsound.kit.model import Kind, KitItem, KitPart
from rollsound.quantities import count

_TABLE = "kit_carnet"
_SPACES = re.compile(r"\s+")


@dataclass(frozen=True)
class Line:
    """One line of the list. ``mass_kg`` and ``value`` are of all its pieces; none where no item says one."""

    number: int
    description: str
    pieces: int
    mass_kg: float | None
    value: float | None
    origin: str
    serials: tuple[str, ...]
    items: tuple[str, ...]
    """Ids of the items that it is made of."""


@dataclass(frozen=True)
class Flaw:
    """What is wrong with an item for this list."""

    weight: Weight
    item: str
    """Its id."""
    name: str
    field: str
    words: str
    """What is said of it, after its name: ``has no value``."""
    remedy: str

    @property
    def sentence(self) -> str:
        """The whole sentence."""
        return f"{self.name} {self.words}."


@dataclass(frozen=True)
class GeneralList:
    """The list with its sums; what is left out, and what customs would refuse."""

    lines: tuple[Line, ...]
    flaws: tuple[Flaw, ...]
    left_out: tuple[str, ...]
    """Ids of what is used up, and so never listed."""
    currency: str
    pieces: int = 0
    mass_kg: float = 0.0
    value: float = 0.0


@dataclass
class _Alike:
    """Items that make one line."""

    first: KitItem
    made: Kind
    members: list[KitItem] = field(default_factory=list)

    def line(self, number: int) -> Line:
        pieces = sum(item.count for item in self.members)
        serials = tuple(serial for item in self.members for serial in item.serials if not is_no_serial(serial))
        plate = _words(self.first.make)
        named = _words(self.first.name)
        description = f"{named}, {plate}" if plate and plate.casefold() not in named.casefold() else named
        ends = f"S/N {', '.join(serials)}" if serials else "S/N missing"
        if not serials and _told(self.first):
            ends = str(_list()["no_serial"])
        return Line(
            number=number,
            description=f"{description}, {ends}",
            pieces=pieces,
            mass_kg=None if self.made.mass_kg is None else self.made.mass_kg * pieces,
            value=None if self.first.value is None else self.first.value * pieces,
            origin=origin_code(self.first.origin) or self.first.origin,
            serials=serials,
            items=tuple(item.id for item in self.members),
        )


def general_list(kit: KitPart, kinds: Mapping[str, Kind] | None = None) -> GeneralList:
    """The list of a kit: items that are alike in all that it prints share one line."""
    known = kinds_of(kit) if kinds is None else kinds
    groups: dict[tuple[object, ...], _Alike] = {}
    left_out: list[str] = []
    flaws: list[Flaw] = []
    for item in kit.items:
        if not item.count:
            continue
        made = resolved(item, known)
        if item.consumable or _consumed(item, made):
            left_out.append(item.id)
            if not item.consumable:
                flaws.append(_recognised(item))
            continue
        flaws += _flaws(item, made)
        # Where serials are missing the lines stay apart, so that each says what it wants.
        key = (
            _words(item.name),
            _words(item.make),
            made.mass_kg,
            item.value,
            item.origin,
            bool(_serials(item)),
            bool(_told(item)),
        )
        groups.setdefault(key, _Alike(item, made)).members.append(item)
    lines = tuple(group.line(number) for number, group in enumerate(groups.values(), 1))
    return GeneralList(
        lines=lines,
        flaws=(*flaws, *_serials_twice(kit)),
        left_out=tuple(left_out),
        currency=kit.currency,
        pieces=sum(line.pieces for line in lines),
        mass_kg=sum(line.mass_kg or 0.0 for line in lines),
        value=sum(line.value or 0.0 for line in lines),
    )


def origin_code(text: str) -> str:
    """The two letters of a country, from them or from its name; empty when neither is known."""
    word = text.strip()
    if word.upper() in str(_list()["codes"]).split():
        return word.upper()
    return str(table(_TABLE)["names"].get(word.casefold(), ""))


def begun(kit: KitPart) -> bool:
    """Whether the kit says anything that only this list asks for."""
    return any(item.serials or item.origin or item.value is not None for item in kit.items)


def columns() -> tuple[str, ...]:
    """The heads of the list's columns."""
    return tuple(_list()["columns"])


def list_source() -> str:
    """Where the list's rules come from."""
    return f"{_list()['source']} ({_list()['status']})"


def notes() -> tuple[str, ...]:
    """What the reader of the list must be told."""
    return notes_of(_TABLE)


def _flaws(item: KitItem, made: Kind) -> list[Flaw]:
    found: list[Flaw] = []

    def add(weight: Weight, field_: str, words: str, remedy: str) -> None:
        found.append(Flaw(weight, item.id, item.name, field_, words, remedy))

    vague = _vague(f"{item.name} {item.make}")
    if vague:
        add(
            Weight.STOP,
            "name",
            f"is described with '{vague}', which is refused",
            "Name each thing by what it is, one line each.",
        )
    told, serials = _told(item), _serials(item)
    if not told:
        add(
            Weight.STOP,
            "serials",
            "has no serial number",
            f"Write them under 'serials', or '{_list()['no_serial']}' where it bears none.",
        )
    elif serials and len(told) != item.count:
        add(
            Weight.STOP,
            "serials",
            f"has {count(len(told), 'serial number')} for {count(item.count, 'piece')}",
            f"Write one for each piece, and '{_list()['no_serial']}' for one that bears none.",
        )
    if _electrical(made) and not item.make:
        add(
            Weight.WATCH, "make", "is electrical and has no make and model", "Write them under 'make', as on its plate."
        )
    if _electrical(made) and told and not serials:
        add(Weight.WATCH, "serials", "is electrical and goes without a serial number", "Look for one on its plate.")
    if item.value is None:
        add(Weight.STOP, "value", "has no value", "Write what it costs in a shop, or to replace, under 'value'.")
    elif item.value == 0:
        add(Weight.STOP, "value", "has the value 0", "Write what it costs in a shop, or to replace, under 'value'.")
    found += _of_origin(item)
    if made.mass_kg is None:
        add(Weight.WATCH, "mass", "has no mass", "Weigh it; the list needs its whole weight at least.")
    return found


def _of_origin(item: KitItem) -> list[Flaw]:
    code = origin_code(item.origin)
    if not item.origin.strip():
        wanted = "Write the two letters of the country where it was made under 'origin'."
        return [Flaw(Weight.STOP, item.id, item.name, "origin", "has no country of origin", wanted)]
    if not code:
        told = f"has the origin '{item.origin}', which is no country's two letters"
        return [Flaw(Weight.STOP, item.id, item.name, "origin", told, "Write two letters, such as DE or JP.")]
    if code != item.origin.strip():
        told = f"has the origin '{item.origin}', for which the list wants {code}"
        return [Flaw(Weight.WATCH, item.id, item.name, "origin", told, f"Write {code}; it is printed so.")]
    return []


def _serials_twice(kit: KitPart) -> list[Flaw]:
    seen: dict[tuple[str, str], str] = {}
    found: list[Flaw] = []
    for item in kit.items:
        for serial in _serials(item):
            key = (_words(item.make or item.name).casefold(), serial.casefold())
            if key in seen:
                told = f"has the serial number {serial}, which is written a second time"
                found.append(Flaw(Weight.STOP, item.id, item.name, "serials", told, "Read it from the plate again."))
            seen[key] = item.id
    return found


def _recognised(item: KitItem) -> Flaw:
    remedy = "Write 'consumable: true', or name it otherwise."
    return Flaw(Weight.WATCH, item.id, item.name, "consumable", "is used up and left out of the list", remedy)


def _consumed(item: KitItem, made: Kind) -> bool:
    if made.battery is not None and made.battery.loose and made.battery.chemistry in _list()["consumed_chemistries"]:
        return True
    return any(_holds(item.name, word) for word in _list()["consumed"])


def _vague(text: str) -> str:
    return next((word for word in _list()["vague"] if _holds(text, word)), "")


def _holds(text: str, words: str) -> bool:
    return re.search(rf"(?<!\w){re.escape(words)}(?!\w)", _words(text).casefold()) is not None


def _electrical(made: Kind) -> bool:
    """Whether it takes or gives electricity; a plain cable, stand or fur does not."""
    return bool(made.draw_w or made.battery or any(port.medium != "air" for port in made.ports))


def _told(item: KitItem) -> tuple[str, ...]:
    """What is written of its serial numbers, that it bears none among it."""
    return tuple(serial for serial in item.serials if serial.strip())


def _serials(item: KitItem) -> tuple[str, ...]:
    return tuple(serial for serial in item.serials if not is_no_serial(serial))


def is_no_serial(serial: str) -> bool:
    """Whether this says that a piece bears no serial number, or says nothing."""
    return not serial.strip() or serial.strip().upper() == _list()["no_serial"]


def _words(text: str) -> str:
    return _SPACES.sub(" ", text).strip()


def _list() -> Mapping[str, Any]:
    return cast(Mapping[str, Any], table(_TABLE)["list"])
