"""A song by its time code: between labels of the playback, seconds of the song, bars and beats, exactly."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from rollsound.song.tempo import Position, TempoMap
from rollsound.timecode.label import Timecode
from rollsound.timecode.rates import Rate


@dataclass(frozen=True)
class SongClock:
    """A song as it is played back: second 0 is label ``start``; ``tempo`` and ``length_s`` may be unknown."""

    id: str
    name: str
    start: Timecode
    tempo: TempoMap | None = None
    length_s: Fraction | None = None
    scenes: tuple[str, ...] = ()
    parts: tuple[tuple[Fraction, str], ...] = ()
    """Named places in seconds, in order."""

    @property
    def rate(self) -> Rate:
        """Of its time code."""
        return self.start.rate

    @property
    def end_s(self) -> Fraction | None:
        """Where it ends: its length, else the end that its tempo map tells."""
        if self.length_s is not None:
            return self.length_s
        return self.tempo.end_seconds if self.tempo is not None else None

    @property
    def code_start(self) -> int:
        """The start in words of linear time code, which count pairs of frames above 30 a second."""
        return self.start.to_frames() * self.rate.pair.nominal // self.rate.nominal

    def counts_as(self, nominal: int, drop: bool) -> bool:
        """Whether linear time code of this count can be of this song."""
        return (self.rate.pair.nominal, self.rate.drop) == (nominal, drop)

    def seconds_of_code(self, frame: int) -> Fraction:
        """Seconds of the song at a frame of linear time code, the shorter way round the day."""
        day = self.rate.pair.frames_per_day
        return Fraction((frame - self.code_start + day // 2) % day - day // 2) / self.rate.pair.fps

    def label_at(self, seconds: Fraction) -> Timecode:
        """The label that holds a place."""
        return self.start.plus(int(seconds * self.rate.fps // 1))

    def position_at(self, seconds: Fraction) -> Position | None:
        """Bar and beat of a place; none without a tempo map."""
        return self.tempo.position_at(seconds) if self.tempo is not None else None

    def part_at(self, seconds: Fraction) -> str:
        """The named part that a place lies in; empty before the first."""
        return next((name for start, name in reversed(self.parts) if start <= seconds), "")

    def place(self, seconds: Fraction) -> str:
        """A place for people: ``bar 9 beat 2 (01:00:20:00)``, or the label alone without a tempo map."""
        position, label = self.position_at(seconds), self.label_at(seconds)
        return f"{position} ({label})" if position is not None else str(label)

    def span(self, start_s: Fraction, end_s: Fraction) -> str:
        """A stretch for people."""
        return f"{self.place(start_s)} to {self.place(end_s)}"
