"""Which television channel lies where, by raster: whole hertz, read from ``facts/radio_television.toml``."""

from __future__ import annotations

import functools
from dataclasses import dataclass

from rollsound.errors import InputError
from rollsound.facts import table
from rollsound.facts.rows import notes_of


@dataclass(frozen=True)
class Stretch:
    """Channels side by side, numbered from ``first`` to ``last``."""

    first: int
    last: int
    lower_hz: int
    width_hz: int
    name: str = ""

    def range_of(self, channel: int) -> tuple[int, int]:
        """Edges of a channel of this stretch."""
        low = self.lower_hz + (channel - self.first) * self.width_hz
        return low, low + self.width_hz


@dataclass(frozen=True)
class TelevisionRaster:
    """The channels of a region."""

    id: str
    name: str
    stretches: tuple[Stretch, ...]
    source: str
    status: str
    pilot_hz: int | None = None
    """Over the lower edge."""
    centre_shift_hz: int = 0
    """Of the carrier over the middle of its channel."""

    def channel_range(self, channel: int) -> tuple[int, int]:
        """Edges of a channel in hertz.

        Raises
        ------
        InputError
            when the raster has no such channel
        """
        return self._stretch(channel).range_of(channel)

    def centre_hz(self, channel: int) -> int:
        """Middle of a channel."""
        low, high = self.channel_range(channel)
        return (low + high) // 2

    def channels_touched(self, low_hz: float, high_hz: float) -> tuple[int, ...]:
        """Numbers of the channels that a signal from edge to edge lies in, low to high; edges alone do not count."""
        touched = []
        for stretch in self.stretches:
            top = stretch.range_of(stretch.last)[1]
            if high_hz <= stretch.lower_hz or low_hz >= top:
                continue
            first = max(int((low_hz - stretch.lower_hz) // stretch.width_hz), 0)
            last = min(int(-(-(high_hz - stretch.lower_hz) // stretch.width_hz)) - 1, stretch.last - stretch.first)
            touched += [stretch.first + number for number in range(first, max(last, first) + 1)]
        return tuple(sorted(touched, key=lambda channel: self.channel_range(channel)[0]))

    def channel_at(self, freq_hz: float) -> int | None:
        """The channel that a frequency lies in, on an edge the upper one; None outside of all."""
        for stretch in self.stretches:
            number = int((freq_hz - stretch.lower_hz) // stretch.width_hz) + stretch.first
            if stretch.first <= number <= stretch.last:
                return number
        return None

    def channels(self) -> tuple[int, ...]:
        """All channel numbers, low to high in frequency."""
        by_edge = sorted(self.stretches, key=lambda stretch: stretch.lower_hz)
        return tuple(number for stretch in by_edge for number in range(stretch.first, stretch.last + 1))

    def channel_name(self, channel: int) -> str:
        """What people call it: ``38``, or ``9A``."""
        return self._stretch(channel).name or str(channel)

    def _stretch(self, channel: int) -> Stretch:
        for stretch in self.stretches:
            if stretch.first <= channel <= stretch.last:
                return stretch
        spans = ", ".join(f"{s.first} to {s.last}" if s.last > s.first else f"{s.first}" for s in self.stretches)
        raise InputError(f"television channel {channel} is not in the raster of {self.name}; there are {spans}")


@functools.cache
def rasters() -> dict[str, TelevisionRaster]:
    """All rasters by id."""
    return {
        name: TelevisionRaster(
            id=name,
            name=row["name"],
            stretches=tuple(
                Stretch(
                    s["first"], s["last"], round(s["lower_mhz"] * 1e6), round(s["width_mhz"] * 1e6), s.get("name", "")
                )
                for s in row["stretches"]
            ),
            source=row["source"],
            status=row["status"],
            pilot_hz=round(row["pilot_mhz"] * 1e6) if "pilot_mhz" in row else None,
            centre_shift_hz=row.get("centre_shift_hz", 0),
        )
        for name, row in table("radio_television").items()
        if name != "about"
    }


def raster(id: str) -> TelevisionRaster:
    """The raster of an id.

    Raises
    ------
    InputError
        when there is none
    """
    if id not in rasters():
        raise InputError(f"'{id}' is no television raster; there are: {', '.join(rasters())}")
    return rasters()[id]


def notes() -> tuple[str, ...]:
    """What was not verified."""
    return notes_of("radio_television")
