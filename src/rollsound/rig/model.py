"""The rig part of the plan, as people write it: pieces and their links, routes, tracks, sources, feeds, changeovers.

An end is written ``piece:port`` and, where it is not the whole port, its channels: ``recorder:line-in 3`` or
``stage-receiver:net 1-8``. Inside one piece, in a route, the piece is left out: ``net 1-8`` to ``track 6-13``.
"""

from __future__ import annotations

from typing import Literal, TypeAlias

from pydantic import Field

from rollsound.kit.model import Clock
from rollsound.written import Decibels, Hertz, Id, LevelDba, LevelSpl, Metres, Part, Seconds

Effort: TypeAlias = Literal["relaxed", "normal", "raised", "loud", "very loud"]
"""Vocal effort, as in ISO 9921."""
SourceKind: TypeAlias = Literal[
    "voice", "song", "instrument", "room", "playback", "click", "time code", "talkback", "tone"
]


class Piece(Part):
    """One item of the kit at its place in the rig."""

    id: Id
    name: str = ""
    item: str = Field(default="", description="id in the kit; its own id when none is named")
    place: str = Field(default="", description="where it stands: cart, set, a site's id, or a word of your own")
    wearer: str = Field(default="", description="character or person who carries it")
    transmitter: str = Field(default="", description="id in the radio part, of a piece that sends")
    rate_hz: Hertz | None = Field(default=None, alias="rate", description="sample rate; else the show's")
    clock: str = Field(
        default="", description="port whose clock it follows, or 'internal'; left out, what its kind commonly does"
    )
    clock_role: Clock | None = None
    gains: dict[str, Decibels] = Field(default_factory=dict, description="set here, by port and channels: 'mic 1-2'")
    note: str = ""


class Link(Part):
    """A cable, a radio path or a way through the air from one port to another."""

    id: Id
    name: str = ""
    from_: str = Field(alias="from", min_length=1)
    to: str = Field(min_length=1)
    cable: str = Field(default="", description="id of a kind of cable; of the medium's when none is named")
    length_m: Metres | None = Field(default=None, alias="length")
    loss_db: Decibels = Field(default=0.0, alias="loss", description="in the air, or of a pad in the cable")
    note: str = ""


class Stream(Part):
    """Channels of sound that one network port takes from another, over whatever links join them."""

    id: Id
    name: str = ""
    from_: str = Field(alias="from", min_length=1)
    to: str = Field(min_length=1)
    packet_s: Seconds | None = Field(default=None, alias="packet_time")
    note: str = ""


class Route(Part):
    """A way inside a piece: inputs to outputs or tracks. Several into one are added."""

    id: Id
    piece: str = Field(min_length=1)
    from_: str = Field(alias="from", min_length=1, description="a port and channels: 'net 1-8'")
    to: str = Field(min_length=1, description="a port and channels, or tracks: 'track 6-13'")
    gain_db: Decibels = Field(default=0.0, alias="gain")
    fader: str = Field(default="", description="the fader that it hangs on, if any")
    note: str = ""


class Source(Part):
    """What is to be heard: a voice, an instrument, playback, time code, and where it enters the rig."""

    id: Id
    name: str = ""
    kind: SourceKind = "voice"
    at: str = Field(default="", description="where it enters: 'lav-bram:capsule', 'playback:out 1'")
    character: str = Field(default="", description="whose voice it is: sources of one character cover each other")
    effort: Effort | None = Field(default=None, description="how loud a voice speaks at its loudest")
    quiet: Effort | None = Field(default=None, description="and at its quietest")
    level_spl: LevelSpl | None = Field(default=None, alias="level", description="loudest, at one metre")
    quiet_spl: LevelSpl | None = Field(default=None, alias="quiet_level", description="quietest, at one metre")
    level_dbfs: float | None = Field(default=None, le=0, description="of a source that is digital from the start")
    crest_db: Decibels | None = Field(default=None, alias="crest", description="peaks over the mean level")
    distance_m: Metres | None = Field(default=None, alias="distance", description="from the mouth to its microphone")
    near: tuple[str, ...] = Field(default=(), description="sources whose microphone hears it too")
    near_distance_m: tuple[Metres, ...] = Field(default=(), alias="near_distances", description="to those")
    noise_dba: LevelDba | None = Field(default=None, alias="place_noise", description="of the place, at the microphone")
    optional: bool = Field(default=False, description="no track need have it")
    note: str = ""


class Track(Part):
    """One track of a recorder and what is on it."""

    id: Id
    number: int = Field(ge=1)
    name: str = Field(min_length=1)
    recorder: str = Field(default="", description="id of the piece; the first recorder when none is named")
    source: str = Field(default="", description="id of the source, or of the piece that feeds it; 'mix' for a sum")
    sources: tuple[str, ...] = Field(default=(), description="of a sum: ids of all that must be in it")
    purpose: Literal["iso", "mix", "guide", "click", "time code", "spare"] | None = None
    note: str = ""


class Feed(Part):
    """What one listener is to hear."""

    id: Id
    listener: str = Field(min_length=1)
    hears: str = Field(default="", description="in words")
    at: str = Field(default="", description="where they listen: 'monitor-rx-1:phones'")
    sources: tuple[str, ...] = Field(default=(), description="ids of sources that must arrive")
    without: tuple[str, ...] = Field(default=(), description="ids of sources that must not")
    own: tuple[str, ...] = Field(default=(), description="ids of sources that are this listener's own voice")
    gain_db: Decibels | None = Field(default=None, alias="gain")
    longest_s: Seconds | None = Field(default=None, alias="longest_delay", description="that still serves")
    hours: float | None = Field(default=None, ge=0, le=24, description="of listening in a day")
    level_dba: LevelDba | None = Field(default=None, alias="level", description="at the ear, on the mean, if known")
    note: str = ""


class Position(Part):
    """One alternative of a changeover. What it names holds only where a position that names it is chosen."""

    id: Id
    name: str = ""
    links: tuple[str, ...] = ()
    streams: tuple[str, ...] = ()
    routes: tuple[str, ...] = ()
    pieces: tuple[str, ...] = Field(default=(), description="that are in use only here")
    gains: dict[str, Decibels] = Field(default_factory=dict, description="by end: 'recorder:digital-mic 1'")
    places: dict[str, str] = Field(default_factory=dict, description="where a piece stands here, by its id")
    clocks: dict[str, str] = Field(default_factory=dict, description="what a piece's clock follows here, by its id")


class Changeover(Part):
    """A planned switch between alternatives during the day."""

    id: Id
    name: str = ""
    positions: tuple[Position, ...] = Field(min_length=1)
    note: str = ""


class RigPart(Part):
    """How items are wired and routed, what is to be recorded and who hears what."""

    pieces: tuple[Piece, ...] = ()
    links: tuple[Link, ...] = ()
    streams: tuple[Stream, ...] = ()
    routes: tuple[Route, ...] = ()
    sources: tuple[Source, ...] = ()
    tracks: tuple[Track, ...] = ()
    feeds: tuple[Feed, ...] = ()
    changeovers: tuple[Changeover, ...] = ()
    line_up_dbfs: float = Field(default=-20.0, le=0, ge=-40, description="alignment level: -18 or -20")
    media_gb: float | None = Field(default=None, ge=0, description="free on the recorder's drive, GB")
