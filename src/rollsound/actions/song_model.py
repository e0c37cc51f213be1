"""Results of the song map, as they are printed and served."""

from __future__ import annotations

from typing import Literal

from pydantic import BaseModel, ConfigDict, Field

from rollsound.finding import Figure, Finding, Weight, heaviest


class _Frozen(BaseModel):
    model_config = ConfigDict(frozen=True)


class SongSpan(_Frozen):
    """A stretch of a song; bars are empty where it has no tempo map."""

    start_s: float = Field(description="seconds of the song; before its first beat negative")
    end_s: float
    start_timecode: str
    end_timecode: str
    start_bar: str = Field(default="", description="such as 'bar 9 beat 2'")
    end_bar: str = ""
    part: str = Field(default="", description="named part of the song that it lies in, where that is one")


class SpeedRow(_Frozen):
    """A stretch of one speed in a take."""

    start_sample: float
    end_sample: float
    speed: float = Field(description="against the song's rate by the recorder's clock; 1 is true")
    speed_ppm: float
    uncertainty_ppm: Figure = Field(description="two sigma of the measurement; null when too little was heard")
    kind: Literal["true", "pulled", "varispeed", "unknown"]
    ratio: str = Field(description="exact speed that a pull stands for; 1 otherwise")
    clock_ppm: float = Field(description="what the ratio leaves for the clocks")
    sentence: str


class StretchRow(_Frozen):
    """A pass of one take over a song."""

    take: str
    path: str
    scene: str
    circled: bool
    day: str = Field(description="id of the day in the plan; empty when its media names none")
    track: int = Field(description="track with the playback's time code, from 1")
    span: SongSpan
    in_song: bool = Field(description="false for a count-in or a tail alone")
    start_sample: float = Field(description="where in the take it begins")
    end_sample: float
    zero_sample: float = Field(description="where in the take the song's second 0 lies, or would lie")
    direction: Literal["forward", "reverse"]
    right: bool = Field(description="forward, at one true speed, without a slip")
    speeds: tuple[SpeedRow, ...]
    slips: int = Field(description="places where playback came early or late while its count went on")
    frames_read: int
    frames_missing: int = Field(description="frames of code lost in dropouts; playback itself went on")
    jitter_samples: float


class SongRow(_Frozen):
    """One song over all takes."""

    id: str
    title: str
    start_timecode: str
    frame_rate: str
    length_s: float | None = Field(description="null when nobody wrote it")
    bars: int | None = Field(default=None, description="bars in it; null without tempo map or length")
    scenes: tuple[str, ...]
    parts: tuple[SongSpan, ...] = ()
    stretches: tuple[StretchRow, ...]
    covered: tuple[SongSpan, ...]
    missing: tuple[SongSpan, ...]
    only_off_speed: tuple[SongSpan, ...] = Field(description="on no take at true speed")
    covered_share: float | None
    weight: Weight
    sentence: str


class StrangerRow(_Frozen):
    """Playback code that is of no song of the plan."""

    take: str
    path: str
    track: int
    first: str
    last: str
    direction: Literal["forward", "reverse"]


class SongMapResult(_Frozen):
    """Which part of which song every take covers."""

    path: str
    name: str
    day: str = Field(description="id of the day; empty when all were looked at")
    takes: int = Field(description="takes looked at")
    with_code: int = Field(description="of these, takes with time code of a playback")
    songs: tuple[SongRow, ...]
    strangers: tuple[StrangerRow, ...]
    findings: tuple[Finding, ...]
    notes: tuple[str, ...] = ()
    picture: str = ""

    @property
    def weight(self) -> Weight:
        """The heaviest of its findings."""
        return heaviest(self.findings)
