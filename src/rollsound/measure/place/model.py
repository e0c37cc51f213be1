"""What a technical visit brought home, kept with the site: noise, tones, reverberation, noisy hours.

Part of the plan: people read and write it. Levels are there only when the recording was calibrated.
"""

from __future__ import annotations

import datetime as dt
import re
from typing import Annotated, Literal, TypeAlias

from pydantic import BeforeValidator, Field

from rollsound.written import Decibels, Hertz, Id, LevelDba, LevelSpl, Metres, Part, Quantity, Seconds

CubicMetres: TypeAlias = Annotated[float, Quantity("m³", least=0, example="900 m³")]


def _clock(value: object) -> object:
    if not isinstance(value, str) or not re.fullmatch(r"([01]?\d|2[0-3]):[0-5]\d", value.strip()):
        raise ValueError(f"is '{str(value)[:40]}'; write a time of day such as 07:30")
    return value


def _date(value: object) -> object:
    if value in (None, ""):
        return ""
    if isinstance(value, dt.date):
        return value.isoformat()
    try:
        return dt.date.fromisoformat(str(value).strip()).isoformat()
    except ValueError:
        raise ValueError(f"is '{str(value)[:40]}'; write a date such as 2031-02-18") from None


TimeOfDay: TypeAlias = Annotated[str, BeforeValidator(_clock)]
Date: TypeAlias = Annotated[str, BeforeValidator(_date)]


class OctaveLevel(Part):
    """Mean level of the place in one octave; ``id`` is its middle: 63, 125, 250, 500, 1k, 2k, 4k, 8k."""

    id: Id
    level_db_spl: LevelSpl = Field(alias="level")


class PlaceTone(Part):
    """A tone that stays."""

    id: Id
    frequency_hz: Hertz = Field(alias="frequency")
    level_db_spl: LevelSpl | None = Field(default=None, alias="level")
    over_db: Decibels | None = Field(default=None, alias="over", description="over the noise of its critical band")
    what: str = ""


class OctaveDecay(Part):
    """Reverberation in one octave; ``holds`` names the figure that may be used."""

    id: Id
    edt_s: Seconds | None = Field(default=None, alias="edt")
    t20_s: Seconds | None = Field(default=None, alias="t20")
    t30_s: Seconds | None = Field(default=None, alias="t30")
    range_db: Decibels | None = Field(default=None, alias="range", description="from the start down to the noise")
    holds: Literal["T30", "T20", ""] = ""
    note: str = ""

    @property
    def t_s(self) -> float | None:
        """The reverberation time that holds; none when neither does."""
        return {"T30": self.t30_s, "T20": self.t20_s, "": None}[self.holds]


class NoisyHours(Part):
    """When the place is noisy, and from what: traffic, tides, bells, a school's break. May run over midnight."""

    id: Id
    from_time: TimeOfDay = Field(alias="from")
    to_time: TimeOfDay = Field(alias="to")
    what: str = ""
    level_dba: LevelDba | None = Field(default=None, alias="level")
    date: Date = Field(default="", description="the only day it is so; every day when left out")
    note: str = ""


class SiteSound(Part):
    """A site as it sounds."""

    measured: str = Field(default="", description="when, as the recordings tell")
    files: tuple[str, ...] = ()
    calibration: str = Field(default="", description="how levels were tied to sound pressure; empty for none")
    laeq_dba: LevelDba | None = Field(default=None, alias="laeq")
    la10_dba: LevelDba | None = Field(default=None, alias="la10")
    la50_dba: LevelDba | None = Field(default=None, alias="la50")
    la90_dba: LevelDba | None = Field(default=None, alias="la90")
    nc: str = Field(default="", description="rating and the octave that controls it, such as NC-30 (125 Hz)")
    nr: str = ""
    octaves: tuple[OctaveLevel, ...] = ()
    tones: tuple[PlaceTone, ...] = ()
    reverberation: tuple[OctaveDecay, ...] = ()
    volume_m3: CubicMetres | None = Field(default=None, alias="volume", description="of the room")
    boom_m: Metres | None = Field(default=None, alias="boom", description="planned from mouth to boom")
    effort: Literal["relaxed", "normal", "raised", "loud", "very loud"] = "normal"
    noisy_hours: tuple[NoisyHours, ...] = ()
    note: str = ""
