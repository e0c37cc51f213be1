"""The kit part of the plan, as people write it: the equipment list, and kinds of equipment of the show's own.

What a kind has (ports, draw, mass) comes from the table ``kit_kinds`` in ``facts``; what is written in the show under
``kinds`` goes before it, and what is written at an item goes before its kind.
"""

from __future__ import annotations

from typing import Annotated, Literal, TypeAlias

from pydantic import Field

from rollsound.written import Band as Span
from rollsound.written import (
    Decibels,
    Hertz,
    Id,
    Kilograms,
    LevelDba,
    LevelDbu,
    LevelSpl,
    Metres,
    Part,
    Quantity,
    QuantityRange,
    Seconds,
    Volts,
    WattHours,
    Watts,
)

Medium: TypeAlias = Literal[
    "air",
    "analogue",
    "digital mic",
    "aes3",
    "aes3 coax",
    "aes10 coax",
    "aes10 fibre",
    "network",
    "network fibre",
    "optical",
    "usb",
    "radio",
    "antenna",
    "time code",
    "word clock",
    "control",
    "dc",
    "mains",
]
"""What a port speaks. ``air`` is sound: what a microphone hears, what headphones give."""
DIGITAL: tuple[Medium, ...] = (
    "digital mic",
    "aes3",
    "aes3 coax",
    "aes10 coax",
    "aes10 fibre",
    "network",
    "network fibre",
    "optical",
    "usb",
)
"""Media that carry samples of sound."""
NETWORK: tuple[Medium, ...] = ("network", "network fibre")
SOUND: tuple[Medium, ...] = ("air", "analogue", "radio", *DIGITAL)
"""Media that carry sound."""

Chemistry: TypeAlias = Literal["li-ion", "lifepo4", "nimh", "alkaline", "lithium", "zinc-carbon", "lead-acid"]
Clock: TypeAlias = Literal["none", "own", "follows", "either"]
"""Where an item's sample clock comes from: it has none, only its own, must follow a port, or may do either."""
Status: TypeAlias = Literal["opened", "computed", "from memory", "own"]

SensitivityMvPa: TypeAlias = Annotated[float, Quantity("mV/Pa", least=0, example="20 mV/Pa")]
Milliamperes: TypeAlias = Annotated[float, Quantity("mA", least=0, example="180 mA")]
Ppm: TypeAlias = Annotated[float, Quantity("ppm", least=0, most=10_000, example="10 ppm")]
VoltageV: TypeAlias = Annotated[Span, QuantityRange("V", example="10-18 V")]
GainDb: TypeAlias = Annotated[Span, QuantityRange("dB", example="0-70 dB")]
SpeedMs: TypeAlias = Annotated[float, Quantity("m/s", least=0, most=120, example="15 m/s")]
Surface: TypeAlias = Literal["good", "uneven"]
Zone: TypeAlias = Literal[
    "shoulder to head", "elbow to shoulder", "knuckle to elbow", "shin to knuckle", "floor to shin"
]
"""Where hands are when something is lifted, from the top down."""
TravelsBy: TypeAlias = Literal["cabin", "hold", "air cargo", "road or sea", "stays"]
"""How an item gets to the place of work: with its traveller, in checked baggage, as cargo, or not by air at all."""


class Port(Part):
    """Where a link can begin or end: a socket, an antenna's side of a radio, a capsule, an earpiece."""

    id: Id
    name: str = ""
    direction: Literal["in", "out", "both"]
    medium: Medium
    channels: int = Field(default=1, ge=1, le=4096)
    connector: str = ""
    rates_hz: tuple[Hertz, ...] = Field(default=(), alias="rates", description="sample rates; the item's if none")
    latency_s: Seconds = Field(default=0.0, alias="latency", description="that this port adds, converter included")
    gain_db: GainDb | None = Field(default=None, alias="gain", description="what can be set here; none: nothing")
    clip_dbu: LevelDbu | None = Field(default=None, alias="clip", description="analogue: the most that goes through")
    full_scale_dbu: LevelDbu | None = Field(
        default=None, alias="full_scale", description="a converter: the analogue level at 0 dBFS, with no gain"
    )
    noise_dbu: LevelDbu | None = Field(default=None, alias="noise", description="equivalent input noise, A-weighted")
    noise_dbfs: float | None = Field(default=None, le=0, description="digital: what this stage adds, A-weighted")
    sensitivity_mv_pa: SensitivityMvPa | None = Field(default=None, alias="sensitivity", description="a capsule's")
    full_scale_spl: LevelSpl | None = Field(
        default=None, alias="full_scale_spl", description="a digital microphone: sound level at 0 dBFS"
    )
    clip_spl: LevelSpl | None = Field(default=None, alias="clip_spl", description="the loudest that a capsule bears")
    noise_dba: LevelDba | None = Field(default=None, alias="self_noise", description="of a capsule, as sound level")
    resamples: bool = Field(default=False, description="takes another clock's samples and converts their rate")
    lossy: bool = Field(default=False, description="does not give back every bit: companded or coded")
    bits: int | None = Field(default=None, ge=8, le=64, description="word length")
    microphone_mode: Literal["mode 1", "mode 2", "both"] | None = Field(
        default=None, description="digital mic: runs free, or can be steered by the receiver"
    )
    supplies: Literal["p48", "p24", "p12", "digital phantom"] | None = None
    needs_supply: Literal["p48", "p24", "p12", "digital phantom"] | None = None
    draw_ma: Milliamperes | None = Field(default=None, alias="draw", description="from such a supply")
    packet_s: Seconds = Field(default=0.001, alias="packet_time", description="network: length of a packet")
    buffer_s: Seconds = Field(default=0.003, alias="buffer", description="network: what a receiver keeps")
    stream_channels: int = Field(default=8, ge=1, le=512, description="network: channels in one stream")
    rate_mbit_s: float = Field(default=1000.0, gt=0, description="network: line rate, Mbit/s")
    sensitivity_db_mw: Decibels | None = Field(
        default=None, alias="sensitivity_db_mw", description="headphones: sound level at one milliwatt"
    )
    impedance_ohm: float | None = Field(default=None, gt=0)
    note: str = ""


class Pass(Part):
    """A way inside an item that is always there, channel by channel."""

    from_: str = Field(alias="from", min_length=1, description="a port, and channels: 'mic 1-4'")
    to: str = Field(min_length=1)
    gain_db: Decibels = Field(default=0.0, alias="gain")
    source_of: str = Field(default="", description="what is made here, such as a click; from nothing")


class DrawByPower(Part):
    """What a transmitter takes at one of its radio powers."""

    power_mw: Annotated[float, Quantity("mW", least=0, example="50 mW")] = Field(alias="power")
    draw_w: Watts = Field(alias="draw")


class BatteryContent(Part):
    """Cells or blocks inside one item, for travel: each as many as ``count``."""

    chemistry: Chemistry
    voltage_v: Volts = Field(alias="voltage")
    capacity_wh: WattHours = Field(alias="capacity")
    count: int = Field(default=1, ge=1, le=100_000)
    removable: bool = True
    loose: bool = Field(default=False, description="travels as a battery, not inside equipment")
    power_bank: bool = Field(default=False, description="has an output of its own for other devices")
    lithium_g: Annotated[float, Field(ge=0)] | None = Field(
        default=None, description="lithium metal: grams of lithium in one"
    )
    sealed: bool = Field(default=True, description="lead-acid: cannot spill")
    mass_kg: Kilograms | None = Field(default=None, alias="mass", description="of one, where it is inside equipment")
    charged: float | None = Field(default=None, ge=0, le=1, description="share that is in it when it travels")


class Described(Part):
    """What a kind and an item share: an item's own word goes before its kind's."""

    mass_kg: Kilograms | None = Field(default=None, alias="mass")
    draw_w: Watts | None = Field(default=None, alias="draw", description="working, as measured, not as on the label")
    idle_w: Watts | None = Field(default=None, alias="idle", description="switched on and waiting")
    asleep_w: Watts | None = Field(default=None, alias="asleep")
    draw_by_power: tuple[DrawByPower, ...] = Field(default=(), description="a transmitter's, by its radio power")
    input_v: VoltageV | None = Field(default=None, alias="input", description="supply voltage that it bears")
    rack_units: float | None = Field(default=None, ge=0, le=60)
    battery: BatteryContent | None = None
    ports: tuple[Port, ...] = Field(default=(), description="at an item: these replace those of the same id")
    passes: tuple[Pass, ...] = Field(default=(), description="ways inside that are always there")
    core: Literal["analogue", "digital", "none"] | None = Field(default=None, description="what it works in")
    latency_s: Seconds | None = Field(default=None, alias="latency", description="inside, between any two ports")
    clock: Clock | None = None
    clock_ppm: Ppm | None = Field(default=None, alias="clock_error", description="of its own clock, at most")
    rates_hz: tuple[Hertz, ...] = Field(default=(), alias="rates", description="sample rates that it can run at")
    tracks: int | None = Field(default=None, ge=0, description="a recorder's")
    height_m: Metres | None = Field(default=None, alias="height", description="a mast's, when it is up")
    width_m: Metres | None = Field(default=None, alias="width", description="a mast's, as the wind meets it")
    wind_area_m2: float | None = Field(default=None, ge=0, le=100, description="of what stands on a mast, m²")
    drag: float | None = Field(default=None, gt=0, le=3, description="1.2 a long cylinder, 2.0 a flat plate")
    foot_m: Metres | None = Field(default=None, alias="foot", description="a tripod's, from its middle to a foot")
    stairs_kg: Kilograms | None = Field(
        default=None, alias="stairs", description="a trolley: what one person takes over steps with it, as stated"
    )


class _KindHead(Part):
    id: Id
    name: str = Field(min_length=1)
    category: str = Field(min_length=1, description="recorder, microphone, receiver, ...")


class Kind(Described, _KindHead):
    """What one kind of equipment is like."""

    note: str = ""
    source: str = ""
    status: Status = "own"


class _ItemHead(Part):
    id: Id
    name: str = Field(min_length=1)
    kind: str = Field(default="", description="what it is, in a word or two of the trade")
    model: str = Field(default="", description="id of a kind of the tables or of this plan")
    count: int = Field(default=1, ge=0, le=100_000)


class KitItem(Described, _ItemHead):
    """One piece of equipment, or several that are alike."""

    make: str = Field(default="", description="make and model as on its plate, for the customs' list")
    serials: tuple[str, ...] = Field(default=(), description="one of each, or NSN; for the customs' list")
    value: float | None = Field(default=None, ge=0, le=1_000_000_000, description="of one, in the kit's currency")
    origin: str = Field(default="", description="country where it was made, two letters")
    consumable: bool = Field(default=False, description="is used up: never on the customs' list")
    travels_in: str = Field(default="", description="case or trolley, in words")
    travels_by: TravelsBy | None = Field(default=None, description="where the rules of batteries are asked")
    note: str = ""


class Move(Part):
    """A load that people lift, push or carry over steps, to be held against guidance."""

    id: Id
    name: str = ""
    load: str = Field(min_length=1, description="what is moved: a case or trolley as under travels_in, or an item's id")
    people: int = Field(default=1, ge=1, le=20)
    women: bool = Field(default=False, description="one of them at least: the lower figures hold")
    zones: tuple[Zone, ...] = Field(default=(), description="of a lift: all that the hands pass through")
    arms_length: bool = Field(default=False, description="of a lift: held away from the body")
    per_minute: float | None = Field(default=None, ge=0, le=60, description="of a lift: how often")
    twist_deg: float = Field(default=0.0, ge=0, le=180)
    surface: Surface = Field(default="good", description="that it rolls on")
    slope: str = Field(default="", description="of a ramp, rise to run: 1:12")
    steps: int = Field(default=0, ge=0, le=1000)
    note: str = ""


class Raised(Part):
    """A mast that is up, what stands on it, and the gust that it is to stand."""

    id: Id
    name: str = ""
    item: str = Field(min_length=1, description="id of the mast or stand in the kit")
    carries: tuple[str, ...] = Field(default=(), description="ids of items on its top")
    gust_ms: SpeedMs | None = Field(default=None, alias="gust", description="not the mean wind")
    ballast_kg: Kilograms = Field(default=0.0, alias="ballast")
    site: str = ""
    note: str = ""


class KitPart(Part):
    """The equipment list, and how it travels."""

    items: tuple[KitItem, ...] = ()
    kinds: tuple[Kind, ...] = ()
    moves: tuple[Move, ...] = ()
    raised: tuple[Raised, ...] = Field(default=(), description="masts and stands outdoors")
    currency: str = Field(default="EUR", description="that values are written in")
    travellers: int = Field(default=1, ge=1, description="people whose baggage the batteries are spread over")
