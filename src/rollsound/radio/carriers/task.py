"""What a search for carriers works on: whole hertz, no names of the plan but ids."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum


class Product(StrEnum):
    """The forms of intermodulation products that fall among the carriers."""

    TWO_THIRD = "2A-B"
    THREE_THIRD = "A+B-C"
    TWO_FIFTH = "3A-2B"
    THREE_FIFTH = "3A-B-C"
    THREE_FIFTH_MIXED = "2A+B-2C"


@dataclass(frozen=True)
class Guard:
    """What transmitters of one kind ask for, in hertz. A protection of 0 means that this form does not count."""

    id: str
    spacing_hz: int
    protection_hz: dict[Product, int]
    """Between a product and a carrier: the largest protection of all that take part, sources and the carrier hit."""


@dataclass(frozen=True)
class Wanted:
    """One transmitter that wants a carrier.

    It may lie at ``origin_hz + n * step_hz`` with ``low_hz <= carrier - width_hz / 2`` and
    ``carrier + width_hz / 2 <= high_hz``, clear of what is occupied.
    """

    id: str
    guard: str
    low_hz: int
    high_hz: int
    step_hz: int
    origin_hz: int
    width_hz: int
    zone: str = ""
    now_hz: int | None = None
    """The carrier that it has."""
    fixed: bool = False
    on_air: bool = False
    priority: int = 2
    """1 must be placed."""
    spares: int = 0
    within: str = ""
    """The receiver it is heard by; all heard by one lie within its window."""
    occupied: tuple[Occupied, ...] = ()
    """Closed to this one alone: for its use or power, what is not allowed within its range."""

    @property
    def own_range(self) -> tuple[int, int, int, tuple[Occupied, ...]]:
        """What says where it may lie before others are thought of, besides its step: ends, width, what is closed."""
        return self.low_hz, self.high_hz, self.width_hz, self.occupied


@dataclass(frozen=True)
class Occupied:
    """Spectrum in use by others, from edge to edge; a signal's edge stays the guard away."""

    low_hz: int
    high_hz: int
    guard_hz: int = 0
    why: str = ""


@dataclass(frozen=True)
class Task:
    """The whole question. Distances equal to what is asked are legal.

    Spacing counts between all zones; a product counts when its sources and the carrier that it hits are of one zone and
    different transmitters. What fixed transmitters do to each other alone cannot be helped: told, never counted.
    """

    guards: dict[str, Guard]
    wanted: tuple[Wanted, ...]
    occupied: tuple[Occupied, ...] = ()
    windows_hz: dict[str, int] = field(default_factory=dict)
    """Of receivers: how far apart the outer edges of all that one hears may lie."""
    name: str = ""


class Mode(StrEnum):
    """What is looked for."""

    ALL = "all"
    """Place every one, then the largest worst margin."""
    MOST = "most"
    """Place as many as can be."""
    REPAIR = "repair"
    """Keep what is on the air and move as few as can be."""
    ADD = "add"
    """Move nothing; place those that have no carrier."""
