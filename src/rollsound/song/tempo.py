"""Tempo maps: between bars and beats, quarters, and seconds of playback, exactly.

A map begins where its first row stands: that place is second 0, the label that the song's plan names. Before it and
after its last change the first and the last tempo and meter go on, so that a count-in and a long tail have places too.
Everything is a ratio of whole numbers; nothing is rounded.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from rollsound.errors import InputError
from rollsound.quantities import true_minus

DEFAULT_QUARTERS_PER_MINUTE = 120
"""Before the first tempo is told. Source: Standard MIDI Files 1.0, "Set Tempo"."""
MOST_BEATS = 64
UNITS = (1, 2, 4, 8, 16, 32, 64)


@dataclass(frozen=True)
class Meter:
    """Beats in a bar, and which note is one: 3/4 has three quarters, 6/8 six eighths."""

    beats: int
    unit: int

    def __post_init__(self) -> None:
        if not 1 <= self.beats <= MOST_BEATS or self.unit not in UNITS:
            raise InputError(f"{self.beats}/{self.unit} is no meter; write one such as 4/4, 3/4 or 6/8")

    @property
    def beat_quarters(self) -> Fraction:
        """Length of one beat."""
        return Fraction(4, self.unit)

    @property
    def bar_quarters(self) -> Fraction:
        """Length of one bar."""
        return self.beats * self.beat_quarters

    def __str__(self) -> str:
        return f"{self.beats}/{self.unit}"


@dataclass(frozen=True)
class Position:
    """A place in bars and beats; the first beat of a bar is 1, the middle of it 1½."""

    bar: int
    beat: Fraction

    def __str__(self) -> str:
        beat = f"{float(self.beat):.2f}".rstrip("0").rstrip(".")
        return f"bar {true_minus(str(self.bar))} beat {beat}"


@dataclass(frozen=True)
class MeterFrom:
    """A meter that begins at ``quarters``, where bar ``bar`` begins."""

    bar: int
    quarters: Fraction
    meter: Meter


@dataclass(frozen=True)
class TempoFrom:
    """A tempo that begins at ``quarters``, which is ``seconds`` of playback."""

    quarters: Fraction
    seconds: Fraction
    seconds_per_quarter: Fraction

    @property
    def quarters_per_minute(self) -> Fraction:
        """As written on a score for quarters."""
        return 60 / self.seconds_per_quarter


@dataclass(frozen=True)
class TempoMap:
    """Meters and tempos in order, each beginning at quarter 0 or before it; made by ``tempo_map``.

    ``end_quarters`` is where the song ends, if the map tells; ``marks`` are named places (quarters, name).
    """

    meters: tuple[MeterFrom, ...]
    tempos: tuple[TempoFrom, ...]
    end_quarters: Fraction | None = None
    marks: tuple[tuple[Fraction, str], ...] = ()

    def seconds_of_quarters(self, quarters: Fraction) -> Fraction:
        """Seconds of playback at a place in quarters from the map's beginning."""
        tempo = self.tempos[max(0, bisect_right(self.tempos, quarters, key=lambda each: each.quarters) - 1)]
        return tempo.seconds + (quarters - tempo.quarters) * tempo.seconds_per_quarter

    def quarters_of_seconds(self, seconds: Fraction) -> Fraction:
        """The place in quarters after so many seconds of playback."""
        tempo = self.tempos[max(0, bisect_right(self.tempos, seconds, key=lambda each: each.seconds) - 1)]
        return tempo.quarters + (seconds - tempo.seconds) / tempo.seconds_per_quarter

    def quarters_of(self, bar: int, beat: Fraction | int = 1) -> Fraction:
        """Where a beat lies, in quarters; a beat beyond its bar lies in the bars after it."""
        since = self.meters[max(0, bisect_right(self.meters, bar, key=lambda each: each.bar) - 1)]
        return since.quarters + (bar - since.bar) * since.meter.bar_quarters + (beat - 1) * since.meter.beat_quarters

    def position_of_quarters(self, quarters: Fraction) -> Position:
        """Bar and beat of a place in quarters."""
        since = self.meters[max(0, bisect_right(self.meters, quarters, key=lambda each: each.quarters) - 1)]
        bars, rest = divmod(quarters - since.quarters, since.meter.bar_quarters)
        return Position(since.bar + bars, 1 + rest / since.meter.beat_quarters)

    def seconds_of(self, bar: int, beat: Fraction | int = 1) -> Fraction:
        """Seconds of playback at a beat."""
        return self.seconds_of_quarters(self.quarters_of(bar, beat))

    def position_at(self, seconds: Fraction) -> Position:
        """Bar and beat after so many seconds of playback."""
        return self.position_of_quarters(self.quarters_of_seconds(seconds))

    @property
    def end_seconds(self) -> Fraction | None:
        """Where the song ends, if the map tells."""
        return None if self.end_quarters is None else self.seconds_of_quarters(self.end_quarters)

    @property
    def first_bar(self) -> int:
        """Number of the bar that the map begins with."""
        return self.meters[0].bar


def tempo_map(
    meters: Sequence[tuple[Fraction, Meter]],
    tempos: Sequence[tuple[Fraction, Fraction]],
    *,
    first_bar: int = 1,
    end_quarters: Fraction | None = None,
    marks: Sequence[tuple[Fraction, str]] = (),
) -> TempoMap:
    """Make a map from changes at places in quarters, in any order; of two at one place the later one holds.

    Parameters
    ----------
    meters
        (quarters, meter); a meter that changes inside a bar cuts that bar short. 4/4 until the first
    tempos
        (quarters, seconds a quarter); 120 quarters a minute until the first
    first_bar
        number of the bar that begins at quarter 0
    """
    changes = {Fraction(0): Meter(4, 4), **dict(sorted(meters, key=lambda each: each[0]))}
    placed: list[MeterFrom] = []
    for at, meter in sorted(changes.items()):
        if not placed:
            placed.append(MeterFrom(first_bar, at, meter))
            continue
        before = placed[-1]
        if meter != before.meter or (at - before.quarters) % before.meter.bar_quarters:
            bars = -(-(at - before.quarters) // before.meter.bar_quarters)
            placed.append(MeterFrom(before.bar + bars, at, meter))
    speeds = {Fraction(0): Fraction(60, DEFAULT_QUARTERS_PER_MINUTE), **dict(sorted(tempos, key=lambda each: each[0]))}
    timed: list[TempoFrom] = []
    for at, speed in sorted(speeds.items()):
        if speed <= 0:
            raise InputError("A tempo of this map is no tempo; write beats a minute, such as 96")
        last = timed[-1] if timed else None
        seconds = last.seconds + (at - last.quarters) * last.seconds_per_quarter if last else Fraction(0)
        timed.append(TempoFrom(at, seconds, speed))
    return TempoMap(tuple(placed), tuple(timed), end_quarters, tuple(sorted(marks, key=lambda each: each[0])))
