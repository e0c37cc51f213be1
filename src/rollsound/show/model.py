"""The plan: one document, composed of the fields' models.

The document itself, nested dicts as people wrote them, is what is kept; a ``Plan`` is its checked reading. So nothing
is lost that a model does not know, and a quantity goes out as it came in.
"""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import dataclass
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BeforeValidator, Field, GetJsonSchemaHandler
from pydantic_core import CoreSchema, core_schema

from rollsound.errors import InputError
from rollsound.kit.model import KitPart
from rollsound.packs.model import PacksPart
from rollsound.power.model import PowerPart
from rollsound.radio.model import RadioPart
from rollsound.rig.model import RigPart
from rollsound.script.model import ScriptPart
from rollsound.song.model import SongsPart
from rollsound.timecode import Rate
from rollsound.written import Hertz, Id, Part, TemperaturesC

VERSION = 1
"""The newest version of the document that this program knows."""


def _rate(text: str) -> str:
    try:
        Rate.parse(text)
    except InputError as error:
        raise ValueError(error.sentence) from error
    return text


def _clock(value: object) -> object:
    if value in (None, ""):
        return ""
    if not isinstance(value, str) or not re.fullmatch(r"([01]?\d|2[0-3]):[0-5]\d", value.strip()):
        raise ValueError(f"is '{str(value)[:40]}'; write a time of day such as 07:30")
    return value


def _date(value: object) -> object:
    # A bare number would be taken for seconds since 1970.
    if isinstance(value, dt.date):
        return value
    try:
        return dt.date.fromisoformat(str(value).strip()) if isinstance(value, str) else _no_date(value)
    except ValueError:
        return _no_date(value)


def _no_date(value: object) -> object:
    raise ValueError(f"is '{str(value)[:40]}'; write a date such as 2031-02-18")


Date = Annotated[dt.date, BeforeValidator(_date)]
FrameRate = Annotated[str, AfterValidator(_rate)]
TimeOfDay = Annotated[str, BeforeValidator(_clock)]


class ShowHead(Part):
    """What the show is and how it is recorded."""

    title: str = Field(min_length=1)
    production: str = ""
    unit: str = ""
    frame_rate: FrameRate = "25"
    sample_rate_hz: Hertz = Field(default=48_000.0, alias="sample_rate")
    sample_format: Literal["16-bit", "24-bit", "32-bit float"] = "24-bit"
    note: str = ""

    @property
    def rate(self) -> Rate:
        """The frame rate, exact."""
        return Rate.parse(self.frame_rate)


class Person(Part):
    """Somebody who works on the show; ``role`` is what they may do here."""

    id: Id
    name: str = Field(min_length=1)
    job: str = ""
    role: Literal["mixer", "crew", "guest"] = "crew"
    contact: str = ""
    note: str = ""


@dataclass(frozen=True)
class _SoundOfSite:
    """Reads how a site sounds with the model of its field, which is loaded once a site has such a part.

    Whoever reads a plan without one starts without signal code.
    """

    def __get_pydantic_core_schema__(self, source: Any, handler: Any) -> CoreSchema:
        def read(value: object) -> object:
            if value is None:
                return None
            from rollsound.measure.place.model import SiteSound

            return SiteSound.model_validate(value)

        return core_schema.no_info_plain_validator_function(read)

    def __get_pydantic_json_schema__(self, schema: CoreSchema, handler: GetJsonSchemaHandler) -> dict[str, Any]:
        from rollsound.measure.place.model import SiteSound

        return {"anyOf": [handler(SiteSound.__pydantic_core_schema__), {"type": "null"}]}


class Site(Part):
    """A place of work."""

    id: Id
    name: str = Field(min_length=1)
    address: str = ""
    temperature_c: TemperaturesC | None = Field(default=None, alias="temperature")
    sound: Annotated[Any, _SoundOfSite()] = Field(default=None, description="a SiteSound: what a technical visit told")
    note: str = ""


class Break(Part):
    """When nobody works: a meal, a company move."""

    from_: TimeOfDay = Field(alias="from", min_length=1)
    to: TimeOfDay = Field(min_length=1)
    note: str = ""


class Day(Part):
    """One day of work: where it begins, and where the company moves to."""

    id: Id
    number: int | None = Field(default=None, ge=0)
    date: Date | None = None
    site: str = Field(default="", description="id of the site where the day begins")
    moves: tuple[str, ...] = Field(default=(), description="ids of the sites that follow")
    scenes: tuple[str, ...] = ()
    call: TimeOfDay = ""
    wrap: TimeOfDay = ""
    unit: str = Field(default="", description="which unit works; the main unit when left out")
    breaks: tuple[Break, ...] = Field(default=(), description="meals and other breaks of this day")
    note: str = ""

    @property
    def sites(self) -> tuple[str, ...]:
        """The ids of all its sites, in order."""
        return tuple(site for site in (self.site, *self.moves) if site)


class SchedulePart(Part):
    """The days."""

    days: tuple[Day, ...] = ()


class DayMedia(Part):
    """Where the recordings of a day lie. Paths that are not absolute begin at the show's folder."""

    id: Id
    day: str = Field(default="", description="id of the day")
    recorder: str = Field(default="", description="folder of the recorder's files")
    cards: str = Field(default="", description="folder of the cards, one folder a card")
    conformed: str = Field(default="", description="folder that conform wrote")
    turnover: str = Field(default="", description="folder that the turnover was written to")
    takes_sheet: str = ""
    wearers_sheet: str = ""
    note: str = ""


class Plan(Part):
    """Everything decided before the day, and where its media lie."""

    version: int = Field(default=VERSION, ge=1)
    show: ShowHead
    people: tuple[Person, ...] = ()
    sites: tuple[Site, ...] = ()
    script: ScriptPart = ScriptPart()
    schedule: SchedulePart = SchedulePart()
    kit: KitPart = KitPart()
    rig: RigPart = RigPart()
    radio: RadioPart = RadioPart()
    power: PowerPart = PowerPart()
    songs: SongsPart = SongsPart()
    packs: PacksPart = PacksPart()
    media: tuple[DayMedia, ...] = ()

    def person(self, person_id: str) -> Person | None:
        """The person with an id."""
        return next((person for person in self.people if person.id == person_id), None)

    def day_now(self, today: dt.date) -> Day | None:
        """The day that matters now: today, the next one, or the last; before the first, the last that was recorded."""
        days, recorded = self.schedule.days, {media.day for media in self.media}
        dated = sorted((day for day in days if day.date is not None), key=lambda day: day.date or today)
        coming = [day for day in dated if day.date is not None and day.date >= today]
        if dated and (dated[0].date or today) > today:  # all dates are to come, but what was recorded was recorded
            coming = [day for day in reversed(dated) if day.id in recorded] or coming
        return next(iter(coming), None) or next(reversed(dated), None) or next(reversed(days), None)


def plan_schema() -> dict[str, Any]:
    """The document's JSON Schema, for completion and for other programs."""
    return Plan.model_json_schema(by_alias=True)
