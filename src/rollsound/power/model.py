"""The power part of the plan, as people write it: batteries, supplies, what they feed, and how the day loads them."""

from __future__ import annotations

from typing import Annotated, Literal, TypeAlias

from pydantic import Field

from rollsound.kit.model import Chemistry
from rollsound.written import Id, Kilograms, Metres, Part, Quantity, Volts, WattHours, Watts

Amperes: TypeAlias = Annotated[float, Quantity("A", least=0, example="10 A")]
AmpereHours: TypeAlias = Annotated[float, Quantity("Ah", least=0, example="50 Ah")]
SectionMm2: TypeAlias = Annotated[float, Quantity("mm²", least=0, example="2.5 mm²")]
DegreesC: TypeAlias = Annotated[float, Quantity("°C", least=-90, most=90, example="-5 °C")]
State: TypeAlias = Literal["working", "idle", "asleep", "off"]


class Battery(Part):
    """Batteries of one kind."""

    id: Id
    name: str = Field(min_length=1)
    chemistry: Chemistry = "li-ion"
    voltage_v: Volts | None = Field(default=None, alias="voltage", description="nominal")
    capacity_wh: WattHours | None = Field(default=None, alias="capacity", description="of one, at 20 °C")
    capacity_ah: AmpereHours | None = Field(default=None, alias="ampere_hours", description="in place of capacity")
    count: int = Field(default=1, ge=0)
    depth: float = Field(default=0.9, gt=0, le=1, description="of its content, how much is used")
    health: float | None = Field(default=None, gt=0, le=1, description="of its content when new")
    cycles: int | None = Field(default=None, ge=0, description="that it has had")
    cycles_to_80: int | None = Field(default=None, ge=1, description="after which 80 % are left")
    cutoff_v: Volts | None = Field(default=None, alias="cutoff", description="where it is taken off")
    cold_factor: dict[str, float] = Field(
        default_factory=dict, description="share of its content that is left by temperature in °C: its own data sheet"
    )
    mass_kg: Kilograms | None = Field(default=None, alias="mass")
    charge_w: Watts | None = Field(default=None, alias="charge_power", description="that it takes when charged")
    power_bank: bool = Field(default=False, description="has an output of its own for other devices")
    note: str = ""


class Wire(Part):
    """The two-core cable between a supply and what it feeds."""

    length_m: Metres = Field(alias="length", description="one way")
    section_mm2: SectionMm2 | None = Field(default=None, alias="section")
    awg: int | None = Field(default=None, ge=0, le=40)
    fuse_a: Amperes | None = Field(default=None, alias="fuse")


class Feeding(Part):
    """One thing that a supply feeds."""

    id: Id
    piece: str = Field(default="", description="id of a piece of the rig")
    item: str = Field(default="", description="id in the kit, where it is no piece of the rig")
    count: int = Field(default=1, ge=0)
    draw_w: Watts | None = Field(default=None, alias="draw", description="working; before the kit's")
    wire: Wire | None = None


class Supply(Part):
    """Something that feeds others: a battery in use, a distributor, a converter, the mains."""

    id: Id
    name: str = ""
    battery: str = Field(default="", description="id of the batteries that it runs on; none: fed, or from the mains")
    in_parallel: int = Field(default=1, ge=1, description="batteries that are on it at one time")
    mains: bool = False
    most_w: Watts | None = Field(default=None, alias="most", description="that it can give")
    efficiency: float = Field(default=1.0, gt=0, le=1, description="of what it converts")
    output_v: Volts | None = Field(default=None, alias="output")
    swappable_running: bool = Field(default=False, description="its battery can be changed while it feeds")
    feeds: tuple[Feeding, ...] = ()
    from_supply: str = Field(default="", description="id of the supply that feeds this one")
    wire: Wire | None = None
    site: str = ""
    note: str = ""


class Phase(Part):
    """A stretch of a day in one state; phases of one day follow each other."""

    id: Id
    day: str = Field(default="", description="id of the day; of every day when none is named")
    from_: str = Field(alias="from", description="time of day, 07:30")
    to: str
    state: State = "working"
    supplies: tuple[str, ...] = Field(default=(), description="ids; all when none is named")
    break_: bool = Field(default=False, alias="break", description="a time when batteries can be changed")
    note: str = ""


class Socket(Part):
    """Where batteries are charged overnight."""

    id: Id
    name: str = ""
    most_w: Watts = Field(alias="most", description="that may be taken here")
    from_: str = Field(default="20:00", alias="from")
    to: str = "06:30"
    note: str = ""


class PowerPart(Part):
    """What the day runs on."""

    batteries: tuple[Battery, ...] = ()
    supplies: tuple[Supply, ...] = ()
    phases: tuple[Phase, ...] = ()
    sockets: tuple[Socket, ...] = ()
    reserve: float = Field(default=0.1, ge=0, lt=1, description="share of every battery that is kept back")
