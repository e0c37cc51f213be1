"""What power needs of a whole plan: loads of what is fed, things with their own batteries, what nothing feeds, days."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property

from rollsound.errors import InputError
from rollsound.kit.kinds import kinds_of, resolved
from rollsound.kit.model import Kind, KitItem
from rollsound.power.answer import PowerAnswer, answer
from rollsound.power.cells import draw_at_power
from rollsound.power.day import NIGHT, day_of, minutes
from rollsound.power.day import Day as PowerDay
from rollsound.power.load import Inside, Load, Unfed
from rollsound.power.model import Feeding
from rollsound.power.naming import names_wrong, without_wrong
from rollsound.power.tree import Loads
from rollsound.rig.model import Piece
from rollsound.show.model import Day, Plan
from rollsound.wrong import Wrong

_MAINS_V = 60.0
"""What bears more than this is fed by the mains."""


@dataclass(frozen=True)
class Gathered:
    """A plan as power sees it."""

    plan: Plan
    temperature_c: float | None = None
    """At every site, in place of what the plan has."""

    @cached_property
    def wrong(self) -> tuple[Wrong, ...]:
        """Every mistake of the power part beyond its form."""
        plan = self.plan
        return names_wrong(
            plan.power,
            piece_ids=tuple(self.pieces),
            item_ids=tuple(self.items),
            site_ids=tuple(site.id for site in plan.sites),
            day_ids=tuple(day.id for day in plan.schedule.days),
        )

    @cached_property
    def pieces(self) -> Mapping[str, Piece]:
        """Pieces of the rig by id."""
        return {piece.id: piece for piece in self.plan.rig.pieces}

    @cached_property
    def items(self) -> Mapping[str, KitItem]:
        """Items of the kit by id."""
        return {item.id: item for item in self.plan.kit.items}

    @cached_property
    def _kinds(self) -> Mapping[str, Kind]:
        return kinds_of(self.plan.kit)

    def kind_of_item(self, id: str) -> Kind | None:
        """What an item is; none when it is not there."""
        item = self.items.get(id)
        return resolved(item, self._kinds) if item is not None else None

    def kind_of_piece(self, piece: Piece) -> Kind | None:
        """What a piece is."""
        return self.kind_of_item(piece.item or piece.id)

    def power_mw(self, piece: Piece) -> float | None:
        """The radio power of a piece that sends."""
        radio = next((each for each in self.plan.radio.transmitters if each.id == piece.transmitter), None)
        return radio.power_mw if radio is not None else None

    @cached_property
    def loads(self) -> Loads:
        """What is fed, by supply and feeding, and what supplies take for themselves."""
        found: dict[tuple[str, str], Load] = {}
        for supply in self.plan.power.supplies:
            for feeding in supply.feeds:
                found[supply.id, feeding.id] = self._load(feeding)
            kind = self.kind_of_item(supply.item) if supply.item else None
            if kind is not None:
                found[supply.id, ""] = _of_kind(supply.item, kind.name, kind, None)
        return found

    def _load(self, feeding: Feeding) -> Load:
        piece = self.pieces.get(feeding.piece)
        kind = self.kind_of_piece(piece) if piece is not None else self.kind_of_item(feeding.item)
        name = _name(piece, kind) if piece is not None else kind.name if kind is not None else feeding.id
        power_mw = self.power_mw(piece) if piece is not None else None
        load = _of_kind(feeding.id, name, kind, power_mw)
        idle = feeding.idle_w
        if idle is None and feeding.draw_w is None:  # the kind's idle goes with the kind's draw only
            idle = load.idle_w
        return Load(
            id=feeding.id,
            name=name,
            working_w=load.working_w if feeding.draw_w is None else feeding.draw_w,
            idle_w=idle,
            asleep_w=feeding.asleep_w if feeding.asleep_w is not None else load.asleep_w,
            count=feeding.count,
            input_v=load.input_v,
            capacitance_f=feeding.capacitance_f,
            told="" if feeding.draw_w is not None else load.told,
        )

    def _alone(self) -> Iterator[tuple[Piece, Kind]]:
        """Pieces that take power and that no supply names."""
        feeds = [feeding for supply in self.plan.power.supplies for feeding in supply.feeds]
        pieces = {feeding.piece for feeding in feeds}
        items = {feeding.item for feeding in feeds} | {supply.item for supply in self.plan.power.supplies}
        for piece in self.plan.rig.pieces:
            kind = self.kind_of_piece(piece)
            if kind is None or piece.id in pieces or (piece.item or piece.id) in items:
                continue
            gives = any(port.medium in ("dc", "mains") and port.direction == "out" for port in kind.ports)
            phantom = any(port.needs_supply for port in kind.ports)
            mains = kind.input_v is not None and kind.input_v.high > _MAINS_V
            if not (gives or phantom or mains) and _of_kind(piece.id, "", kind, self.power_mw(piece)).most_w > 0:
                yield piece, kind

    @cached_property
    def insides(self) -> tuple[Inside, ...]:
        """Things that run on a battery of their own; none while the plan does not say what feeds what."""
        found = []
        if not self.plan.power.supplies:
            return ()
        for piece, kind in self._alone():
            if kind.battery is not None:
                load = _of_kind(piece.id, _name(piece, kind), kind, self.power_mw(piece))
                inside = kind.battery
                whole_wh = inside.capacity_wh * inside.count
                at = ("rig", "pieces", piece.id)
                found.append(Inside(load, inside.chemistry, inside.voltage_v, whole_wh, inside.removable, at))
        return tuple(found)

    @cached_property
    def unfed(self) -> tuple[Unfed, ...]:
        """Things that take power and that nothing feeds."""
        return tuple(
            Unfed(
                _name(piece, kind),
                _of_kind(piece.id, "", kind, self.power_mw(piece)).most_w,
                ("rig", "pieces", piece.id),
            )
            for piece, kind in self._alone()
            if kind.battery is None
        )

    @cached_property
    def days(self) -> tuple[PowerDay, ...]:
        """The days of the schedule; one that was assumed where there is none."""
        return tuple(self._day(each) for each in self.plan.schedule.days) or (self._day(Day(id="day")),)

    def _day(self, day: Day) -> PowerDay:
        named = set(day.sites)
        sites = {
            site.id: site.temperature_c
            for site in self.plan.sites
            if site.temperature_c is not None and (not named or site.id in named)
        }
        coldest = min((band.low for band in sites.values()), default=None)
        every = {site.id: site.temperature_c.low for site in self.plan.sites if site.temperature_c is not None}
        if self.temperature_c is not None:
            coldest = self.temperature_c
            every = dict.fromkeys((site.id for site in self.plan.sites), self.temperature_c)
        return day_of(
            day.id if self.plan.schedule.days else "",
            f"day {day.number}" if day.number is not None else day.id if self.plan.schedule.days else "",
            day.call,
            day.wrap,
            coldest_c=coldest,
            site_coldest_c=tuple(every.items()),
        )

    def day(self, id: str) -> PowerDay:
        """The day of an id.

        Raises
        ------
        InputError
            when there is none
        """
        found = next((day for day in self.days if day.id == id), None)
        if found is None:
            there = ", ".join(day.id for day in self.days if day.id) or "none yet"
            raise InputError(f"the schedule has no day '{id}'; there are: {there}")
        return found

    def next_call_min(self, day: PowerDay) -> float | None:
        """The next call, in minutes from midnight of a day; none where the plan has no next day."""
        days = self.plan.schedule.days
        at = next((n for n, each in enumerate(days) if each.id == day.id), None)
        if at is None or at + 1 >= len(days):
            return None
        here, there = days[at], days[at + 1]
        apart = (there.date - here.date).days if here.date and there.date and there.date > here.date else 1
        call = minutes(there.call) if there.call else day.call_min
        return float(apart * NIGHT + call)

    def answer(self, day: PowerDay) -> PowerAnswer:
        """Everything of one day, of all that is not wrong."""
        power = without_wrong(self.plan.power, self.wrong)
        return answer(
            power,
            self.loads,
            day,
            insides=self.insides,
            unfed=self.unfed,
            next_call_min=self.next_call_min(day),
        )


def _name(piece: Piece, kind: Kind | None) -> str:
    """What people call a piece, as the rig does: several pieces of one item are told apart by their ids."""
    if piece.name or kind is None:
        return piece.name or piece.id
    return kind.name if (piece.item or piece.id) == piece.id else piece.id


def _of_kind(id: str, name: str, kind: Kind | None, power_mw: float | None) -> Load:
    """The load of a kind; a transmitter's by its radio power where that is known."""
    if kind is None:
        return Load(id, name)
    working, told = kind.draw_w, ""
    if kind.draw_by_power:
        if power_mw is not None:
            draw = draw_at_power(kind.draw_by_power, power_mw)
            working, told = draw.draw_w, draw.sentence
        elif working is None:
            working = max(row.draw_w for row in kind.draw_by_power)
    idle = kind.idle_w
    return Load(id, name, working, idle, kind.asleep_w, input_v=kind.input_v, told=told)
