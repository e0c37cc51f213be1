"""What the clocks of a day answer with: every time code device's drift, when to jam it, and what was measured of it."""

from __future__ import annotations

from pydantic import BaseModel, ConfigDict, Field

from rollsound.finding import Figure, Finding, Weight, heaviest


class _Result(BaseModel):
    model_config = ConfigDict(frozen=True)


class DriftPoint(_Result):
    """The offset at a time of the day."""

    at: str = Field(description="time of day")
    offset_frames: float = Field(description="the likeliest; plus is ahead of the source")
    give_or_take_frames: float = Field(description="19 of 20 clocks stay inside")


class WishRow(_Result):
    """A jam that is wanted."""

    at: str = Field(description="time of day, the latest; where a break serves, when it begins")
    by: str = Field(description="time of day at which it may be past half a frame")
    break_name: str = Field(default="", description="the break that serves; empty when none does")
    told: str


class DeviceRow(_Result):
    """One device that carries time code."""

    device: str = Field(description="as the log or the kit names it")
    name: str
    source: str = Field(description="what it is jammed from")
    source_name: str
    from_log: bool = Field(description="whether a jam is logged on this day; else one at the call is taken")
    jammed: str = Field(description="time of day of the last jam")
    known: str = Field(description="time of day at which its offset was known last: the jam, or a later look")
    limit_ppm: float = Field(description="of its own clock before it was measured, either side")
    limit_written: bool = Field(description="whether the plan says so; else the usual one was taken")
    ppm: float = Field(description="how much faster it runs than its source, the likeliest")
    give_or_take_ppm: float = Field(description="19 of 20 clocks stay inside")
    measured: int = Field(description="measurements that bear on it")
    wrap_frames: float = Field(description="offset at wrap, the likeliest")
    wrap_give_or_take_frames: float
    past: str = Field(description="time of day at which it may be past half a frame; empty when not before wrap")
    past_min: Figure = Field(description="the same in minutes from midnight of the day; null when never")
    wishes: tuple[WishRow, ...] = ()
    points: tuple[DriftPoint, ...] = Field(default=(), description="hour by hour to wrap")
    sentence: str


class MeasuredRow(_Result):
    """One measurement of two clocks."""

    device: str
    against: str
    day: str
    ppm: float
    sd_ppm: float = Field(description="one standard deviation")
    told: str
    used: bool = Field(description="whether a pair of crystals can be so; a wrong stamp is left out")


class JamsResult(_Result):
    """A day's clocks."""

    path: str
    name: str
    day: str
    day_name: str
    call: str
    wrap: str
    frame_rate: str
    devices: tuple[DeviceRow, ...]
    measured: tuple[MeasuredRow, ...]
    findings: tuple[Finding, ...]
    notes: tuple[str, ...] = ()

    @property
    def weight(self) -> Weight:
        """The worst finding."""
        return heaviest(self.findings)
