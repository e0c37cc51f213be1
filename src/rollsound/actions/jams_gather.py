"""What the drift of a day needs of a show: devices and their limits, the jams of its log, and what conform measured."""

from __future__ import annotations

import os.path
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING

from pydantic import BaseModel, ConfigDict, ValidationError

from rollsound.actions.power_gather import Gathered
from rollsound.errors import InputError, storage
from rollsound.kit.kinds import kinds_of, resolved
from rollsound.kit.model import Kind
from rollsound.log.entries import PAGE_CLOCK, JamEntry
from rollsound.power.day import span_of
from rollsound.show.model import Day, Plan
from rollsound.timecode.jam_rates import ClockLimits, RateMeasured, limits_of
from rollsound.timecode.jams import JamSeen

if TYPE_CHECKING:
    from rollsound.actions.plan_read import PlanRead
    from rollsound.log.daylines import LogLine
    from rollsound.power.day import Day as PowerDay

_CONFORMED = "conform.json"
_MINUTE_S = 60.0
_CARD_LIMIT_PPM = 50.0
"""Of a card whose clock error is not written: the widest class of plain crystals (crystal makers' tables)."""
_LEAST_CARD_SD_PPM = 0.02
"""Below this, what a card's clock did within the day counts for more than how well it was measured."""


class _Card(BaseModel):
    model_config = ConfigDict(frozen=True, extra="ignore")

    name: str
    rate_ppm: float | None = None
    uncertainty_ppm: float | None = None
    takes: int = 0


class _Conformed(BaseModel):
    model_config = ConfigDict(frozen=True, extra="ignore")

    cards: tuple[_Card, ...] = ()


@dataclass(frozen=True)
class DayBreak:
    """A break of the day, in seconds from its midnight."""

    name: str
    start_s: float
    end_s: float


@dataclass(frozen=True)
class ClocksOfDay:
    """A plan, the jams of its log and a day of it."""

    plan: Plan
    folder: Path
    lines: Sequence[LogLine]
    asked: str = ""

    @cached_property
    def day(self) -> PowerDay:
        """The day that is asked for; else the one that matters now.

        Raises
        ------
        InputError
            when there is no such day
        """
        power = Gathered(self.plan)
        now = self.plan.day_now(date.today())
        return power.day(self.asked or (now.id if now is not None else "")) if self.asked or now else power.days[0]

    @cached_property
    def planned(self) -> Day | None:
        """The day as the schedule has it."""
        return next((each for each in self.plan.schedule.days if each.id == self.day.id), None)

    @cached_property
    def breaks(self) -> tuple[DayBreak, ...]:
        """Breaks of the day, as phases of power or the schedule tell."""
        found: dict[tuple[int, int], str] = {}
        spans = [
            (phase.id, phase.from_, phase.to)
            for phase in self.plan.power.phases
            if phase.break_ and phase.day in ("", self.day.id)
        ]
        spans += [
            (each.note or "the break", each.from_, each.to) for each in (self.planned.breaks if self.planned else ())
        ]
        for name, start, end in spans:
            first, last = span_of(self.day, start, end)
            if self.day.call_min <= first < self.day.wrap_min:
                found.setdefault((first, last), name.replace("-", " "))
        return tuple(DayBreak(name, a * _MINUTE_S, b * _MINUTE_S) for (a, b), name in sorted(found.items()))

    @cached_property
    def seen(self) -> tuple[JamSeen, ...]:
        """Jams and looks of every day, in the order in which they happened."""
        dates = {day.id: day.date for day in self.plan.schedule.days}
        first: dict[str, date] = {}
        found = []
        for line in self.lines:
            entry = line.entry
            if isinstance(entry, JamEntry) and entry.device != PAGE_CLOCK:
                midnight = dates.get(line.day) or first.setdefault(line.day, line.at.date())
                source = self.named(entry.source) if entry.source else self.master
                device, jammed = self.named(entry.device), entry.what == "jammed"
                found.append(
                    JamSeen(device, source, _seconds(line.at, midnight), jammed, entry.offset_frames, line.day)
                )
        return tuple(found)

    @cached_property
    def kinds(self) -> Mapping[str, tuple[str, Kind]]:
        """By id, name and kind of every item of the kit, and of every piece of the rig that is one."""
        table = kinds_of(self.plan.kit)
        items = {item.id: (item.name, resolved(item, table)) for item in self.plan.kit.items}
        pieces = {
            piece.id: (piece.name or items[piece.item or piece.id][0], items[piece.item or piece.id][1])
            for piece in self.plan.rig.pieces
            if (piece.item or piece.id) in items
        }
        return {**items, **pieces}

    @cached_property
    def master(self) -> str:
        """Where jams come from while the log names no source: the first recorder that sends time code."""
        sends = [id for id, (_, kind) in self.kinds.items() if _time_code(kind, "out") and kind.tracks]
        others = [id for id, (_, kind) in self.kinds.items() if _time_code(kind, "out")]
        return next(iter((*sends, *others)), "its source")

    @cached_property
    def planned_devices(self) -> tuple[str, ...]:
        """Items with a clock of their own and an input for time code (or no ports told), the master left out.

        What sends sound by radio is left out too: a card in a pack is placed by its sound, not by its label.
        """
        return tuple(
            item.id
            for item in self.plan.kit.items
            if item.id != self.master
            and item.count
            and self.kinds[item.id][1].clock not in (None, "none")
            and (_time_code(self.kinds[item.id][1], "in") or not self.kinds[item.id][1].ports)
            and all(port.medium != "radio" for port in self.kinds[item.id][1].ports)
        )

    def named(self, written: str) -> str:
        """The id of a device as somebody wrote it; as it is written where the plan has none of that name."""
        plain = _plain(written)
        if written in self.kinds:
            return written
        return next((id for id, (name, _) in self.kinds.items() if plain in (_plain(id), _plain(name))), written)

    def name(self, device: str) -> str:
        """What people call a device."""
        return self.kinds[device][0] if device in self.kinds else device

    def limit_written(self, device: str) -> float | None:
        """The limit of its clock in the plan or the tables."""
        return self.kinds[device][1].clock_ppm if device in self.kinds else None

    def limits(self, devices: Iterable[str]) -> dict[str, ClockLimits]:
        """The limits of clocks with the temperatures of the day's sites."""
        warmest = [
            site.temperature_c.high
            for site in self.plan.sites
            if site.temperature_c is not None and (self.planned is None or site.id in self.planned.sites)
        ]
        cards = {each.device for each in self.conformed[0]} - {each.device for each in self.seen}
        found = {}
        for device in devices:
            written = self.limit_written(device)
            limit = _CARD_LIMIT_PPM if written is None and device in cards else written
            found[device] = limits_of(limit, coldest_c=self.day.coldest_c, warmest_c=max(warmest, default=None))
        return found

    @cached_property
    def conformed(self) -> tuple[tuple[RateMeasured, ...], tuple[str, ...]]:
        """What conform measured of cards' clocks against the recorder's, and sentences on what could not be read."""
        found, told = [], []
        for media in self.plan.media:
            path = Path(os.path.normpath(self.folder / media.conformed)) / _CONFORMED if media.conformed else None
            if path is None or not path.is_file():
                continue
            try:
                with storage(path):
                    read = _Conformed.model_validate_json(path.read_bytes())
            except (ValidationError, InputError):
                told.append(
                    f"{path.name} of {media.id} is no result of conform and was left out; conform that day again."
                )
                continue
            for card in read.cards:
                if card.rate_ppm is not None and card.takes:
                    sd = max(card.uncertainty_ppm or 0.0, _LEAST_CARD_SD_PPM)
                    words = f"conform, over {card.takes} takes" if card.takes > 1 else "conform, over 1 take"
                    day = media.day or media.id
                    found.append(RateMeasured(self.named(card.name), self.master, day, card.rate_ppm, sd, words))
        return tuple(found), tuple(told)


def clocks_of(read: PlanRead, day: str = "") -> ClocksOfDay:
    """A plan with the jams of its log, where it is a show's."""
    if read.form != "show":
        return ClocksOfDay(read.plan, read.folder, (), day)
    from rollsound.log.daybook import LogBook
    from rollsound.show.folder import Show

    with Show.open(read.path, read_only=True) as show:
        return ClocksOfDay(read.plan, read.folder, LogBook(show.store).lines(None, "jam"), day)


def _time_code(kind: Kind, way: str) -> bool:
    return any(port.medium == "time code" and port.direction in (way, "both") for port in kind.ports)


def _seconds(at: datetime, midnight: date) -> float:
    """Seconds from a day's midnight, on the clock of the place where it was written."""
    return (at.replace(tzinfo=None) - datetime(midnight.year, midnight.month, midnight.day)).total_seconds()


def _plain(words: str) -> str:
    return "".join(letter for letter in words.casefold() if letter.isalnum())
