"""The radio part of the plan, as people write it: transmitters, receivers, rules, occupied spectrum, grounds.

What a kind of transmitter, receiver, antenna, cable or wall is like comes from the tables in ``facts``; whatever is
written here goes before them.
"""

from __future__ import annotations

from typing import Literal, TypeAlias

from pydantic import Field

from rollsound.radio.points import Line, Outline, Point
from rollsound.written import Decibels, Hertz, Id, LevelDbm, Metres, Milliwatts, Part, TuningHz, WattHours, Watts

Use: TypeAlias = Literal["body pack", "boom", "plant", "monitor", "talkback"]
Unit: TypeAlias = Literal["e.r.p.", "e.i.r.p.", "conducted"]
Status: TypeAlias = Literal["opened", "computed", "from memory", "own"]
"""How a figure is known: read in its source, computed from one, recalled and not read again, or the show's own."""
HIGH_POWER: tuple[Use, ...] = ("monitor", "talkback")


class Band(Part):
    """A stretch of spectrum that a region lets be used, and how."""

    id: Id
    range_hz: TuningHz = Field(alias="range")
    power_mw: Milliwatts = Field(alias="power", description="the most that is allowed")
    unit: Unit = "e.r.p."
    width_hz: Hertz | None = Field(default=None, alias="width", description="the most that one signal may occupy")
    uses: tuple[Use, ...] = Field(default=(), description="for which uses; for all when none is named")
    licence: Literal["none", "needed", "not allowed", "ask"] = "ask"
    note: str = ""
    source: str = ""
    edition: str = Field(default="", description="of the source: which text was read")
    date: str = Field(default="", description="of that text, as far as it is known")
    status: Status = "own"


class Region(Part):
    """Where the rules of one authority hold. One written in the show goes before one of the tables with its id."""

    id: Id
    name: str = Field(min_length=1)
    television: str = Field(default="", description="which television raster: an id of the tables")
    bands: tuple[Band, ...] = ()
    note: str = ""


class Rule(Part):
    """What transmitters of one kind ask for. Protection of none (0 Hz) means that a product does not count."""

    id: Id
    spacing_hz: Hertz = Field(default=400e3, alias="spacing", description="to the next carrier of any kind")
    two_third_hz: Hertz = Field(default=100e3, alias="2A-B", description="protection from products of two, third order")
    three_third_hz: Hertz = Field(default=50e3, alias="A+B-C", description="of three, third order")
    two_fifth_hz: Hertz = Field(default=0.0, alias="3A-2B", description="of two, fifth order")
    three_fifth_hz: Hertz = Field(default=0.0, alias="3A-B-C", description="of three, fifth order; and 2A+B-2C")
    high_power: bool = Field(default=False, description="for monitors, talkback and 100 mW up that name no rule")


class Transmitter(Part):
    """Something that sends: a body pack, a boom's plug-on, a monitor or talkback transmitter."""

    id: Id
    name: str = Field(min_length=1)
    kind: Use = "body pack"
    model: str = Field(default="", description="id of a kind of transmitter in the tables or in this plan")
    rule: str = Field(default="", description="id of a rule; of its kind's when none is named")
    power_mw: Milliwatts | None = Field(default=None, alias="power")
    tuning_hz: TuningHz | None = Field(default=None, alias="tuning")
    step_hz: Hertz | None = Field(default=None, alias="step")
    width_hz: Hertz | None = Field(default=None, alias="width", description="occupied")
    frequency_hz: Hertz | None = Field(default=None, alias="frequency", description="the carrier that it has now")
    fixed: bool = Field(default=False, description="its frequency may not be changed")
    on_air: bool = Field(default=False, description="it is sending: moved only when it must be")
    zone: str = Field(default="", description="transmitters of different zones make no products with each other")
    priority: int = Field(default=2, ge=1, le=9, description="1 must be placed; then the smaller first")
    spares_wanted: int = Field(default=0, ge=0, le=8, description="frequencies kept free for it")
    spare_frequencies: tuple[Hertz, ...] = Field(default=(), description="found for it, clear of all the rest")
    sites: tuple[str, ...] = Field(default=(), description="ids of the sites where it sends; all when none is named")
    wearer: str = Field(default="", description="character, instrument or place")
    worn: str = Field(default="", description="where it is worn: an id of the tables, such as belt-back")
    stand: str = Field(default="", description="id of a stand on its sites' grounds, where it stays in one place")
    exposure_checked: bool = Field(default=False, description="its maker's exposure test covers how it is worn here")
    note: str = ""


class Receiver(Part):
    """Something that receives, with as many channels as it has."""

    id: Id
    name: str = Field(min_length=1)
    model: str = Field(default="", description="id of a kind of receiver in the tables or in this plan")
    channels: int = Field(default=1, ge=1)
    tuning_hz: TuningHz | None = Field(default=None, alias="tuning")
    window_hz: Hertz | None = Field(default=None, alias="window", description="how wide all its channels may lie apart")
    step_hz: Hertz | None = Field(default=None, alias="step")
    hears: tuple[str, ...] = Field(default=(), description="ids of transmitters, one a channel")
    antennas: tuple[str, ...] = Field(default=(), description="ids of antennas on grounds, combined or switched")
    note: str = ""


class TransmitterKind(Part):
    """What a kind of transmitter is like."""

    id: Id
    name: str = ""
    tuning_hz: TuningHz | None = Field(default=None, alias="tuning")
    step_hz: Hertz = Field(default=25e3, alias="step")
    width_hz: Hertz = Field(default=200e3, alias="width")
    powers_mw: tuple[Milliwatts, ...] = Field(default=(), alias="powers")
    draws_w: tuple[Watts, ...] = Field(default=(), alias="draws", description="what it takes at each of its powers")
    battery_wh: WattHours | None = Field(default=None, alias="battery", description="what its battery holds")
    gain_dbi: Decibels = Field(default=0.0, alias="gain", description="of its antenna, before the body takes its part")
    note: str = ""
    source: str = ""
    status: Status = "own"


class ReceiverKind(Part):
    """What a kind of receiver is like."""

    id: Id
    name: str = ""
    tuning_hz: TuningHz | None = Field(default=None, alias="tuning")
    step_hz: Hertz = Field(default=25e3, alias="step")
    width_hz: Hertz = Field(default=200e3, alias="width", description="of the noise that it lets in")
    noise_figure_db: Decibels = Field(default=8.0, alias="noise_figure")
    needed_db: Decibels = Field(default=22.0, alias="needed", description="carrier over noise at which sound is good")
    intercept_dbm: LevelDbm = Field(default=0.0, alias="intercept", description="input third order intercept")
    selectivity_db: Decibels = Field(default=60.0, alias="selectivity", description="against the channel beside")
    branches: int = Field(default=2, ge=1, le=8, description="of diversity")
    note: str = ""
    source: str = ""
    status: Status = "own"


class Excluded(Part):
    """Occupied spectrum: a range, or television channels of the region's raster."""

    id: Id
    range_hz: TuningHz | None = Field(default=None, alias="range")
    channels: tuple[int, ...] = Field(default=(), description="television channels by number")
    guard_hz: Hertz = Field(default=100e3, alias="guard")
    sites: tuple[str, ...] = Field(default=(), description="ids of the sites where it holds; all when none is named")
    why: str = ""


class Scan(Part):
    """What was measured on a site: what lies above the threshold is occupied. Scans of one site add up to the worst."""

    id: Id
    file: str = Field(min_length=1, description="CSV of frequency and level; begins at the show's folder")
    sites: tuple[str, ...] = ()
    threshold_dbm: LevelDbm = Field(default=-90.0, alias="threshold")
    guard_hz: Hertz = Field(default=100e3, alias="guard")
    taken: str = Field(default="", description="when, in words")
    used: bool = True


class Wall(Part):
    """A wall, fence, container or hull: what stands in the way."""

    id: Id
    line_m: Line = Field(alias="line")
    material: str = Field(default="concrete", description="an id of the tables or of this plan")
    loss_db: Decibels | None = Field(default=None, alias="loss", description="straight through; before the table's")


class Stand(Part):
    """Where an antenna or a person stands."""

    id: Id
    name: str = ""
    at_m: Point = Field(alias="at")


class AntennaPlaced(Part):
    """An antenna on a ground, and all between it and the receiver."""

    id: Id
    name: str = ""
    model: str = Field(default="half-wave", description="an id of the tables or of this plan")
    at_m: Point = Field(alias="at")
    height_m: Metres = Field(default=2.5, alias="height")
    bearing_deg: float = Field(default=0.0, ge=-360, le=360, description="where it looks: 0 right, 90 up the drawing")
    polarisation: Literal["vertical", "horizontal", "slanted", "circular"] = "vertical"
    cable: str = Field(default="foam-240", description="an id of the tables or of this plan")
    cable_length_m: Metres = Field(default=4.0, alias="cable_length")
    connectors: int = Field(default=2, ge=0, le=40)
    amplifier_gain_db: Decibels = Field(default=0.0, alias="amplifier_gain", description="at the antenna; 0 for none")
    amplifier_noise_db: Decibels = Field(default=2.0, alias="amplifier_noise")
    amplifier_intercept_dbm: LevelDbm = Field(default=10.0, alias="amplifier_intercept", description="input, 3rd order")
    split_ways: int = Field(default=1, ge=1, le=64)
    floors: int = Field(default=0, ge=0, le=20, description="decks or storeys between it and where the actors are")
    layouts: tuple[str, ...] = Field(default=(), description="names of the layouts it belongs to; all when none")
    note: str = ""


class ActingArea(Part):
    """Where actors go: every place in it must be reached."""

    id: Id
    name: str = ""
    outline_m: Outline = Field(alias="outline")
    height_m: Metres = Field(default=1.2, alias="height", description="of the transmitter worn there")


class WalkingLine(Part):
    """A way that somebody walks while sending."""

    id: Id
    name: str = ""
    line_m: Line = Field(alias="line")
    height_m: Metres = Field(default=1.2, alias="height")


class NoiseSource(Part):
    """A LED wall, a generator, a dimmer: what raises the noise around it."""

    id: Id
    name: str = ""
    at_m: Point = Field(alias="at")
    rise_db: Decibels = Field(alias="rise", description="over the noise of the place, ten metres away, as measured")


class Reading(Part):
    """One reading of a walk test."""

    id: Id
    at_m: Point | None = Field(default=None, alias="at")
    stand: str = Field(default="", description="id of a stand, in place of a point")
    transmitter: str = ""
    antenna: str = ""
    level_dbm: LevelDbm | None = Field(default=None, alias="level")
    quality_percent: float | None = Field(default=None, ge=0, le=100, alias="quality")
    note: str = ""


class Ground(Part):
    """The drawing of a site; its id is the site's."""

    id: Id
    width_m: Metres = Field(alias="width")
    depth_m: Metres = Field(alias="depth")
    image: str = Field(default="", description="a picture that fills the drawing; begins at the show's folder")
    surroundings: Literal["free space", "two-ray", "indoor", "multi-wall", "street"] = "multi-wall"
    exponent: float | None = Field(default=None, ge=1, le=8, description="loss with distance, as fitted to this place")
    body_loss_db: Decibels | None = Field(default=None, alias="body_loss", description="as fitted to this place")
    floor_loss_db: Decibels | None = Field(
        default=None, alias="floor_loss", description="of one deck or storey between; before the table's"
    )
    frequency_hz: Hertz = Field(default=600e6, alias="frequency", description="where no carrier is chosen yet")
    noise: Literal["city", "residential", "rural", "quiet rural", "none"] = "city"
    fading: Literal["rayleigh", "rician"] = "rayleigh"
    rician_k_db: Decibels = Field(default=6.0, alias="rician_k")
    walls: tuple[Wall, ...] = ()
    stands: tuple[Stand, ...] = ()
    antennas: tuple[AntennaPlaced, ...] = ()
    areas: tuple[ActingArea, ...] = ()
    lines: tuple[WalkingLine, ...] = ()
    noise_sources: tuple[NoiseSource, ...] = ()
    readings: tuple[Reading, ...] = ()
    note: str = ""


class Material(Part):
    """What a wall is made of: what it takes from a signal that goes straight through."""

    id: Id
    name: str = ""
    loss_db: Decibels = Field(alias="loss")
    source: str = ""
    status: Status = "own"


class Cable(Part):
    """A kind of antenna cable: loss = k1·√f + k2·f, in dB for 100 m, f in MHz."""

    id: Id
    name: str = ""
    k1: float = Field(ge=0)
    k2: float = Field(ge=0)
    source: str = ""
    status: Status = "own"


class NoiseEnvironment(Part):
    """How noisy a place is: median over the noise at 290 K = c − d·log f, f in MHz."""

    id: Id
    name: str = ""
    c_db: Decibels = Field(alias="c", description="at 1 MHz")
    d_db: Decibels = Field(alias="d", description="less a decade")
    upper_decile_db: Decibels = Field(
        default=0.0, alias="upper_decile", description="over the median, 10 % of the time"
    )
    lower_decile_db: Decibels = Field(default=0.0, alias="lower_decile", description="under the median")
    source: str = ""
    status: Status = "own"


class WornPlace(Part):
    """Where a transmitter is worn or held, and what the body takes from it there."""

    id: Id
    name: str = ""
    loss_db: Decibels = Field(alias="loss", description="median over all directions")
    spread_db: Decibels = Field(default=6.0, alias="spread", description="how far it commonly lies from that")
    skin_distance_m: Metres = Field(default=0.005, alias="skin_distance", description="from the antenna to the body")
    source: str = ""
    status: Status = "own"


class AntennaKind(Part):
    """A kind of antenna."""

    id: Id
    name: str = ""
    gain_dbi: Decibels = Field(alias="gain")
    beam_deg: float = Field(default=360.0, gt=0, le=360, description="between the directions of half power; 360 round")
    front_to_back_db: Decibels = Field(default=0.0, alias="front_to_back")
    circular: bool = False
    source: str = ""
    status: Status = "own"


class ControlLink(Part):
    """A control link or a Wi-Fi network on the same few metres."""

    id: Id
    name: str = ""
    kind: Literal["wi-fi", "802.15.4", "bluetooth low energy"] = "wi-fi"
    channel: int = Field(ge=0, le=200)
    width_mhz: Literal[2, 20, 40, 80, 160] | None = None
    ground: str = ""
    at_m: Point | None = Field(default=None, alias="at")


class RadioPart(Part):
    """All that sends and hears, the rules between them, and the places."""

    region: str = Field(default="", description="id of a region: of the tables, or of this plan")
    regions: tuple[Region, ...] = ()
    rules: tuple[Rule, ...] = ()
    transmitters: tuple[Transmitter, ...] = ()
    receivers: tuple[Receiver, ...] = ()
    excluded: tuple[Excluded, ...] = ()
    scans: tuple[Scan, ...] = ()
    grounds: tuple[Ground, ...] = ()
    control: tuple[ControlLink, ...] = ()
    transmitter_kinds: tuple[TransmitterKind, ...] = ()
    receiver_kinds: tuple[ReceiverKind, ...] = ()
    materials: tuple[Material, ...] = ()
    cables: tuple[Cable, ...] = ()
    antenna_kinds: tuple[AntennaKind, ...] = ()
    noise_environments: tuple[NoiseEnvironment, ...] = ()
    worn_places: tuple[WornPlace, ...] = ()
