"""The power part of the plan, as people write it: batteries, supplies, what they feed, and how the day loads them."""

from __future__ import annotations

import re
from typing import Annotated, Literal, TypeAlias

from pydantic import BeforeValidator, Field

from rollsound.kit.model import Chemistry, TravelsBy
from rollsound.written import Id, Kilograms, Metres, Part, Quantity, TemperaturesC, Volts, WattHours, Watts

Amperes: TypeAlias = Annotated[float, Quantity("A", least=0, example="10 A")]
AmpereHours: TypeAlias = Annotated[float, Quantity("Ah", least=0, most=1_000_000, example="50 Ah")]
SectionMm2: TypeAlias = Annotated[float, Quantity("mm²", least=0, example="2.5 mm²")]
DegreesC: TypeAlias = Annotated[float, Quantity("°C", least=-90, most=90, example="-5 °C")]
Ohms: TypeAlias = Annotated[float, Quantity("ohm", least=0, example="20 mohm")]
Farads: TypeAlias = Annotated[float, Quantity("F", least=0, example="4700 uF")]


def _clock(value: object) -> object:
    # A time that YAML took for a number (7:30 in base sixty) is text again by the time it is read here.
    if not isinstance(value, str) or not re.fullmatch(r"([01]?\d|2[0-3]):[0-5]\d", value.strip()):
        raise ValueError(f"is '{str(value)[:40]}'; write a time of day such as 07:30")
    return value.strip()


TimeOfDay: TypeAlias = Annotated[str, BeforeValidator(_clock)]
State: TypeAlias = Literal["working", "idle", "asleep", "off"]


class Battery(Part):
    """Batteries of one kind."""

    id: Id
    name: str = Field(min_length=1)
    chemistry: Chemistry = "li-ion"
    voltage_v: Volts | None = Field(default=None, alias="voltage", description="nominal")
    capacity_wh: WattHours | None = Field(default=None, alias="capacity", description="of one, at 20 °C")
    capacity_ah: AmpereHours | None = Field(default=None, alias="ampere_hours", description="in place of capacity")
    count: int = Field(default=1, ge=0, le=1000)
    depth: float = Field(default=0.9, gt=0, le=1, description="of its content, how much is used")
    health: float | None = Field(default=None, gt=0, le=1, description="of its content when new")
    cycles: int | None = Field(default=None, ge=0, description="that it has had")
    cycles_to_80: int | None = Field(default=None, ge=1, description="after which 80 % are left")
    cell: str = Field(default="", description="id of a kind of cell, fr6, lr6 or hr6: gives voltage and capacity")
    full_v: Volts | None = Field(default=None, alias="full", description="freshly charged")
    cutoff_v: Volts | None = Field(default=None, alias="cutoff", description="where it is taken off")
    resistance_ohm: Ohms | None = Field(default=None, alias="resistance", description="inside, of its data sheet")
    peukert: float | None = Field(default=None, ge=1, le=2, description="exponent; matters for lead-acid only")
    rated_hours: float | None = Field(default=None, gt=0, description="that its ampere-hours are stated for")
    cold_factor: dict[str, float] = Field(
        default_factory=dict, description="share of its content that is left by temperature in °C: its own data sheet"
    )
    mass_kg: Kilograms | None = Field(default=None, alias="mass")
    charge_w: Watts | None = Field(default=None, alias="charge_power", description="that it takes when charged")
    power_bank: bool = Field(default=False, description="has an output of its own for other devices")
    travels_by: TravelsBy | None = Field(default=None, description="where the rules of batteries by air are asked")
    charged: float | None = Field(default=None, ge=0, le=1, description="share that is in it when it travels")
    note: str = ""


class Wire(Part):
    """The two-core cable between a supply and what it feeds."""

    length_m: Metres = Field(alias="length", description="one way")
    section_mm2: SectionMm2 | None = Field(default=None, alias="section")
    awg: int | None = Field(default=None, ge=0, le=40)
    tinned: bool = False
    fuse_a: Amperes | None = Field(default=None, alias="fuse", description="at the end of the supply")
    fuse_breaks_a: Amperes | None = Field(default=None, alias="fuse_breaks", description="that it can interrupt")
    fuse_melts_a2s: float | None = Field(default=None, gt=0, description="melting I²t of its data sheet, A²s")
    carries_a: Amperes | None = Field(default=None, alias="carries", description="by its maker or the local code")


class Feeding(Part):
    """One thing that a supply feeds."""

    id: Id
    piece: str = Field(default="", description="id of a piece of the rig")
    item: str = Field(default="", description="id in the kit, where it is no piece of the rig")
    count: int = Field(default=1, ge=0, le=1000)
    draw_w: Watts | None = Field(default=None, alias="draw", description="working; before the kit's")
    idle_w: Watts | None = Field(default=None, alias="idle", description="before the kit's")
    asleep_w: Watts | None = Field(default=None, alias="asleep", description="before the kit's")
    capacitance_f: Farads | None = Field(default=None, alias="capacitance", description="at its input, for inrush")
    wire: Wire | None = None


class Supply(Part):
    """Something that feeds others: a battery in use, a distributor, a converter, the mains."""

    id: Id
    name: str = ""
    item: str = Field(default="", description="id in the kit of what it is, where that draws for itself")
    battery: str = Field(default="", description="id of the batteries that it runs on; none: fed, or from the mains")
    in_parallel: int = Field(default=1, ge=1, le=100, description="batteries that are on it at one time")
    in_series: int = Field(default=1, ge=1, le=100, description="batteries one after the other: two cells in a pack")
    each: bool = Field(default=False, description="each thing that it feeds has such batteries of its own inside")
    mains: bool = False
    most_w: Watts | None = Field(default=None, alias="most", description="that it can give")
    efficiency: float = Field(default=1.0, gt=0, le=1, description="of what it converts")
    output_v: Volts | None = Field(default=None, alias="output")
    swappable_running: bool = Field(default=False, description="its battery can be changed while it feeds")
    feeds: tuple[Feeding, ...] = ()
    from_supply: str = Field(default="", description="id of the supply that feeds this one")
    wire: Wire | None = None
    site: str = Field(default="", description="id of the site where it stands; else all sites of the day")
    temperature_c: TemperaturesC | None = Field(
        default=None, alias="temperature", description="where it is kept, such as worn under a coat; before the site's"
    )
    note: str = ""


class Phase(Part):
    """A stretch of a day in one state; phases of one day follow each other."""

    id: Id
    day: str = Field(default="", description="id of the day; of every day when none is named")
    from_: TimeOfDay = Field(alias="from", description="time of day, 07:30")
    to: TimeOfDay
    state: State = "working"
    supplies: tuple[str, ...] = Field(default=(), description="ids; all when none is named")
    break_: bool = Field(default=False, alias="break", description="a time when batteries can be changed")
    note: str = ""


class Socket(Part):
    """Where batteries are charged overnight."""

    id: Id
    name: str = ""
    most_w: Watts = Field(alias="most", description="that may be taken here")
    from_: TimeOfDay = Field(default="20:00", alias="from")
    to: TimeOfDay = "06:30"
    places: int | None = Field(default=None, ge=0, description="batteries that can be charged at one time")
    attended: bool | None = Field(default=None, description="whether somebody is there all that time")
    site: str = Field(default="", description="id of the site that it is at")
    temperature_c: TemperaturesC | None = Field(default=None, alias="temperature", description="of the place")
    note: str = ""


class Cold(Part):
    """What a chemistry gives in the cold, of the show's own knowledge: before the table's row of that id."""

    id: Id
    share: dict[str, float] = Field(description="by temperature in °C: share of the content at 25 °C")
    source: str = ""
    status: Literal["opened", "computed", "from memory", "own"] = "own"


class PowerPart(Part):
    """What the day runs on."""

    batteries: tuple[Battery, ...] = ()
    supplies: tuple[Supply, ...] = ()
    phases: tuple[Phase, ...] = ()
    sockets: tuple[Socket, ...] = ()
    cold: tuple[Cold, ...] = Field(default=(), description="shares in the cold by chemistry, before the table's")
    reserve: float = Field(default=0.1, ge=0, lt=1, description="share of every battery that is kept back")
