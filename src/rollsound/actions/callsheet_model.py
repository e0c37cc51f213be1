"""What the sound crew's call sheet says of a day."""

from __future__ import annotations

from pydantic import BaseModel, ConfigDict, Field

from rollsound.finding import Finding, Weight, heaviest


class _Result(BaseModel):
    model_config = ConfigDict(frozen=True)


class PlaceRow(_Result):
    """A site, in the order of the day."""

    id: str
    name: str
    address: str = ""
    temperature: str = ""
    sound: str = Field(default="", description="background, boom distance and noisy hours, in words")
    note: str = ""


class SceneRow(_Result):
    """One scene of the day."""

    number: str
    heading: str = ""
    eighths: int = 0
    synopsis: str = ""
    speaks: tuple[str, ...] = Field(default=(), description="who speaks, with words")
    sings: tuple[str, ...] = ()
    dual: bool = False
    cues: tuple[str, ...] = Field(default=(), description="sound cues, by kind")
    songs: tuple[str, ...] = ()
    wired: tuple[str, ...] = Field(default=(), description="who wears which pack")
    booms: tuple[str, ...] = ()
    without: tuple[str, ...] = Field(
        default=(),
        description="heard, and neither wired nor under a boom; where the pack plan is not made, without a pack",
    )
    in_script: bool = True
    note: str = ""


class PackRow(_Result):
    """One transmitter of the day."""

    id: str
    name: str
    use: str
    wearers: tuple[str, ...] = Field(description="with their scenes, where the pack plan tells them")
    worn: str = ""
    mhz: float | None
    spares_mhz: tuple[float, ...] = ()
    power_mw: float | None = None
    track: str = ""
    heard_by: tuple[str, ...] = ()


class CrewRow(_Result):
    """Somebody of the crew."""

    name: str
    job: str
    contact: str = ""
    note: str = ""


class PlaybackRow(_Result):
    """A song of the day."""

    id: str
    title: str
    scenes: tuple[str, ...]
    start_timecode: str = ""
    ltc_track: str = ""
    guide_track: str = ""
    note: str = ""


class MonitorRow(_Result):
    """Who hears what."""

    listener: str
    hears: str
    at: str
    gain: str = ""
    hours: float | None = None


class ChangeoverRow(_Result):
    """A planned switch."""

    id: str
    name: str
    positions: tuple[str, ...]
    note: str = ""


class BatteryChangeRow(_Result):
    """Batteries that are changed at one time."""

    at: str = Field(description="time of day, the latest")
    at_min: float = Field(description="minutes from midnight of the day")
    told: str = Field(description="the span of the break that serves, or the time by which")
    what: tuple[str, ...] = Field(description="what is changed, with how many batteries of which kind")
    in_break: bool


class JamTimeRow(_Result):
    """One device to jam."""

    device: str
    source: str
    told: tuple[str, ...] = Field(description="at the call, and each time again that it takes")


class CallsheetResult(_Result):
    """A day of the sound crew on one sheet."""

    path: str
    name: str
    production: str
    day: str
    day_name: str
    date: str = Field(description="as it is written; empty when the plan has none")
    unit: str
    call: str
    wrap: str
    breaks: tuple[str, ...]
    coldest_c: float | None
    note: str
    frame_rate: str
    sample_rate_hz: float
    sample_format: str
    places: tuple[PlaceRow, ...]
    scenes: tuple[SceneRow, ...]
    by_scene: bool = Field(description="whether the pack plan tells who is wired; else the radio part's wearers do")
    packs: tuple[PackRow, ...]
    crew: tuple[CrewRow, ...]
    playback: tuple[PlaybackRow, ...]
    monitors: tuple[MonitorRow, ...]
    changeovers: tuple[ChangeoverRow, ...]
    batteries: tuple[BatteryChangeRow, ...]
    power_planned: bool = Field(description="whether the plan tells anything about power")
    missing_batteries: tuple[str, ...] = Field(description="of which more are wanted than owned")
    jams: tuple[JamTimeRow, ...]
    findings: tuple[Finding, ...] = Field(description="of power and time code on this day, what weighs")
    not_planned: tuple[str, ...] = Field(description="what the plan does not tell yet, each a sentence")
    cautions: tuple[str, ...]
    file: str = ""

    @property
    def weight(self) -> Weight:
        """The worst finding."""
        return heaviest(self.findings)
