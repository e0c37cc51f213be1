"""Parts of the plan in their smallest form. Each gives way to its field's own model: one import in ``model.py``."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from rollsound.written import Decibels, Id, Kilograms, Part, Volts, WattHours, Watts


class KitItem(Part):
    """One piece of equipment, or several that are alike."""

    id: Id
    name: str = Field(min_length=1)
    kind: str = Field(default="", description="what it is, in a word or two of the trade")
    count: int = Field(default=1, ge=0)
    mass_kg: Kilograms | None = Field(default=None, alias="mass")
    draw_w: Watts | None = Field(default=None, alias="draw")
    note: str = ""


class KitPart(Part):
    """The equipment list."""

    items: tuple[KitItem, ...] = ()


class Track(Part):
    """One track of the recorder and what is on it."""

    id: Id
    number: int = Field(ge=1)
    name: str = Field(min_length=1)
    source: str = Field(default="", description="what feeds it")
    note: str = ""


class Feed(Part):
    """What one listener is to hear."""

    id: Id
    listener: str = Field(min_length=1)
    hears: str = ""
    gain_db: Decibels | None = Field(default=None, alias="gain")
    note: str = ""


class RigPart(Part):
    """How things are wired and routed: for now the tracks and the feeds."""

    tracks: tuple[Track, ...] = ()
    feeds: tuple[Feed, ...] = ()


class Battery(Part):
    """Batteries of one kind."""

    id: Id
    name: str = Field(min_length=1)
    chemistry: Literal["li-ion", "lifepo4", "nimh", "alkaline", "lithium"] = "li-ion"
    voltage_v: Volts | None = Field(default=None, alias="voltage")
    capacity_wh: WattHours | None = Field(default=None, alias="capacity")
    count: int = Field(default=1, ge=0)
    note: str = ""


class PowerPart(Part):
    """What the day runs on: for now the batteries."""

    batteries: tuple[Battery, ...] = ()
