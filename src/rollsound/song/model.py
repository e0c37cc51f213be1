"""The songs of a show: what is played back, where its time code begins, and which track it is recorded on."""

from __future__ import annotations

from typing import Annotated

from pydantic import AfterValidator, Field

from rollsound.errors import InputError
from rollsound.timecode import Rate, Timecode
from rollsound.written import Id, Part, Quantity, Seconds


def _rate(text: str) -> str:
    if text:
        try:
            Rate.parse(text)
        except InputError as error:
            raise ValueError(error.sentence) from error
    return text


class SongPart(Part):
    """A part of a song and the bar that it begins with: verse, bridge."""

    name: str = Field(min_length=1)
    bar: int


class Song(Part):
    """One song of the playback."""

    id: Id
    title: str = ""
    start_timecode: str = Field(default="", description="label of the playback's time code where the tempo map begins")
    frame_rate: Annotated[str, AfterValidator(_rate)] = Field(default="", description="the show's when left out")
    tempo_map: str = Field(default="", description="CSV sheet or standard MIDI file, from the show's folder")
    length_s: Seconds | None = Field(default=None, alias="length", description="before the end that the map tells")
    scenes: tuple[str, ...] = Field(default=(), description="numbers as on the slate")
    ltc_track: str = Field(default="", description="name or number of the track with the playback's time code")
    guide_track: str = Field(default="", description="name or number of the track with guide or playback")
    parts: tuple[SongPart, ...] = ()
    note: str = ""

    @property
    def name(self) -> str:
        """What people call it."""
        return self.title or self.id

    def rate(self, of_show: Rate) -> Rate:
        """The rate of its time code, exact."""
        return Rate.parse(self.frame_rate) if self.frame_rate else of_show

    def start(self, of_show: Rate) -> Timecode:
        """The label where its tempo map begins.

        Raises
        ------
        InputError
            when none is written, or it does not exist at the song's rate
        """
        if not self.start_timecode:
            raise InputError(
                f"{self.name} has no start_timecode; write the label of its first beat, such as 01:00:00:00"
            )
        return Timecode.parse(self.start_timecode, self.rate(of_show))


class SongsPart(Part):
    """What is sung and played back. Tracks named here hold for every song that names none itself."""

    ltc_track: str = Field(default="", description="name or number; found by its sound when left out")
    guide_track: str = Field(default="", description="name or number of guide or playback")
    late_s: Annotated[float, Quantity("s", least=0.001, most=10, example="40 ms")] | None = Field(
        default=None, alias="limit", description="phrases earlier or later than this are told; 40 ms when left out"
    )
    songs: tuple[Song, ...] = ()

    def of_scene(self, scene: str) -> tuple[Song, ...]:
        """The songs of a scene."""
        wanted = scene.strip().casefold()
        return tuple(song for song in self.songs if wanted and wanted in (each.casefold() for each in song.scenes))
